/* Judging batches anew. Also makes batches for tests/cli/test_report_batch.sh: "test_batch_check
 * --make DIR" leaves DIR/batch, "--change DIR" goes on with it by other limits, and "--forge DIR
 * SQL" changes what is recorded. */
#include "runner/batch_check.h"

#include "drivers/base/file.h"
#include "tests/batch_fixture.h"
#include "tests/capture.h"

/* Judges the batch of the tree; the words that were printed are in `c`. */
static bool check(struct tree *tree, struct batch_check o, bool *all_pass, struct capture *c,
                  struct error *e)
{
    bool ok;

    o.folder = record_fixture_folder(tree);
    o.jobs = 2;
    capture_begin(c);
    ok = batch_check_run(&o, all_pass, e);
    capture_end(c);
    return ok;
}

/* By its own limits: what counts, the same verdicts, and nothing in the folder that was not there.
 */
static void test_own_limits(void **state)
{
    struct tree *tree = *state;
    struct capture c;
    struct error e = {0};
    bool all_pass = true;

    batch_fixture_make(tree);
    assert_done(check(tree, (struct batch_check){0}, &all_pass, &c, &e), &e);
    assert_false(all_pass);
    assert_holds(c.words, "Judged anew: 7 attempts, the same verdicts as recorded\n");
    assert_holds(c.words, "4 units: 2 PASS, 1 FAIL, 1 INCOMPLETE; yield 50.0 %");
    assert_false(batch_has(record_fixture_folder(tree), "units.csv"));
    assert_false(batch_has(record_fixture_folder(tree), "units"));
    record_fixture_audit(tree, NULL);
}

/* Every unit PASS, but one was never connected rightly: not every unit is known to pass. */
static void test_all_pass(void **state)
{
    struct tree *tree = *state;
    struct record *record;
    struct capture c;
    struct error e = {0};
    bool all_pass = false;

    record_fixture_files(tree);
    record = record_fixture_open(tree);
    (void)record_fixture_store(record, "KW1", 20);
    record_fixture_close(record);
    assert_done(check(tree, (struct batch_check){0}, &all_pass, &c, &e), &e);
    assert_true(all_pass);
    record = record_fixture_open(tree);
    (void)record_fixture_store(record, "KW2", 10);
    batch_fixture_mark(record, "KW2", 1);
    record_fixture_close(record);
    assert_done(check(tree, (struct batch_check){0}, &all_pass, &c, &e), &e);
    assert_false(all_pass);
    assert_holds(c.words, "1 units: 1 PASS");
}

/* A batch that has begun and holds nothing yet. */
static void test_empty(void **state)
{
    struct tree *tree = *state;
    const struct batch_check o = {.out = tree->top, .with_index = true};
    struct capture c;
    struct error e = {0};
    bool all_pass = true;

    record_fixture_files(tree);
    record_fixture_close(record_fixture_open(tree));
    assert_done(check(tree, o, &all_pass, &c, &e), &e);
    assert_false(all_pass);
    assert_holds(c.words, "no units\n");
    assert_int_equal(access(tree_path(tree, "report.html"), R_OK), 0);
}

/* While somebody works on the batch it is reported as it stands, and the report says so. */
static void test_live(void **state)
{
    struct tree *tree = *state;
    const struct batch_check o = {.out = tree->top, .unit_pages = UNIT_PAGES_NONE};
    struct record *record;
    struct text page = {0};
    struct capture c;
    struct error e = {0};
    bool all_pass;

    batch_fixture_make(tree);
    record = record_fixture_open(tree);
    (void)record_fixture_store(record, "KW9", 20);
    assert_done(check(tree, o, &all_pass, &c, &e), &e);
    assert_holds(c.words, "5 units: 3 PASS");
    assert_done(file_read(tree_path(tree, "report.html"), CEILING_OUTPUT, &page, &e), &e);
    assert_holds(page.data, "another process is working on the batch");
    text_clear(&page);
    /* Its owner goes on undisturbed. */
    assert_int_equal(record_fixture_store(record, "KW9", 20), 2);
    record_fixture_close(record);
}

/* Limits on phase: each attempt against the reference sweeps of its time. Against the first ones
 * KW1 is 20 degrees off, against the second ones it is not. */
static void test_reference(void **state)
{
    static const char limits[] = RECORD_LIMITS_HEAD
        "<phase id=\"p\" bias=\"low\" band=\"w\" min=\"-10 deg\" max=\"10 deg\"/></limits>";
    static const double reference_deg[] = {20, 0};
    struct tree *tree = *state;
    struct record *record;
    struct capture c;
    struct error e = {0};
    bool all_pass = false;

    record_fixture_files(tree);
    tree_write(tree, "limits.xml", limits);
    record = record_fixture_open(tree);
    for (int i = 0; i < 2; i++) {
        struct measurement reference = {0}, m = {0};
        struct judgement judgement = {0};
        const struct record_entry entry = {&m, &judgement, NULL};
        unsigned long attempt;

        record_fixture_measure(&reference, "REF", 20);
        batch_fixture_turn(&reference, reference_deg[i]);
        assert_done(record_store_reference(record, &reference, &e), &e);
        record_fixture_measure(&m, "KW1", 20);
        assert_done(judge(record_limits(record), &m, &reference, &judgement, &e), &e);
        assert_int_equal(judgement.verdict, i == 0 ? VERDICT_FAIL : VERDICT_PASS);
        assert_done(record_store(record, &entry, &attempt, &e), &e);
        judgement_clear(&judgement);
        measurement_clear(&reference);
        measurement_clear(&m);
    }
    record_fixture_close(record);
    assert_done(check(tree, (struct batch_check){0}, &all_pass, &c, &e), &e);
    assert_true(all_pass);
    assert_holds(c.words, "2 attempts, the same verdicts");
}

/* A recorded verdict that does not follow from its sweeps is refused, of a marked attempt too, and
 * the earlier report stays. */
static void test_forged(void **state)
{
    struct tree *tree = *state;
    const struct batch_check o = {.out = tree->top};
    struct capture c;
    struct error e = {0}, e2 = {0};
    bool all_pass = true;

    batch_fixture_make(tree);
    assert_done(check(tree, o, &all_pass, &c, &e), &e);
    assert_int_equal(unlink(tree_path(tree, "units.csv")), 0);
    batch_fixture_forge(tree, "UPDATE unit SET verdict = 'FAIL' WHERE serial = 'KW2'");
    assert_false(check(tree, o, &all_pass, &c, &e2));
    assert_int_equal(e2.kind, ERROR_INPUT);
    assert_holds(e2.text, "KW2, attempt 2: recorded is FAIL, judged anew it is PASS");
    assert_false(all_pass);
    assert_int_not_equal(access(tree_path(tree, "units.csv"), F_OK), 0);
    assert_int_equal(access(tree_path(tree, "units/KW1.html"), R_OK), 0);
}

#define with_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        with_tree(test_own_limits), with_tree(test_all_pass),  with_tree(test_empty),
        with_tree(test_live),       with_tree(test_reference), with_tree(test_forged),
    };
    struct tree tree = {0};

    if (argc < 3) return cmocka_run_group_tests(tests, NULL, NULL);
    (void)snprintf(tree.top, sizeof tree.top, "%s", argv[2]);
    if (strcmp(argv[1], "--make") == 0) batch_fixture_make(&tree);
    if (strcmp(argv[1], "--change") == 0) batch_fixture_change(&tree);
    if (strcmp(argv[1], "--forge") == 0 && argc > 3) batch_fixture_forge(&tree, argv[3]);
    return 0;
}
