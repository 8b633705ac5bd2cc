/* Noise and resolution of emulated readings. */
#include "tests/check.h"

#include "drivers/board_reading.h"

#define POINTS 20000

/* A sweep whose every point is `s`. */
static void fill(struct sweep *sweep, const double complex s[S_PARAMETERS])
{
    struct error e = {0};

    sweep_clear(sweep);
    assert_done(sweep_reserve(sweep, POINTS, &e), &e);
    for (size_t i = 0; i < POINTS; i++) {
        sweep->frequency_hz[i] = 1e6 * (double)(i + 1);
        for (unsigned parameter = 0; parameter < S_PARAMETERS; parameter++)
            sweep->s[S_PARAMETERS * i + parameter] = s[parameter];
    }
    sweep->n_points = POINTS;
    sweep->n_ports = 2;
    sweep->measured = S_ALL;
    sweep->z0_ohm[0] = sweep->z0_ohm[1] = 50;
}

static const double complex typical[S_PARAMETERS] = {0.05 - 0.02 * I, 0.0006 * I, -6 + 8 * I,
                                                     0.1 + 0.05 * I};

static void assert_whole(double x)
{
    assert_close(x, nearbyint(x), 1e-6);
}

/* Reason: all files must be the same everywhere and short: eight decimals, read back exactly. */
static void readings_are_rounded(void **state)
{
    struct sweep sweep = {0};

    (void)state;
    fill(&sweep, typical);
    board_reading_sweep(&sweep, 1, 0, 0);
    for (size_t i = 0; i < S_PARAMETERS * POINTS; i++) {
        double re = creal(sweep.s[i]), im = cimag(sweep.s[i]);

        assert_whole(re * 1e8);
        assert_whole(im * 1e8);
        assert_close(re, nearbyint(re * 1e8) / 1e8, 0);
        assert_close(im, nearbyint(im * 1e8) / 1e8, 0);
    }
    assert_whole(1e3 * board_reading_current_ma(7.06483, 1, 0, 0));
    assert_close(board_reading_current_ma(7.06483, 1, 0, 0), 7.06483, 0.03);
    sweep_clear(&sweep);
}

/* Reason: size of the noise: a reflection's does not depend on the value, gain's does; no offset.
 * Five standard errors at the fixed seed 3. */
static void noise_has_its_size(void **state)
{
    static const double want[S_PARAMETERS] = {2e-5, 2e-5, 1e-4 * 10, 2e-5};
    struct sweep sweep = {0};
    const double n = POINTS;

    (void)state;
    fill(&sweep, typical);
    board_reading_sweep(&sweep, 3, 5, 2);
    for (unsigned parameter = 0; parameter < S_PARAMETERS; parameter++) {
        double complex sum = 0;
        double squares = 0;

        for (size_t i = 0; i < POINTS; i++) {
            double complex noise =
                sweep_s(&sweep, i, (enum s_parameter)parameter) - typical[parameter];

            sum += noise;
            squares += creal(noise) * creal(noise) + cimag(noise) * cimag(noise);
        }
        assert_close(creal(sum) / n, 0, 5 * want[parameter] / sqrt(n));
        assert_close(cimag(sum) / n, 0, 5 * want[parameter] / sqrt(n));
        assert_close(sqrt(squares / n / 2), want[parameter], 5 * want[parameter] / sqrt(4 * n));
    }
    sweep_clear(&sweep);
}

/* Reason: noise belongs to seed, board and bias step; each one changed must change it. */
static void noise_belongs_to_its_numbers(void **state)
{
    static const unsigned keys[][3] = {{1, 2, 3}, {4, 2, 3}, {1, 4, 3}, {1, 2, 4}, {1, 2, 3}};
    double first[sizeof keys / sizeof *keys], current[sizeof keys / sizeof *keys];
    struct sweep sweep = {0};

    (void)state;
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        fill(&sweep, typical);
        board_reading_sweep(&sweep, keys[i][0], keys[i][1], keys[i][2]);
        first[i] = creal(sweep.s[0]);
        current[i] = board_reading_current_ma(1e6, keys[i][0], keys[i][1], keys[i][2]);
        if (i > 0 && i < 4) {
            assert_true(first[i] != first[0]);
            assert_true(current[i] != current[0]);
        }
    }
    assert_true(first[4] == first[0]);
    assert_true(current[4] == current[0]);
    sweep_clear(&sweep);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(readings_are_rounded),
        cmocka_unit_test(noise_has_its_size),
        cmocka_unit_test(noise_belongs_to_its_numbers),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
