/* One board: the questions before it, and what happens behind its verdict. */
#include "drivers/base/stop.h"
#include "tests/session_fixture.h"

static const struct session_bench plain = {0}, by_hand = {.by_hand = true};

/* Limits that no board of the model keeps, all with one id. */
#define STRICT \
    RECORD_LIMITS_HEAD "<gain id=\"gain\" bias=\"all\" band=\"w\" min=\"60 dB\"/></limits>"

/* What is no serial number is not tested, and the operator is told which line and why. */
static void bad_serial(void **state)
{
    char lines[256];
    struct session_fixture f;

    (void)snprintf(lines, sizeof lines, "KW1\nkw000101\n=KW000101\n%0*d\nKW000101\n",
                   (int)CEILING_SERIAL + 1, 0);
    session_fixture_run(&f, *state, &plain, lines);
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "note: \"KW1\": ");
    assert_holds(f.said, "note: \"kw000101\": ");
    assert_holds(f.said, "note: \"=KW000101\": ");
    assert_holds(f.said, "too long for a serial number");
    assert_int_equal(f.s.view.n_units, 1);
    session_fixture_close(&f);
}

/* A board that was tested before is tested again only by /retest; /skip and another board leave it;
 * its own number, Enter, a note or a slip of the finger decide nothing. */
static void question(void **state)
{
    struct session_fixture f;

    session_fixture_run(&f, *state, &plain,
                        "KW000101\nKW000101\n\nKW000101\n/note here\n/retets\n/skip\n"
                        "KW000101\nKW000102\n"
                        "KW000102\n/retest\n"
                        "KW000102\n/stop\nKW000103\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "KW000101 was tested before: PASS at attempt 1.");
    assert_holds(f.said, "note: \"/note here\" is no answer here");
    assert_holds(f.said, "note: \"/retets\" is no answer here");
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 1);
    assert_int_equal(session_fixture_attempts(&f, "KW000102"), 2);
    assert_int_equal(session_fixture_attempts(&f, "KW000103"), 0);
    session_fixture_close(&f);
}

/* No board is tested until it passes: after so many attempts nobody is asked any more, and /retest
 * gets no further either. Marked attempts count, since the board was powered. */
static void attempts(void **state)
{
    const struct session_bench two = {.rest = "<attempts most=\"2\"/>\n"};
    struct session_fixture f;

    session_fixture_run(&f, *state, &two,
                        "KW000109\n/wrong\n/retest\n/retest\nKW000109\nKW000101\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "KW000109 has had 2 attempts, as many as the bench file allows");
    assert_int_equal(session_fixture_attempts(&f, "KW000109"), 2);
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 1);
    session_fixture_close(&f);
}

/* Each board of a bench without a fixture is asked for: Enter or its own number goes on, /skip is
 * recorded, another number takes its place and says so. */
static void connecting(void **state)
{
    struct session_fixture f;

    session_fixture_run(&f, *state, &by_hand,
                        "KW000101\n\nKW000102\n/skip torn\nKW000103\nKW000104\nKW000104\n"
                        "KW000105\n/wrong\n/stop\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "answer: The bench is off. Connect KW000101: output to its load first");
    assert_holds(f.said, "note: KW000102 was left out; the record says so.");
    assert_holds(f.said, "note: KW000103 was not tested.");
    assert_holds(f.said, "note: \"/wrong\" is no answer here");
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 1);
    assert_int_equal(session_fixture_attempts(&f, "KW000103"), 0);
    assert_int_equal(session_fixture_attempts(&f, "KW000104"), 1);
    assert_int_equal(session_fixture_notes(&f, "skipped"), 1);
    assert_int_equal(session_fixture_notes(&f, "wrongly-connected"), 0);
    session_fixture_close(&f);
}

/* A label that is read twice in a moment does not say that the board is connected: it is not
 * powered in somebody's hands. */
static void scanned_twice(void **state)
{
    struct session_fixture f;

    session_fixture_sit(&f, *state, &by_hand);
    session_fixture_type(&f, "NEXT: Scan", "KW000101\r");
    session_fixture_type(&f, "ANSWER: The bench is off. Connect KW000101", "KW000101\r");
    session_fixture_wait(&f, "Note: Scanned twice: connect the board first.");
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 0);
    session_fixture_type(&f, "ANSWER: The bench is off. Connect KW000101", "\r");
    session_fixture_wait(&f, "PASS: last board KW000101, attempt 1");
    session_fixture_type(&f, "NEXT: The bench is off. Disconnect the board", "/stop\r");
    session_fixture_leave(&f);
    assert_done(f.ok, &f.e);
    session_fixture_close(&f);
}

/* Boards in a row that fail one limit stop the batch; an empty line says that somebody looked. */
static void streak(void **state)
{
    const struct session_bench bench = {.limits = STRICT};
    struct session_fixture f;

    session_fixture_run(&f, *state, &bench, "KW000101\nKW000102\nKW000103\n\nKW000104\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "HALT: 3 boards in a row failed \"gain\": prove the bench first.");
    assert_int_equal(session_fixture_notes(&f, "bench"), 1);
    assert_int_equal(session_fixture_attempts(&f, "KW000104"), 1);
    session_fixture_close(&f);
}

/* A serial number in a file is no such answer, and is not thrown away without a word either. */
static void streak_of_lines(void **state)
{
    const struct session_bench bench = {.limits = STRICT};
    struct session_fixture f;

    session_fixture_run(&f, *state, &bench, "KW000101\nKW000102\nKW000103\nKW000104\nKW000105\n");
    assert_false(f.ok);
    assert_int_equal(f.e.kind, ERROR_BENCH);
    assert_holds(f.e.text, "\"KW000104\" came where a question wants an answer: 3 boards in a row");
    assert_int_equal(session_fixture_attempts(&f, "KW000103"), 1);
    assert_int_equal(session_fixture_attempts(&f, "KW000104"), 0);
    assert_int_equal(session_fixture_attempts(&f, "KW000105"), 0);
    session_fixture_close(&f);
}

/* One board that is tested three times is one board: it says nothing about the bench. */
static void streak_of_one(void **state)
{
    const struct session_bench bench = {.limits = STRICT};
    struct session_fixture f;

    session_fixture_run(&f, *state, &bench, "KW000101\n/retest\n/retest\nKW000102\n");
    assert_done(f.ok, &f.e);
    assert_null(strstr(f.said, "HALT"));
    assert_int_equal(f.s.streak.row[0], 2);
    session_fixture_close(&f);
}

/* A board that draws too much is switched off and has a verdict that is not PASS; the operator
 * hears what became of the power. */
static void refused(void **state)
{
    const struct session_bench bench = {.analyser = "?fault=supply.over-current=20@MEAS:CURR?#4"};
    struct session_fixture f;

    session_fixture_run(&f, *state, &bench, "KW000101\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "note: The board was switched off: it drew too much");
    assert_null(strstr(f.said, ": PASS"));
    assert_true(f.bench.is_off);
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 1);
    session_fixture_close(&f);
    record_fixture_audit(*state, NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(bad_serial, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(question, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(attempts, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(connecting, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(scanned_twice, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(streak, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(streak_of_lines, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(streak_of_one, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(refused, tree_make, tree_remove),
    };

    stop_listen();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
