#include "limits/statistics.h"

#include "tests/check.h"

/* Exact binomial interval, NIST/SEMATECH e-Handbook 7.2.4.1: 4 failures of 20, 90 %. The page
 * prints 0.071354 and 0.401029; its solver is good to 2e-6 only. */
static void test_handbook_interval(void **state)
{
    double low, high;

    (void)state;
    proportion_interval(4, 20, 0.90, &low, &high);
    assert_close(low, 0.071354, 2e-6);
    assert_close(high, 0.401029, 2e-6);
    assert_close(low, 0.071353884, 1e-9);
    assert_close(high, 0.401028117, 1e-9);
}

/* R. G. Newcombe, Statistics in Medicine 17 (1998) 857, Table I, exact method (from memory). */
static void test_newcombe(void **state)
{
    static const struct {
        size_t k, n;
        double low, high;
        double exact_low, exact_high; /* computed */
    } table[] = {{81, 263, 0.2527, 0.3676, 0.252737, 0.367622},
                 {15, 148, 0.0578, 0.1617, 0.057844, 0.161650},
                 {0, 20, 0, 0.1684, 0, 0.168433},
                 {1, 29, 0.0009, 0.1776, 0.000873, 0.177644}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        double low, high;

        proportion_interval(table[i].k, table[i].n, 0.95, &low, &high);
        assert_close(low, table[i].low, 5e-5);
        assert_close(high, table[i].high, 5e-5);
        assert_close(low, table[i].exact_low, 1e-6);
        assert_close(high, table[i].exact_high, 1e-6);
    }
}

/* A batch of 24 (computed with two other libraries). */
static void test_batch_of_24(void **state)
{
    double low, high;

    (void)state;
    proportion_interval(24, 24, 0.95, &low, &high);
    assert_close(low, 0.857526, 1e-6);
    assert_close(high, 1, 0);
    proportion_interval(23, 24, 0.95, &low, &high);
    assert_close(low, 0.788798, 1e-6);
    assert_close(high, 0.998946, 1e-6);
    proportion_interval(20, 24, 0.95, &low, &high);
    assert_close(low, 0.626158, 1e-6);
    assert_close(high, 0.952646, 1e-6);
    proportion_interval(0, 24, 0.95, &low, &high);
    assert_close(low, 0, 0);
    assert_close(high, 0.142474, 1e-6);
}

/* Thousands of units, where the library's own inverse finds nothing: checked by putting the ends
 * back into the normal approximation, which is good to 1e-4 there. */
static void test_large_batch(void **state)
{
    double low, high, p = 0.8091, spread = 1.959964 * sqrt(p * (1 - p) / 10000);

    (void)state;
    proportion_interval(8091, 10000, 0.95, &low, &high);
    assert_close(low, p - spread, 2e-4);
    assert_close(high, p + spread, 2e-4);
    assert_true(low < p && p < high);
}

/* No units, or impossible counts, have no interval. */
static void test_no_interval(void **state)
{
    double low = 0, high = 0;
    bool known;

    (void)state;
    proportion_interval(0, 0, 0.95, &low, &high);
    known = !isnan(low) || !isnan(high);
    assert_false(known);
    proportion_interval(3, 2, 0.95, &low, &high);
    known = !isnan(low) || !isnan(high);
    assert_false(known);
    for (size_t i = 0; i < 4; i++) {
        static const double confidences[] = {0, 1, -0.5, NAN};

        proportion_interval(1, 2, confidences[i], &low, &high);
        known = !isnan(low) || !isnan(high);
        assert_false(known);
    }
}

