/* The file names of the units' pages: one for each unit on any disk, also on one that takes "KW1"
 * and "kw1" for the same name and keeps some names for its devices. */
#ifndef GAINSIEVE_PAGE_NAMES_H
#define GAINSIEVE_PAGE_NAMES_H

#include <stddef.h>

#include "drivers/base/ceilings.h"
#include "drivers/base/error.h"

/* The serial numbers of a batch that differ from another one in case alone. */
struct page_names {
    size_t n;
    const char **twins; /* bytewise; the serial numbers are borrowed */
};

/* Finds them among `n` serial numbers, each of which is there once. Fails on lack of memory only.
 * `out` must be zero or cleared. */
bool page_names_find(struct page_names *out, const char *const *serials, size_t n,
                     struct error *e) MUST_CHECK;
/* Frees and zeroes; harmless on zero and twice. */
void page_names_clear(struct page_names *names);

/* The file name of a unit's page, "KW000101.html": bytes other than letters, digits, '.', '-' and
 * '_' as %XX, so that any serial number is one name and two never share one. Small letters of a
 * serial number that has a twin in `names` are written so too, and the first letter of a device's
 * name ("con", "com1.a"). `names` may be NULL: no twins. */
#define PAGE_UNIT_NAME (5 * CEILING_SERIAL + 32)
void page_unit_name(const struct page_names *names, const char *serial, char name[PAGE_UNIT_NAME]);

#endif
