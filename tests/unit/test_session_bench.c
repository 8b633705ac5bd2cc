/* A bench that fails in the operator's hands, and the unit that proves it. */
#include <math.h>

#include "drivers/base/stop.h"
#include "tests/session_fixture.h"

static const struct session_bench plain = {0};
/* The hang-up comes once: what is opened anew answers. */
static const struct session_bench lost = {.faults = "gone-before@CALC:DATA?#2"};

/* Measures a unit and keeps its sweeps in the tree's "stored". */
static void store_reference(struct tree *tree, const char *serial)
{
    struct session_fixture f;
    char lines[64], from[600], to[600];

    (void)snprintf(lines, sizeof lines, "%s\n", serial);
    session_fixture_run(&f, tree, &plain, lines);
    assert_done(f.ok, &f.e);
    session_fixture_close(&f);
    (void)snprintf(from, sizeof from, "%s/batch/sweeps/%s/1", tree->top, serial);
    (void)snprintf(to, sizeof to, "%s/stored", tree->top);
    assert_int_equal(rename(from, to), 0);
    (void)snprintf(from, sizeof from, "%s/batch", tree->top);
    assert_int_equal(nftw(from, tree_remove_one, 16, FTW_DEPTH | FTW_PHYS), 0);
}

static const char *reference_words(const char *serial, const char *when)
{
    static char words[512];

    (void)snprintf(words, sizeof words,
                   "<reference-unit serial=\"%s\" sweeps=\"stored\" gain-tolerance=\"0.3 dB\" "
                   "reflection-tolerance=\"0.02\"%s/>\n",
                   serial, when);
    return words;
}

/* With nobody at a keyboard a lost instrument ends the session; nothing of the board is stored, and
 * the record says what happened. */
static void lost_without_operator(void **state)
{
    struct session_fixture f;

    session_fixture_run(&f, *state, &lost, "KW000101\nKW000102\n");
    assert_false(f.ok);
    assert_int_equal(f.e.kind, ERROR_BENCH);
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 0);
    assert_int_equal(session_fixture_attempts(&f, "KW000102"), 0);
    assert_int_equal(session_fixture_notes(&f, "bench"), 1);
    session_fixture_close(&f);
    record_fixture_audit(*state, NULL);
}

/* An operator looks, and the same board is measured again, once: a serial number that is scanned
 * meanwhile is no answer. */
static void lost_and_found(void **state)
{
    struct session_fixture f;

    session_fixture_sit(&f, *state, &lost);
    session_fixture_type(&f, "NEXT: Scan", "KW000101\r");
    session_fixture_type(
        &f, "HALT: The bench is off. Enter opens the bench anew and measures again", "KW000102\r");
    session_fixture_type(&f, "leaves the board out, /stop ends.", "\r");
    session_fixture_wait(&f, "PASS: last board KW000101, attempt 1");
    session_fixture_type(&f, "NEXT: Scan", "/stop\r");
    session_fixture_leave(&f);
    assert_done(f.ok, &f.e);
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 1);
    assert_int_equal(session_fixture_attempts(&f, "KW000102"), 0);
    session_fixture_close(&f);
}

/* A board that cannot be measured can be left out, which is recorded; the session goes on. */
static void lost_and_skipped(void **state)
{
    struct session_fixture f;

    session_fixture_sit(&f, *state, &lost);
    session_fixture_type(&f, "NEXT: Scan", "KW000101\r");
    session_fixture_type(&f, "HALT: ", "/skip\r");
    session_fixture_type(&f, "Note: KW000101 was left out", "KW000102\r");
    session_fixture_wait(&f, "PASS: last board KW000102, attempt 1");
    session_fixture_type(&f, "NEXT: Scan", "/stop\r");
    session_fixture_leave(&f);
    assert_done(f.ok, &f.e);
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 0);
    assert_int_equal(session_fixture_notes(&f, "skipped"), 1);
    session_fixture_close(&f);
}

/* A supply that does not switch off: nobody hears that the bench is off, but what to do; and who
 * gives up gets that as the session's error, with the bench known as perhaps on. */