/* z for a required one-sided conformance probability, JCGM 106:2012 Table 1 (from memory). */
static void test_normal(void **state)
{
    static const double table[][2] = {
        {0.84, 0.80}, {1.28, 0.90}, {1.64, 0.95}, {2.33, 0.99}, {3.09, 0.999}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        assert_close(normal_cdf(table[i][0]), table[i][1], 0.002);
    /* The same z to more digits (computed). */
    assert_close(normal_cdf(0.8416), 0.80, 2e-5);
    assert_close(normal_cdf(1.2816), 0.90, 1e-5);
    assert_close(normal_cdf(1.6449), 0.95, 1e-5);
    assert_close(normal_cdf(2.3263), 0.99, 2e-6);
    assert_close(normal_cdf(3.0902), 0.999, 1e-6);
    assert_close(normal_cdf(-2), 0.0227501319481792, 1e-15);
    assert_close(normal_cdf(0), 0.5, 0);
    assert_true(normal_cdf(-38) > 0);
}

/* The decision table, z = 2 margin / U, to all its digits (exact values, computed). */
static void test_decision_table(void **state)
{
    static const double table[][2] = {
        {-1, 0.0227501319481792},  {-0.5, 0.158655253931457}, {0, 0.5},
        {0.83, 0.951542773733277}, {0.5, 0.841344746068543},  {0.8224268134757, 0.95},
        {1, 0.977249868051821},    {1.5, 0.998650101968370}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        assert_close(normal_cdf(2 * table[i][0]), table[i][1], 1e-12);
        assert_close(normal_cdf(-2 * table[i][0]), 1 - table[i][1], 1e-12);
    }
}

/* Far out in the tails nothing becomes negative, more than one, or NaN. */
static void test_normal_tails(void **state)
{
    bool known = !isnan(normal_cdf(NAN));

    (void)state;
    assert_close(normal_cdf(-HUGE_VAL), 0, 0);
    assert_close(normal_cdf(HUGE_VAL), 1, 0);
    assert_close(normal_cdf(-1e300), 0, 0);
    assert_false(known);
    for (double z = -40; z < 40; z += 0.125) {
        assert_true(normal_cdf(z) >= 0 && normal_cdf(z) <= 1);
        assert_true(normal_cdf(z + 0.125) >= normal_cdf(z));
    }
}

/* Mirrored counts have mirrored intervals, a higher confidence a wider one, and each holds k / n.
 */
static void test_interval_shape(void **state)
{
    (void)state;
    for (size_t n = 1; n <= 60; n += 7) {
        for (size_t k = 0; k <= n; k++) {
            double low, high, mirrored_low, mirrored_high, wide_low, wide_high;
            double p = (double)k / (double)n;

            proportion_interval(k, n, 0.95, &low, &high);
            proportion_interval(n - k, n, 0.95, &mirrored_low, &mirrored_high);
            proportion_interval(k, n, 0.99, &wide_low, &wide_high);
            assert_close(low, 1 - mirrored_high, 1e-12);
            assert_close(high, 1 - mirrored_low, 1e-12);
            assert_true(low >= 0 && low <= p && p <= high && high <= 1);
            assert_true(wide_low <= low && high <= wide_high);
        }
    }
}

/* NIST StRD, data set Norris (36 points): certified slope 1.00211681802045. */
static void test_norris(void **state)
{
    static const double x[] = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                               777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                               556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                               887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
    static const double y[] = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                               778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                               557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                               888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};

    (void)state;
    assert_close(line_slope(x, y, 36), 1.00211681802045, 1e-13);
}

/* All x the same have no slope. */
static void test_no_slope(void **state)
{
    static const double y[] = {0, 1, 4, 9, 16, 25, 36, 49};
    double x[8];

    (void)state;
    /* Tenths, whose mean is not to the bit what each of them is. */
    for (int tenths = 0; tenths < 100; tenths++) {
        for (size_t n = 1; n <= 8; n++) {
            bool known;

            for (size_t i = 0; i < n; i++)
                x[i] = tenths * 0.1;
            known = !isnan(line_slope(x, y, n));
            assert_false(known);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_handbook_interval), cmocka_unit_test(test_newcombe),
        cmocka_unit_test(test_batch_of_24),       cmocka_unit_test(test_large_batch),
        cmocka_unit_test(test_no_interval),       cmocka_unit_test(test_normal),
        cmocka_unit_test(test_decision_table),    cmocka_unit_test(test_normal_tails),
        cmocka_unit_test(test_interval_shape),    cmocka_unit_test(test_norris),
        cmocka_unit_test(test_no_slope)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
