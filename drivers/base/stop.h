/* "Please stop": a flag that Ctrl-C, SIGTERM and SIGHUP raise, asked by everything that lasts. */
#ifndef GAINSIEVE_BASE_STOP_H
#define GAINSIEVE_BASE_STOP_H

#include <stdbool.h>

#include "drivers/base/error.h"

/* Takes the three signals from now on, but for a SIGHUP that the process was told to ignore. */
void stop_listen(void);

/* True once somebody asked. Cheap enough to ask per file. */
bool stop_wanted(void);

/* A descriptor that becomes readable once somebody asked, for poll(); nobody reads from it. -1
 * before stop_listen(). A forked process shares it: a signal to either shows in both. */
int stop_descriptor(void);

/* Sets ERROR_STOPPED; returns false. */
bool stop_error(struct error *e);

#endif
