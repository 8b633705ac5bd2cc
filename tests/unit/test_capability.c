#include "limits/capability.h"

#include "drivers/base/memory.h"
#include "limits/statistics.h"
#include "tests/check.h"

/* The classical indices of `n` values between LSL and USL. */
static struct capability classical(const double *x, size_t n, double lsl, double usl)
{
    double lower[600], upper[600];
    struct capability out = {0};
    struct error e = {0};

    assert_true(n <= 600);
    for (size_t i = 0; i < n; i++) {
        lower[i] = x[i] - lsl;
        upper[i] = usl - x[i];
    }
    assert_done(capability_of(&out, lower, upper, n, &e), &e);
    return out;
}

/* True when no number is there. */
static bool is_empty(const struct capability *c)
{
    return isnan(c->cp) && isnan(c->cp_low) && isnan(c->cp_high) && isnan(c->cpk) &&
           isnan(c->cpk_low) && isnan(c->cpk_high);
}

/* `n` values, half of them at 16 - d and half at 16 + d, with a deviation of 2. */
static void fill_two_points(double *x, size_t n)
{
    const double d = 2 * sqrt((double)(n - 1) / (double)n);

    for (size_t i = 0; i < n; i++)
        x[i] = i % 2 ? 16 + d : 16 - d;
}

/* NIST/SEMATECH e-Handbook 6.1.6: USL 20, LSL 8, mean 16, s 2 give Cp 1.0, Cpk 0.6667, Cpu 0.6667,
 * Cpl 1.3333 (read second-hand, in a public course that cites it). */
static void test_handbook_indices(void **state)
{
    static const double x[] = {14, 16, 18}, lower[] = {6, 8, 10}, upper[] = {6, 4, 2};
    struct capability both = classical(x, 3, 8, 20), cpl = {0}, cpu = {0};
    struct error e = {0};

    (void)state;
    assert_done(capability_of(&cpl, lower, NULL, 3, &e), &e);
    assert_done(capability_of(&cpu, NULL, upper, 3, &e), &e);
    assert_close(both.cp, 1.0, 5e-5);
    assert_close(both.cpk, 0.6667, 5e-5);
    assert_close(cpl.cpk, 1.3333, 5e-5);
    assert_close(cpu.cpk, 0.6667, 5e-5);
    assert_close(both.cpk, 2.0 / 3, 1e-15);
    assert_int_equal(both.n, 3);
}

/* The same with n = 50, 95 %: Cp 0.80248..1.19713 by chi-square, Cpk 0.50555..0.82778 by the normal
 * approximation (computed elsewhere; the formulas are those of e-Handbook 6.1.6, from memory). */
static void test_handbook_intervals(void **state)
{
    double x[50];
    struct capability c;

    (void)state;
    fill_two_points(x, 50);
    c = classical(x, 50, 8, 20);
    assert_close(c.cp, 1, 1e-12);
    assert_close(c.cp_low, 0.80248, 1e-5);
    assert_close(c.cp_high, 1.19713, 1e-5);
    assert_close(c.cpk, 2.0 / 3, 1e-12);
    assert_close(c.cpk_low, 0.50555, 1e-5);
    assert_close(c.cpk_high, 0.82778, 1e-5);
    assert_int_equal(c.n, 50);
}

/* Indices have no unit: other units and another origin, bounds and values alike, change nothing. */
static void test_invariance(void **state)
{
    static const double scales[] = {1e-9, 0.25, 3, 1e6}, shifts[] = {-100, 0, 0.1, 1e4};
    double x[40], moved[40];
    struct capability plain;

    (void)state;
    for (size_t i = 0; i < 40; i++)
        x[i] = 15 + sin((double)(i * i));
    plain = classical(x, 40, 12, 19);
    for (size_t k = 0; k < 16; k++) {
        const double scale = scales[k / 4], shift = shifts[k % 4] * scale;
        struct capability c;

        for (size_t i = 0; i < 40; i++)
            moved[i] = scale * x[i] + shift;
        c = classical(moved, 40, scale * 12 + shift, scale * 19 + shift);
        assert_close(c.cp, plain.cp, 1e-9);
        assert_close(c.cp_low, plain.cp_low, 1e-9);
        assert_close(c.cp_high, plain.cp_high, 1e-9);
        assert_close(c.cpk, plain.cpk, 1e-9);
        assert_close(c.cpk_low, plain.cpk_low, 1e-9);
        assert_close(c.cpk_high, plain.cpk_high, 1e-9);
        assert_int_equal(c.is_not_normal, plain.is_not_normal);
    }
}

