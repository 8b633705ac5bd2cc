/* The emulated bench as a whole: start, boards by serial number, faults to the right instrument. */
#include "drivers/emulator.h"

#include "drivers/board_build.h"
#include "tests/emulator_check.h"

static const struct emulator_settings settings = {.seed = 3};

/* Reason: after power-on everything is off and the correction is there. */
static void start(void **state)
{
    struct emulator bench;

    (void)state;
    emulator_start(&bench, &settings);
    assert_false(bench.connected);
    assert_false(bench.s.output);
    assert_false(bench.a.rf_on);
    assert_true(bench.a.correction);
    assert_answer(&bench.analyser, "*ESR?\n", "128\n");
    emulator_clear(&bench);
    emulator_clear(&bench);
}

/* Reason: a serial number means the same board as in the archives of `emulate --archive`. */
static void boards(void **state)
{
    static const char *const bad[] = {"KW000100",  "KW100101", "KW00101",  "kw000101",
                                      "KW0001011", "KW+00101", "KW00010x", "X"};
    struct emulator bench;
    struct board want;

    (void)state;
    emulator_start(&bench, &settings);
    plug(&bench, "KW000112");
    board_build(&want, 3, 11);
    assert_int_equal(bench.number, 11);
    assert_close(bench.board.input_f, want.input_f, 0);
    assert_close(bench.board.second.upper_ohm, want.second.upper_ohm, 0);
    plug(&bench, "KW100100");
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct error e = {0};

        assert_false(emulator_connect(&bench, bad[i], &e));
        assert_int_equal(e.kind, ERROR_USAGE);
        assert_holds(e.text, "KW000101");
        assert_true(bench.connected);
    }
    plug(&bench, NULL);
    assert_false(bench.connected);
    emulator_clear(&bench);
}

/* Reason: a fault without an instrument's name is for both, each with its own count. */
static void faults(void **state)
{
    struct emulator bench;
    struct error e = {0};

    (void)state;
    emulator_start(&bench, &settings);
    arm(&bench, "silent@2 analyser.silent@3");
    assert_answer(&bench.supply, "*TST?\n*TST?\n*TST?\n", "0\n0\n");
    assert_answer(&bench.analyser, "*TST?\n*TST?\n*TST?\n", "0\n");
    assert_answer(&bench.fixture, "*TST?\n*TST?\n*TST?\n", "0\n0\n0\n");
    assert_false(emulator_arm(&bench, "unheard-of", &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    emulator_clear(&bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(start), cmocka_unit_test(boards),
                                       cmocka_unit_test(faults)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
