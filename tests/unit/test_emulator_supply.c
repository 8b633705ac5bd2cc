/* The emulated supply: its output follows the board, trips, and its faults. */
#include "drivers/board_build.h"
#include "drivers/emulator.h"

#include "tests/emulator_check.h"

static int start(void **state)
{
    static struct emulator bench;
    const struct emulator_settings settings = {.seed = 1};

    emulator_start(&bench, &settings);
    plug(&bench, "KW000101");
    *state = &bench;
    return 0;
}

static int end(void **state)
{
    emulator_clear(*state);
    return 0;
}

static double reading(struct emulator *bench, const char *query)
{
    struct text got = {0};
    double x;

    (void)converse(&bench->supply, query, strlen(query), 0, &got);
    read_list(&got, &x, 1);
    text_clear(&got);
    return x;
}

/* Reason: what the board draws is the model's current at the voltage of the output, and nothing
 * when the output is off or the fixture empty. The bound: 5 deviations of 0.05 %, and a digit. */
static void current_follows(void **state)
{
    static const double volts[] = {1.8, 2.4, 3.0};
    struct emulator *bench = *state;
    struct board board;

    board_build(&board, 1, 0);
    assert_answer(&bench->supply, "CURR 0.05\nVOLT 2.4\n", "");
    assert_close(reading(bench, "MEAS:CURR?\n"), 0, 4e-6);
    assert_close(reading(bench, "MEAS:VOLT?\n"), 0, 1.2e-3);
    assert_answer(&bench->supply, "OUTP 1\nOUTP?\n", "1\n");
    for (unsigned i = 0; i < 3; i++) {
        const double want_a = board_current_ma(&board, volts[i]) / 1e3;
        char words[32];

        (void)snprintf(words, sizeof words, "VOLT %.1f\n", volts[i]);
        assert_answer(&bench->supply, words, "");
        assert_close(reading(bench, "MEAS:CURR?\n"), want_a, 3e-3 * want_a + 4e-6);
        assert_close(reading(bench, "MEASURE:SCALAR:VOLTAGE:DC?\n"), volts[i], 1.3e-3);
    }
    assert_true(reading(bench, "MEAS:CURR?\n") != reading(bench, "MEAS:CURR?\n"));
    plug(bench, "");
    assert_close(reading(bench, "MEAS:CURR?\n"), 0, 4e-6);
    plug(bench, "KW000101");
    assert_answer(&bench->supply, "OUTP OFF\nOUTP?\n", "0\n");
    assert_close(bench->s.output_v, 0, 0);
}

/* Reason: above the limit a supply with its trip armed switches off and stays off until it is
 * cleared; without it, it holds the limit. */
static void limit(void **state)
{
    struct emulator *bench = *state;
    struct emulator_instrument *i = &bench->supply;

    assert_answer(i, "CURR:PROT:STAT?\n", "0\n");
    assert_answer(i, "CURR 0.002;:VOLT 3;:OUTP 1\n", "");
    assert_answer(i, "OUTP?;STAT:QUES:COND?\n", "1;1\n");
    assert_close(bench->s.output_a, 0.002, 1e-9);
    assert_true(bench->s.output_v < 2.9);
    assert_answer(i, "CURR:PROT:STAT 1\n", "");
    assert_answer(i, "OUTP?;SOUR:CURR:PROT:TRIP?\n", "0;1\n");
    assert_close(bench->s.output_v, 0, 0);
    assert_error(i, "OUTP 1\n", "-221,\"Settings conflict\"");
    assert_answer(i, "CURR 0.1;:CURR:PROT:CLE;:OUTP 1\n", "");
    assert_answer(i, "OUTP?;SOUR:CURR:PROT:TRIP?\n", "1;0\n");
}

/* Reason: the same for the voltage. */
static void voltage_trip(void **state)
{
    struct emulator *bench = *state;
    struct emulator_instrument *i = &bench->supply;

    assert_answer(i, "VOLT:PROT 3.3;:VOLT:PROT?\n", "+3.3E+00\n");
    assert_answer(i, "VOLT 3;:OUTP 1\nOUTP?;VOLT:PROT:TRIP?\n", "1;0\n");
    assert_answer(i, "VOLT 3.4\nOUTP?;VOLT:PROT:TRIP?\n", "0;1\n");
    assert_answer(i, "VOLT 3;:OUTP 1\nOUTP?\n", "0\n");
    assert_answer(i, "VOLT:PROT:CLE;:OUTP 1\nOUTP?\n", "1\n");
}

/* Reason: *RST is a safe state: off, 0 V, and no trip armed (SCPI-1999, from memory). */
static void preset(void **state)
{
    struct emulator *bench = *state;

    assert_answer(&bench->supply, "CURR 1;:CURR:PROT:STAT 1;:VOLT 3;:OUTP 1\n*RST\n", "");
    assert_answer(&bench->supply, "OUTP?;VOLT?;CURR?;CURR:PROT:STAT?\n", "0;+0.0E+00;+1.0E-01;0\n");
}

/* Reason: each fault of the supply shows where a controller looks. */
static void faults(void **state)
{
    struct emulator *bench = *state;
    struct emulator_instrument *i = &bench->supply;

    assert_answer(i, "CURR 0.1;:CURR:PROT:STAT 1;:VOLT 3;:OUTP 1\n", "");
    arm(bench, "supply.voltage-sign@1 supply.milli@2");
    assert_close(reading(bench, "MEAS:VOLT?\n"), -3, 1.3e-3);
    assert_close(reading(bench, "MEAS:VOLT?\n"), -3000, 1.3);
    bench->supply.faults = (struct emulator_faults){0};
    arm(bench, "constant-current@1 voltage-zero@3 stays-on@4");
    assert_close(reading(bench, "MEAS:VOLT?\n"), 1.5, 1.3e-3);
    assert_answer(i, "STAT:QUES:COND?\n", "1\n");
    assert_close(reading(bench, "MEAS:VOLT?\n"), 0, 0);
    assert_answer(i, "OUTP?\n", "1\n");
    assert_answer(i, "OUTP 0\nOUTP?\n", "1\n");
    assert_true(bench->s.output_v > 0);
    assert_answer(i, "*RST\nOUTP?\n", "1\n");
}

/* Reason: a board that draws fifty times its current trips the supply, at once and as a fault of
 * its own. */
static void over_current(void **state)
{
    struct emulator *bench = *state;
    struct emulator_instrument *i = &bench->supply;

    assert_answer(i, "CURR 0.1;:CURR:PROT:STAT 1;:VOLT 3;:OUTP 1\nOUTP?\n", "1\n");
    arm(bench, "over-current@2");
    assert_answer(i, "OUTP?;CURR:PROT:TRIP?\n", "0;1\n");
    bench->supply.faults = (struct emulator_faults){0};
    assert_answer(i, "CURR:PROT:CLE;:OUTP 1\nOUTP?\n", "1\n");
    arm(bench, "trip@2");
    assert_answer(i, "OUTP?;CURR:PROT:TRIP?\n", "0;1\n");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, start, end)

int main(void)
{
    const struct CMUnitTest tests[] = {TEST(current_follows), TEST(limit),  TEST(voltage_trip),
                                       TEST(preset),          TEST(faults), TEST(over_current)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
