#include "runner/audit.h"

#include <fcntl.h>
#include <time.h>

#include "drivers/base/embedded.h"
#include "tests/record_fixture.h"

extern const struct embedded record_schema_sql;

/* Runs statements on the record as a forger would, with the triggers off when `free_hand`. */
static void forge(struct tree *tree, bool free_hand, const char *sql)
{
    struct record_db db = {0};
    struct error e = {0};

    assert_done(record_db_open(&db, tree_path(tree, "batch/batch.sqlite"), RECORD_DB_WRITE, &e),
                &e);
    if (free_hand) {
        struct record_query q = {0};
        char drop[4096] = "PRAGMA foreign_keys = OFF;";
        bool row;

        assert_done(record_query_open(&q, &db,
                                      "SELECT name FROM sqlite_schema WHERE type = "
                                      "'trigger'",
                                      &e),
                    &e);
        while (record_query_step(&q, &row, &e) && row)
            (void)snprintf(drop + strlen(drop), sizeof drop - strlen(drop), "DROP TRIGGER %s;",
                           record_column_text(&q, 0));
        record_query_close(&q);
        assert_done(record_db_run(&db, drop, &e), &e);
    }
    assert_done(record_db_run(&db, sql, &e), &e);
    record_db_close(&db);
}

/* A whole batch has no fault, and the audit says what it looked at. */
static void test_whole(void **state)
{
    struct tree *tree = *state;
    struct audit audit = {0};
    struct error e = {0};

    record_fixture_batch(tree);
    assert_done(audit_batch(record_fixture_folder(tree), NULL, &audit, &e), &e);
    assert_int_equal(audit.n_faults, 0);
    assert_int_equal(audit.n_entries, 6);
    assert_int_equal(audit.n_attempts, 3);
    assert_int_equal(audit.n_sweeps, 6);
    assert_int_equal(audit.end.n, 6);
    assert_string_equal(text_words(&audit.remarks), "");
    audit_clear(&audit);
}

/* Every kind of change to rows, each with the place that must be named. */
static void test_forged_rows(void **state)
{
    static const struct {
        const char *sql, *where;
    } forgeries[] = {
        {"UPDATE unit SET verdict = 'PASS' WHERE serial = 'KW2'", "(unit KW2, attempt 1): altered"},
        {"UPDATE unit SET serial = 'KW3' WHERE serial = 'KW2'", "(unit KW3, attempt 1): altered"},
        {"UPDATE unit SET operator = NULL WHERE n = 2", "entry 2 (unit KW1, attempt 1): altered"},
        {"UPDATE finding SET value = value + 1e-12 WHERE n = 3 AND place = 0", "entry 3"},
        {"UPDATE finding SET accepted = 1 WHERE n = 4", "entry 4"},
        {"UPDATE finding SET place = place + 7 WHERE n = 4", "entry 4"},
        {"DELETE FROM finding WHERE n = 4 AND place = 1", "entry 4"},
        {"INSERT INTO finding SELECT n, 9, limit_id, quantity, outcome, accepted, value, bound, "
         "margin, unit, frequency_hz, bias_v, conformance_probability, reason FROM finding WHERE n "
         "= 4 AND place = 0",
         "entry 4"},
        {"UPDATE sweep SET bias_v = 1.8 WHERE n = 4 AND place = 0", "entry 4"},
        {"UPDATE sweep SET sha256 = (SELECT sha256 FROM sweep WHERE n = 3 AND place = 1) WHERE n = "
         "4 AND place = 1",
         "high.s2p: altered"},
        {"UPDATE note SET words = 'x' WHERE n = 5", "entry 5"},
        {"UPDATE batch SET limits_sha256 = '"
         "0000000000000000000000000000000000000000000000000000000000000000'",
         "entry 1"},
        {"DELETE FROM unit WHERE n = 4", "entry 4"},
        {"DELETE FROM chain WHERE n = 6", "1 rows of entry 6, which is not in the chain"},
        {"DELETE FROM chain WHERE n = 4; DELETE FROM unit WHERE n = 4; DELETE FROM finding WHERE n "
         "= 4; DELETE FROM sweep WHERE n = 4",
         "entries 4 to 4 are missing"},
        {"UPDATE chain SET sha256 = '"
         "0000000000000000000000000000000000000000000000000000000000000000' WHERE n = 3",
         "entry 3 (unit KW1, attempt 2): altered"},
        {"UPDATE chain SET before = sha256 WHERE n = 3", "does not follow the entry before it"},
        {"UPDATE chain SET kind = 'note' WHERE n = 3", "entry 3"},
        {"INSERT INTO note VALUES (99, 'remark', NULL, NULL, '', NULL, '')", "entry 99"},
        {"CREATE TABLE extra (a)", "table extra: added"},
        {"CREATE VIEW v AS SELECT 1", "view v: added"},
        {"DROP INDEX note_serial", "index note_serial: missing"},
        {"SELECT 1", "trigger unit_update: missing"},
        {"PRAGMA user_version = 2", "no batch record of version 1"},
    };

    for (size_t i = 0; i < sizeof forgeries / sizeof *forgeries; i++) {
        assert_int_equal(tree_make(state), 0);
        record_fixture_batch(*state);
        forge(*state, true, forgeries[i].sql);
        record_fixture_audit(*state, forgeries[i].where);
        assert_int_equal(tree_remove(state), 0);
    }
}

