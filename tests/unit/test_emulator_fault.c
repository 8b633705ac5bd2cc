/* The words that ask for faults, when they strike, and what they do to numbers. */
#include "drivers/emulator_fault.h"

#include "tests/check.h"

/* At which of ten queries (a command between each two) the fault holds: "..x" and so on; capitals
 * for the commands that follow. */
static void strikes(const char *words, const char *want, enum emulator_fault fault)
{
    struct emulator_faults faults = {0};
    struct error e = {0};
    char got[32] = "";

    assert_done(emulator_fault_arm(&faults, "analyser", words, &e), &e);
    for (unsigned i = 0; i < 5; i++) {
        emulator_fault_begin(&faults, i % 2 ? "CALC:DATA?" : "*OPC?", true);
        got[2 * i] = faults.now[fault] ? 'x' : '.';
        emulator_fault_begin(&faults, "OUTP 1", false);
        got[2 * i + 1] = faults.now[fault] ? 'X' : '.';
    }
    assert_string_equal(got, want);
}

/* Reason: tests name the moment of a fault, so the moment must be the one that was named. */
static void when(void **state)
{
    (void)state;
    strikes("cut", "xXxXxXxXxX", EMULATOR_CUT);
    strikes("cut@3", "....x.....", EMULATOR_CUT);
    strikes("cut@3+", "....xXxXxX", EMULATOR_CUT);
    strikes("cut@calc:data?", "..x...x...", EMULATOR_CUT);
    strikes("cut@CALC:DATA?#2", "......x...", EMULATOR_CUT);
    strikes("cut@OUTP", ".X.X.X.X.X", EMULATOR_CUT);
    /* A fault of state lasts. */
    strikes("trip@3", "....xXxXxX", EMULATOR_TRIP);
    strikes("trip@OUTP#2", "...XxXxXxX", EMULATOR_TRIP);
    strikes("late@1; cut@2", "..x.......", EMULATOR_CUT);
    strikes("analyser.cut@1", "x.........", EMULATOR_CUT);
    strikes("supply.cut@1", "..........", EMULATOR_CUT);
}

/* Reason: a number behind "=" goes with its fault; without one the table's stands. */
static void values(void **state)
{
    struct emulator_faults faults = {0};
    struct error e = {0};

    (void)state;
    assert_done(emulator_fault_arm(&faults, "supply", "late=1.5@2 supply.error=-222", &e), &e);
    emulator_fault_begin(&faults, "A?", true);
    assert_false(faults.now[EMULATOR_LATE]);
    assert_close(faults.value[EMULATOR_ERROR], -222, 0);
    emulator_fault_begin(&faults, "A?", true);
    assert_true(faults.now[EMULATOR_LATE]);
    assert_close(faults.value[EMULATOR_LATE], 1.5, 0);
    faults = (struct emulator_faults){0};
    assert_done(emulator_fault_arm(&faults, "supply", "late", &e), &e);
    emulator_fault_begin(&faults, "A?", true);
    assert_close(faults.value[EMULATOR_LATE], 0.2, 0);
}

/* Reason: a mistyped fault that is silently none would make a fault test pass for nothing. */
static void wrong_words(void **state)
{
    static const char *const words[] = {"cutt",      "cut@",       "cut@0", "cut@3x",
                                        "cut@CALC#", "cut@#2",     "late=", "late=x",
                                        "late=1e9",  "meter.cut",  "Cut",   "cut@CALC#0",
                                        "cut@1 @2",  "analyse.cut"};
    struct emulator_faults faults = {0};
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        e = (struct error){0};
        assert_false(emulator_fault_arm(&faults, "analyser", words[i], &e));
        assert_int_equal(e.kind, ERROR_USAGE);
        assert_holds(e.text, "fault \"");
        assert_int_equal(faults.n, 0);
    }
    e = (struct error){0};
    for (unsigned i = 0; i < 16; i++)
        assert_done(emulator_fault_arm(&faults, "analyser", "cut@1", &e), &e);
    assert_false(emulator_fault_arm(&faults, "analyser", "cut@1", &e));
    assert_holds(e.text, "16 faults");
}

/* Reason: every row has a name of its own and words, since help is printed from the table. */
static void table_is_whole(void **state)
{
    (void)state;
    for (unsigned i = 0; i < EMULATOR_FAULTS; i++) {
        assert_non_null(emulator_fault_rows[i].name);
        assert_true(strlen(emulator_fault_rows[i].words) > 4);
        assert_null(strpbrk(emulator_fault_rows[i].name, ".@=; "));
        for (unsigned k = 0; k < i; k++)
            assert_string_not_equal(emulator_fault_rows[i].name, emulator_fault_rows[k].name);
    }
}

static void numbers_after(enum emulator_fault fault, bool is_axis, double *x, size_t *n)
{
    struct emulator_faults faults = {0};

    for (unsigned i = 0; i < 8; i++)
        x[i] = 1e6 * (i + 1);
    *n = 8;
    faults.now[fault] = true;
    emulator_fault_numbers(&faults, is_axis, x, n, 16);
}

/* Reason: the numbers that reach a controller are wrong in the way that the name says, each. */
static void numbers(void **state)
{
    double x[16];
    size_t n;

    (void)state;
    numbers_after(EMULATOR_POINT_FEWER, false, x, &n);
    assert_int_equal(n, 6);
    numbers_after(EMULATOR_POINT_FEWER, true, x, &n);
    assert_int_equal(n, 7);
    numbers_after(EMULATOR_POINT_MORE, false, x, &n);
    assert_int_equal(n, 10);
    assert_close(x[9], 8e6, 0);
    numbers_after(EMULATOR_POINT_HALF, false, x, &n);
    assert_int_equal(n, 4);
    numbers_after(EMULATOR_POINT_DOUBLE, true, x, &n);
    assert_int_equal(n, 16);
    numbers_after(EMULATOR_AXIS_SHIFTED, true, x, &n);
    assert_close(x[0], 2e6, 0);
    numbers_after(EMULATOR_AXIS_FALLING, true, x, &n);
    assert_close(x[0], 8e6, 0);
    assert_close(x[7], 1e6, 0);
    numbers_after(EMULATOR_AXIS_REPEATED, true, x, &n);
    assert_close(x[4], x[3], 0);
    numbers_after(EMULATOR_AXIS_MHZ, true, x, &n);
    assert_close(x[7], 8, 0);
    numbers_after(EMULATOR_AXIS_MHZ, false, x, &n);
    assert_close(x[7], 8e6, 0);
    numbers_after(EMULATOR_NAN_POINT, false, x, &n);
    assert_close(x[4], 9.91e37, 0);
    numbers_after(EMULATOR_INF_POINT, false, x, &n);
    assert_close(x[4], 9.9e37, 0);
    numbers_after(EMULATOR_MINUS_INF_POINT, false, x, &n);
    assert_close(x[4], -9.9e37, 0);
    numbers_after(EMULATOR_IEEE_NAN, false, x, &n);
    assert_true(isnan(x[4]));
    numbers_after(EMULATOR_IEEE_INF, false, x, &n);
    assert_true(isinf(x[4]));
    numbers_after(EMULATOR_ZEROS, false, x, &n);
    assert_close(x[0], 0, 0);
    numbers_after(EMULATOR_CONSTANT, false, x, &n);
    assert_close(x[0], x[7], 0);
    numbers_after(EMULATOR_TINY, false, x, &n);
    assert_close(x[7] / 1e-40, 1, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(when), cmocka_unit_test(values),
                                       cmocka_unit_test(wrong_words),
                                       cmocka_unit_test(table_is_whole), cmocka_unit_test(numbers)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
