#include "reports/page_unit.h"

#include "tests/page_check.h"
#include "tests/report_fixture.h"

static char *page_of(struct report_batch *r)
{
    struct unit_sheet sheet = {&r->limits, r->judgements, r->n, &r->m[r->n - 1],
                               &r->traces[r->n - 1]};
    struct text out = {0};
    struct error e = {0};

    assert_done(page_unit_write(&sheet, &out, &e), &e);
    return out.data;
}

/* A failed unit: serial, verdict, reason, advice and the worst place, all on its sheet. */
static void test_failed_unit(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 18, 3);
    page = page_of(&r);
    assert_holds(page, "<h1 class=\"serial\">A1</h1>");
    assert_holds(page, "<div class=\"verdict fail\">");
    assert_holds(page,
                 "<strong>gain</strong>: gain 17.91 dB at 178 MHz, bias 1.8 V: below 19 dB by "
                 "1.09 dB. Look at the bias feed.</p>");
    assert_holds(page, ">worst</text>");
    assert_holds(page, "A1_2.s2p");
    assert_holds(page, "Signature");
    free(page);
    report_clear(&r);
}

/* A unit that passed has no advice and no reason. */
static void test_passed_unit(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    page = page_of(&r);
    assert_holds(page, "<div class=\"verdict pass\">");
    assert_null(strstr(page, "class=\"advice\""));
    free(page);
    report_clear(&r);
}

/* A linear uncertainty of a reflection is shown in dB on both sides of the value: 0.006 around 0.1
 * (0.1004 at the band edges) is +0.50 and -0.54 dB. */
static void test_linear_uncertainty(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    page = page_of(&r);
    assert_holds(page, "0.006 linear: +0.50, -0.54 dB");
    free(page);
    report_clear(&r);
}

/* A probability that is not certain may not be written as if it were. */
static void test_near_certainty(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 18, 3);
    assert_true(r.judgements[0].findings[0].conformance_probability > 0);
    page = page_of(&r);
    assert_holds(page, "<td class=\"number\">&lt; 0.0001</td>");
    assert_holds(page, "<td class=\"number\">&gt; 0.9999</td>");
    free(page);
    report_clear(&r);
}

/* Whatever serial number, file name and words of the archive hold, the sheet is well formed, and an
 * advice of the greatest length is all there. */
static void test_hostile_words(void **state)
{
    struct report_batch r = {0};
    char advice[CEILING_NOTE + 1];
    char *kept, *page;

    (void)state;
    memset(advice, 'w', CEILING_NOTE);
    memcpy(advice + CEILING_NOTE - 6, "<end>", 6);
    report_start(&r);
    report_add(&r, "</h1><b>\x02\"&", 1, 18, 2);
    text_add(&r.m[0].remarks, "<i>\xC0 left out");
    text_add(&r.m[0].biases[0].missing, "a & b < c");
    kept = r.limits.limits[0].when_failed;
    r.limits.limits[0].when_failed = advice;
    page = page_of(&r);
    r.limits.limits[0].when_failed = kept;
    page_check(page);
    assert_holds(page, ">&lt;/h1&gt;&lt;b&gt;\xEF\xBF\xBD&quot;&amp;</h1>");
    assert_holds(page, "&lt;i&gt;\xEF\xBF\xBD left out");
    assert_holds(page, "a &amp; b &lt; c");
    assert_holds(page, "w&lt;end&gt;</p>");
    free(page);
    report_clear(&r);
}

/* Earlier attempts stay in view. */
static void test_attempts(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 18, 3);
    report_add(&r, "A1", 2, 20, 3);
    page = page_of(&r);
    assert_holds(page, "<div class=\"verdict pass\">");
    assert_holds(page, "1: <span class=\"word fail\">\u25A0 FAIL</span>");
    assert_holds(page, "2: <span class=\"word pass\">\u25CF PASS</span>");
    free(page);
    report_clear(&r);
}

/* Any serial number is one file name, two are never the same, and none leaves the folder. */
static void test_names(void **state)
{
    char name[PAGE_UNIT_NAME], link[PAGE_UNIT_NAME], wild[CEILING_SERIAL + 1];

    (void)state;
    page_unit_name("KW000101", name, link);
    assert_string_equal(name, "KW000101.html");
    assert_string_equal(link, "KW000101.html");
    page_unit_name("../a b", name, link);
    assert_string_equal(name, "%2E.%2Fa%20b.html");
    assert_string_equal(link, "%252E.%252Fa%2520b.html");
    page_unit_name("%2E", name, link);
    assert_string_equal(name, "%252E.html");
    memset(wild, 0xC3, sizeof wild);
    wild[CEILING_SERIAL] = '\0';
    page_unit_name(wild, name, link);
    assert_int_equal(strlen(name), 3 * CEILING_SERIAL + 5);
    assert_int_equal(strlen(link), 5 * CEILING_SERIAL + 5);
    assert_true(strlen(name) < 255);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_failed_unit),
        cmocka_unit_test(test_passed_unit),
        cmocka_unit_test(test_linear_uncertainty),
        cmocka_unit_test(test_near_certainty),
        cmocka_unit_test(test_hostile_words),
        cmocka_unit_test(test_attempts),
        cmocka_unit_test(test_names),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
