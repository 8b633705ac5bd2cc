#include "drivers/sweep.h"
#include "limits/combining.h"

#include "drivers/base/memory.h"
#include "tests/check.h"
#include "tests/match_boards.h"

static const double degree = 0.017453292519943295;

static double complex polar(double size, double phase_deg)
{
    return size * cexp(CMPLX(0, phase_deg * degree));
}

/* Two equal sources a phase apart: cos^2 of half of it. Losses: check-values 4.6, formula from
 * memory (Gupta 1992), figures recomputed there. */
static void test_two_equal(void **state)
{
    static const double cases[][3] = {
        {10, 0.992404, 0.03312}, {20, 0.969846, 0.13297}, {30, 0.933013, 0.30112},
        {45, 0.853553, 0.68769}, {60, 0.75, 1.24939},     {90, 0.5, 3.01030},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        /* The common phase and gain do not matter. */
        double complex pair[] = {polar(7, 170), polar(7, 170 + cases[i][0])};
        struct combining got;

        combining_at(pair, 2, &got);
        assert_close(got.efficiency, pow(cos(cases[i][0] * degree / 2), 2), 1e-14);
        assert_close(got.efficiency, cases[i][1], 6e-7);
        assert_close(got.loss_db, cases[i][2], 6e-6);
        assert_close(got.phase_spread_deg, cases[i][0], 1e-10);
        assert_close(got.gain_spread_db, 0, 1e-12);
    }
}

/* Two sources of unequal gain in phase: (1 + r)^2 / (2 (1 + r^2)). Figures: check-values 4.6, from
 * memory as above. */
static void test_two_unequal(void **state)
{
    static const double cases[][3] = {{1, 0.996705, 0.01434},
                                      {2, 0.987032, 0.05669},
                                      {3, 0.971591, 0.12517},
                                      {6, 0.900569, 0.45483}};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double r = pow(10, cases[i][0] / 20);
        double complex pair[] = {polar(r * 3, 40), polar(3, 40)};
        struct combining got;

        combining_at(pair, 2, &got);
        assert_close(got.efficiency, (1 + r) * (1 + r) / (2 * (1 + r * r)), 1e-14);
        assert_close(got.efficiency, cases[i][1], 6e-7);
        assert_close(got.loss_db, cases[i][2], 6e-6);
        assert_close(got.gain_spread_db, cases[i][0], 1e-12);
    }
}

/* Four sources, from check-values 4.6 (recomputed there); silent sources: 1 of N silent keeps
 * (N - 1)/N of what the others could give together. */
static void test_four_and_silent(void **state)
{
    double complex four[] = {polar(1, 0), polar(0.95, 8), polar(1.04, -5), polar(0.9, 12)};
    struct combining got;

    (void)state;
    combining_at(four, 4, &got);
    assert_close(got.efficiency, 0.9837479416, 6e-11);
    assert_close(got.loss_db, 0.0711616, 6e-8);
    assert_close(got.phase_spread_deg, 17, 1e-10);
    four[0] = four[1] = four[2] = 2;
    four[3] = 0;
    combining_at(four, 4, &got);
    assert_close(got.efficiency, 0.75, 1e-14);
    assert_true(isinf(got.gain_spread_db));
    assert_close(got.phase_spread_deg, 0, 0);
    four[0] = four[1] = four[2] = 0;
    combining_at(four, 4, &got);
    assert_close(got.efficiency, 0, 0);
    assert_true(isinf(got.loss_db) && got.loss_db > 0);
    combining_at((double complex[]){1, -1}, 2, &got);
    assert_close(got.efficiency, 0, 0);
    assert_close(got.phase_spread_deg, 180, 1e-10);
}

/* The phase spread is the shortest arc: across 180 degrees, with twins, around the whole circle. */
static void test_phase_arc(void **state)
{
    double complex across[] = {polar(1, 175), polar(1, -170), polar(2, 179), polar(1, 175)};
    double complex around[] = {polar(1, 0), polar(1, 120), polar(1, -120)};
    struct combining got;

    (void)state;
    combining_at(across, 4, &got);
    assert_close(got.phase_spread_deg, 15, 1e-10);
    combining_at(around, 3, &got);
    assert_close(got.phase_spread_deg, 240, 1e-10);
    assert_close(got.efficiency, 0, 1e-15);
    combining_at(across, 1, &got);
    assert_close(got.efficiency, 1, 1e-15);
    assert_close(got.phase_spread_deg, 0, 0);
}

