#include "limits/statistics.h"
#include "limits/tolerance.h"
#include "tests/check.h"

/* NIST/SEMATECH e-Handbook 7.2.4.1 (read): 0.13 of 200, lower end alone at 95 %, 0.09577. */
static void test_handbook(void **state)
{
    double low, high;

    (void)state;
    wilson_interval(26, 200, 2 * 0.95 - 1, &low, &high);
    assert_close(low, 0.09577, 5e-6);
    assert_close(low, 0.0957727, 5e-8);
}

/* R. G. Newcombe, Statistics in Medicine 17 (1998) 857, Table I, score method (from memory), and to
 * more digits (computed elsewhere); and for a batch of 24 (computed with two other libraries). */
static void test_tables(void **state)
{
    static const struct {
        size_t k, n;
        double low, high, tolerance;
    } table[] = {{81, 263, 0.2553, 0.3662, 5e-5},    {81, 263, 0.255289, 0.366210, 1e-6},
                 {15, 148, 0.0624, 0.1605, 5e-5},    {15, 148, 0.062386, 0.160487, 1e-6},
                 {0, 20, 0, 0.1611, 5e-5},           {0, 20, 0, 0.161125, 1e-6},
                 {1, 29, 0.0061, 0.1718, 5e-5},      {1, 29, 0.006113, 0.171755, 1e-6},
                 {24, 24, 0.862024, 1, 1e-6},        {23, 24, 0.797582, 0.992607, 1e-6},
                 {20, 24, 0.641469, 0.933213, 1e-6}, {0, 24, 0, 0.137976, 1e-6}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        double low, high;

        wilson_interval(table[i].k, table[i].n, 0.95, &low, &high);
        assert_close(low, table[i].low, table[i].tolerance);
        assert_close(high, table[i].high, table[i].tolerance);
    }
}

/* It solves what it is derived from: at each end the share lies z deviations (of that share) off.
 */
static void test_score(void **state)
{
    const double z = normal_quantile(0.975);

    (void)state;
    for (size_t n = 1; n < 500; n += 1 + n / 3) {
        for (size_t k = 1; k < n; k++) {
            const double count = (double)n, share = (double)k / count;
            double low, high;

            wilson_interval(k, n, 0.95, &low, &high);
            assert_close((share - low) / sqrt(low * (1 - low) / count), z, 1e-9);
            assert_close((high - share) / sqrt(high * (1 - high) / count), z, 1e-9);
        }
    }
}

/* Against Clopper and Pearson at 95 %: inside it for every count up to 45 units; none of 46 is the
 * first where it is not, 1.96^2 / (46 + 1.96^2) against 1 - 0.025^(1/46). */
static void test_ordering(void **state)
{
    double low, high, exact_low, exact_high;

    (void)state;
    for (size_t n = 1; n <= 45; n++) {
        for (size_t k = 0; k <= n; k++) {
            wilson_interval(k, n, 0.95, &low, &high);
            proportion_interval(k, n, 0.95, &exact_low, &exact_high);
            assert_true(exact_low <= low && low <= (double)k / (double)n);
            assert_true((double)k / (double)n <= high && high <= exact_high);
        }
    }
    wilson_interval(0, 46, 0.95, &low, &high);
    proportion_interval(0, 46, 0.95, &exact_low, &exact_high);
    assert_true(high > exact_high);
}

/* What each promises: how often the interval of a random count holds the share, by the binomial
 * terms. The exact one never less than stated; Wilson's less at some shares, yet right on average.
 */
static void test_holding(void **state)
{
    const size_t n = 24, n_shares = 999;
    double mean = 0, least = 1, low[25], high[25], exact_low[25], exact_high[25];

    (void)state;
    for (size_t k = 0; k <= n; k++) {
        wilson_interval(k, n, 0.95, &low[k], &high[k]);
        proportion_interval(k, n, 0.95, &exact_low[k], &exact_high[k]);
    }
    for (size_t s = 1; s <= n_shares; s++) {
        const double share = (double)s / 1000;
        double holds = 0, exact_holds = 0;

        for (size_t k = 0; k <= n; k++) {
            const double term = binomial_at_least(k, n, share) - binomial_at_least(k + 1, n, share);

            if (low[k] <= share && share <= high[k]) holds += term;
            if (exact_low[k] <= share && share <= exact_high[k]) exact_holds += term;
        }
        assert_true(exact_holds >= 0.95 - 1e-9);
        mean += holds / (double)n_shares;
        least = fmin(least, holds);
    }
    assert_close(mean, 0.95, 0.01);
    assert_true(least < 0.94 && least > 0.8);
}

/* None and all have ends of exactly 0 and 1, whatever rounding would leave. */
static void test_ends(void **state)
{
    (void)state;
    for (size_t n = 1; n < 300; n++) {
        for (double confidence = 0.01; confidence < 1; confidence += 0.07) {
            double low, high;

            wilson_interval(0, n, confidence, &low, &high);
            assert_close(low, 0, 0);
            wilson_interval(n, n, confidence, &low, &high);
            assert_close(high, 1, 0);
        }
    }
}

/* No units, or impossible counts, have no interval. */
static void test_none(void **state)
{
    static const double confidences[] = {0, 1, -0.5, NAN};
    double low = 0, high = 0;

    (void)state;
    wilson_interval(0, 0, 0.95, &low, &high);
    assert_true(isnan(low) && isnan(high));
    wilson_interval(3, 2, 0.95, &low, &high);
    assert_true(isnan(low) && isnan(high));
    for (size_t i = 0; i < 4; i++) {
        low = high = 0;
        wilson_interval(1, 2, confidences[i], &low, &high);
        assert_true(isnan(low) && isnan(high));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_handbook), cmocka_unit_test(test_tables),
        cmocka_unit_test(test_score),    cmocka_unit_test(test_ordering),
        cmocka_unit_test(test_holding),  cmocka_unit_test(test_ends),
        cmocka_unit_test(test_none)};

    statistics_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
