#include "reports/html.h"

#include "drivers/base/ceilings.h"
#include "drivers/base/embedded.h"
#include "drivers/base/memory.h"
#include "tests/page_check.h"

extern const struct embedded page_css, page_js;

/* One paragraph with an attribute, as a finished page. */
static char *page_with(const char *words)
{
    struct error e = {0};
    struct html *h = html_start("title", true, &e);
    struct text out = {0};

    assert_non_null(h);
    html_open(h, "p");
    html_attribute(h, "title", words);
    html_text(h, words);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    return out.data;
}

/* Markup in any text stays text: nothing that a file holds can become an element or an attribute.
 */
static void test_markup_is_escaped(void **state)
{
    char *page = page_with("<script>alert(1)</script> & \" onload=\"x' -->");

    (void)state;
    assert_null(strstr(page, "<script>alert"));
    assert_holds(page, ">&lt;script&gt;alert(1)&lt;/script&gt; &amp; ");
    assert_holds(page,
                 "title=\"&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot; onload=&quot;x'");
    memory_free(page);
}

/* What no page may hold becomes U+FFFD: control characters, broken UTF-8, and the marks that turn
 * the direction of the text around them. */
static void test_harmful_bytes_are_replaced(void **state)
{
    static const char *const broken[] = {"a\x01z",         "a\x1Bz",         "a\xFFz",
                                         "a\xC0\x80z",     "a\xED\xA0\x80z", "a\xE2\x80\xAEz",
                                         "a\xE2\x81\xA7z", "a\xC2\x85z",     "a\x7Fz",
                                         "a\xE2\x80\x8Fz", "a\xE2\x80\x8Ez", "a\xD8\x9Cz"};

    (void)state;
    for (size_t i = 0; i < sizeof broken / sizeof *broken; i++) {
        char *page = page_with(broken[i]);
        const char *begin = strstr(page, "\">a");

        assert_non_null(begin);
        assert_memory_equal(begin + 3, "\xEF\xBF\xBD", 3);
        assert_null(strstr(page, broken[i]));
        memory_free(page);
    }
}

/* Ordinary letters of any script stay as they are. */
static void test_other_scripts_stay(void **state)
{
    static const char words[] = "Kéttívake Ω 板 \xF0\x9F\x94\xA7";
    char *page = page_with(words);

    (void)state;
    assert_holds(page, words);
    memory_free(page);
}

/* A character cut off at the end of the text must not read past it. */
static void test_cut_character(void **state)
{
    char *page = page_with("end\xE2\x80");

    (void)state;
    assert_holds(page, "end\xEF\xBF\xBD\xEF\xBF\xBD");
    memory_free(page);
}

/* Text from a file may be long (a reason, a note, a path): nothing of it is cut off. */
static void test_long_words(void **state)
{
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    struct text out = {0};
    char words[3 * CEILING_NOTE];

    (void)state;
    memset(words, 'w', sizeof words - 1);
    words[sizeof words - 1] = '\0';
    html_open(h, "p");
    html_attributef(h, "title", "<%s>", words);
    html_textf(h, "(%s)", words);
    assert_done(html_finish(h, &out, &e), &e);
    assert_holds(out.data, "w&gt;\">(w");
    assert_holds(out.data, "w)</p>");
    assert_true(out.length > 2 * (sizeof words - 1));
    html_free(h);
    text_clear(&out);
}

/* An HTML parser takes "/>" on an ordinary element for an open tag: only elements that are empty by
 * their nature may be written so. */
static void test_empty_elements(void **state)
{
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    struct text out = {0};

    (void)state;
    html_open(h, "div");
    html_close(h);
    html_open(h, "br");
    html_close(h);
    html_open(h, "input");
    html_close(h);
    html_open(h, "path");
    html_close(h);
    html_open(h, "button");
    html_close(h);
    assert_done(html_finish(h, &out, &e), &e);
    assert_holds(out.data, "<div></div><br/><input/><path/><button></button>");
    page_check(out.data);
    html_free(h);
    text_clear(&out);
}

/* The page begins as HTML5, names its language and says whose it is; the style sheet and the script
 * are there as they were written. */
static void test_head(void **state)
{
    char *page = page_with("x");

    (void)state;
    assert_memory_equal(page, "<!DOCTYPE html>", 15);
    assert_holds(page, "<html lang=\"en\">");
    assert_holds(page, "<meta charset=\"utf-8\"/>");
    assert_holds(page, "<meta name=\"generator\" content=\"" HTML_GENERATOR "\"/>");
    assert_holds(page, "<title>title</title><style>");
    assert_holds(page, page_css.bytes);
    assert_holds(page, "</style><script>");
    assert_holds(page, page_js.bytes);
    assert_holds(page, "</script></head><body>");
    page_check(page);
    memory_free(page);
}

