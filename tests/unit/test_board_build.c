/* The random making of boards: tolerances, faults, and that a board depends on its seed and number
 * only. */
#include "tests/check.h"

#include "drivers/board_build.h"

#define BOARDS 2000
#define FREQUENCIES 3

static const double band_hz[FREQUENCIES] = {160e6, 169e6, 178e6};

struct seen {
    double gain_db[2];          /* at the centre, at 1.8 and 3.0 V */
    double input_db, output_db; /* worst at 3.0 V */
    double current_ma[2];
    double second_a[2];
};

static double db(double complex s)
{
    return 20 * log10(cabs(s));
}

static struct seen look(const struct board *board)
{
    static const double bias_v[2] = {1.8, 3.0};
    struct seen seen = {.input_db = -INFINITY, .output_db = -INFINITY};
    struct sweep sweep = {0};
    struct error e = {0};

    for (int k = 0; k < 2; k++) {
        assert_done(board_sweep(board, bias_v[k], band_hz, FREQUENCIES, &sweep, &e), &e);
        seen.gain_db[k] = db(sweep_s(&sweep, 1, S21));
        seen.current_ma[k] = board_current_ma(board, bias_v[k]);
        seen.second_a[k] = board_second_collector_a(board, bias_v[k]);
    }
    for (size_t i = 0; i < FREQUENCIES; i++) {
        seen.input_db = fmax(seen.input_db, db(sweep_s(&sweep, i, S11)));
        seen.output_db = fmax(seen.output_db, db(sweep_s(&sweep, i, S22)));
    }
    sweep_clear(&sweep);
    return seen;
}

static struct seen look_with(enum board_fault fault)
{
    struct board board;

    board_nominal(&board);
    board_add_fault(&board, fault);
    return look(&board);
}

/* Boards hold numbers and one pointer, all of eight bytes, so that bytes can be compared. */
static bool same(const struct board *a, const struct board *b)
{
    return memcmp(a, b, sizeof *a) == 0;
}

/* Reason: any part of a production must come out as in the whole, in any order; another seed or
 * number must give another board. */
static void board_depends_on_seed_and_number(void **state)
{
    struct board a, b, other;

    (void)state;
    board_build(&a, 1, 17);
    board_build(&other, 1, 18);
    board_build(&b, 1, 17);
    assert_true(same(&a, &b));
    assert_false(same(&a, &other));
    board_build(&other, 2, 17);
    assert_false(same(&a, &other));
    board_build(&other, 1, 17 + BOARD_BATCH);
    assert_false(same(&a, &other));
}

/* Reason: no part may leave its tolerance, and the spread must be the one that is documented: a
 * third of the tolerance is one standard deviation. Seed 11; five standard errors. */
static void parts_keep_their_tolerance(void **state)
{
    struct board nominal;
    double sum = 0, squares = 0, n = 0;

    (void)state;
    board_nominal(&nominal);
    for (unsigned long number = 0; number < BOARDS; number++) {
        struct board board;
        double resistor, coil;

        board_build(&board, 11, number);
        if (board.fault) continue;
        resistor = board.feedback_ohm / nominal.feedback_ohm - 1;
        coil = board.middle.h / nominal.middle.h - 1;
        assert_true(fabs(resistor) <= 0.02 * (1 + 1e-12));
        assert_true(fabs(coil) <= 0.05 * (1 + 1e-12));
        assert_true(fabs(board.second.transistor.current_gain / 110 - 1) <= 0.3 * (1 + 1e-12));
        assert_true(fabs(board.first.transistor.base_emitter_v / 0.72 - 1) <= 0.02 * (1 + 1e-12));
        assert_true(fabs(board.output_f / nominal.output_f - 1) <= 0.05 * (1 + 1e-12));
        sum += resistor;
        squares += resistor * resistor;
        n++;
    }
    assert_close(sum / n, 0, 5 * 0.02 / 3 / sqrt(n));
    assert_close(sqrt(squares / n), 0.02 / 3, 5 * 0.02 / 3 / sqrt(2 * n));
}

