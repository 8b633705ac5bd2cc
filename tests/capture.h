/* What a function prints on standard output, for tests. */
#ifndef GAINSIEVE_TESTS_CAPTURE_H
#define GAINSIEVE_TESTS_CAPTURE_H

#include <unistd.h>

#include "tests/check.h"

struct capture {
    int kept;
    FILE *file;
    char words[8192]; /* filled by capture_end() */
};

static inline void capture_begin(struct capture *c)
{
    assert_int_equal(fflush(stdout), 0);
    c->kept = dup(STDOUT_FILENO);
    c->file = tmpfile();
    assert_true(c->kept >= 0 && c->file);
    assert_true(dup2(fileno(c->file), STDOUT_FILENO) >= 0);
}

static inline void capture_end(struct capture *c)
{
    size_t n;

    assert_int_equal(fflush(stdout), 0);
    assert_true(dup2(c->kept, STDOUT_FILENO) >= 0);
    assert_int_equal(close(c->kept), 0);
    rewind(c->file);
    n = fread(c->words, 1, sizeof c->words - 1, c->file);
    c->words[n] = '\0';
    assert_int_equal(fclose(c->file), 0);
}

#endif
