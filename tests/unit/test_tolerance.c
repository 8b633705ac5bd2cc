#include "limits/tolerance.h"

#include <time.h>

#include "drivers/random_source.h"
#include "limits/statistics.h"
#include "tests/check.h"

typedef bool factor_of(double *, size_t, double, double, struct error *);

static double factor(factor_of *of, size_t n, double coverage, double confidence)
{
    struct error e = {0};
    double k = NAN;

    assert_done(of(&k, n, coverage, confidence, &e), &e);
    return k;
}

/* NIST/SEMATECH e-Handbook 7.2.6.3, one-sided by the non-central t (read): 1.8740 for 43 units,
 * 0.90, 0.99, and 4.4111 for 6. To more digits, computed with two other libraries. The figure for
 * 40 is quoted by a public statistics site (read second-hand). */
static void test_handbook_one_sided(void **state)
{
    (void)state;
    assert_close(factor(tolerance_factor_one_sided, 43, 0.90, 0.99), 1.8740, 5e-5);
    assert_close(factor(tolerance_factor_one_sided, 43, 0.90, 0.99), 1.8739536, 5e-8);
    assert_close(factor(tolerance_factor_one_sided, 6, 0.90, 0.99), 4.4111, 5e-5);
    assert_close(factor(tolerance_factor_one_sided, 6, 0.90, 0.99), 4.4110806, 5e-8);
    assert_close(factor(tolerance_factor_one_sided, 40, 0.90, 0.99), 1.9017, 5e-5);
}

/* One-sided factors to three decimals: D. C. Montgomery, G. C. Runger, Applied Statistics and
 * Probability for Engineers, 7th ed., Table XII (read second-hand; 2.208 stands for a misprint). */
static void test_table_one_sided(void **state)
{
    static const double shares[9][2] = {{.90, .90}, {.95, .90}, {.99, .90}, {.90, .95}, {.95, .95},
                                        {.99, .95}, {.90, .99}, {.95, .99}, {.99, .99}};
    static const struct {
        size_t n;
        double k[9];
    } table[] = {{2, {10.253, 13.090, 18.500, 20.581, 26.260, 37.094, 103.029, 131.426, 185.617}},
                 {5, {2.742, 3.400, 4.666, 3.407, 4.203, 5.741, 5.362, 6.578, 8.939}},
                 {6, {2.494, 3.092, 4.243, 3.006, 3.708, 5.062, 4.411, 5.406, 7.335}},
                 {10, {2.066, 2.568, 3.532, 2.355, 2.911, 3.981, 3.048, 3.738, 5.074}},
                 {20, {1.765, 2.208, 3.052, 1.926, 2.396, 3.295, 2.276, 2.808, 3.832}},
                 {24, {1.712, 2.145, 2.969, 1.853, 2.309, 3.181, 2.154, 2.662, 3.640}},
                 {30, {1.657, 2.080, 2.884, 1.777, 2.220, 3.064, 2.030, 2.515, 3.447}},
                 {100, {1.470, 1.861, 2.601, 1.527, 1.927, 2.684, 1.639, 2.056, 2.850}}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        for (size_t c = 0; c < 9; c++)
            assert_close(factor(tolerance_factor_one_sided, table[i].n, shares[c][0], shares[c][1]),
                         table[i].k[c], 5.001e-4);
}

/* Two-sided, exact: ISO 16269-6:2014 Annex F, one sample (table values read second-hand, in the
 * tests of a public library). The table rounds up at the fourth decimal. */
static void test_table_two_sided(void **state)
{
    static const struct {
        double coverage, confidence;
        size_t n;
        double k;
    } table[] = {{.90, .90, 2, 15.5124},   {.90, .90, 8, 2.7542},   {.90, .90, 16, 2.2537},
                 {.90, .90, 35, 1.9906},   {.90, .90, 100, 1.8232}, {.90, .90, 300, 1.7401},
                 {.90, .90, 1000, 1.6947}, {.95, .90, 3, 6.8233},   {.95, .90, 9, 3.1323},
                 {.95, .90, 15, 2.7196},   {.95, .90, 30, 2.4166},  {.95, .90, 90, 2.1862},
                 {.95, .90, 150, 2.1276},  {.99, .90, 4, 6.3722},   {.99, .90, 8, 4.2707},
                 {.99, .90, 17, 3.4741},   {.99, .90, 28, 3.2023},  {.99, .90, 100, 2.8548},
                 {.90, .95, 2, 31.0923},   {.90, .95, 8, 3.1561},   {.90, .95, 16, 2.4486},
                 {.90, .95, 35, 2.0943},   {.90, .95, 150, 1.8260}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        const double k =
            factor(tolerance_factor_two_sided, table[i].n, table[i].coverage, table[i].confidence);

        assert_close(ceil(k * 1e4) / 1e4, table[i].k, 1e-9);
    }
}

/* Two-sided, exact, computed elsewhere by quadrature, one of them in 40-digit arithmetic. */
static void test_exact_two_sided(void **state)
{
    static const struct {
        size_t n;
        double k95, k99; /* coverage 0.95 and 0.99, confidence 0.95; 0: not computed */
    } table[] = {{5, 5.07687, 0},        {10, 3.39343, 4.43691}, {20, 2.76035, 0},
                 {24, 2.65827, 3.48877}, {30, 2.55489, 3.35458}, {50, 2.38156, 0}};

    (void)state;
    assert_close(factor(tolerance_factor_two_sided, 43, 0.90, 0.99), 2.222825174, 1e-9);
    assert_close(factor(tolerance_factor_two_sided, 20, 0.95, 0.95), 2.760346178, 1e-9);
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        assert_close(factor(tolerance_factor_two_sided, table[i].n, 0.95, 0.95), table[i].k95,
                     5e-6);
        if (table[i].k99 > 0)
            assert_close(factor(tolerance_factor_two_sided, table[i].n, 0.99, 0.95), table[i].k99,
                         5e-6);
    }
}

