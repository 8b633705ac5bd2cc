/* Whether a page is well formed, found without the library that wrote it: every tag closed in its
 * order, every attribute quoted, no bare '<' or '&', an empty element only where an HTML parser
 * reads it as one. */
#ifndef GAINSIEVE_TESTS_PAGE_CHECK_H
#define GAINSIEVE_TESTS_PAGE_CHECK_H

#include "tests/check.h"

#define PAGE_CHECK_DEPTH 64

static inline void page_check_entities(const char *from, const char *to)
{
    static const char *const known[] = {"&lt;",  "&gt;",  "&amp;", "&quot;",
                                        "&#13;", "&#10;", "&#9;"};

    for (; from < to; from++) {
        bool found = false;

        if (*from != '&') continue;
        for (size_t i = 0; i < sizeof known / sizeof *known; i++)
            found = found || strncmp(from, known[i], strlen(known[i])) == 0;
        assert_true(found);
    }
}

/* Checks the attributes that begin at `p` and gives the place of '>' or "/>". */
static inline const char *page_check_attributes(const char *p)
{
    while (*p == ' ') {
        const char *value;

        p += 1 + strspn(p + 1, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ-0123456789");
        assert_memory_equal(p, "=\"", 2);
        value = p + 2;
        p = value + strcspn(value, "\"<");
        assert_int_equal(*p, '"');
        page_check_entities(value, p);
        p++;
    }
    return p;
}

static inline bool page_check_may_be_empty(const char *name, size_t length)
{
    static const char *const names[] = {"meta", "br", "hr", "path", "line", "circle", "rect"};

    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strlen(names[i]) == length && memcmp(names[i], name, length) == 0) return true;
    return false;
}

static inline void page_check(const char *page)
{
    static const char head[] = "<!DOCTYPE html>";
    struct {
        const char *name;
        size_t length;
    } open[PAGE_CHECK_DEPTH];
    size_t depth = 0, n_elements = 0;
    const char *p = page + sizeof head - 1;

    assert_memory_equal(page, head, sizeof head - 1);
    while (*p) {
        const char *text = p, *name;
        size_t length;
        bool closes;

        p += strcspn(p, "<");
        if (depth == 0 || strncmp(open[depth - 1].name, "style", 5) != 0)
            page_check_entities(text, p);
        if (!*p) break;
        closes = p[1] == '/';
        name = p + 1 + closes;
        length = strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789");
        assert_true(length > 0);
        p = page_check_attributes(name + length);
        if (closes) {
            assert_true(depth > 0);
            depth--;
            assert_int_equal(length, open[depth].length);
            assert_memory_equal(name, open[depth].name, length);
        } else if (*p == '/') {
            assert_true(page_check_may_be_empty(name, length));
            p++;
        } else {
            assert_true(depth < PAGE_CHECK_DEPTH);
            open[depth].name = name;
            open[depth++].length = length;
        }
        assert_int_equal(*p, '>');
        p++;
        n_elements++;
    }
    assert_int_equal(depth, 0);
    assert_true(n_elements > 10);
}

#endif