static void stays_on(void **state)
{
    const struct session_bench bench = {.faults = "supply.stays-on@MEAS:CURR?#3"};
    struct session_fixture f;

    session_fixture_sit(&f, *state, &bench);
    session_fixture_type(&f, "NEXT: Scan", "KW000101\r");
    session_fixture_wait(&f, "HALT: THE BOARD MAY BE POWERED: switch the supply off by hand.");
    assert_false(session_fixture_sees(&f, "bench is off"));
    session_fixture_type(&f, "HALT: ", "/stop\r");
    session_fixture_leave(&f);
    assert_false(f.ok);
    assert_int_equal(f.e.kind, ERROR_BENCH);
    assert_true(f.bench.may_be_on && !f.bench.is_off);
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 0);
    session_fixture_close(&f);
}

/* Leaving a board out leaves a supply that is perhaps on: nobody is asked for the next board, or
 * told that the bench is off, before it is known to be off. */
static void skipped_while_on(void **state)
{
    const struct session_bench bench = {.faults = "supply.stays-on@MEAS:CURR?#3"};
    struct session_fixture f;

    session_fixture_sit(&f, *state, &bench);
    session_fixture_type(&f, "NEXT: Scan", "KW000101\r");
    session_fixture_type(&f, "HALT: THE BOARD MAY BE POWERED", "/skip\r");
    session_fixture_wait(&f, "bench anew, /stop ends.");
    assert_true(session_fixture_sees(&f, "HALT: THE BOARD MAY BE POWERED"));
    assert_false(session_fixture_sees(&f, "NEXT: "));
    terminal_type(&f.terminal, "/stop\r");
    session_fixture_leave(&f);
    assert_false(f.ok);
    assert_int_equal(f.e.kind, ERROR_BENCH);
    assert_true(f.bench.may_be_on);
    assert_int_equal(session_fixture_notes(&f, "skipped"), 1);
    session_fixture_close(&f);
}

/* A bench that was off once and cannot be opened anew is not said to be off. */
static void off_is_not_remembered(void **state)
{
    const struct session_bench bench = {.faults = "correction-off@CALC:DATA?#2"};
    struct session_fixture f;

    session_fixture_sit(&f, *state, &bench);
    session_fixture_type(&f, "NEXT: Scan", "KW000101\r");
    session_fixture_wait(&f, "HALT: The bench is off.");
    assert_int_equal(kill(f.server, SIGKILL), 0);
    assert_int_equal(waitpid(f.server, NULL, 0), f.server);
    f.server = 0;
    terminal_type(&f.terminal, "\r");
    session_fixture_wait(&f, "HALT: Whether the bench is off is not known. Enter opens");
    session_fixture_type(&f, "HALT: ", "/stop\r");
    session_fixture_leave(&f);
    assert_false(f.ok);
    session_fixture_close(&f);
}

/* The reference unit is asked for first, measured, compared and recorded, then boards are tested;
 * after so many boards it is due again, and the fixture connects it though a remark is in view. */
static void reference_good(void **state)
{
    struct session_bench bench = {0};
    struct session_fixture f;

    store_reference(*state, "KW000102");
    bench.rest = reference_words("KW000102", " every-units=\"2\" every-hours=\"100\"");
    session_fixture_run(&f, *state, &bench, "KW000101\nKW000103\n/note so far\nKW000104\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "note: The bench is proven: gain differs by 0.0");
    assert_int_equal(session_fixture_notes(&f, "reference-good"), 2);
    assert_int_equal(f.s.view.n_units, 3);
    assert_true(f.s.check_due_s > 99 * 3600.0 && isfinite(f.s.check_due_s));
    assert_true(f.s.has_reference);
    session_fixture_close(&f);
    record_fixture_audit(*state, NULL);
}

/* An instrument that was lost may have been off, or be another one: what is opened anew is proven
 * before a board is tested, the one in hand too. */
static void reference_after_loss(void **state)
{
    struct session_bench bench = {.faults = "gone-before@CALC:DATA?#22"};
    struct session_fixture f;

    store_reference(*state, "KW000102");
    bench.rest = reference_words("KW000102", "");
    session_fixture_sit(&f, *state, &bench);
    session_fixture_type(&f, "NEXT: Scan", "KW000101\r");
    session_fixture_type(&f, "HALT: ", "\r");
    session_fixture_wait(&f, "Note: The bench is proven");
    session_fixture_wait(&f, "NEXT: Scan");
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 0);
    assert_int_equal(session_fixture_notes(&f, "reference-good"), 2);
    terminal_type(&f.terminal, "KW000101\r");
    session_fixture_wait(&f, "PASS: last board KW000101, attempt 1");
    session_fixture_type(&f, "NEXT: Scan", "/stop\r");
    session_fixture_leave(&f);
    assert_done(f.ok, &f.e);
    session_fixture_close(&f);
}

