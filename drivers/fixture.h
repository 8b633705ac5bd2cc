/* The fixture of an emulated bench, which connects a board by its serial number: what a hand does
 * at a real one. Its commands are ours (docs/emulator.md). */
#ifndef GAINSIEVE_FIXTURE_H
#define GAINSIEVE_FIXTURE_H

#include "drivers/link.h"

struct fixture {
    struct link *link; /* NULL: none */
    struct text reply;
};

/* `port` NULL: no fixture, which is fine. After a failure fixture_close() is still due. */
bool fixture_open(struct fixture *out, const char *port, struct error *e) MUST_CHECK;

/* Connects the board, or none (NULL), and asks whether it is. ERROR_BENCH for a board that the
 * fixture does not hold. Without a fixture nothing is done. */
bool fixture_connect(struct fixture *f, const char *serial, struct error *e) MUST_CHECK;

/* Harmless on zero and twice. */
void fixture_close(struct fixture *f);

#endif
