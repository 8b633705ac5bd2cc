#include "limits/interpolate.h"

#include "tests/check.h"

static double frequencies[] = {100e6, 110e6, 130e6, 140e6};
static double complex values[4 * S_PARAMETERS];

static struct sweep four_points(void)
{
    struct sweep sweep = {.n_points = 4,
                          .n_ports = 2,
                          .measured = S_ALL,
                          .z0_ohm = {50, 50},
                          .frequency_hz = frequencies,
                          .s = values};

    for (size_t i = 0; i < 4; i++)
        values[S_PARAMETERS * i + S21] = CMPLX((double)i, -2.0 * (double)i);
    return sweep;
}

static bool find(const struct sweep *sweep, double frequency_hz, double max_step_hz,
                 struct place *place)
{
    size_t cursor = 0;

    return place_find(sweep, &cursor, frequency_hz, max_step_hz, place);
}

/* Between points the real and the imaginary part are each linear; at a point it is that point. */
static void test_linear_in_both_parts(void **state)
{
    struct sweep sweep = four_points();
    struct place place;
    double complex s;

    (void)state;
    assert_true(find(&sweep, 115e6, 0, &place));
    s = place_value(&sweep, &place, S21);
    assert_close(creal(s), 1.25, 1e-12);
    assert_close(cimag(s), -2.5, 1e-12);
    assert_true(find(&sweep, 130e6, 0, &place));
    assert_close(creal(place_value(&sweep, &place, S21)), 2, 0);
    assert_true(find(&sweep, 140e6, 0, &place));
    assert_close(creal(place_value(&sweep, &place, S21)), 3, 0);
    assert_true(find(&sweep, 100e6, 0, &place));
    assert_close(creal(place_value(&sweep, &place, S21)), 0, 0);
}

/* Nothing is extrapolated, but a last point that binary arithmetic put a hair short still counts.
 */
static void test_outside_is_nowhere(void **state)
{
    struct sweep sweep = four_points();
    struct place place;

    (void)state;
    assert_false(find(&sweep, 99.999e6, 0, &place));
    assert_false(find(&sweep, 140.001e6, 0, &place));
    assert_false(find(&sweep, NAN, 0, &place) && place.part == place.part && place.low > 3);
    assert_true(find(&sweep, 140e6 * (1 + 1e-10), 0, &place));
    assert_int_equal(place.low, 3);
    assert_false(find(&sweep, 140e6 * (1 + 1e-8), 0, &place));
    sweep.n_points = 0;
    assert_false(find(&sweep, 100e6, 0, &place));
}

/* Inside a gap wider than max-step nothing may be trusted, its two ends may. */
static void test_wide_gap_is_not_bridged(void **state)
{
    struct sweep sweep = four_points();
    struct place place;

    (void)state;
    assert_false(find(&sweep, 120e6, 10e6, &place));
    assert_true(find(&sweep, 105e6, 10e6, &place));
    assert_true(find(&sweep, 110e6, 10e6, &place));
    assert_true(find(&sweep, 130e6, 10e6, &place));
    assert_true(find(&sweep, 120e6, 20e6, &place));
}

/* A walk visits measured points, both ends and every mask corner, rising, none twice. */
static void test_walk_order(void **state)
{
    double lower_hz[] = {105e6, 130e6}, lower_db[] = {1, 2};
    double upper_hz[] = {110e6, 133e6, 135e6}, upper_db[] = {5, 6, 7};
    const double want[] = {105e6, 108e6, 110e6, 130e6, 133e6, 135e6};
    struct limit limit = {.lower = {2, lower_hz, lower_db}, .upper = {3, upper_hz, upper_db}};
    double other_hz[] = {90e6, 108e6, 200e6};
    struct sweep sweep = four_points(), other = four_points();
    struct sample_walk walk;
    double frequency_hz;
    size_t n = 0;

    (void)state;
    other.frequency_hz = other_hz;
    other.n_points = 3;
    sample_walk_start(&walk, &limit);
    sample_walk_add(&walk, &sweep);
    sample_walk_add(&walk, &other);
    while (sample_walk_next(&walk, &frequency_hz)) {
        assert_true(n < sizeof want / sizeof *want);
        assert_close(frequency_hz, want[n++], 0);
    }
    assert_int_equal(n, sizeof want / sizeof *want);
}

/* Rounding in a computed grid does not make a step too wide. */
static void test_gap_tolerates_rounding(void **state)
{
    (void)state;
    assert_false(gap_too_wide(160e6, 161e6 + 0.01, 1e6));
    assert_true(gap_too_wide(160e6, 161e6 + 10, 1e6));
    assert_false(gap_too_wide(0, 1e12, 0));
}

/* Binary search at its edges. */
static void test_lower_point(void **state)
{
    struct sweep sweep = four_points();

    (void)state;
    assert_int_equal(sweep_lower_point(&sweep, 0), 0);
    assert_int_equal(sweep_lower_point(&sweep, 100e6), 0);
    assert_int_equal(sweep_lower_point(&sweep, 100e6 + 1), 1);
    assert_int_equal(sweep_lower_point(&sweep, 140e6), 3);
    assert_int_equal(sweep_lower_point(&sweep, 140e6 + 1), 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_linear_in_both_parts),    cmocka_unit_test(test_outside_is_nowhere),
        cmocka_unit_test(test_wide_gap_is_not_bridged), cmocka_unit_test(test_walk_order),
        cmocka_unit_test(test_gap_tolerates_rounding),  cmocka_unit_test(test_lower_point),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
