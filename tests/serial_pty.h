/* A pseudo-terminal for tests: a serial port with the instrument's end in our hand. */
#ifndef GAINSIEVE_TESTS_SERIAL_PTY_H
#define GAINSIEVE_TESTS_SERIAL_PTY_H

#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

#include "tests/check.h"

/* The instrument's end of a pty and the name of ours. */
struct pty {
    int master;
    char name[64];
    char port[128]; /* "serial:NAME" and words */
};

/* `words` stand behind the name, "?baud=9600". */
static inline void pty_make(struct pty *pty, const char *words)
{
    pty->master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(pty->master >= 0);
    assert_int_equal(grantpt(pty->master), 0);
    assert_int_equal(unlockpt(pty->master), 0);
    assert_int_equal(ptsname_r(pty->master, pty->name, sizeof pty->name), 0);
    (void)snprintf(pty->port, sizeof pty->port, "serial:%s%s", pty->name, words);
}

#endif
