#include "reports/html.h"

#include "drivers/base/ceilings.h"
#include "drivers/base/memory.h"
#include "tests/check.h"

/* One paragraph with an attribute, as a finished page. */
static char *page_with(const char *words)
{
    struct error e = {0};
    struct html *h = html_start("title", &e);
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
    assert_null(strstr(page, "<script>"));
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
    struct html *h = html_start("t", &e);
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
    struct html *h = html_start("t", &e);
    struct text out = {0};

    (void)state;
    html_open(h, "div");
    html_close(h);
    html_open(h, "br");
    html_close(h);
    html_open(h, "path");
    html_close(h);
    assert_done(html_finish(h, &out, &e), &e);
    assert_holds(out.data, "<div></div><br/><path/>");
    html_free(h);
    text_clear(&out);
}

/* The page begins as HTML5, names its language and forbids everything from outside; the style sheet
 * is there as it was written. */
static void test_head(void **state)
{
    char *page = page_with("x");

    (void)state;
    assert_memory_equal(page, "<!DOCTYPE html>", 15);
    assert_holds(page, "<html lang=\"en\">");
    assert_holds(page, "default-src 'none'");
    assert_holds(page, "svg g:hover > .data");
    assert_holds(page, "</html>");
    memory_free(page);
}

/* What is left open is closed at the end. */
static void test_finish_closes_all(void **state)
{
    char *page = page_with("x");

    (void)state;
    assert_holds(page, "</p></body></html>");
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
        cmocka_unit_test(test_finish_closes_all),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