/* Each worst is told with its own place. */
static void test_worst_places(void **state)
{
    double complex one[] = {1, 1, 1, 1}, other[] = {1, polar(1, 10), 1.1, polar(1.05, 6)};
    const double complex *boards[] = {one, other};
    struct combining_worst got;
    struct error e = {0};

    (void)state;
    assert_done(combining_over(boards, 2, 4, &got, &e), &e);
    assert_int_equal(got.loss_place, 1);
    assert_int_equal(got.phase_place, 1);
    assert_int_equal(got.gain_place, 2);
    assert_close(got.worst.efficiency, pow(cos(5 * degree), 2), 1e-14);
    assert_close(got.worst.phase_spread_deg, 10, 1e-10);
    assert_close(got.worst.gain_spread_db, 20 * log10(1.1), 1e-12);
    memory_fail_at(1);
    assert_false(combining_over(boards, 2, 4, &got, &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
}

/* Boards that differ by constant phases alone, any size of them, are alike once these are off. */
static void test_free_phases_found(void **state)
{
    enum { PLACES = 31 };
    static const double turned_deg[] = {0, 130, -80, 179, 60};
    double complex gain[5][PLACES];
    const double complex *boards[5];
    double phases[5];
    struct combining_worst got;
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < 5; i++) {
        for (size_t p = 0; p < PLACES; p++)
            gain[i][p] = polar(1 + 0.1 * (double)p, 77.0 * (double)p + turned_deg[i]);
        boards[i] = gain[i];
    }
    assert_done(combining_free_phases(boards, 5, PLACES, phases, &e), &e);
    for (size_t i = 0; i < 5; i++) {
        assert_close(remainder(phases[i] / degree - turned_deg[i], 360), 0, 1e-9);
        combining_turn(gain[i], PLACES, phases[i]);
    }
    assert_done(combining_over(boards, 5, PLACES, &got, &e), &e);
    assert_close(got.worst.efficiency, 1, 1e-14);
}

/* Two boards: the mean phase of their ratio comes off, so a line of phase differences from 0 to 20
 * degrees leaves -10 to 10. */
static void test_free_phase_of_slope(void **state)
{
    enum { PLACES = 21 };
    double complex one[PLACES], other[PLACES];
    const double complex *boards[] = {one, other};
    double phases[2];
    struct combining_worst got;
    struct error e = {0};

    (void)state;
    for (size_t p = 0; p < PLACES; p++) {
        one[p] = polar(3, 50.0 * (double)p);
        other[p] = polar(4, 50.0 * (double)p + (double)p);
    }
    assert_done(combining_free_phases(boards, 2, PLACES, phases, &e), &e);
    assert_close(phases[1] / degree, 10, 1e-9);
    combining_turn(other, PLACES, phases[1]);
    assert_done(combining_over(boards, 2, PLACES, &got, &e), &e);
    assert_close(got.worst.phase_spread_deg, 10, 1e-9);
}

/* No other phases, a step away for one board, give a larger sum of the aligned parts: what is
 * documented as the best is the best. */
static void test_free_phases_best(void **state)
{
    enum { BOARDS = 6, PLACES = 25 };
    double complex *gain = match_boards(BOARDS, PLACES, 3);
    const double complex *boards[BOARDS];
    double phases[BOARDS], sums[3];
    struct error e = {0};

    (void)state;
    assert_non_null(gain);
    for (size_t i = 0; i < BOARDS; i++)
        boards[i] = gain + i * PLACES;
    assert_done(combining_free_phases(boards, BOARDS, PLACES, phases, &e), &e);
    for (size_t moved = 1; moved < BOARDS; moved++) {
        for (int step = -1; step <= 1; step++) {
            sums[step + 1] = 0;
            for (size_t p = 0; p < PLACES; p++) {
                double complex sum = 0;

                for (size_t i = 0; i < BOARDS; i++)
                    sum += boards[i][p] / cabs(boards[i][p]) *
                           cexp(CMPLX(0, -phases[i] - (i == moved ? 1e-3 * step : 0)));
                sums[step + 1] += cabs(sum);
            }
        }
        assert_true(sums[1] > sums[0] && sums[1] > sums[2]);
    }
    free(gain);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_two_equal),           cmocka_unit_test(test_two_unequal),
        cmocka_unit_test(test_four_and_silent),     cmocka_unit_test(test_phase_arc),
        cmocka_unit_test(test_worst_places),        cmocka_unit_test(test_free_phases_found),
        cmocka_unit_test(test_free_phase_of_slope), cmocka_unit_test(test_free_phases_best),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
