#include "drivers/base/digest.h"
#include "drivers/base/file.h"
#include "tests/record_fixture.h"

static void digest_of(const char *words, char out[DIGEST_HEX])
{
    digest_hex(words, strlen(words), out);
}

/* Other limits or another bench are refused, both digests named; a batch without a bench too. */
static void test_change_refused(void **state)
{
    struct tree *tree = *state;
    struct record *record = NULL;
    struct error e = {0};
    char was[DIGEST_HEX], is[DIGEST_HEX];

    record_fixture_batch(tree);
    digest_of(RECORD_LIMITS, was);
    digest_of(RECORD_LIMITS_NEW, is);
    assert_false(record_fixture_try(tree, "new.xml", "bench.xml", NULL, &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, was);
    assert_holds(e.text, is);
    e = (struct error){0};
    digest_of(RECORD_BENCH, was);
    assert_false(record_fixture_try(tree, "limits.xml", NULL, "", &record, &e));
    assert_holds(e.text, was);
    assert_holds(e.text, "this one has none");
    record_fixture_audit(tree, NULL);
}

/* With a reason the change is made and recorded; the earlier file stays, and units name the limits
 * that they were judged by. */
static void test_change_with_reason(void **state)
{
    struct tree *tree = *state;
    struct record *record = NULL;
    struct record_query q = {0};
    struct text path = {0}, bytes = {0};
    struct error e = {0};
    char was[DIGEST_HEX];
    bool row;

    record_fixture_batch(tree);
    digest_of(RECORD_LIMITS, was);
    assert_done(record_fixture_try(tree, "new.xml", NULL, "order 17", &record, &e), &e);
    assert_int_equal(record_fixture_store(record, "KW2", 20), 2);
    assert_done(record_query_open(&q, &record_reader_of(record)->db,
                                  "SELECT reason, bench_sha256, (SELECT count(DISTINCT "
                                  "limits_sha256) FROM unit) FROM batch ORDER BY n DESC",
                                  &e),
                &e);
    assert_done(record_query_step(&q, &row, &e), &e);
    assert_string_equal(record_column_text(&q, 0), "order 17");
    assert_null(record_column_text(&q, 1));
    assert_int_equal(record_column_whole(&q, 2), 2);
    record_query_close(&q);
    assert_done(record_limits_path(record_reader_of(record), was, &path, &e), &e);
    assert_done(file_read(path.data, 1 << 20, &bytes, &e), &e);
    assert_string_equal(bytes.data, RECORD_LIMITS);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    /* ... and back again. */
    assert_done(record_fixture_try(tree, "limits.xml", "bench.xml", "mistaken", &record, &e), &e);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    text_clear(&path);
    text_clear(&bytes);
}

/* A change that was interrupted between the files and the record is taken back. */
static void test_change_interrupted(void **state)
{
    struct tree *tree = *state;
    struct record *record;
    char name[128], was[DIGEST_HEX];

    record_fixture_batch(tree);
    digest_of(RECORD_LIMITS, was);
    (void)snprintf(name, sizeof name, "batch/earlier/limits-%s.xml", was);
    tree_write(tree, name, RECORD_LIMITS);
    tree_write(tree, "batch/limits.xml", RECORD_LIMITS_NEW);
    record_fixture_audit(tree, "limits.xml: altered");
    record = record_fixture_open(tree);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
}

/* Limits or a last entry that were altered stop the batch: who goes on would bury it. */
static void test_altered(void **state)
{
    struct tree *tree = *state;
    struct record *record = NULL;
    struct record_db db = {0};
    struct error e = {0};

    record_fixture_batch(tree);
    tree_write(tree, "batch/limits.xml", RECORD_LIMITS_NEW);
    assert_false(record_fixture_try(tree, "limits.xml", "bench.xml", "why", &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "is not the file that the record names");
    tree_write(tree, "batch/limits.xml", RECORD_LIMITS);
    e = (struct error){0};
    assert_done(record_db_open(&db, tree_path(tree, "batch/batch.sqlite"), RECORD_DB_WRITE, &e),
                &e);
    assert_done(record_db_run(&db, "DROP TRIGGER note_update; UPDATE note SET words = 'x'", &e),
                &e);
    record_db_close(&db);
    assert_false(record_fixture_try(tree, "limits.xml", "bench.xml", NULL, &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "its last entry was altered");
}

/* A program that was killed while it began the batch, at each point: the next one begins it. */
static void test_begin_interrupted(void **state)
{
    struct tree *tree = *state;
    struct record *record;

    record_fixture_files(tree);
    tree_write(tree, "batch/limits.xml", "half");
    record = record_fixture_open(tree);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    assert_int_equal(unlink(tree_path(tree, "batch/limits.xml")), 0);
    record_fixture_audit(tree, "limits.xml: missing");
    assert_int_equal(unlink(tree_path(tree, "batch/batch.sqlite")), 0);
    assert_int_equal(rmdir(tree_path(tree, "batch/sweeps")), 0);
    tree_write(tree, "batch/batch.sqlite", ""); /* made, and nothing in it yet */
    record = record_fixture_open(tree);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
}

/* Sweeps of an attempt that was interrupted go out of the way and are kept; the attempt's number is
 * given again. Several such folders were not left by us and stay where the audit finds them. */
static void test_put_away(void **state)
{
    struct tree *tree = *state;
    struct record *record;

    record_fixture_batch(tree);
    tree_write(tree, "batch/sweeps/KW1/3/low.s2p", "x");
    record = record_fixture_open(tree);
    assert_true(batch_has(record_fixture_folder(tree), "unfinished/1/low.s2p"));
    assert_false(batch_has(record_fixture_folder(tree), "sweeps/KW1/3"));
    assert_int_equal(record_fixture_store(record, "KW1", 20), 3);
    record_fixture_close(record);
    tree_write(tree, "batch/sweeps/KW1/4/low.s2p", "x");
    record = record_fixture_open(tree);
    assert_true(batch_has(record_fixture_folder(tree), "unfinished/2/low.s2p"));
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    tree_write(tree, "batch/sweeps/KW1/5/low.s2p", "x");
    tree_write(tree, "batch/sweeps/KW7/1/low.s2p", "x");
    record = record_fixture_open(tree);
    record_fixture_close(record);
    record_fixture_audit(tree, "sweeps/KW7/1/low.s2p: added");
}

/* Files that cannot be used end it before anything is begun. */
static void test_unusable(void **state)
{
    struct tree *tree = *state;
    struct record *record = NULL;
    struct error e = {0};

    record_fixture_files(tree);
    tree_write(tree, "wrong.xml", "<limits/>");
    assert_false(record_fixture_try(tree, "wrong.xml", NULL, NULL, &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    e = (struct error){0};
    assert_false(record_fixture_try(tree, "absent.xml", NULL, NULL, &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    e = (struct error){0};
    assert_false(record_fixture_try(tree, "limits.xml", "absent.xml", NULL, &record, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    record = record_fixture_open(tree);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_tree(test_change_refused),     in_tree(test_change_with_reason),
        in_tree(test_change_interrupted), in_tree(test_altered),
        in_tree(test_begin_interrupted),  in_tree(test_put_away),
        in_tree(test_unusable),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