/* With the triggers in place SQLite itself refuses every change and every late row. */
static void test_triggers(void **state)
{
    static const char *const refused[] = {
        "UPDATE unit SET verdict = 'PASS'",
        "DELETE FROM unit",
        "UPDATE finding SET accepted = 1",
        "DELETE FROM finding",
        "UPDATE sweep SET missing = NULL",
        "DELETE FROM sweep",
        "UPDATE note SET words = ''",
        "DELETE FROM note",
        "UPDATE batch SET reason = ''",
        "DELETE FROM batch",
        "UPDATE chain SET kind = 'note'",
        "DELETE FROM chain",
        "UPDATE reference SET serial = 'x'",
        "DELETE FROM reference",
        "INSERT OR REPLACE INTO note VALUES (6, 'remark', NULL, NULL, '', NULL, '')",
        "INSERT OR REPLACE INTO unit SELECT 99, serial, attempt, at_utc, operator, 'PASS', reason, "
        "instruments, limits_sha256, bench_sha256 FROM unit WHERE n = 4",
        "INSERT OR REPLACE INTO chain SELECT n, 'note', before, sha256 FROM chain WHERE n = 4",
        "INSERT INTO chain SELECT 9, kind, before, sha256 FROM chain WHERE n = 4",
        "INSERT INTO note VALUES (99, 'remark', NULL, NULL, '', NULL, '')",
        "INSERT INTO finding SELECT n, 9, limit_id, quantity, outcome, accepted, value, bound, "
        "margin, unit, frequency_hz, bias_v, conformance_probability, reason FROM finding WHERE "
        "place = 0",
    };
    struct tree *tree = *state;
    struct record_db db = {0};
    struct error open_error = {0};

    record_fixture_batch(tree);
    assert_done(
        record_db_open(&db, tree_path(tree, "batch/batch.sqlite"), RECORD_DB_WRITE, &open_error),
        &open_error);
    for (size_t i = 0; i < sizeof refused / sizeof *refused; i++) {
        struct error e = {0};
        bool done;

        /* An empty table has nothing to change: give the reference a row first. */
        assert_done(
            record_db_run(&db, "BEGIN; INSERT INTO reference VALUES (7, 'R', '', NULL)", &e), &e);
        done = record_db_run(&db, refused[i], &e);
        if (done) done = record_db_run(&db, "COMMIT", &e);
        if (done) print_error("done: %s\n", refused[i]);
        assert_false(done);
        record_db_undo(&db);
    }
    record_db_close(&db);
    record_fixture_audit(tree, NULL);
}

