/* Whether a page is well formed, found without the library that wrote it: every tag closed in its
 * order, every attribute quoted and there once, no bare '<' or '&', an empty element only where an
 * HTML parser reads it as one, no attribute that the page's own policy forbids. */
#ifndef GAINSIEVE_TESTS_PAGE_CHECK_H
#define GAINSIEVE_TESTS_PAGE_CHECK_H

#include <stdlib.h>

#include "drivers/base/digest.h"
#include "tests/check.h"

#define PAGE_CHECK_DEPTH 64
#define PAGE_CHECK_ATTRIBUTES 16

/* A part of the page. */
struct page_span {
    const char *begin;
    size_t length;
};

static inline bool page_check_is(const struct page_span *span, const char *word)
{
    return strlen(word) == span->length && memcmp(span->begin, word, span->length) == 0;
}

static inline bool page_check_is_one_of(const struct page_span *span, const char *const *words,
                                        size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (page_check_is(span, words[i])) return true;
    return false;
}

/* A letter by its number, as libxml2 writes those beyond ASCII in attributes. */
static inline bool page_check_is_number(const char *p)
{
    char *end;

    return strncmp(p, "&#x", 3) == 0 && strtoul(p + 3, &end, 16) >= 0xA0 && *end == ';';
}

static inline void page_check_entities(const char *from, const char *to)
{
    static const char *const known[] = {"&lt;",  "&gt;",  "&amp;", "&quot;",
                                        "&#13;", "&#10;", "&#9;"};

    for (; from < to; from++) {
        bool found = *from != '&' || page_check_is_number(from);

        for (size_t i = 0; i < sizeof known / sizeof *known; i++)
            found = found || strncmp(from, known[i], strlen(known[i])) == 0;
        if (!found) print_error("not an entity: %.20s\n", from);
        assert_true(found);
    }
}