/* Bounds mirrored at the mean change sides, not indices; a process in the middle has Cpk = Cp, one
 * on a bound 0, one outside a negative one. Intervals hold what they are of. */
static void test_places(void **state)
{
    double x[50];
    struct capability middle, right, left, edge, outside;

    (void)state;
    fill_two_points(x, 50);
    middle = classical(x, 50, 10, 22);
    right = classical(x, 50, 13, 27);
    left = classical(x, 50, 5, 19);
    edge = classical(x, 50, 16, 28);
    outside = classical(x, 50, 20, 32);
    assert_close(middle.cp, 1, 1e-12);
    assert_close(middle.cpk, 1, 1e-12);
    assert_close(right.cp, left.cp, 1e-12);
    assert_close(right.cpk, left.cpk, 1e-12);
    assert_close(right.cpk, 0.5, 1e-12);
    assert_close(edge.cpk, 0, 1e-12);
    assert_close(outside.cpk, -4.0 / 6, 1e-12);
    assert_close(outside.cp, 1, 1e-12);
    assert_true(outside.cpk_low < outside.cpk && outside.cpk < outside.cpk_high);
    assert_true(middle.cp_low < middle.cp && middle.cp < middle.cp_high);
}

/* One bound gives no Cp, and a Cpk of its side; no bound gives nothing. */
static void test_one_sided(void **state)
{
    static const double margin[] = {1, 2, 3, 4, 5};
    struct capability lower = {0}, upper = {0}, none = {0};
    struct error e = {0};
    bool known;

    (void)state;
    assert_done(capability_of(&lower, margin, NULL, 5, &e), &e);
    assert_done(capability_of(&upper, NULL, margin, 5, &e), &e);
    assert_done(capability_of(&none, NULL, NULL, 5, &e), &e);
    assert_close(lower.cpk, 3 / (3 * sqrt(2.5)), 1e-15);
    assert_close(upper.cpk, lower.cpk, 0);
    assert_close(upper.cpk_low, lower.cpk_low, 0);
    known = !isnan(lower.cp) || !isnan(lower.cp_low) || !isnan(lower.cp_high);
    assert_false(known);
    assert_true(is_empty(&none));
    assert_int_equal(none.n, 0);
}

/* Over a band the two sides have margins, and deviations, of their own. */
static void test_two_deviations(void **state)
{
    static const double lower[] = {1, 2, 3}, upper[] = {10, 12, 14};
    struct capability c = {0};
    struct error e = {0};

    (void)state;
    assert_done(capability_of(&c, lower, upper, 3, &e), &e);
    assert_close(c.cpk, 2.0 / 3, 1e-15);
    assert_close(c.cp, (2.0 / 3 + 2) / 2, 1e-15);
}

/* A unit without a value on one side is left out on both. */
static void test_left_out(void **state)
{
    static const double lower[] = {1, NAN, 2, 900, 3, NAN}, upper[] = {9, 500, 7, NAN, 8, NAN};
    static const double kept_lower[] = {1, 2, 3}, kept_upper[] = {9, 7, 8};
    struct capability got = {0}, want = {0}, one = {0};
    struct error e = {0};

    (void)state;
    assert_done(capability_of(&got, lower, upper, 6, &e), &e);
    assert_done(capability_of(&want, kept_lower, kept_upper, 3, &e), &e);
    assert_int_equal(got.n, 3);
    assert_close(got.cp, want.cp, 0);
    assert_close(got.cp_high, want.cp_high, 0);
    assert_close(got.cpk, want.cpk, 0);
    assert_close(got.cpk_low, want.cpk_low, 0);
    /* With the one bound alone, only its own missing values count. */
    assert_done(capability_of(&one, lower, NULL, 6, &e), &e);
    assert_int_equal(one.n, 4);
}