/* Reports judge by the reference sweeps of the record: a later session whose bench file names no
 * reference unit does so too. */
static void reference_of_the_record(void **state)
{
    struct session_bench bench = {0};
    struct session_fixture f;

    store_reference(*state, "KW000102");
    bench.rest = reference_words("KW000102", "");
    session_fixture_run(&f, *state, &bench, "KW000101\n");
    assert_done(f.ok, &f.e);
    assert_true(isinf(f.s.check_due_s) && f.s.check_due_s > 0);
    session_fixture_close(&f);
    session_fixture_run(&f, *state, &plain, "KW000103\n");
    assert_done(f.ok, &f.e);
    assert_true(f.s.has_reference);
    assert_int_equal(f.s.reference.n_biases, f.s.limits->n_biases);
    session_fixture_close(&f);
}

/* The sweeps of another board: the bench is not proven, no board is tested, the record says so. */
static void reference_bad(void **state)
{
    struct session_bench bench = {0};
    struct session_fixture f;

    store_reference(*state, "KW000109");
    bench.rest = reference_words("KW000102", "");
    session_fixture_run(&f, *state, &bench, "KW000101\n");
    assert_false(f.ok);
    assert_int_equal(f.e.kind, ERROR_BENCH);
    assert_holds(f.e.text, "the reference unit KW000102 is not what it was: gain differs by ");
    assert_int_equal(session_fixture_notes(&f, "reference-bad"), 1);
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 0);
    session_fixture_close(&f);
}

/* What no look at a single sweep can tell, S11 for S21 or the parts of complex numbers in another
 * order (chapter 8 of the notes on instruments), the reference unit does. */
static void reference_tells_mixed_traces(void **state)
{
    static const char *const faults[] = {"?fault=mixed-up", "?fault=split"};

    store_reference(*state, "KW000102");
    for (size_t k = 0; k < sizeof faults / sizeof *faults; k++) {
        const struct session_bench bench = {.analyser = faults[k],
                                            .rest = reference_words("KW000102", "")};
        char folder[600];
        struct session_fixture f;

        session_fixture_run(&f, *state, &bench, "KW000101\n");
        assert_false(f.ok);
        assert_int_equal(f.e.kind, ERROR_BENCH);
        assert_holds(f.e.text, "the reference unit KW000102 is not what it was");
        assert_int_equal(session_fixture_attempts(&f, "KW000101"), 0);
        session_fixture_close(&f);
        (void)snprintf(folder, sizeof folder, "%s/batch", ((struct tree *)*state)->top);
        assert_int_equal(nftw(folder, tree_remove_one, 16, FTW_DEPTH | FTW_PHYS), 0);
    }
}

/* An operator may look and try again; a board's number is no answer; giving up is the bench's
 * error. */
static void reference_bad_with_operator(void **state)
{
    struct session_bench bench = {0};
    struct session_fixture f;

    store_reference(*state, "KW000109");
    bench.rest = reference_words("KW000102", "");
    session_fixture_sit(&f, *state, &bench);
    session_fixture_type(&f, "Note: The bench is NOT proven", "KW000101\r");
    session_fixture_type(&f, "ANSWER: The bench is off. Connect the reference unit", "\r");
    session_fixture_wait(&f, "POWERED");
    session_fixture_type(&f, "ANSWER: The bench is off. Connect the reference unit", "/stop\r");
    session_fixture_leave(&f);
    assert_false(f.ok);
    assert_int_equal(f.e.kind, ERROR_BENCH);
    assert_holds(f.e.text, "NOT proven");
    assert_int_equal(session_fixture_notes(&f, "reference-bad"), 2);
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 0);
    session_fixture_close(&f);
}

