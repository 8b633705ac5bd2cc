/* "Please stop": a flag that Ctrl-C, SIGTERM and SIGHUP raise, asked by everything that lasts. */
#ifndef GAINSIEVE_BASE_STOP_H
#define GAINSIEVE_BASE_STOP_H

#include <stdbool.h>

#include "drivers/base/error.h"

/* Takes the three signals from now on, but for a SIGHUP that the process was told to ignore. */
void stop_listen(void);

/* True once somebody asked. Cheap enough to ask per file. */
bool stop_wanted(void);

/* Sets ERROR_STOPPED; returns false. */
bool stop_error(struct error *e);

#endif