/* The whole record as words: all rows of all tables. */
static void dump(struct tree *tree, struct text *out)
{
    static const char *const tables[] = {"chain",     "batch", "unit", "finding",
                                         "reference", "sweep", "note", "sqlite_schema"};
    struct record_db db = {0};
    struct error e = {0};

    text_reset(out);
    if (!record_db_open(&db, tree_path(tree, "batch/batch.sqlite"), RECORD_DB_FROZEN, &e)) return;
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        struct record_query q = {0};
        char sql[64];
        bool row = false;

        e = (struct error){0};
        (void)snprintf(sql, sizeof sql, "SELECT * FROM %s ORDER BY 1, 2", tables[i]);
        if (record_query_open(&q, &db, sql, &e))
            while (record_query_step(&q, &row, &e) && row)
                record_columns_add(&q, out);
        if (e.kind != ERROR_NONE) text_add(out, "damaged\n");
        record_query_close(&q);
    }
    record_db_close(&db);
}

/* Single bytes of the data base turned over at random: the audit finds each, or it changed no row
 * (SQLite's pages have unused room and hints, which hold no part of the record). */
static void test_flipped_bytes(void **state)
{
    struct tree *tree = *state;
    struct text before = {0}, after = {0};
    unsigned seed = (unsigned)time(NULL);
    unsigned n_found = 0;
    off_t length;
    int fd;

    print_message("flipped bytes: seed %u\n", seed);
    record_fixture_batch(tree);
    dump(tree, &before);
    fd = open(tree_path(tree, "batch/batch.sqlite"), O_RDWR | O_CLOEXEC);
    assert_true(fd >= 0);
    length = lseek(fd, 0, SEEK_END);
    for (unsigned i = 0; i < 150; i++) {
        const off_t at = (off_t)(((unsigned long)rand_r(&seed) << 8 ^ (unsigned)rand_r(&seed)) %
                                 (unsigned long)length);
        struct audit audit = {0};
        struct error e = {0};
        unsigned char byte, turned;

        assert_int_equal(pread(fd, &byte, 1, at), 1);
        turned = byte ^ (unsigned char)(1U << rand_r(&seed) % 8);
        assert_int_equal(pwrite(fd, &turned, 1, at), 1);
        assert_done(audit_batch(record_fixture_folder(tree), NULL, &audit, &e), &e);
        if (audit.n_faults == 0) {
            dump(tree, &after);
            if (strcmp(before.data, text_words(&after)) != 0)
                print_error("byte %ld was altered, and no word of it\n", (long)at);
            assert_string_equal(before.data, text_words(&after));
        } else {
            n_found++;
        }
        audit_clear(&audit);
        assert_int_equal(pwrite(fd, &byte, 1, at), 1);
    }
    (void)close(fd);
    print_message("flipped bytes: %u of 150 found, the others lie in unused room\n", n_found);
    assert_true(n_found > 10);
    record_fixture_audit(tree, NULL);
    text_clear(&before);
    text_clear(&after);
}

/* A forger who removes the end, or writes all anew with right digests, is found by the digest that
 * an earlier audit gave, and by nothing else. */
static void test_known_digest(void **state)
{
    struct tree *tree = *state;
    struct audit audit = {0}, later = {0};
    struct record *record;
    struct error e = {0};

    record_fixture_batch(tree);
    assert_done(audit_batch(record_fixture_folder(tree), NULL, &audit, &e), &e);
    record = record_fixture_open(tree);
    (void)record_fixture_store(record, "KW3", 20);
    record_fixture_close(record);
    assert_done(audit_batch(record_fixture_folder(tree), audit.end.sha256, &later, &e), &e);
    assert_int_equal(later.n_faults, 0);
    audit_clear(&later);
    audit.end.sha256[0] = audit.end.sha256[0] == '0' ? '1' : '0';
    assert_done(audit_batch(record_fixture_folder(tree), audit.end.sha256, &later, &e), &e);
    assert_int_equal(later.n_faults, 1);
    assert_holds(later.faults.data, "no entry has the digest");
    audit_clear(&later);
    audit_clear(&audit);
}

