/* The emulated board's physics: bias by hand, sanity of the S-parameters, the same bits everywhere.
 * tests/cli/test_spice.sh checks the network itself against another solver. */
#include "tests/check.h"

#include "drivers/board_build.h"
#include "drivers/board_model.h"

#define BAND_POINTS 37
#define WANT_HASH UINT64_C(0x80bbc4870b38a50e)

/* 160 to 178 MHz in steps of 0.5 MHz. */
static void sweep_band(const struct board *board, double bias_v, struct sweep *out)
{
    double frequency_hz[BAND_POINTS];
    struct error e = {0};

    for (size_t i = 0; i < BAND_POINTS; i++)
        frequency_hz[i] = 160e6 + 0.5e6 * (double)i;
    assert_done(board_sweep(board, bias_v, frequency_hz, BAND_POINTS, out, &e), &e);
}

static double db(double complex s)
{
    return 20 * log10(cabs(s));
}

static double highest_db(const struct sweep *sweep, enum s_parameter parameter)
{
    double highest = -INFINITY;

    for (size_t i = 0; i < sweep->n_points; i++)
        highest = fmax(highest, db(sweep_s(sweep, i, parameter)));
    return highest;
}

static double centre_gain_db(const struct sweep *sweep)
{
    return db(sweep_s(sweep, BAND_POINTS / 2, S21));
}

/* mu of Edwards and Sinsky (1992), from memory; above 1 is unconditionally stable. */
static double lowest_mu(const struct sweep *sweep)
{
    double lowest = INFINITY;

    for (size_t i = 0; i < sweep->n_points; i++) {
        double complex s11 = sweep_s(sweep, i, S11), s12 = sweep_s(sweep, i, S12);
        double complex s21 = sweep_s(sweep, i, S21), s22 = sweep_s(sweep, i, S22);
        double complex determinant = s11 * s22 - s12 * s21;

        lowest = fmin(lowest, (1 - cabs(s11) * cabs(s11)) /
                                  (cabs(s22 - determinant * conj(s11)) + cabs(s12 * s21)));
    }
    return lowest;
}

/* Reason: the operating point decides everything else. By hand for the nominal board. First stage:
 * 5 V over 3900 and 1200 ohm is 1.176471 V behind 917.647 ohm; x = 0.456471 V / (69.5 + 8.34225)
 * ohm = 5.864046 mA; (x + sqrt(x^2 + 1 mA^2))/2 = 5.906374 mA. Second stage in the same way, its
 * base voltage from Kirchhoff's law at the base. */
static void bias_by_hand(void **state)
{
    struct board board;

    (void)state;
    board_nominal(&board);
    board.leak_ohm = 1e18;
    assert_close(board_first_collector_a(&board), 5.906374e-3, 1e-9);
    assert_close(board_second_collector_a(&board, 1.8), 2.368381e-3, 1e-9);
    assert_close(board_second_collector_a(&board, 3.0), 6.127137e-3, 1e-9);
    assert_close(board_current_ma(&board, 1.8), 2.9231459, 1e-6);
    assert_close(board_current_ma(&board, 3.0), 7.0648375, 1e-6);
}

/* Reason: the current must never be negative, and rise with the bias from nothing. */
static void current_rises_from_nothing(void **state)
{
    struct board board;
    double before = 0;

    (void)state;
    board_nominal(&board);
    for (int i = 0; i <= 60; i++) {
        double current_a = board_second_collector_a(&board, 0.05 * i);

        assert_true(current_a > before);
        before = current_a;
    }
    assert_true(board_second_collector_a(&board, 0) < 0.1e-3);
}

