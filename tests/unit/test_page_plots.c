#include "drivers/base/memory.h"
#include "tests/report_fixture.h"

/* The picture of a limit over the first `n` units. */
static char *picture(struct report_batch *r, size_t limit, size_t n, bool bias)
{
    struct drawn_unit units[REPORT_UNITS];
    struct text out = {0};
    struct error e = {0};
    struct html *h = html_start("t", &e);

    assert_non_null(h);
    for (size_t i = 0; i < n; i++)
        units[i] = (struct drawn_unit){&r->judgements[i], &r->traces[i]};
    if (bias)
        page_plot_bias(h, &r->limits, units, n);
    else
        page_plot_limit(h, &r->limits, limit, units, n);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    return out.data;
}

/* Every unit at every bias step of the limit has its line; one outside the limit is drawn dashed
 * and named, so that colour is not alone. */
static void test_lines(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "A2", 1, 18, 3);
    report_add(&r, "A3", 1, 20, 2);
    page = picture(&r, 0, 3, false);
    assert_int_equal(report_count(page, "<path class=\"data\""), 5);
    assert_int_equal(report_count(page, "<path class=\"failed\""), 3);
    assert_holds(page, "<title>A2 at bias low, outside this limit</title>");
    assert_holds(page, ">A2</text>");
    assert_null(strstr(page, ">A1</text>"));
    assert_int_equal(report_count(page, "class=\"bound\""), 1);
    memory_free(page);
    page = picture(&r, 1, 3, false);
    /* The reflection limit is for the low step only, and A2 keeps it. */
    assert_int_equal(report_count(page, "<path class=\"data\""), 3);
    memory_free(page);
    report_clear(&r);
}

/* One unit alone: its lines are named by bias step and its worst place is marked. */
static void test_one_unit(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    page = picture(&r, 0, 1, false);
    assert_holds(page, ">low</text>");
    assert_holds(page, ">high</text>");
    assert_holds(page, "class=\"worst\"");
    memory_free(page);
    report_clear(&r);
}

/* Gain against bias: a line a unit with two steps or more, none when nobody has two. */
static void test_gain_against_bias(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "A2", 1, 20, 1);
    page = picture(&r, 0, 2, true);
    assert_holds(page, "Gain against bias at 169 MHz");
    assert_int_equal(report_count(page, "<path class=\"data\""), 1);
    memory_free(page);
    page = picture(&r, 0, 0, true);
    assert_null(strstr(page, "<svg"));
    memory_free(page);
    report_clear(&r);
}

/* Only gain and input reflection over frequency have pictures. */
static void test_what_is_drawn(void **state)
{
    struct report_batch r = {0};

    (void)state;
    report_start(&r);
    assert_true(page_limit_is_drawn(&r.limits.limits[0]));
    assert_true(page_limit_is_drawn(&r.limits.limits[1]));
    r.limits.limits[0].quantity = quantity_find("gain-slope");
    assert_false(page_limit_is_drawn(&r.limits.limits[0]));
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lines), cmocka_unit_test(test_one_unit),
        cmocka_unit_test(test_gain_against_bias), cmocka_unit_test(test_what_is_drawn)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
