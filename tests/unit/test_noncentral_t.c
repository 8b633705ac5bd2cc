#include "limits/noncentral_t.h"

#include "limits/statistics.h"
#include "tests/check.h"

/* The quantile inside the one-sided factor of NIST/SEMATECH e-Handbook 7.2.6.3, 43 units, 0.90,
 * 0.99: shift 8.4037, t 12.28834 (read); to more digits 12.2883356 (computed with two other
 * libraries). */
static void test_handbook(void **state)
{
    const double shift = normal_quantile(0.90) * sqrt(43);

    (void)state;
    assert_close(shift, 8.4037, 5e-5);
    assert_close(noncentral_t_cdf(12.28834, 42, 8.4037), 0.99, 1e-6);
    assert_close(noncentral_t_cdf(12.2883356, 42, shift), 0.99, 1e-9);
}

/* Values of another library's function (r-mathlib 4.2.2, pnt). */
static void test_other_library(void **state)
{
    static const double table[][4] = {{1.5, 1, 0.7, 0.627999468608}, {-2, 3, -1, 0.256370131592},
                                      {7, 5, 2.9, 0.952414349114},   {12, 23, 8.06, 0.973160951566},
                                      {40, 9, 23, 0.964153560437},   {10, 499, 11, 0.168984820944}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        assert_close(noncentral_t_cdf(table[i][0], table[i][1], table[i][2]), table[i][3], 3e-12);
}

/* Without a shift it is Student's t, which has closed forms at one, two and four degrees. */
static void test_student(void **state)
{
    (void)state;
    for (double t = -30; t <= 30; t += 0.37) {
        const double root = sqrt(4 + t * t);

        assert_close(noncentral_t_cdf(t, 1, 0), 0.5 + atan(t) / acos(-1), 1e-13);
        assert_close(noncentral_t_cdf(t, 2, 0), 0.5 + t / (2 * sqrt(2 + t * t)), 1e-13);
        assert_close(noncentral_t_cdf(t, 4, 0), 0.5 + t / (2 * root) * (1 + 2 / (root * root)),
                     1e-13);
    }
}

/* The definition again, by Simpson's rule over w itself with the gamma function as norm: another
 * variable, another rule, another norm. */
static double by_definition(double t, double degrees, double shift)
{
    const double spread = 1 / sqrt(2 * degrees), from = fmax(0, 1 - 10 * spread),
                 to = 1 + 14 * spread;
    const size_t n = 20000;
    double sum = 0;

    for (size_t i = 0; i <= n; i++) {
        const double w = from + (to - from) * (double)i / (double)n;
        const double weight = i == 0 || i == n ? 1 : i % 2 ? 4 : 2;
        const double density =
            w <= 0 ? (degrees > 1 ? 0 : sqrt(2 / acos(-1)))
                   : exp(log(2) + degrees / 2 * log(degrees / 2) - lgamma(degrees / 2) +
                         (degrees - 1) * log(w) - degrees * w * w / 2);

        sum += weight * density * normal_cdf(t * w - shift);
    }
    return sum * (to - from) / (double)n / 3;
}

static void test_definition(void **state)
{
    static const double degrees[] = {1, 3, 11, 23, 199, 2999};
    static const double shifts[] = {-4, 0, 0.5, 6, 50};

    (void)state;
    for (size_t d = 0; d < sizeof degrees / sizeof *degrees; d++)
        for (size_t s = 0; s < sizeof shifts / sizeof *shifts; s++)
            for (double t = shifts[s] - 12; t < shifts[s] + 30; t += 4.7)
                assert_close(noncentral_t_cdf(t, degrees[d], shifts[s]),
                             by_definition(t, degrees[d], shifts[s]), 1e-10);
}

/* It rises in t, falls in the shift, is mirrored, has Phi(-shift) at zero, and goes from 0 to 1. */
static void test_shape(void **state)
{
    (void)state;
    for (double degrees = 1; degrees < 2e6; degrees *= 9.5) {
        for (double shift = -7; shift <= 7; shift += 1.75) {
            double last = 0;

            assert_close(noncentral_t_cdf(0, degrees, shift), normal_cdf(-shift), 1e-13);
            for (double t = -20; t <= 20; t += 2.5) {
                const double here = noncentral_t_cdf(t, degrees, shift);

                assert_true(here >= last - 1e-15 && here <= 1 + 1e-15);
                assert_true(noncentral_t_cdf(t, degrees, shift + 0.5) <= here + 1e-15);
                assert_close(here, 1 - noncentral_t_cdf(-t, degrees, -shift), 1e-13);
                last = here;
            }
            assert_close(noncentral_t_cdf(HUGE_VAL, degrees, shift), 1, 0);
            assert_close(noncentral_t_cdf(-HUGE_VAL, degrees, shift), 0, 0);
        }
    }
}

/* What has no value is NaN, and so is a shift whose work would have no end. */
static void test_no_value(void **state)
{
    static const double wrong[] = {0, 0.5, -1, NAN, HUGE_VAL};

    (void)state;
    for (size_t i = 0; i < 5; i++)
        assert_true(isnan(noncentral_t_cdf(1, wrong[i], 1)));
    assert_true(isnan(noncentral_t_cdf(NAN, 5, 1)));
    assert_true(isnan(noncentral_t_cdf(1, 5, NAN)));
    assert_true(isnan(noncentral_t_cdf(1, 5, 2 * NONCENTRAL_T_SHIFT)));
    assert_true(isnan(noncentral_t_cdf(1, 5, -HUGE_VAL)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_handbook), cmocka_unit_test(test_other_library),
        cmocka_unit_test(test_student),  cmocka_unit_test(test_definition),
        cmocka_unit_test(test_shape),    cmocka_unit_test(test_no_value)};

    statistics_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