/* Reason: what the sweep says of itself must be right, and its memory reusable. */
static void sweep_shape(void **state)
{
    const double rising_hz[] = {150e6, 170e6, 190e6}, falling_hz[] = {150e6, 150e6};
    struct board board;
    struct sweep sweep = {0};
    struct error e = {0};

    (void)state;
    board_nominal(&board);
    sweep_band(&board, 2.4, &sweep);
    assert_done(board_sweep(&board, 2.4, rising_hz, 3, &sweep, &e), &e);
    assert_int_equal(sweep.n_points, 3);
    assert_int_equal(sweep.n_ports, 2);
    assert_int_equal(sweep.measured, S_ALL);
    assert_close(sweep.z0_ohm[0], 50, 0);
    assert_close(sweep.z0_ohm[1], 50, 0);
    assert_close(sweep.frequency_hz[2], 190e6, 0);
    assert_false(board_sweep(&board, 2.4, falling_hz, 2, &sweep, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "point 2");
    sweep_clear(&sweep);
}

/* Reason: the demo's story: gain by bias in its windows, steadily rising, input well matched,
 * stable, for the nominal board and for every good board of a batch. */
static void good_boards_are_good(void **state)
{
    struct board board;
    struct sweep sweep = {0};

    (void)state;
    for (unsigned number = 0; number <= BOARD_BATCH; number++) {
        double before_db = NAN, low_db = NAN;

        board_nominal(&board);
        if (number > 0) board_build(&board, 1, number - 1);
        if (board.fault) continue;
        for (int step = 0; step <= 12; step++) {
            double gain_db, bias_v = 1.8 + 0.1 * step;

            sweep_band(&board, bias_v, &sweep);
            gain_db = centre_gain_db(&sweep);
            if (step == 0) low_db = gain_db;
            if (step > 0) {
                assert_true((gain_db - before_db) / 0.1 > 3);
                assert_true((gain_db - before_db) / 0.1 < 14);
            }
            before_db = gain_db;
            if (step == 6) assert_close(gain_db, 19.7, 1);
            assert_true(highest_db(&sweep, S11) < -20);
            assert_true(highest_db(&sweep, S22) < -16);
            assert_true(highest_db(&sweep, S12) < -60);
            assert_true(lowest_mu(&sweep) > 1.5);
        }
        assert_close(low_db, 15, 1);
        assert_close(before_db, 22.8, 1);
    }
    sweep_clear(&sweep);
}

/* Reason: without bias on either stage the board is a handful of passive parts (the controlled
 * sources rest at the foot of their curves), so no wave may come out larger than those that go in:
 * the largest singular value of S is at most 1, that is 1 - tr(S*S) + |det S|^2 >= 0 with
 * tr(S*S) <= 2. */
static void unbiased_board_is_passive(void **state)
{
    struct board board;
    struct sweep sweep = {0};

    (void)state;
    board_nominal(&board);
    board.first.upper_ohm = 1e12;
    sweep_band(&board, 0, &sweep);
    for (size_t i = 0; i < sweep.n_points; i++) {
        double power = 0, determinant;

        for (unsigned parameter = 0; parameter < S_PARAMETERS; parameter++)
            power += pow(cabs(sweep_s(&sweep, i, parameter)), 2);
        determinant = cabs(sweep_s(&sweep, i, S11) * sweep_s(&sweep, i, S22) -
                           sweep_s(&sweep, i, S12) * sweep_s(&sweep, i, S21));
        assert_true(power < 2);
        assert_true(1 - power + determinant * determinant > 0);
    }
    sweep_clear(&sweep);
}

/* FNV-1a over the bytes (published algorithm; from memory). */
static uint64_t hash(uint64_t h, const void *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++)
        h = (h ^ ((const unsigned char *)bytes)[i]) * UINT64_C(0x100000001b3);
    return h;
}

/* Reason: the model promises the same bits on every machine. The number is no truth about boards
 * (the other tests are): it pins that compilers, options and processors agree. It changes whenever
 * a value of the board does. */
static void same_bits_everywhere(void **state)
{
    uint64_t h = UINT64_C(0xcbf29ce484222325);
    struct sweep sweep = {0};

    (void)state;
    for (unsigned number = 0; number < BOARD_BATCH; number++) {
        struct board board;

        board_build(&board, 1, number);
        sweep_band(&board, 2.4, &sweep);
        h = hash(h, sweep.s, S_PARAMETERS * sweep.n_points * sizeof *sweep.s);
    }
    sweep_clear(&sweep);
    if (h != WANT_HASH) print_error("hash is 0x%llx\n", (unsigned long long)h);
    assert_true(h == WANT_HASH);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bias_by_hand),
        cmocka_unit_test(current_rises_from_nothing),
        cmocka_unit_test(sweep_shape),
        cmocka_unit_test(good_boards_are_good),
        cmocka_unit_test(unbiased_board_is_passive),
        cmocka_unit_test(same_bits_everywhere),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
