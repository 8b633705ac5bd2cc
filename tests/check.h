/* Helpers for unit tests: includes cmocka, compares doubles as cmocka 1.1.5 cannot. */
#ifndef GAINSIEVE_TESTS_CHECK_H
#define GAINSIEVE_TESTS_CHECK_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "drivers/base/error.h"

/* Fails unless |got - want| <= tolerance; a NaN on either side fails. */
static inline void check_close(double got, double want, double tolerance, const char *words,
                               const char *file, int line)
{
    if (fabs(got - want) <= tolerance) return;
    print_error("%s: got %.17g, want %.17g, tolerance %.3g\n", words, got, want, tolerance);
    _fail(file, line);
}
#define assert_close(got, want, tolerance) \
    check_close((got), (want), (tolerance), #got, __FILE__, __LINE__)

/* Fails, printing the error's words, unless the call succeeded. */
static inline void check_done(bool ok, const struct error *e, const char *words, const char *file,
                              int line)
{
    if (ok) return;
    print_error("%s failed: %s\n", words, e->text);
    _fail(file, line);
}
#define assert_done(call, error) check_done((call), (error), #call, __FILE__, __LINE__)

/* Fails unless `text` holds `part`. */
static inline void check_holds(const char *text, const char *part, const char *file, int line)
{
    if (text && strstr(text, part)) return;
    print_error("\"%s\" does not hold \"%s\"\n", text ? text : "(null)", part);
    _fail(file, line);
}
#define assert_holds(text, part) check_holds((text), (part), __FILE__, __LINE__)

#endif
