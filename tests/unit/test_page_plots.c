#include "drivers/base/memory.h"
#include "reports/plot.h"
#include "tests/report_fixture.h"

/* The picture of a limit at some bias steps, or of gain against bias, over the first `n` units. */
static char *picture(struct report_batch *r, size_t limit, uint64_t steps, size_t n, bool bias)
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
        page_plot_limit(h, &r->limits, limit, steps, units, n);
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
    page = picture(&r, 0, PAGE_ALL_STEPS, 3, false);
    assert_int_equal(report_count(page, "<path class=\"data\""), 5);
    assert_int_equal(report_count(page, "<path class=\"failed\""), 3);
    assert_holds(page, "<title>A2 at bias low, failed this limit</title>");
    assert_holds(page, ">A2</text>");
    assert_null(strstr(page, ">A1</text>"));
    assert_int_equal(report_count(page, "<path class=\"bound\""), 1);
    memory_free(page);
    page = picture(&r, 1, PAGE_ALL_STEPS, 3, false);
    /* The reflection limit is for the low step only, and A2 keeps it. */
    assert_int_equal(report_count(page, "<path class=\"data\""), 3);
    memory_free(page);
    report_clear(&r);
}

/* A picture of one bias step holds that step's lines alone and says which it is; a step that the
 * limit is not for has none. */
static void test_one_step(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "A2", 1, 18, 3);
    page = picture(&r, 0, 1 << 2, 2, false);
    assert_holds(page, "<figcaption>gain: gain at bias high (3 V)</figcaption>");
    assert_int_equal(report_count(page, "<path class=\"data\""), 1);
    assert_int_equal(report_count(page, "<path class=\"failed\""), 1);
    assert_holds(page, " failed this limit</span>");
    assert_holds(page, " did not fail this limit</span>");
    memory_free(page);
    page = picture(&r, 1, 1 << 2, 2, false);
    assert_int_equal(report_count(page, "<path class=\"data\""), 0);
    memory_free(page);
    report_clear(&r);
}

/* A value inside the bound but within the guard band fails under guarded acceptance: the picture
 * may not say that it lies outside. */
static void test_guard_band_words(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 19.2, 3);
    assert_int_equal(r.judgements[0].findings[0].outcome, OUTCOME_CONDITIONAL_PASS);
    assert_false(r.judgements[0].findings[0].accepted);
    page = picture(&r, 0, PAGE_ALL_STEPS, 1, false);
    assert_holds(page, "A1 at bias low, failed this limit");
    assert_null(strstr(page, "outside"));
    memory_free(page);
    report_clear(&r);
}

/* A reflection far below its bound is cut off, but never a bound: what it forbids must be in view.
 */
static void test_bounds_stay_in_view(void **state)
{
    struct report_batch r = {0};
    double at_hz[] = {160e6, 178e6}, value[] = {-70, -70};
    char *page, *bound;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    r.limits.limits[1].lower = (struct bound_line){2, at_hz, value};
    page = picture(&r, 1, PAGE_ALL_STEPS, 1, false);
    bound = strstr(page, "<path class=\"bound\" d=\"M");
    assert_non_null(bound);
    bound += strlen("<path class=\"bound\" d=\"M");
    (void)strtod(bound, &bound);
    assert_true(strtod(bound, NULL) < PLOT_HEIGHT - PLOT_BOTTOM);
    memory_free(page);
    r.limits.limits[1].lower = (struct bound_line){0};
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
    page = picture(&r, 0, PAGE_ALL_STEPS, 1, false);
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
    report_add(&r, "A3", 1, 18, 3);
    page = picture(&r, 0, PAGE_ALL_STEPS, 3, true);
    assert_holds(page, ">A3</text>");
    assert_int_equal(report_count(page, "<path class=\"failed\""), 1);
    assert_holds(page, "Gain against bias at 169 MHz");
    assert_int_equal(report_count(page, "<path class=\"data\""), 1);
    memory_free(page);
    page = picture(&r, 0, PAGE_ALL_STEPS, 0, true);
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
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_lines),
                                       cmocka_unit_test(test_one_step),
                                       cmocka_unit_test(test_guard_band_words),
                                       cmocka_unit_test(test_bounds_stay_in_view),
                                       cmocka_unit_test(test_one_unit),
                                       cmocka_unit_test(test_gain_against_bias),
                                       cmocka_unit_test(test_what_is_drawn)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