/* Reason: every batch shows each fault once, at places that differ from batch to batch. */
static void each_batch_has_each_fault_once(void **state)
{
    unsigned at_first_place = 0;

    (void)state;
    for (uint64_t seed = 0; seed < 10; seed++) {
        for (unsigned long batch = 0; batch < 20; batch++) {
            unsigned seen[BOARD_FAULTS] = {0};

            for (unsigned long i = 0; i < BOARD_BATCH; i++) {
                unsigned long number = batch * BOARD_BATCH + i;
                enum board_fault fault = board_fault_of(seed, number);
                struct board board;

                board_build(&board, seed, number);
                assert_true((board.fault != NULL) == (fault != FAULT_NONE));
                seen[fault]++;
                if (i == 0 && fault != FAULT_NONE) at_first_place++;
            }
            for (int fault = FAULT_NONE + 1; fault < BOARD_FAULTS; fault++)
                assert_int_equal(seen[fault], 1);
        }
    }
    /* 4 of 24 places have one: 33 of 200 expected, standard deviation 5.3. */
    assert_in_range(at_first_place, 7, 60);
}

/* Reason: a feedback resistor of more than twice its value spoils the match and adds gain, and the
 * bias knows nothing of it. */
static void wrong_resistor_spoils_the_match(void **state)
{
    struct seen good = look_with(FAULT_NONE), bad = look_with(FAULT_WRONG_RESISTOR);

    (void)state;
    assert_true(good.input_db < -20 && bad.input_db > -12);
    assert_true(bad.gain_db[1] > good.gain_db[1] + 2);
    assert_close(bad.current_ma[1], good.current_ma[1], 0);
}

/* Reason: 39 ohm in front of a 50 ohm connector: by hand, for an output matched to 50 ohm,
 * reflection 39/139 (-11.0 dB) and 20 log10(100/139) = -2.86 dB of gain; the board is nearly
 * matched. The same at every bias. */
static void cold_joint_spoils_the_output(void **state)
{
    struct seen good = look_with(FAULT_NONE), bad = look_with(FAULT_COLD_JOINT);

    (void)state;
    assert_true(good.output_db < -16);
    assert_close(bad.output_db, -11, 2);
    assert_close(bad.gain_db[0] - good.gain_db[0], -2.86, 0.4);
    assert_close(bad.gain_db[1] - good.gain_db[1], -2.86, 0.4);
    assert_close(bad.input_db, good.input_db, 1);
    assert_close(bad.current_ma[1], good.current_ma[1], 0);
}

/* Reason: a leak of 1.2 kohm behind 220 ohm takes 220/1420 of the bias away, which costs most where
 * the bias is low, and draws current of its own. */
static void leaky_capacitor_steals_bias(void **state)
{
    struct seen good = look_with(FAULT_NONE), bad = look_with(FAULT_LEAKY_CAPACITOR);

    (void)state;
    assert_true(bad.second_a[0] < good.second_a[0] && bad.second_a[1] < good.second_a[1]);
    assert_true(bad.gain_db[1] < good.gain_db[1] - 1);
    assert_true(bad.gain_db[0] - good.gain_db[0] < bad.gain_db[1] - good.gain_db[1] - 1);
    assert_true(bad.current_ma[1] > good.current_ma[1] + 0.3);
}

/* Reason: without its lower part the divider lets the whole bias through: too much current and
 * gain, and less control. */
static void missing_resistor_opens_the_second_stage(void **state)
{
    struct seen good = look_with(FAULT_NONE), bad = look_with(FAULT_MISSING_RESISTOR);

    (void)state;
    assert_true(bad.current_ma[1] > 1.4 * good.current_ma[1]);
    assert_true(bad.gain_db[1] > good.gain_db[1] + 3);
    assert_true(bad.gain_db[1] - bad.gain_db[0] < good.gain_db[1] - good.gain_db[0] - 1.5);
}

/* Reason: the words go into documents and tests; a good board has none. */
static void faults_have_words(void **state)
{
    static const char *const words[BOARD_FAULTS] = {NULL, "wrong resistor", "cold joint",
                                                    "leaky decoupling capacitor",
                                                    "missing bias resistor"};
    struct board nominal, board;

    (void)state;
    board_nominal(&nominal);
    for (int fault = FAULT_NONE; fault < BOARD_FAULTS; fault++) {
        board_nominal(&board);
        board_add_fault(&board, (enum board_fault)fault);
        assert_true(same(&board, &nominal) == (fault == FAULT_NONE));
        if (words[fault]) assert_holds(board.fault, words[fault]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(board_depends_on_seed_and_number),
        cmocka_unit_test(parts_keep_their_tolerance),
        cmocka_unit_test(each_batch_has_each_fault_once),
        cmocka_unit_test(wrong_resistor_spoils_the_match),
        cmocka_unit_test(cold_joint_spoils_the_output),
        cmocka_unit_test(leaky_capacitor_steals_bias),
        cmocka_unit_test(missing_resistor_opens_the_second_stage),
        cmocka_unit_test(faults_have_words),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
