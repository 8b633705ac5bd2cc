/* The monotone curve through points. */
#include <time.h>

#include "tests/check.h"

#include "drivers/random_source.h"
#include "limits/statistics.h"

/* Sign of x, 0 for 0. */
static double sign(double x)
{
    return (x > 0) - (x < 0);
}

/* Reason: the curve must be the one that is named. M. Steffen, Astronomy and Astrophysics 239
 * (1990) 443 (from memory): the slope at an inner point is (sign s1 + sign s2) min(|s1|, |s2|, |p|
 * / 2) with s the slopes of the two pieces and p that of the parabola through the three points;
 * cubic in each piece; it never leaves the range of the piece's two ends. */
static void curve_is_steffens(void **state)
{
    const uint64_t seed = (uint64_t)time(NULL);
    struct random_source source;

    (void)state;
    print_message("seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 1, 1);
    for (size_t run = 0; run < 200; run++) {
        double x[9], y[9], slope[9];
        const size_t n = 3 + run % 7;

        for (size_t i = 0; i < n; i++) {
            x[i] = (i == 0 ? 1.5 : x[i - 1]) + 0.05 + random_uniform(&source);
            y[i] = random_normal(&source);
        }
        for (size_t i = 0; i < n; i++) {
            double value;

            assert_true(monotone_at(x, y, n, x[i], &value, &slope[i]));
            assert_close(value, y[i], 1e-12);
        }
        for (size_t i = 1; i + 1 < n; i++) {
            const double h1 = x[i] - x[i - 1], h2 = x[i + 1] - x[i];
            const double s1 = (y[i] - y[i - 1]) / h1, s2 = (y[i + 1] - y[i]) / h2;
            const double p = (s1 * h2 + s2 * h1) / (h1 + h2);

            assert_close(slope[i],
                         (sign(s1) + sign(s2)) * fmin(fmin(fabs(s1), fabs(s2)), fabs(p) / 2), 1e-9);
        }
        for (size_t i = 0; i + 1 < n; i++)
            for (double t = 0; t <= 1; t += 0.05) {
                const double h = x[i + 1] - x[i], at = fmin(x[i] + t * h, x[i + 1]);
                double value;

                assert_true(monotone_at(x, y, n, at, &value, NULL));
                assert_true(value >= fmin(y[i], y[i + 1]) - 1e-12);
                assert_true(value <= fmax(y[i], y[i + 1]) + 1e-12);
                /* Hermite's cubic of the two ends. */
                assert_close(value,
                             y[i] * (1 + 2 * t) * (1 - t) * (1 - t) +
                                 y[i + 1] * t * t * (3 - 2 * t) +
                                 h * t * (1 - t) * (slope[i] * (1 - t) - slope[i + 1] * t),
                             1e-9);
            }
    }
}

/* Reason: nothing may be told outside the points, from points out of order or not finite. */
static void curve_refused(void **state)
{
    const double x[3] = {1, 2, 3}, y[3] = {1, 4, 9}, gap[3] = {1, NAN, 9}, twice[3] = {1, 1, 3};
    double value, slope;

    (void)state;
    assert_false(monotone_at(x, y, 3, 0.999, &value, &slope));
    assert_true(isnan(value) && isnan(slope));
    assert_false(monotone_at(x, y, 3, 3.001, &value, &slope));
    assert_false(monotone_at(x, y, 3, NAN, &value, &slope));
    assert_false(monotone_at(x, gap, 3, 1.5, &value, &slope));
    assert_false(monotone_at(twice, y, 3, 1.5, &value, &slope));
    assert_false(monotone_at(x, y, 1, 1, &value, &slope));
    assert_true(monotone_at(x, y, 2, 1.25, &value, &slope));
    assert_close(value, 1.75, 1e-15);
    assert_close(slope, 3, 1e-15);
    assert_true(isnan(monotone_find(x, y, 3, 0, 4.1)));
    assert_true(isnan(monotone_find(x, y, 3, 2, 4.1)));
    assert_true(isnan(monotone_find(x, y, 3, 0, NAN)));
    assert_close(monotone_find(x, y, 3, 1, 4), 2, 0);
}

static int start(void **state)
{
    (void)state;
    statistics_start();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(curve_is_steffens),
        cmocka_unit_test(curve_refused),
    };

    return cmocka_run_group_tests(tests, start, NULL);
}