/* No batch is an input error; a data base that is none is a fault of the batch. */
static void test_no_batch(void **state)
{
    struct tree *tree = *state;
    struct audit audit = {0};
    struct error e = {0};

    assert_false(audit_batch(tree->top, NULL, &audit, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "is no batch");
    audit_clear(&audit);
    record_fixture_batch(tree);
    tree_write(tree, "batch/batch.sqlite", "overwritten, and that is all that is left of it");
    record_fixture_audit(tree, "batch.sqlite");
    assert_int_equal(truncate(tree_path(tree, "batch/batch.sqlite"), 0), 0);
    record_fixture_audit(tree, "batch.sqlite");
}

/* Audits a batch that must count as interrupted while it was made. */
static void assert_unborn(struct tree *tree)
{
    struct audit audit = {0};
    struct error e = {0};

    assert_done(audit_batch(record_fixture_folder(tree), NULL, &audit, &e), &e);
    if (audit.n_faults > 0) print_error("%s", text_words(&audit.faults));
    assert_int_equal(audit.n_faults, 0);
    assert_true(audit.is_unborn);
    assert_holds(text_words(&audit.remarks), "interrupted while it was made");
    audit_clear(&audit);
}

/* An interruption while the batch is made leaves no entry: no fault, as long as there is nothing
 * that only a batch at work makes, and nobody knows of an entry. */
static void test_unborn(void **state)
{
    static const char digest[] = "0123456789012345678901234567890123456789012345678901234567890123";
    struct tree *tree = *state;
    struct record_db db = {0};
    struct audit audit = {0};
    struct error e = {0};

    tree_write(tree, "batch/batch.sqlite", "");
    assert_unborn(tree);
    tree_write(tree, "batch/limits.xml", "<limits/>");
    tree_write(tree, "batch/bench.xml.4711.part", "<ben");
    assert_done(record_db_open(&db, tree_path(tree, "batch/batch.sqlite"), RECORD_DB_WRITE, &e),
                &e);
    assert_done(record_db_run(&db, record_schema_sql.bytes, &e), &e);
    record_db_close(&db);
    assert_unborn(tree);
    assert_done(audit_batch(record_fixture_folder(tree), digest, &audit, &e), &e);
    assert_holds(text_words(&audit.faults), "holds no entry");
    audit_clear(&audit);
    tree_write(tree, "batch/sweeps/KW1/1/low.s2p", TREE_SWEEP);
    record_fixture_audit(tree, "holds no entry");
}

/* Out of memory is an error and never "whole". */
static void test_no_memory(void **state)
{
    struct tree *tree = *state;
    bool ok = false;
    unsigned long nth;

    record_fixture_batch(tree);
    for (nth = 1; !ok; nth++) {
        struct audit audit = {0};
        struct error e = {0};

        assert_true(nth < 2000);
        memory_fail_at(nth);
        ok = audit_batch(record_fixture_folder(tree), NULL, &audit, &e);
        memory_fail_at(0);
        assert_int_equal(e.kind, ok ? ERROR_NONE : ERROR_MEMORY);
        if (ok) assert_int_equal(audit.n_faults, 0);
        audit_clear(&audit);
    }
    assert_true(nth > 20);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_tree(test_whole),        cmocka_unit_test(test_forged_rows),
        in_tree(test_triggers),     in_tree(test_flipped_bytes),
        in_tree(test_known_digest), in_tree(test_no_batch),
        in_tree(test_unborn),       in_tree(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