/* Where there is no spread, on either side, there is no index: neither infinite nor huge. */
static void test_all_the_same(void **state)
{
    static const double same[] = {0.3, 0.3, 0.3, 0.3}, other[] = {1, 2, 3, 4};
    static const double zero[] = {0, 0, 0, 0};
    struct capability c = {0};
    struct error e = {0};

    (void)state;
    assert_done(capability_of(&c, same, NULL, 4, &e), &e);
    assert_true(is_empty(&c));
    assert_done(capability_of(&c, NULL, zero, 4, &e), &e);
    assert_true(is_empty(&c));
    assert_done(capability_of(&c, same, other, 4, &e), &e);
    assert_true(is_empty(&c));
    assert_done(capability_of(&c, other, same, 4, &e), &e);
    assert_true(is_empty(&c));
    assert_int_equal(c.n, 4);
    assert_false(c.is_not_normal);
}

/* None and one have no deviation; two have; 29 are few, 30 are not. */
static void test_counts(void **state)
{
    double x[30];
    struct capability c;

    (void)state;
    fill_two_points(x, 30);
    for (size_t n = 0; n < 2; n++) {
        c = classical(x, n, 8, 20);
        assert_int_equal(c.n, n);
        assert_true(is_empty(&c));
        assert_true(c.is_small);
        assert_false(c.is_not_normal);
    }
    c = classical(x, 2, 8, 20);
    assert_false(is_empty(&c));
    assert_true(c.cp_low > 0 && c.cp_low < c.cp && c.cp < c.cp_high);
    c = classical(x, CAPABILITY_SMALL - 1, 8, 20);
    assert_true(c.is_small);
    c = classical(x, CAPABILITY_SMALL, 8, 20);
    assert_false(c.is_small);
}

/* Units exactly at the quantiles of a normal distribution are not flagged; at those of an
 * exponential one they are, on whichever side the bound is, and seven are too few to tell. Their
 * order in the batch does not count. */
static void test_not_normal(void **state)
{
    double normal[60], exponential[60];
    struct capability c = {0};
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < 60; i++) {
        /* 37 has no factor in common with 60: every place once, not in order. */
        double p = ((double)(i * 37 % 60) + 0.5) / 60;

        normal[i] = normal_quantile(p);
        exponential[i] = -log(1 - p);
    }
    c = classical(normal, 60, -5, 5);
    assert_false(c.is_not_normal);
    c = classical(exponential, 60, -5, 5);
    assert_true(c.is_not_normal);
    assert_done(capability_of(&c, exponential, NULL, 60, &e), &e);
    assert_true(c.is_not_normal);
    assert_done(capability_of(&c, NULL, exponential, 60, &e), &e);
    assert_true(c.is_not_normal);
    /* One side is enough. */
    assert_done(capability_of(&c, normal, exponential, 60, &e), &e);
    assert_true(c.is_not_normal);
    exponential[0] = 1e6;
    assert_done(capability_of(&c, exponential, NULL, 7, &e), &e);
    assert_false(c.is_not_normal);
    assert_done(capability_of(&c, exponential, NULL, 12, &e), &e);
    assert_true(c.is_not_normal);
}

/* One unit a million deviations off: every number stays finite, and the unit is seen. */
static void test_outlier(void **state)
{
    double x[600];
    struct capability c;

    (void)state;
    for (size_t i = 0; i < 600; i++)
        x[i] = normal_quantile(((double)i + 0.5) / 600);
    x[300] = 1e6;
    c = classical(x, 600, -5, 5);
    assert_true(isfinite(c.cp) && isfinite(c.cp_low) && isfinite(c.cp_high));
    assert_true(isfinite(c.cpk) && isfinite(c.cpk_low) && isfinite(c.cpk_high));
    assert_true(c.is_not_normal);
    x[300] = HUGE_VAL;
    c = classical(x, 600, -5, 5);
    assert_true(is_empty(&c));
}

/* Without memory it says so and leaves what was there. */
static void test_no_memory(void **state)
{
    static const double margin[] = {1, 2, 3};
    struct capability c = {.n = 77};
    struct error e = {0};
    bool done;

    (void)state;
    memory_fail_at(1);
    done = capability_of(&c, margin, margin, 3, &e);
    memory_fail_at(0);
    assert_false(done);
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_int_equal(c.n, 77);
}

