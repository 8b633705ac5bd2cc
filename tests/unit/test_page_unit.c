#include "reports/page_unit.h"

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
    assert_holds(page, "<strong>gain</strong>: gain 17.91 dB at 178 MHz, bias 1.8 V: below 19 dB by "
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
        cmocka_unit_test(test_attempts),
        cmocka_unit_test(test_names),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
