#include "runner/record_compare.h"

#include "runner/check_job.h"
#include "tests/batch_fixture.h"

struct stage {
    struct record_reader reader;
    struct limits by;
    struct record_source rs;
    struct progress progress;
    struct check_job job;
};

/* Judges what counts in the batch, by its own limits or by a file of the tree. */
static void stage_open(struct stage *s, struct tree *tree, const char *by)
{
    struct error e = {0};

    memset(s, 0, sizeof *s);
    assert_done(record_reader_open(&s->reader, record_fixture_folder(tree), &e), &e);
    if (by) assert_done(limits_read(&s->by, tree_path(tree, by), &e), &e);
    assert_done(record_source_open(&s->rs, &s->reader, by ? &s->by : NULL, &e), &e);
    s->job = (struct check_job){.limits = by ? &s->by : s->rs.limits[0],
                                .source = &s->rs.counted,
                                .progress = &s->progress,
                                .jobs = 2};
    assert_done(check_job_run(&s->job, &e), &e);
}

static void stage_close(struct stage *s)
{
    check_job_clear(&s->job);
    record_source_close(&s->rs);
    record_reader_close(&s->reader);
    limits_clear(&s->by);
}

/* The same sweeps by the same limits: the same findings, also when the limits changed. */
static void test_same(void **state)
{
    struct tree *tree = *state;
    struct stage s;
    struct error e = {0};

    batch_fixture_make(tree);
    batch_fixture_change(tree);
    stage_open(&s, tree, NULL);
    assert_done(record_compare(&s.rs, &s.rs.counted, s.job.judgements, &e), &e);
    stage_close(&s);
}

/* Whatever the record says otherwise is an error that names unit and limit. */
static void test_different(void **state)
{
    static const struct {
        const char *sql, *back, *words;
    } forgeries[] = {
        {"UPDATE unit SET verdict = 'PASS' WHERE serial = 'KW2' AND attempt = 1",
         "UPDATE unit SET verdict = 'FAIL' WHERE serial = 'KW2' AND attempt = 1",
         "KW2, attempt 1: recorded is PASS, judged anew it is FAIL"},
        {"UPDATE finding SET outcome = 'pass' WHERE n = 4 AND place = 0",
         "UPDATE finding SET outcome = 'fail' WHERE n = 4 AND place = 0",
         "KW2, attempt 1, limit gain: recorded is pass, judged anew it is fail"},
        {"UPDATE finding SET accepted = 1 WHERE n = 4 AND place = 0",
         "UPDATE finding SET accepted = 0 WHERE n = 4 AND place = 0",
         "KW2, attempt 1, limit gain: recorded is accepted, judged anew it is not accepted"},
        {"UPDATE finding SET value = value + 1e-6 WHERE n = 3 AND place = 0",
         "UPDATE finding SET value = value - 1e-6 WHERE n = 3 AND place = 0",
         "KW3, attempt 1, limit gain: recorded is a value of "},
        {"UPDATE finding SET margin = margin + 1e-6 WHERE n = 3 AND place = 1",
         "UPDATE finding SET margin = margin - 1e-6 WHERE n = 3 AND place = 1",
         "KW3, attempt 1, limit current: recorded is a margin of 10.000001"},
        {"UPDATE finding SET bound = NULL WHERE n = 3 AND place = 1",
         "UPDATE finding SET bound = 40 WHERE n = 3 AND place = 1",
         "KW3, attempt 1, limit current: recorded is a bound of nothing"},
        {"UPDATE finding SET limit_id = 'other' WHERE n = 3 AND place = 1",
         "UPDATE finding SET limit_id = 'current' WHERE n = 3 AND place = 1",
         "KW3, attempt 1, limit current: recorded is other"},
        {"DELETE FROM finding WHERE n = 3 AND place = 1", NULL,
         "KW3, attempt 1: 1 limits are recorded, its limits file has 2"},
    };
    struct tree *tree = *state;

    batch_fixture_make(tree);
    for (size_t i = 0; i < sizeof forgeries / sizeof *forgeries; i++) {
        struct stage s;
        struct error e = {0};

        batch_fixture_forge(tree, forgeries[i].sql);
        stage_open(&s, tree, NULL);
        assert_false(record_compare(&s.rs, &s.rs.counted, s.job.judgements, &e));
        assert_int_equal(e.kind, ERROR_INPUT);
        assert_holds(e.text, forgeries[i].words);
        stage_close(&s);
        if (forgeries[i].back) batch_fixture_forge(tree, forgeries[i].back);
    }
}

/* A last digit of another mathematics library is no difference. */
static void test_last_digit(void **state)
{
    struct tree *tree = *state;
    struct stage s;
    struct error e = {0};

    batch_fixture_make(tree);
    batch_fixture_forge(tree, "UPDATE finding SET value = value * (1 + 1e-15)");
    stage_open(&s, tree, NULL);
    assert_done(record_compare(&s.rs, &s.rs.counted, s.job.judgements, &e), &e);
    stage_close(&s);
}

/* By a gain of 19 dB instead of 18 dB one unit changes; the line names the limit. */
static void test_changes(void **state)
{
    struct tree *tree = *state;
    struct record_changes changes = {0};
    struct stage s;
    struct error e = {0};

    batch_fixture_make(tree);
    stage_open(&s, tree, "new.xml");
    assert_done(record_changes_find(&changes, &s.rs, s.job.judgements, &e), &e);
    assert_int_equal(changes.n_units, 4);
    assert_int_equal(changes.n_changed, 1);
    assert_int_equal(changes.from_to[VERDICT_PASS][VERDICT_FAIL], 1);
    assert_int_equal(changes.from_to[VERDICT_PASS][VERDICT_PASS], 1);
    assert_int_equal(changes.from_to[VERDICT_FAIL][VERDICT_FAIL], 1);
    /* 18 + 1.8012 / 3 - 0.1 dB at the upper end. */
    assert_memory_equal(changes.lines.data, "KW3: PASS -> FAIL: gain: gain 18.50 dB at 170 MHz",
                        49);
    assert_string_equal(strchr(changes.lines.data, '\n'), "\n");
    record_changes_clear(&changes);
    record_changes_clear(&changes);
    stage_close(&s);
}

/* The other way, with what was held against the unit that night. */
static void test_better(void **state)
{
    struct tree *tree = *state;
    struct record_changes changes = {0};
    struct stage s;
    struct error e = {0};

    batch_fixture_make(tree);
    batch_fixture_change(tree);
    stage_open(&s, tree, "limits.xml");
    assert_done(record_changes_find(&changes, &s.rs, s.job.judgements, &e), &e);
    assert_int_equal(changes.n_changed, 1);
    assert_string_equal(changes.lines.data, "KW6: FAIL -> PASS: recorded as not accepted: gain\n");
    record_changes_clear(&changes);
    stage_close(&s);
}

#define with_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_tree(test_same),    with_tree(test_different), with_tree(test_last_digit),
        with_tree(test_changes), with_tree(test_better),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