/* The reference unit is no board of the batch: its number proves the bench once more. */
static void reference_scanned(void **state)
{
    struct session_bench bench = {0};
    struct session_fixture f;

    store_reference(*state, "KW000102");
    bench.rest = reference_words("KW000102", "");
    session_fixture_run(&f, *state, &bench, "KW000101\nKW000102\n");
    assert_done(f.ok, &f.e);
    assert_int_equal(session_fixture_attempts(&f, "KW000102"), 0);
    assert_int_equal(session_fixture_notes(&f, "reference-good"), 2);
    assert_int_equal(f.s.view.n_units, 1);
    session_fixture_close(&f);
}

/* A board's number in a file, where the reference unit is to be connected by hand, is not passed
 * over. */
static void reference_by_hand(void **state)
{
    struct session_bench bench = {.by_hand = true};
    struct session_fixture f;

    store_reference(*state, "KW000101");
    bench.rest = reference_words("KW000101", "");
    session_fixture_run(&f, *state, &bench, "KW000103\nKW000104\n");
    assert_false(f.ok);
    assert_holds(f.e.text, "\"KW000103\" came where a question wants an answer");
    session_fixture_close(&f);
    session_fixture_run(&f, *state, &bench, "\nKW000103\n\n");
    assert_done(f.ok, &f.e);
    assert_int_equal(session_fixture_attempts(&f, "KW000103"), 1);
    session_fixture_close(&f);
}

/* Stored sweeps that are not there are told before anything is opened. */
static void reference_missing(void **state)
{
    struct session_bench bench = {.rest = reference_words("KW000102", "")};
    struct session_fixture f;

    session_fixture_run(&f, *state, &bench, "KW000101\n");
    assert_false(f.ok);
    assert_int_equal(f.e.kind, ERROR_INPUT);
    assert_holds(f.e.text, "stored/low.s2p");
    assert_null(strstr(f.said, "Opening"));
    session_fixture_close(&f);
}

/* Asks for a bias with these lines; what was said is kept. */
static bool ask(struct tree *tree, const char *lines, double bias_v, double *ma, struct error *e)
{
    struct session_fixture f;
    bool ok;

    session_fixture_open(&f, tree, &plain);
    session_fixture_pipe(&f, lines);
    ok = session_ask_bias(&f.s, bias_v, ma, e);
    session_fixture_unpipe(&f);
    if (bias_v > 0)
        assert_holds(f.said, "Set the bias of the board to 2.4 V and switch it on, hands off");
    session_fixture_close(&f);
    return ok;
}

/* A current is a number of mA that a supply can show: a serial number of digits is none, nor is a
 * word, a negative number or NaN. Without one the current was not read. */
static void manual_current(void **state)
{
    struct error e = {0};
    double ma = 0;

    assert_done(ask(*state, "KW000101\n-3\nnan\n000101170\n/note x\n12.5\n", 2.4, &ma, &e), &e);
    assert_true(ma == 12.5);
    assert_done(ask(*state, "\n", 2.4, &ma, &e), &e);
    assert_true(isnan(ma));
    assert_false(ask(*state, "/stop\n\n", 2.4, &ma, &e));
    assert_int_equal(e.kind, ERROR_STOPPED);
    e = (struct error){0};
    assert_false(ask(*state, "", 2.4, &ma, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "switch the supply off by hand");
}

/* That the bias is off is said by Enter alone. */
static void manual_off(void **state)
{
    struct error e = {0};
    double none = 0;

    assert_done(ask(*state, "KW000101\n12\n/stop\n\n", 0, &none, &e), &e);
    assert_false(ask(*state, "KW000101\n/stop\n", 0, &none, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "nobody said that the bias is off: switch the supply off by hand");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(lost_without_operator, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(lost_and_found, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(lost_and_skipped, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(stays_on, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(skipped_while_on, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(off_is_not_remembered, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_good, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_after_loss, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_of_the_record, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_bad, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_tells_mixed_traces, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_bad_with_operator, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_scanned, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_by_hand, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(reference_missing, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(manual_current, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(manual_off, tree_make, tree_remove),
    };

    stop_listen();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
