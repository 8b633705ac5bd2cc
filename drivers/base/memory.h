/* The only allocator: checked products, growing arrays with a ceiling, failure on demand.
 *
 * Running out of memory is an ordinary error (ERROR_MEMORY), because a bench must be switched off
 * on that way out too. */
#ifndef GAINSIEVE_BASE_MEMORY_H
#define GAINSIEVE_BASE_MEMORY_H

#include <stddef.h>

#include "drivers/base/error.h"

/* `count` zeroed items of `size` bytes; NULL with `e` set when there is no memory. A count of zero
 * gives one unused item, so that NULL always means failure. Freed with memory_free(). */
void *memory_make(size_t count, size_t size, struct error *e) MUST_CHECK;

/* Makes room for at least `need` items of `size` bytes in the array `old` of `*capacity` items.
 * Returns the array, moved perhaps, and raises `*capacity`; new items are zeroed. NULL with `e` set
 * when there is no memory or `need` exceeds `ceiling`; `old` is then still valid. `what` names the
 * items in the error ("points of a sweep"). */
void *memory_grow(void *old, size_t *capacity, size_t need, size_t size, size_t ceiling,
                  const char *what, struct error *e) MUST_CHECK;

/* A copy of `length` bytes of `text` with a NUL behind; NULL with `e` set. */
char *memory_copy_bytes(const char *text, size_t length, struct error *e) MUST_CHECK;

/* A copy of a NUL-ended text; NULL with `e` set. */
char *memory_copy_text(const char *text, struct error *e) MUST_CHECK;

/* Frees what the functions above gave; NULL is harmless. */
void memory_free(void *p);

/* For tests: the `nth` allocation from now on fails (1 is the next), once. 0 switches this off. */
void memory_fail_at(unsigned long nth);

#endif