/* Checks the attributes that begin at `p` and gives the place of '>' or "/>". */
static inline const char *page_check_attributes(const char *p)
{
    struct page_span names[PAGE_CHECK_ATTRIBUTES];
    size_t n = 0;

    while (*p == ' ') {
        struct page_span *name = &names[n];
        const char *value;

        assert_true(n < PAGE_CHECK_ATTRIBUTES);
        name->begin = p + 1;
        name->length =
            strspn(p + 1, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ-0123456789");
        p = name->begin + name->length;
        /* Styles and handlers in attributes are what the content policy shuts out. */
        assert_false(page_check_is(name, "style") || page_check_is(name, "src"));
        assert_false(name->length > 2 && memcmp(name->begin, "on", 2) == 0);
        for (size_t i = 0; i < n; i++)
            assert_false(names[i].length == name->length &&
                         memcmp(names[i].begin, name->begin, name->length) == 0);
        n++;
        assert_memory_equal(p, "=\"", 2);
        value = p + 2;
        p = value + strcspn(value, "\"<");
        assert_int_equal(*p, '"');
        page_check_entities(value, p);
        p++;
    }
    return p;
}

/* What stands before '>' tells whether an element of this name may begin so: to an HTML parser "/>"
 * means nothing on an ordinary element, and some have no end tag at all. */
static inline void page_check_start(const struct page_span *name, bool is_empty)
{
    static const char *const shapes[] = {"path", "line", "circle", "rect"};
    static const char *const ended[] = {"meta", "br", "hr", "input", "img", "link"};

    if (is_empty)
        assert_true(page_check_is_one_of(name, shapes, sizeof shapes / sizeof *shapes) ||
                    page_check_is_one_of(name, ended, sizeof ended / sizeof *ended));
    else
        assert_false(page_check_is_one_of(name, ended, sizeof ended / sizeof *ended));
}

/* The place where the text of the open element ends; `style` and `script` hold raw text. */
static inline const char *page_check_text(const char *p, const struct page_span *inside)
{
    const char *from = p;

    if (inside && page_check_is(inside, "style")) return strstr(p, "</style>");
    if (inside && page_check_is(inside, "script")) return strstr(p, "</script>");
    p += strcspn(p, "<");
    page_check_entities(from, p);
    return p;
}

static inline void page_check(const char *page)
{
    static const char head[] = "<!DOCTYPE html>";
    struct page_span open[PAGE_CHECK_DEPTH];
    size_t depth = 0, n_elements = 0;
    const char *p = page + sizeof head - 1;

    assert_memory_equal(page, head, sizeof head - 1);
    for (;;) {
        struct page_span name;
        bool closes;

        p = page_check_text(p, depth ? &open[depth - 1] : NULL);
        assert_non_null(p);
        if (!*p) break;
        closes = p[1] == '/';
        name.begin = p + 1 + closes;
        name.length = strspn(name.begin, "abcdefghijklmnopqrstuvwxyz0123456789");
        assert_true(name.length > 0);
        p = page_check_attributes(name.begin + name.length);
        if (closes) {
            assert_true(depth > 0);
            depth--;
            assert_int_equal(name.length, open[depth].length);
            assert_memory_equal(name.begin, open[depth].begin, name.length);
        } else {
            page_check_start(&name, *p == '/');
            assert_true(depth < PAGE_CHECK_DEPTH);
            if (*p != '/') open[depth++] = name;
            p += *p == '/';
        }
        assert_int_equal(*p, '>');
        p++;
        n_elements++;
    }
    assert_int_equal(depth, 0);
    assert_true(n_elements > 10);
}

/* How often `before`, the `length` bytes of `word` and `after` stand together in the page. */
static inline size_t page_check_count(const char *page, const char *before, const char *word,
                                      size_t length, const char *after)
{
    const size_t n = strlen(before);
    size_t count = 0;

    for (const char *p = page; (p = strstr(p, before)) != NULL; p += n)
        count +=
            strncmp(p + n, word, length) == 0 && strncmp(p + n + length, after, strlen(after)) == 0;
    return count;
}

/* Every word between `before` and `after` is the id of exactly one element; gives their number. */
static inline size_t page_check_leads(const char *page, const char *before, const char *after)
{
    size_t n = 0;

    for (const char *p = page; (p = strstr(p, before)) != NULL; n++) {
        const char *end;

        p += strlen(before);
        end = strstr(p, after);
        assert_non_null(end);
        if (page_check_count(page, " id=\"", p, (size_t)(end - p), "\"") != 1) {
            print_error("%s%.*s%s: not the id of one element\n", before, (int)(end - p), p, after);
            fail();
        }
    }
    return n;
}

/* No id stands twice, and every link within the page, label and id that the script asks for leads
 * to an element. */
static inline void page_check_links(const char *page)
{
    (void)page_check_leads(page, " id=\"", "\"");
    (void)page_check_leads(page, " href=\"#", "\"");
    (void)page_check_leads(page, " for=\"", "\"");
    (void)page_check_leads(page, "byId('", "')");
}

/* The digest of what stands between two tags that are in the page once. */
static inline void page_check_digest(const char *page, const char *from, const char *to,
                                     char out[DIGEST_BASE64])
{
    const char *begin = strstr(page, from), *end;

    assert_non_null(begin);
    begin += strlen(from);
    assert_null(strstr(begin, from));
    end = strstr(begin, to);
    assert_non_null(end);
    assert_true(end > begin);
    digest_base64(begin, (size_t)(end - begin), out);
}

/* The page allows the style sheet and the script that stand in it, by their digests, and nothing
 * else at all. */
static inline void page_check_policy(const char *page, bool with_script)
{
    char style[DIGEST_BASE64], script[DIGEST_BASE64] = "";
    char policy[512];

    page_check_digest(page, "<style>", "</style>", style);
    if (with_script)
        page_check_digest(page, "<script>", "</script>", script);
    else
        assert_null(strstr(page, "<script"));
    (void)snprintf(policy, sizeof policy,
                   "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                   "base-uri 'none'; form-action 'none'; style-src 'sha256-%s'%s%s%s\"/>",
                   style, with_script ? "; script-src 'sha256-" : "", script,
                   with_script ? "'" : "");
    assert_holds(page, policy);
    assert_null(strstr(strstr(page, "Content-Security-Policy") + 1, "Content-Security-Policy"));
}

#endif