/* The page's title is text of a limits file. */
static void test_hostile_title(void **state)
{
    struct error e = {0};
    struct html *h = html_start("</title><script>\x02\"&", false, &e);
    struct text out = {0};

    (void)state;
    assert_done(html_finish(h, &out, &e), &e);
    assert_holds(out.data, "<title>&lt;/title&gt;&lt;script&gt;\xEF\xBF\xBD&quot;&amp;</title>");
    html_free(h);
    text_clear(&out);
}

/* What the page may load is the style sheet and the script that stand in it and nothing else: the
 * digests are taken here again from the page's own bytes. A page without a script allows none. */
static void test_policy(void **state)
{
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    struct text out = {0};
    char *page = page_with("x");

    (void)state;
    page_check_policy(page, true);
    assert_done(html_finish(h, &out, &e), &e);
    page_check_policy(out.data, false);
    assert_null(strstr(out.data, "script-src"));
    html_free(h);
    text_clear(&out);
    memory_free(page);
}

/* A browser hashes what it reads: carriage returns, which it would change, or an end tag within
 * would make the digests wrong, and a "<!--" would hide the script's end. */
static void test_embedded_files(void **state)
{
    char *page = page_with("x");
    const char *begin = strstr(page, "<style>"), *end = strstr(page, "</script>");

    (void)state;
    assert_non_null(begin);
    assert_non_null(end);
    assert_null(memchr(begin, '\r', (size_t)(end - begin)));
    assert_null(memmem(begin, (size_t)(end - begin), "<!--", 4));
    assert_int_equal(page_check_count(page, "</style", ">", 1, ""), 1);
    assert_int_equal(page_check_count(page, "</script", ">", 1, ""), 1);
    memory_free(page);
}

/* Text that could not be put together for want of memory spoils the page; text that could does not.
 */
static void test_need(void **state)
{
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    struct text out = {0}, words = {0};

    (void)state;
    text_add(&words, "whole");
    html_need(h, &words);
    memory_fail_at(1);
    text_addf(&words, "%0*d", 1000, 0);
    memory_fail_at(0);
    assert_string_equal(words.data, "whole");
    assert_true(words.failed);
    html_need(h, &words);
    assert_false(html_finish(h, &out, &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
    html_free(h);
    text_clear(&words);

    h = html_start("t", false, &e);
    text_add(&words, "whole");
    html_need(h, &words);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    text_clear(&words);
    text_clear(&out);
}

/* One page, or false with the error; `out` is emptied on failure. */
static bool try_page(struct text *out, struct error *e)
{
    struct html *h = html_start("title", true, e);
    bool ok;

    if (!h) return false;
    html_element(h, "p", "soft", "some words");
    html_textf(h, "%0*d", 400, 7);
    ok = html_finish(h, out, e);
    html_free(h);
    if (!ok) text_clear(out);
    return ok;
}

/* Without memory there is no page, rather than one that lacks something. */
static void test_no_memory(void **state)
{
    struct error e = {0};
    struct text whole = {0}, out = {0};
    unsigned long nth = 1;

    (void)state;
    assert_done(try_page(&whole, &e), &e);
    for (;; nth++) {
        bool ok;

        e = (struct error){0};
        memory_fail_at(nth);
        ok = try_page(&out, &e);
        memory_fail_at(0);
        if (ok) break;
        assert_int_equal(e.kind, ERROR_MEMORY);
    }
    assert_true(nth > 4);
    assert_string_equal(out.data, whole.data);
    text_clear(&out);
    text_clear(&whole);
}

/* What is left open is closed at the end. */
static void test_finish_closes_all(void **state)
{
    char *page = page_with("x");

    (void)state;
    assert_holds(page, "</p></body></html>");
    page_check(page);
    memory_free(page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_markup_is_escaped),
        cmocka_unit_test(test_harmful_bytes_are_replaced),
        cmocka_unit_test(test_other_scripts_stay),
        cmocka_unit_test(test_cut_character),
        cmocka_unit_test(test_long_words),
        cmocka_unit_test(test_empty_elements),
        cmocka_unit_test(test_head),
        cmocka_unit_test(test_hostile_title),
        cmocka_unit_test(test_policy),
        cmocka_unit_test(test_embedded_files),
        cmocka_unit_test(test_need),
        cmocka_unit_test(test_no_memory),
        cmocka_unit_test(test_finish_closes_all),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
