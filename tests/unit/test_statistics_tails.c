#include "limits/statistics.h"
#include "tests/check.h"

/* Upper tail of chi-square: two degrees are an exponential distribution, and the e-Handbook's lower
 * 1 % point at 42 degrees (7.2.6.3: 23.650; 23.650094678 computed with two other libraries) has
 * 0.99 above it. Its digits are kept far out. */
static void test_chi_square_upper(void **state)
{
    (void)state;
    for (double x = 0; x < 400; x += 3.3)
        assert_close(chi_square_upper(x, 2) / exp(-x / 2), 1, 1e-11);
    assert_close(chi_square_upper(23.650094678, 42), 0.99, 1e-10);
    assert_close(chi_square_upper(-1, 3), 1, 0);
    assert_close(chi_square_upper(0, 3), 1, 0);
    for (double degrees = 1; degrees < 1e6; degrees *= 7.3)
        assert_close(chi_square_upper(chi_square_quantile(0.3, degrees), degrees), 0.7, 1e-9);
}

static void test_chi_square_upper_none(void **state)
{
    static const double wrong[] = {0, -1, NAN, HUGE_VAL};

    (void)state;
    for (size_t i = 0; i < 4; i++)
        assert_true(isnan(chi_square_upper(1, wrong[i])));
    assert_true(isnan(chi_square_upper(NAN, 2)));
}

/* Against the sum of the binomial terms, for all counts of some sizes. */
static void test_binomial(void **state)
{
    static const size_t sizes[] = {1, 2, 7, 24, 100, 1000};
    static const double shares[] = {1e-6, 0.05, 0.3, 0.5, 0.95};

    (void)state;
    for (size_t s = 0; s < 6; s++) {
        for (size_t i = 0; i < 5; i++) {
            const double n = (double)sizes[s], p = shares[i];
            double sum = 0;

            for (size_t k = sizes[s] + 1; k-- > 0;) {
                const double at = (double)k;

                sum += exp(lgamma(n + 1) - lgamma(at + 1) - lgamma(n - at + 1) + at * log(p) +
                           (n - at) * log1p(-p));
                assert_close(binomial_at_least(k, sizes[s], p), sum, 1e-11);
            }
        }
    }
}

/* Certain, impossible and senseless cases. */
static void test_binomial_ends(void **state)
{
    (void)state;
    assert_close(binomial_at_least(0, 0, 0.5), 1, 0);
    assert_close(binomial_at_least(0, 5, 0), 1, 0);
    assert_close(binomial_at_least(1, 5, 0), 0, 0);
    assert_close(binomial_at_least(5, 5, 1), 1, 0);
    assert_close(binomial_at_least(6, 5, 1), 0, 0);
    assert_true(isnan(binomial_at_least(1, 5, -0.1)) && isnan(binomial_at_least(1, 5, 1.1)));
    assert_true(isnan(binomial_at_least(1, 5, NAN)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_chi_square_upper), cmocka_unit_test(test_chi_square_upper_none),
        cmocka_unit_test(test_binomial), cmocka_unit_test(test_binomial_ends)};

    statistics_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