/* Howe's approximation, e-Handbook 7.2.6.3 (read): 2.217 for 43 units, 0.90, 0.99; 2.2173159 by its
 * formula. It tends to the exact factor. */
static void test_howe(void **state)
{
    (void)state;
    assert_close(factor(tolerance_factor_howe, 43, 0.90, 0.99), 2.217, 5e-4);
    assert_close(factor(tolerance_factor_howe, 43, 0.90, 0.99), 2.2173159, 5e-8);
    assert_close(factor(tolerance_factor_howe, 100000, 0.95, 0.95) /
                     factor(tolerance_factor_two_sided, 100000, 0.95, 0.95),
                 1, 1e-6);
}

/* More coverage or confidence needs a larger factor, more units a smaller one, two sides a larger
 * one than one; endless units give the normal quantile. */
static void test_factor_shape(void **state)
{
    static const size_t sizes[] = {2, 3, 5, 9, 24, 100, 3000, 100000};

    (void)state;
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        const size_t n = sizes[i];
        const double one = factor(tolerance_factor_one_sided, n, 0.9, 0.9);
        const double two = factor(tolerance_factor_two_sided, n, 0.9, 0.9);

        assert_true(two > one);
        assert_true(factor(tolerance_factor_one_sided, n, 0.91, 0.9) > one);
        assert_true(factor(tolerance_factor_one_sided, n, 0.9, 0.91) > one);
        assert_true(factor(tolerance_factor_one_sided, n + 1, 0.9, 0.9) < one);
        assert_true(factor(tolerance_factor_two_sided, n, 0.91, 0.9) > two);
        assert_true(factor(tolerance_factor_two_sided, n, 0.9, 0.91) > two);
        assert_true(factor(tolerance_factor_two_sided, n + 1, 0.9, 0.9) < two);
        /* The mirror: what is surely above is not surely below. */
        assert_close(factor(tolerance_factor_one_sided, n, 0.1, 0.1) / -one, 1, 1e-9);
    }
    assert_close(factor(tolerance_factor_one_sided, TOLERANCE_MOST_UNITS, 0.9, 0.9),
                 normal_quantile(0.9), 1e-3);
    assert_close(factor(tolerance_factor_two_sided, TOLERANCE_MOST_UNITS, 0.9, 0.9),
                 normal_quantile(0.95), 1e-3);
}

