#include "reports/page_batch.h"

#include "tests/page_check.h"
#include "tests/report_fixture.h"

static char *page_of(struct report_batch *r)
{
    struct text out = {0};
    struct error e = {0};

    report_finish(r);
    assert_done(page_batch_write(&r->batch, &out, &e), &e);
    return out.data;
}

/* Counts, yield and every unit with its verdict in words are on the page. */
static void test_counts_and_units(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "A2", 1, 18, 3);
    report_add(&r, "A3", 1, 20, 2);
    report_add(&r, "A4", 1, 21, 3);
    page = page_of(&r);
    assert_holds(page, "<title>Test: 2 PASS, 1 FAIL, 1 INCOMPLETE</title>");
    assert_holds(page, "<b>50.0 %</b>");
    assert_holds(page,
                 "<a href=\"units/A2.html\">A2</a></td><td class=\"word fail\">\u25A0 FAIL</td>");
    assert_holds(page, "A3</a></td><td class=\"word open\">\u25B2 INCOMPLETE</td>");
    assert_holds(page, "no sweep at bias high (3 V)");
    assert_int_equal(report_count(page, "<tr><td class=\"name\"><a href"), 4);
    free(page);
    report_clear(&r);
}

/* A unit counts once, with its last attempt; its attempts are counted beside it. */
static void test_attempts(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 18, 3);
    report_add(&r, "A1", 2, 20, 3);
    report_add(&r, "A2", 1, 20, 3);
    page = page_of(&r);
    assert_holds(page, "Test: 2 PASS, 0 FAIL, 0 INCOMPLETE");
    assert_holds(page, "1 of 2 passed at the first attempt");
    assert_int_equal(report_count(page, "<tr><td class=\"name\"><a href"), 2);
    free(page);
    report_clear(&r);
}

/* Each limit stands in words with the number of units that failed it. */
static void test_limits(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 18, 3);
    page = page_of(&r);
    assert_holds(page, "<td class=\"name\">gain</td><td class=\"number\">1</td><td "
                       "class=\"words\">gain at least 19 dB");
    assert_holds(page, "<td class=\"name\">match</td><td class=\"number\">0</td>");
    free(page);
    report_clear(&r);
}

/* Serial numbers, notes and sources that hold markup stay text. */
static void test_hostile_words(void **state)
{
    struct report_batch r = {0};
    char *page;
    char note[] = "<img src=x onerror=alert(1)>";

    (void)state;
    report_start(&r);
    report_add(&r, "<b>\"A&1</b>", 1, 20, 3);
    r.limits.note = note;
    page = page_of(&r);
    assert_null(strstr(page, "<img"));
    assert_null(strstr(page, "<b>\"A"));
    assert_holds(page, "href=\"units/%253Cb%253E%2522A%25261%253C%252Fb%253E.html\"");
    r.limits.note = NULL;
    free(page);
    report_clear(&r);
}

/* Serial numbers as long as they may be, in another script, with marks that turn the text around
 * them and with control characters: the page stays well formed, and what is harmless stays. */
static void test_hostile_serials(void **state)
{
    static const char longest[] =
        "0123456789012345678901234567890123456789012345678901234567890123";
    static const char *const serials[] = {
        longest, "</td></tr></table>", "\xD7\x90\xE2\x80\xAEZ1", "\x01\x1B\xFF", "]]>&amp;\"'<!--",
    };
    struct report_batch r = {0};
    char *page;

    (void)state;
    assert_int_equal(strlen(longest), CEILING_SERIAL);
    report_start(&r);
    for (size_t i = 0; i < sizeof serials / sizeof *serials; i++)
        report_add(&r, serials[i], 1, i % 2 ? 20 : 18, 3);
    page = page_of(&r);
    page_check(page);
    assert_holds(page, longest);
    assert_holds(page, "\xD7\x90\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBDZ1");
    assert_holds(page, ">\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD</a>");
    assert_holds(page, ">]]&gt;&amp;amp;&quot;'&lt;!--</a>");
    assert_int_equal(report_count(page, "<tr><td class=\"name\"><a href"), 5);
    free(page);
    report_clear(&r);
}

/* Gain is drawn at each bias step by itself, reflection at the step that its limit is for, and gain
 * over bias once; when not all units are drawn, the page says so. */
static void test_pictures(void **state)
{
    struct report_batch r = {0};
    struct text out = {0};
    struct error e = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "A2", 1, 20, 3);
    page = page_of(&r);
    assert_int_equal(report_count(page, "<figure>"), 3 + 1 + 1);
    assert_null(strstr(page, "units are drawn"));
    free(page);
    r.batch.n_traces = 1;
    assert_done(page_batch_write(&r.batch, &out, &e), &e);
    assert_holds(out.data, "The first 1 of 2 units are drawn.");
    text_clear(&out);
    report_clear(&r);
}

/* No units at all is still a page. */
static void test_empty_batch(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    page = page_of(&r);
    assert_holds(page, "0 PASS, 0 FAIL, 0 INCOMPLETE");
    assert_holds(page, "<b>no units</b>");
    assert_null(strstr(page, "nan"));
    page_check(page);
    free(page);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counts_and_units), cmocka_unit_test(test_attempts),
        cmocka_unit_test(test_limits),           cmocka_unit_test(test_hostile_words),
        cmocka_unit_test(test_hostile_serials),  cmocka_unit_test(test_pictures),
        cmocka_unit_test(test_empty_batch),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
