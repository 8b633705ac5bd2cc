#include "runner/record_read.h"

#include <fcntl.h>

#include "tests/record_fixture.h"

/* Every attempt comes by serial number and attempt, with its mark. */
static void test_units(void **state)
{
    static const struct {
        const char *serial;
        unsigned long attempt;
        enum verdict verdict;
        bool marked;
    } want[] = {{"KW1", 1, VERDICT_FAIL, true},
                {"KW1", 2, VERDICT_PASS, false},
                {"KW2", 1, VERDICT_FAIL, false}};
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_units units = {0};
    struct record_unit unit = {0};
    struct record_head head;
    struct error e = {0};
    bool more;

    record_fixture_batch(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_false(r.is_live);
    assert_done(record_head_read(&r, &head, &e), &e);
    assert_int_equal(strlen(head.begun_at_utc), 20);
    assert_done(record_units_begin(&units, &r, &e), &e);
    for (size_t i = 0; i < 3; i++) {
        assert_done(record_units_next(&units, &unit, &more, &e), &e);
        assert_true(more);
        assert_string_equal(unit.serial, want[i].serial);
        assert_int_equal(unit.attempt, want[i].attempt);
        assert_int_equal(unit.verdict, want[i].verdict);
        assert_int_equal(unit.wrongly_connected, want[i].marked);
        assert_string_equal(unit.limits_sha256, head.limits_sha256);
        assert_true((unit.reason == NULL) == (unit.verdict == VERDICT_PASS));
        record_unit_clear(&unit);
    }
    assert_done(record_units_next(&units, &unit, &more, &e), &e);
    assert_false(more);
    record_units_end(&units);
    record_reader_close(&r);
    record_reader_close(&r);
}

/* A batch that is being worked on is read as it stands; its writer is not disturbed. */
static void test_live(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_counts counts;
    struct record *record;
    struct error e = {0};

    record_fixture_batch(tree);
    record = record_fixture_open(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_true(r.is_live);
    (void)record_fixture_store(record, "KW9", 20);
    assert_done(record_count(&r, &counts, &e), &e);
    assert_int_equal(counts.n_units, 2);
    record_reader_close(&r);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_done(record_count(&r, &counts, &e), &e);
    assert_int_equal(counts.n_units, 3);
    record_reader_close(&r);
    record_fixture_close(record);
}

/* A closed batch on a medium that cannot be written is read, and nothing is left on it. Root may
 * write anywhere, so the child of a test run by root becomes somebody else first. */
static void test_frozen(void **state)
{
    struct tree *tree = *state;
    int status = 0;
    pid_t child;

    record_fixture_batch(tree);
    assert_int_equal(chmod(tree_path(tree, "batch/batch.lock"), 0444), 0);
    assert_int_equal(chmod(tree_path(tree, "batch"), 0555), 0);
    assert_int_equal(chmod(tree->top, 0755), 0);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct audit audit = {0};
        struct error e = {0};

        if (getuid() == 0 && setuid(65534) != 0) _exit(2);
        if (!audit_batch(record_fixture_folder(tree), NULL, &audit, &e)) {
            print_error("%s\n", e.text);
            _exit(3);
        }
        _exit(audit.n_faults > 0 || audit.n_entries != 6);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(chmod(tree_path(tree, "batch"), 0755), 0);
    assert_int_equal(status, 0);
    assert_false(batch_has(record_fixture_folder(tree), BATCH_DATABASE "-wal"));
    assert_false(batch_has(record_fixture_folder(tree), BATCH_DATABASE "-shm"));
}

/* Sweeps that are not those that were recorded are never judged again as if they were. */
static void test_altered_sweep(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_units units = {0};
    struct record_unit unit = {0};
    struct measurement m = {0};
    struct text bytes = {0};
    struct error e = {0};
    FILE *file;
    bool more;

    record_fixture_batch(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_done(record_units_begin(&units, &r, &e), &e);
    assert_done(record_units_next(&units, &unit, &more, &e), &e);
    record_units_end(&units);
    file = fopen(tree_path(tree, "batch/sweeps/KW1/1/low.s2p"), "a");
    assert_non_null(file);
    assert_true(fputs("! more\n", file) >= 0);
    assert_int_equal(fclose(file), 0);
    assert_false(record_load(&r, &unit, &bytes, &m, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "sweeps/KW1/1/low.s2p: is not the file that was recorded");
    assert_int_equal(unlink(tree->path), 0);
    e = (struct error){0};
    assert_false(record_load(&r, &unit, &bytes, &m, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    record_unit_clear(&unit);
    record_reader_close(&r);
    measurement_clear(&m);
    text_clear(&bytes);
}

/* No memory at any allocation. */
static void test_no_memory(void **state)
{
    struct tree *tree = *state;
    bool ok = false;
    unsigned long nth;

    record_fixture_batch(tree);
    for (nth = 1; !ok; nth++) {
        struct record_reader r = {0};
        struct record_units units = {0};
        struct record_unit unit = {0};
        struct record_finding *findings = NULL;
        struct measurement m = {0};
        struct text bytes = {0};
        struct error e = {0};
        size_t n;
        bool more;

        assert_true(nth < 500);
        memory_fail_at(nth);
        ok = record_reader_open(&r, record_fixture_folder(tree), &e) &&
             record_units_begin(&units, &r, &e) && record_units_next(&units, &unit, &more, &e) &&
             record_findings(&r, unit.n, &findings, &n, &e) &&
             record_load(&r, &unit, &bytes, &m, &e);
        memory_fail_at(0);
        assert_int_equal(e.kind, ok ? ERROR_NONE : ERROR_MEMORY);
        memory_free(findings);
        record_unit_clear(&unit);
        record_units_end(&units);
        record_reader_close(&r);
        measurement_clear(&m);
        text_clear(&bytes);
    }
    assert_true(nth > 10);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_tree(test_units),         in_tree(test_live),      in_tree(test_frozen),
        in_tree(test_altered_sweep), in_tree(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