/* The farthest corners of what is taken still have finite factors. */
static void test_factor_corners(void **state)
{
    static const double ends[] = {TOLERANCE_TAIL, 1 - TOLERANCE_TAIL};
    static const size_t sizes[] = {2, TOLERANCE_MOST_UNITS};

    (void)state;
    for (size_t i = 0; i < 8; i++) {
        const size_t n = sizes[i & 1];
        const double coverage = ends[i >> 1 & 1], confidence = ends[i >> 2 & 1];

        assert_true(isfinite(factor(tolerance_factor_one_sided, n, coverage, confidence)));
        assert_true(factor(tolerance_factor_two_sided, n, coverage, confidence) > 0);
        assert_true(factor(tolerance_factor_howe, n, coverage, confidence) > 0);
    }
}

/* Refuses with the kind and the words, and leaves no number behind. */
static void refused(factor_of *of, size_t n, double coverage, double confidence,
                    enum error_kind kind, const char *words)
{
    struct error e = {0};
    double k = 77;

    assert_false(of(&k, n, coverage, confidence, &e));
    assert_int_equal(e.kind, kind);
    assert_holds(e.text, words);
    assert_close(k, 77, 0);
}

/* Too few units, and what is no share, have no factor. */
static void test_no_factor(void **state)
{
    static factor_of *const all[] = {tolerance_factor_one_sided, tolerance_factor_two_sided,
                                     tolerance_factor_howe};
    static const double wrong[] = {0, 1, -0.5, 1.5, NAN, HUGE_VAL, 95};

    (void)state;
    for (size_t f = 0; f < 3; f++) {
        refused(all[f], 0, 0.9, 0.9, ERROR_INPUT, "too few units (0)");
        refused(all[f], 1, 0.9, 0.9, ERROR_INPUT, "needs 2 or more");
        refused(all[f], TOLERANCE_MOST_UNITS + 1, 0.9, 0.9, ERROR_USAGE, "at most");
        for (size_t i = 0; i < 7; i++) {
            refused(all[f], 9, wrong[i], 0.9, ERROR_USAGE, "coverage of");
            refused(all[f], 9, 0.9, wrong[i], ERROR_USAGE, "confidence of");
        }
    }
}

/* A sample's mean and deviation from normal values by the inverse of the distribution. */
static void draw(struct random_source *source, size_t n, double *mean, double *deviation)
{
    double x[32];

    assert_true(n <= 32);
    for (size_t i = 0; i < n; i++)
        x[i] = normal_quantile((floor(random_uniform(source) * 0x1p52) + 0.5) * 0x1p-52);
    *mean = sample_mean(x, n);
    *deviation = sample_deviation(x, n);
}

/* What the factors promise, tried: of 40,000 samples the stated share has bounds that hold the
 * coverage, to five deviations of the count. */
static void test_simulated(void **state)
{
    static const size_t sizes[] = {3, 12, 30};
    const uint64_t seed = (uint64_t)time(NULL);
    const double coverage = 0.95, confidence = 0.90, trials = 40000,
                 tolerance = 5 * sqrt(0.9 * 0.1 / trials);
    struct random_source source;

    (void)state;
    print_message("simulated coverage: seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 0, 0);
    for (size_t s = 0; s < 3; s++) {
        const double one = factor(tolerance_factor_one_sided, sizes[s], coverage, confidence);
        const double two = factor(tolerance_factor_two_sided, sizes[s], coverage, confidence);
        double one_holds = 0, two_holds = 0;

        for (double i = 0; i < trials; i++) {
            double mean, deviation;

            draw(&source, sizes[s], &mean, &deviation);
            one_holds += normal_cdf(mean + one * deviation) >= coverage;
            two_holds +=
                normal_cdf(mean + two * deviation) - normal_cdf(mean - two * deviation) >= coverage;
        }
        assert_close(one_holds / trials, confidence, tolerance);
        assert_close(two_holds / trials, confidence, tolerance);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_handbook_one_sided),
                                       cmocka_unit_test(test_table_one_sided),
                                       cmocka_unit_test(test_table_two_sided),
                                       cmocka_unit_test(test_exact_two_sided),
                                       cmocka_unit_test(test_howe),
                                       cmocka_unit_test(test_factor_shape),
                                       cmocka_unit_test(test_factor_corners),
                                       cmocka_unit_test(test_no_factor),
                                       cmocka_unit_test(test_simulated)};

    statistics_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
