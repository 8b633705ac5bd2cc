#include "drivers/base/stop.h"
#include "tests/session_fixture.h"

static const struct session_bench plain = {0};

/* Every "SERIAL attempt N: VERDICT" that was said stands in the record, and no other. */
static void assert_all_stored(struct session_fixture *f, size_t n)
{
    struct record_counts counts;
    struct error e = {0};
    size_t n_said = 0;

    for (const char *at = f->said; (at = strstr(at, " attempt ")); at++) {
        const char *word = strstr(at, ": ");

        if (word && strncmp(word + 2, "POWERED", 7) != 0) n_said++;
    }
    assert_done(record_count(record_reader_of(f->record), &counts, &e), &e);
    assert_int_equal(n_said, n);
    assert_int_equal(counts.n_attempts, n);
}

/* Three boards from a file: each is measured, stored and told, a failed one with its limit in words
 * and what to do; the record is whole afterwards. */
static void boards(void **state)
{
    struct session_fixture f;

    session_fixture_run(&f, *state, &plain, "KW000101\n\n  KW000109  \nKW000102");
    assert_done(f.ok, &f.e);
    assert_all_stored(&f, 3);
    assert_holds(f.said, "KW000101 attempt 1: PASS\n");
    assert_holds(f.said, "KW000109 attempt 1: FAIL\n  reason: gain-mask: ");
    assert_holds(f.said, "  advice: A curve of the right shape");
    assert_holds(f.said, "yield: 66.7 % of 3 boards: 2 PASS, 1 FAIL, 0 INCOMPLETE\n");
    assert_true(f.bench.is_off && !f.bench.may_be_on);
    session_fixture_close(&f);
    record_fixture_audit(*state, NULL);
}

/* A verdict that could not be stored is shown to nobody, and ends the session: the folder of the
 * sweeps cannot be written to, since it is a file. */
static void not_stored(void **state)
{
    struct session_fixture f;

    session_fixture_open(&f, *state, &plain);
    (void)rmdir(tree_path(*state, "batch/sweeps"));
    tree_write(*state, "batch/sweeps", "in the way");
    session_fixture_pipe(&f, "KW000101\nKW000102\n");
    f.ok = session_run(&f.s, &f.e);
    session_fixture_unpipe(&f);
    assert_false(f.ok);
    assert_int_equal(f.e.kind, ERROR_STORE);
    assert_null(strstr(f.said, "PASS"));
    assert_false(f.s.view.has_verdict);
    assert_true(f.bench.is_off);
    session_fixture_close(&f);
}

/* Commands that need a last board say so before the first one, a slip of the finger does nothing,
 * and /stop ends although more is written behind it. */
static void commands_alone(void **state)
{
    struct session_fixture f;

    session_fixture_run(
        &f, *state, &plain,
        "/retest\n/wrong\n/skip\n/note\n/note a quiet day\n/retst\n/stop\nKW000101\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "note: There is no last board yet: scan its serial number.\n");
    assert_holds(f.said, "note: There is no last board yet: /wrong marks");
    assert_holds(f.said, "note: No board is in question");
    assert_holds(f.said, "note: Write the note behind the command");
    assert_holds(f.said, "note: Noted.\n");
    assert_holds(f.said, "note: \"/retst\" is no command: /retest");
    assert_int_equal(session_fixture_notes(&f, "remark"), 1);
    assert_int_equal(session_fixture_notes(&f, "wrongly-connected"), 0);
    assert_all_stored(&f, 0);
    session_fixture_close(&f);
}

/* A board that was wrongly connected is marked once, leaves the counts, and is tested again without
 * a question; the marked attempt stays in the record. */
static void wrong(void **state)
{
    struct session_fixture f;

    session_fixture_run(&f, *state, &plain, "KW000109\n/wrong output cable\n/wrong\n/retest\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "note: Marked as wrongly connected");
    assert_holds(f.said, "note: KW000109 attempt 1 is marked already.\n");
    assert_holds(f.said, "KW000109 attempt 2: FAIL\n");
    assert_int_equal(session_fixture_notes(&f, "wrongly-connected"), 1);
    assert_int_equal(session_fixture_attempts(&f, "KW000109"), 2);
    assert_int_equal(f.s.view.n_units, 1);
    session_fixture_close(&f);
    record_fixture_audit(*state, NULL);
}

/* A batch that is gone on with knows what it had: counts, attempts, and who was seen before. */
static void goes_on(void **state)
{
    struct session_fixture f;

    session_fixture_run(&f, *state, &plain, "KW000101\n");
    assert_done(f.ok, &f.e);
    session_fixture_close(&f);
    session_fixture_run(&f, *state, &plain, "KW000101\n/skip\nKW000102\n");
    assert_done(f.ok, &f.e);
    assert_holds(f.said, "KW000101 was tested before: PASS at attempt 1.");
    assert_holds(f.said, "of 2 boards");
    assert_int_equal(session_fixture_attempts(&f, "KW000101"), 1);
    session_fixture_close(&f);
}

/* On a terminal: the verdict in large letters, the counts, a note, and a hang-up or Ctrl-D as the
 * end. The bench is off whenever a serial number is wanted. */
static void terminal(void **state)
{
    struct session_fixture f;

    session_fixture_sit(&f, *state, &plain);
    session_fixture_type(&f, "NEXT: Scan or type the next serial number.", "KW000101\r");
    session_fixture_wait(&f, "PASS: last board KW000101, attempt 1");
    session_fixture_type(&f, "Yield 100.0 % of 1 boards", "/note fan off\r");
    session_fixture_type(&f, "Note: Noted.", "KW000109\r");
    session_fixture_wait(&f, "FAIL: last board KW000109, attempt 1");
    session_fixture_wait(&f, "Reason: gain-mask: gain 15.8");
    session_fixture_type(&f, "NEXT: Scan", "\004");
    session_fixture_leave(&f);
    assert_done(f.ok, &f.e);
    assert_true(f.bench.is_off);
    assert_int_equal(session_fixture_notes(&f, "remark"), 1);
    session_fixture_close(&f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(boards, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(not_stored, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(commands_alone, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(wrong, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(goes_on, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(terminal, tree_make, tree_remove),
    };

    stop_listen();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
