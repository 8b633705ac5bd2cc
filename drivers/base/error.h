/* The error value: a kind and one complete sentence.
 *
 * What can fail returns bool and takes a `struct error *` last; the caller zeroes it. The text is
 * made once, by the function that knows where and why; callers pass it up untouched. It says where,
 * what was wrong and what to do, and it is printed in runner/main.c only. */
#ifndef GAINSIEVE_BASE_ERROR_H
#define GAINSIEVE_BASE_ERROR_H

#include <stdbool.h>

#include "drivers/base/ceilings.h"

/* Marks a function whose result may not be ignored. */
#define MUST_CHECK __attribute__((warn_unused_result))

/* What the user can do something about; main.c maps the kinds to exit statuses. */
enum error_kind {
    ERROR_NONE = 0,
    ERROR_USAGE,   /* the command line */
    ERROR_INPUT,   /* an input file */
    ERROR_BENCH,   /* instrument, safety or correction */
    ERROR_STORE,   /* a result could not be stored */
    ERROR_MEMORY,  /* no memory */
    ERROR_STOPPED, /* the operator asked to stop */
};

struct error {
    enum error_kind kind;
    char text[CEILING_ERROR_TEXT];
};

/* Fills `e` and returns false, so that a fault is one line: `return error_set(e, ...)`. A text
 * longer than the ceiling is cut. Setting an error that is already set is a bug and aborts. */
bool error_set(struct error *e, enum error_kind kind, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
