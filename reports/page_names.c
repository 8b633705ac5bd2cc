#include "reports/page_names.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/memory.h"

static bool is_small(char c)
{
    return c >= 'a' && c <= 'z';
}

/* ASCII alone, whatever the locale: all other bytes are written as %XX, which have no case. */
static int small(char c)
{
    return (unsigned char)(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
}

static int compare_caseless(const char *a, const char *b)
{
    while (*a && small(*a) == small(*b)) {
        a++;
        b++;
    }
    return small(*a) - small(*b);
}

static int by_letters(const void *a, const void *b)
{
    return compare_caseless(*(const char *const *)a, *(const char *const *)b);
}

static int by_bytes(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

bool page_names_find(struct page_names *out, const char *const *serials, size_t n, struct error *e)
{
    const char **list = memory_make(n, sizeof *list, e);
    size_t n_twins = 0;
    bool is_twin = false; /* of the one before */

    if (!list) return false;
    for (size_t i = 0; i < n; i++)
        list[i] = serials[i];
    qsort(list, n, sizeof *list, by_letters);
    for (size_t i = 0; i < n; i++) {
        const bool has_next = i + 1 < n && compare_caseless(list[i], list[i + 1]) == 0;

        if (is_twin || has_next) list[n_twins++] = list[i];
        is_twin = has_next;
    }
    qsort(list, n_twins, sizeof *list, by_bytes);
    *out = (struct page_names){n_twins, list};
    return true;
}

void page_names_clear(struct page_names *names)
{
    memory_free(names->twins);
    *names = (struct page_names){0};
}

static bool has_twin(const struct page_names *names, const char *serial)
{
    return names && names->n > 0 &&
           bsearch(&serial, names->twins, names->n, sizeof *names->twins, by_bytes);
}

/* What stands before the first dot is a device's name on some systems, whatever follows (names of
 * DOS devices, common practice). */
static bool is_device(const char *serial)
{
    static const char *const devices[] = {"con", "prn", "aux", "nul"};
    const size_t length = strcspn(serial, ".");
    char base[5] = "";

    if (length < 3 || length > 4) return false;
    for (size_t i = 0; i < length; i++)
        base[i] = (char)small(serial[i]);
    for (size_t i = 0; i < sizeof devices / sizeof *devices; i++)
        if (strcmp(base, devices[i]) == 0) return true;
    return length == 4 && base[3] >= '0' && base[3] <= '9' &&
           (memcmp(base, "com", 3) == 0 || memcmp(base, "lpt", 3) == 0);
}

static bool is_plain(char c, bool is_first)
{
    return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || is_small(c) || c == '-' ||
           c == '_' || (c == '.' && !is_first);
}

void page_unit_name(const struct page_names *names, const char *serial, char name[PAGE_UNIT_NAME])
{
    const bool twin = has_twin(names, serial), device = is_device(serial);
    size_t n = 0;

    for (const char *p = serial; *p && n + 16 < PAGE_UNIT_NAME; p++) {
        if (is_plain(*p, p == serial) && !(twin && is_small(*p)) && !(device && p == serial))
            name[n++] = *p;
        else
            n += (size_t)snprintf(name + n, 4, "%%%02X", (unsigned)(unsigned char)*p);
    }
    (void)snprintf(name + n, PAGE_UNIT_NAME - n, ".html");
}
