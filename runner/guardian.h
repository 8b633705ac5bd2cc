/* The last way to a switched-off bench: a process of its own that holds copies of the instruments'
 * descriptors and the messages that switch them off, and sends them when the main process goes
 * without a word (crash, kill -9, out of memory).
 *
 * It is started before anything else is open, so that it holds nothing but what it is handed; it is
 * in a session of its own and ignores the signals that end the main process. What is handed to it
 * stands in a socket of the kernel's at once: a main process that is killed right behind
 * guardian_hold() is looked after. Messages are whole and ready: nothing is parsed, filled in or
 * allocated at that time. */
#ifndef GAINSIEVE_GUARDIAN_H
#define GAINSIEVE_GUARDIAN_H

#include <sys/types.h>

#include "drivers/base/error.h"
#include "drivers/instrument.h"

/* Instruments that it can hold. */
#define GUARDIAN_SLOTS 2

struct guardian {
    int socket; /* -1: none */
    pid_t pid;  /* 0: none */
};

/* Forks it. Call before threads are made and before files are open. ERROR_BENCH. */
bool guardian_start(struct guardian *out, struct error *e) MUST_CHECK;

/* Hands over an open instrument: a copy of its descriptor and its safe step. A slot that is used
 * already is replaced: call again whenever the link has another descriptor. ERROR_BENCH when it
 * cannot be handed over or when the guardian is gone: then nothing may be switched on. */
bool guardian_hold(struct guardian *g, unsigned slot, const struct instrument *i,
                   struct error *e) MUST_CHECK;

/* Whether it is still there. ERROR_BENCH: then nothing may be switched on. */
bool guardian_check(const struct guardian *g, struct error *e) MUST_CHECK;

/* Ends it. `is_off`: the bench was read back as off and nothing need be sent; else it sends. Waits
 * until it is gone. Harmless on one that was not started, and twice. */
void guardian_end(struct guardian *g, bool is_off);

#endif
