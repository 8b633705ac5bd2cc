/* Reads drawings back from a page, so that places can be compared with values: the paths that
 * reports/svg_path.c writes, and numbers of attributes. What could not be seen fails the test. */
#ifndef GAINSIEVE_TESTS_SVG_READ_H
#define GAINSIEVE_TESTS_SVG_READ_H

#include <stdlib.h>

#include "tests/check.h"

/* A number of at most one decimal, after a blank if there is one. */
static inline double svg_read_number(const char **d)
{
    const char *p = *d + (**d == ' ');
    const char *digits = p + (*p == '-');
    size_t whole = strspn(digits, "0123456789");
    size_t tenths = digits[whole] == '.' ? strspn(digits + whole + 1, "0123456789") : 0;
    double value = 0;

    assert_true(whole + tenths > 0);
    assert_true(whole <= 4);
    assert_true(digits[whole] == '.' ? tenths == 1 : tenths == 0);
    for (size_t i = 0; i < whole; i++)
        value = 10 * value + (digits[i] - '0');
    if (tenths) value += (digits[whole + 1] - '0') / 10.0;
    *d = digits + whole + (tenths ? 2 : 0);
    return *p == '-' ? -value : value;
}

/* The points of a path in absolute places; its `d` ends at a quotation mark or NUL. `lifted[i]` is
 * true where the pen was set down anew. A dot is one point, and closing adds none: the pen is back
 * where it was set down. Fails where the pen is set down and draws nothing, and on commands that
 * svg_path.c does not know. */
static inline size_t svg_read_path(const char *d, double (*points)[2], bool *lifted, size_t room)
{
    double pen[2] = {0, 0}, start[2] = {0, 0};
    size_t n = 0;
    bool drawn = true; /* since the pen was set down */
    char command = '\0';

    if (*d && *d != '"') assert_int_equal(*d, 'M');
    while (*d && *d != '"') {
        if (strchr("MlhZ", *d)) command = *d++;
        if (command == 'h' || command == 'Z') {
            assert_true(command == 'Z' ? drawn : *d == '0' && !drawn);
            d += command == 'h';
            drawn = true;
            memcpy(pen, start, sizeof pen);
            assert_true(!*d || strchr("Ml\"", *d)); /* no numbers of theirs */
            continue;
        }
        assert_true(n < room);
        assert_true(command == 'l' || drawn);
        for (size_t i = 0; i < 2; i++) {
            const double number = svg_read_number(&d);

            pen[i] = points[n][i] = command == 'l' ? pen[i] + number : number;
        }
        drawn = command == 'l';
        lifted[n] = command == 'M';
        if (command == 'M') {
            assert_true(*d == 'l' || *d == 'h'); /* more pairs would be lines */
            memcpy(start, pen, sizeof start);
        }
        n++;
    }
    assert_true(drawn);
    return n;
}

/* The `d` of the `nth` path (0 is the first) of this class on the page, or NULL. */
static inline const char *svg_find_path(const char *page, const char *class_name, size_t nth)
{
    char start[128];

    (void)snprintf(start, sizeof start, "<path class=\"%s\" d=\"", class_name);
    while ((page = strstr(page, start)) != NULL) {
        page += strlen(start);
        if (nth-- == 0) return page;
    }
    return NULL;
}

/* The place of the `nth` element that begins so, `<circle class="worst"` for one, or NULL. */
static inline const char *svg_find(const char *page, const char *start, size_t nth)
{
    while ((page = strstr(page, start)) != NULL) {
        if (nth-- == 0) return page;
        page++;
    }
    return NULL;
}

/* The number in an attribute of the element that begins at `element`. */
static inline double svg_attribute(const char *element, const char *name)
{
    char start[64];
    const char *at, *end;
    char *after;
    double value;

    assert_non_null(element);
    (void)snprintf(start, sizeof start, " %s=\"", name);
    at = strstr(element, start);
    end = strchr(element, '>');
    assert_true(at && end && at < end);
    value = strtod(at + strlen(start), &after);
    assert_int_equal(*after, '"');
    return value;
}

#endif
