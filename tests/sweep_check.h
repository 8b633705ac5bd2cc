/* For the tests of sweep readers: reads a text from memory and looks at what came out. */
#ifndef GAINSIEVE_TESTS_SWEEP_CHECK_H
#define GAINSIEVE_TESTS_SWEEP_CHECK_H

#include "drivers/base/memory.h"
#include "drivers/sweep.h"
#include "tests/check.h"

typedef bool sweep_reader(const char *path, const char *bytes, size_t length, struct sweep *out,
                          struct error *e);

/* Reads from a copy that ends with the NUL that readers are promised, so that a look past it is
 * seen by the sanitizer. */
static inline bool sweep_check_read(sweep_reader *reader, const char *path, const char *bytes,
                                    size_t length, struct sweep *out, struct error *e)
{
    struct error no_memory = {0};
    char *copy = memory_copy_bytes(bytes, length, &no_memory);
    bool ok;

    assert_non_null(copy);
    ok = reader(path, copy, length, out, e);
    memory_free(copy);
    return ok;
}

/* The text must be read. */
static inline void sweep_check_done(sweep_reader *reader, const char *path, const char *text,
                                    struct sweep *out)
{
    struct error e = {0};

    assert_done(sweep_check_read(reader, path, text, strlen(text), out, &e), &e);
}

/* The bytes must be refused at `line` with one line that holds `words`, and leave nothing. */
static inline void sweep_check_refused_bytes(sweep_reader *reader, const char *path,
                                             const char *bytes, size_t length, unsigned long line,
                                             const char *words)
{
    struct sweep sweep = {0};
    struct error e = {0};
    char place[128];

    (void)snprintf(place, sizeof place, "%s:%lu: ", path, line);
    if (sweep_check_read(reader, path, bytes, length, &sweep, &e))
        print_error("was read though it should be refused with \"%s%s\"\n", place, words);
    assert_int_equal(e.kind, ERROR_INPUT);
    if (strncmp(e.text, place, strlen(place)) != 0)
        print_error("\"%s\" does not begin with \"%s\"\n", e.text, place);
    assert_int_equal(strncmp(e.text, place, strlen(place)), 0);
    assert_holds(e.text, words);
    assert_null(strpbrk(e.text, "\r\n"));
    assert_int_equal(sweep.n_points, 0);
    assert_int_equal(sweep.n_ports, 0);
    assert_int_equal(sweep.measured, 0);
    sweep_clear(&sweep);
}

static inline void sweep_check_refused(sweep_reader *reader, const char *path, const char *text,
                                       unsigned long line, const char *words)
{
    sweep_check_refused_bytes(reader, path, text, strlen(text), line, words);
}

static inline void sweep_check_value(double complex got, double re, double im, double tolerance,
                                     const char *words, const char *file, int line)
{
    check_close(creal(got), re, tolerance, words, file, line);
    check_close(cimag(got), im, tolerance, words, file, line);
}
/* Fails unless a parameter of a point is re + j im within the tolerance, in each part. */
#define assert_s(sweep, point, parameter, re, im, tolerance)                                       \
    sweep_check_value(sweep_s((sweep), (point), (parameter)), (re), (im), (tolerance), #parameter, \
                      __FILE__, __LINE__)

#endif