/* NIST/SEMATECH e-Handbook 6.3.2.2, flow rates of 10 batches: mean 50.81, mean moving range 1.8778,
 * limits 45.8159 and 55.8041. It needs the rounded d2; 2 / sqrt(pi) would give 55.8024. */
static void test_handbook_individuals(void **state)
{
    static const double x[] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
    struct individuals chart;

    (void)state;
    individuals_of(&chart, x, 10);
    assert_int_equal(chart.n, 10);
    assert_close(chart.mean, 50.81, 5e-5);
    assert_close(chart.mean_range, 1.8778, 5e-5);
    assert_close(chart.high, 55.8041, 5e-5);
    assert_close(chart.low, 45.8159, 5e-5);
}

/* D. C. Montgomery, Introduction to Statistical Quality Control, viscosity of 15 batches: mean
 * 33.52, mean moving range 0.48, limits 32.24 and 34.80 (data second-hand, limits from memory). */
static void test_viscosity(void **state)
{
    static const double x[] = {33.75, 33.05, 34.00, 33.81, 33.46, 34.02, 33.68, 33.27,
                               33.49, 33.20, 33.62, 33.00, 33.54, 33.12, 33.84};
    struct individuals chart;

    (void)state;
    individuals_of(&chart, x, 15);
    assert_close(chart.mean, 33.52, 0.005);
    assert_close(chart.mean_range, 0.48, 0.005);
    assert_close(chart.high, 34.80, 0.005);
    assert_close(chart.low, 32.24, 0.005);
}

/* A unit without a value is skipped, and the range goes from the one before to the one after. */
static void test_individuals_gaps(void **state)
{
    static const double gaps[] = {NAN, 4, NAN, NAN, 7, 1, NAN}, whole[] = {4, 7, 1};
    struct individuals got, want;

    (void)state;
    individuals_of(&got, gaps, 7);
    individuals_of(&want, whole, 3);
    assert_int_equal(got.n, 3);
    assert_close(got.mean, 4, 0);
    assert_close(got.mean_range, 4.5, 0);
    assert_close(got.low, want.low, 0);
    assert_close(got.high, want.high, 0);
}

/* Fewer than two have no range; all the same have limits that fall together; a far origin costs
 * nothing; the order counts. */
static void test_individuals_few(void **state)
{
    static const double x[] = {NAN, 3, NAN}, same[] = {0.7, 0.7, 0.7};
    static const double up[] = {1e9 + 1, 1e9 + 2, 1e9 + 3}, mixed[] = {1, 3, 2};
    struct individuals chart;

    (void)state;
    for (size_t n = 0; n <= 3; n++) {
        bool known;

        individuals_of(&chart, x, n);
        known = !isnan(chart.mean) || !isnan(chart.mean_range) || !isnan(chart.low) ||
                !isnan(chart.high);
        assert_false(known);
        assert_int_equal(chart.n, n >= 2);
    }
    individuals_of(&chart, same, 3);
    assert_close(chart.mean, 0.7, 0);
    assert_close(chart.low, 0.7, 0);
    assert_close(chart.high, 0.7, 0);
    individuals_of(&chart, up, 3);
    assert_close(chart.mean, 1e9 + 2, 0);
    assert_close(chart.mean_range, 1, 0);
    individuals_of(&chart, mixed, 3);
    assert_close(chart.mean_range, 1.5, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_handbook_indices),
                                       cmocka_unit_test(test_handbook_intervals),
                                       cmocka_unit_test(test_invariance),
                                       cmocka_unit_test(test_places),
                                       cmocka_unit_test(test_one_sided),
                                       cmocka_unit_test(test_two_deviations),
                                       cmocka_unit_test(test_left_out),
                                       cmocka_unit_test(test_all_the_same),
                                       cmocka_unit_test(test_counts),
                                       cmocka_unit_test(test_not_normal),
                                       cmocka_unit_test(test_outlier),
                                       cmocka_unit_test(test_no_memory),
                                       cmocka_unit_test(test_handbook_individuals),
                                       cmocka_unit_test(test_viscosity),
                                       cmocka_unit_test(test_individuals_gaps),
                                       cmocka_unit_test(test_individuals_few)};

    statistics_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
