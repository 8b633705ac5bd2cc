#include "limits/limits.h"
#include "tests/check.h"

static double frequencies[] = {160e6, 169e6, 178e6};
static double values[] = {17.5, 19, 17.5};
static const struct bound_line mask = {3, frequencies, values};

/* A bound is straight between its points (design chapter 3): a third of the way is a third of the
 * rise. */
static void is_straight_between_points(void **state)
{
    (void)state;
    assert_close(bound_line_at(&mask, 163e6), 18, 1e-12);
    assert_close(bound_line_at(&mask, 172e6), 18.5, 1e-12);
    assert_close(bound_line_at(&mask, 177e6), 17.5 + 1.5 / 9, 1e-12);
}

/* At a corner the bound is the number of the file, not one that rounding made. */
static void is_exact_at_its_points(void **state)
{
    double f[7], v[7];
    struct bound_line line = {7, f, v};

    (void)state;
    for (size_t i = 0; i < 7; i++) {
        f[i] = 1e9 / 3 * (double)(i + 1);
        v[i] = 0.1 * (double)i - 0.3;
    }
    for (size_t i = 0; i < 7; i++)
        assert_true(bound_line_at(&line, f[i]) == v[i]);
}

/* A mask applies from its first to its last point: outside there is no bound, which is NaN. */
static void is_nothing_outside(void **state)
{
    (void)state;
    assert_true(isnan(bound_line_at(&mask, nextafter(160e6, 0))));
    assert_true(isnan(bound_line_at(&mask, nextafter(178e6, INFINITY))));
    assert_true(isnan(bound_line_at(&mask, 0)));
    assert_true(isnan(bound_line_at(&mask, INFINITY)));
    assert_true(isnan(bound_line_at(&mask, NAN)));
}

/* A limit without this side has a line without points. */
static void is_nothing_without_points(void **state)
{
    const struct bound_line none = {0};

    (void)state;
    assert_true(isnan(bound_line_at(&none, 169e6)));
}

/* A spot band makes a line of one point, which bounds that frequency alone. */
static void one_point_bounds_one_frequency(void **state)
{
    const struct bound_line spot = {1, frequencies + 1, values + 1};

    (void)state;
    assert_true(bound_line_at(&spot, 169e6) == 19);
    assert_true(isnan(bound_line_at(&spot, nextafter(169e6, 0))));
    assert_true(isnan(bound_line_at(&spot, nextafter(169e6, INFINITY))));
}

/* The search by halves finds the same piece as a search from the start, on a line of the greatest
 * length that a file may have. */
static void agrees_with_a_plain_search(void **state)
{
    static double f[CEILING_MASK_POINTS], v[CEILING_MASK_POINTS];
    const struct bound_line line = {CEILING_MASK_POINTS, f, v};

    (void)state;
    for (size_t i = 0; i < CEILING_MASK_POINTS; i++) {
        f[i] = (double)i * (double)i + 1;
        v[i] = (double)(i * 7919 % 101);
    }
    for (double at = 1; at < f[CEILING_MASK_POINTS - 1]; at = at * 1.01 + 0.3) {
        size_t i = 0;

        while (f[i + 1] < at)
            i++;
        assert_close(bound_line_at(&line, at),
                     v[i] + (v[i + 1] - v[i]) * (at - f[i]) / (f[i + 1] - f[i]), 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_straight_between_points),
        cmocka_unit_test(is_exact_at_its_points),
        cmocka_unit_test(is_nothing_outside),
        cmocka_unit_test(is_nothing_without_points),
        cmocka_unit_test(one_point_bounds_one_frequency),
        cmocka_unit_test(agrees_with_a_plain_search),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
