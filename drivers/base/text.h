/* Growable text with a ceiling.
 *
 * Born `= {0}` or with text_limit(); ended with text_clear(). `data` is NULL while empty, else
 * NUL-ended; bytes may hold NULs when added by text_add_bytes(). A text that cannot grow keeps what
 * it had and remembers the failure: check text_ok() once at the end instead of after each piece. */
#ifndef GAINSIEVE_BASE_TEXT_H
#define GAINSIEVE_BASE_TEXT_H

#include <stddef.h>

#include "drivers/base/error.h"

struct text {
    char *data;
    size_t length;   /* bytes, without the NUL */
    size_t capacity; /* bytes allocated */
    size_t ceiling;  /* largest length; 0 means CEILING_OUTPUT */
    bool failed;     /* something could not be added */
    bool no_memory;  /* ... because there was no memory, not because of the ceiling */
};

/* Add at the end: bytes, a NUL-ended text, a printf format (%g and %f follow the locale: numbers go
 * through the two functions below). */
void text_add_bytes(struct text *t, const char *bytes, size_t length);
void text_add(struct text *t, const char *words);
void text_addf(struct text *t, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The shortest decimal that reads back as `x`; see number.h. */
void text_add_number(struct text *t, double x);

/* `x` rounded to `decimals` places, for people; "−0.00" is written "0.00". */
void text_add_fixed(struct text *t, double x, int decimals);

/* The text, or "" while empty; borrowed until the next change. */
const char *text_words(const struct text *t);

/* True when everything added is there; otherwise sets `e` naming `what`. */
bool text_ok(const struct text *t, const char *what, struct error *e) MUST_CHECK;

/* Makes room for `length` bytes in all, without changing the text. */
bool text_reserve(struct text *t, size_t length);

/* Empties the text but keeps its memory. */
void text_reset(struct text *t);

/* Frees and zeroes; harmless on zero and twice. */
void text_clear(struct text *t);

#endif
