#include "runner/record_db.h"

#include "drivers/base/memory.h"
#include "tests/tree.h"

static void open_memory(struct record_db *db)
{
    struct error e = {0};

    assert_done(record_db_open(db, "test", RECORD_DB_MEMORY, &e), &e);
    assert_done(record_db_run(db, "CREATE TABLE t (a INTEGER, b REAL, c TEXT) STRICT", &e), &e);
}

/* Values go in and come out; what is not finite and NULL become NULL, and NaN and NULL again. */
static void test_values(void **state)
{
    static const double reals[] = {1.0 / 3, -0.0, 1e308, NAN, INFINITY};
    struct record_db db = {0};
    struct record_query q = {0};
    struct error e = {0};
    int64_t n = -1;
    bool row;

    (void)state;
    open_memory(&db);
    for (size_t i = 0; i < 5; i++) {
        assert_done(record_query_open(&q, &db, "INSERT INTO t VALUES (?, ?, ?)", &e), &e);
        record_query_whole(&q, (int64_t)i);
        record_query_real(&q, reals[i]);
        record_query_text(&q, i == 3 ? NULL : "x\n'\";--");
        assert_done(record_query_run(&q, &e), &e);
    }
    assert_done(record_query_open(&q, &db, "SELECT * FROM t ORDER BY a", &e), &e);
    for (size_t i = 0; i < 5; i++) {
        char *copy;

        assert_done(record_query_step(&q, &row, &e), &e);
        assert_true(row);
        assert_int_equal(record_column_whole(&q, 0), i);
        if (i < 3)
            assert_true(record_column_real(&q, 1) == reals[i]);
        else
            assert_true(isnan(record_column_real(&q, 1)));
        assert_done(record_column_copy(&q, 2, &copy, &e), &e);
        if (i == 3)
            assert_null(copy);
        else
            assert_string_equal(copy, "x\n'\";--");
        memory_free(copy);
    }
    assert_done(record_query_step(&q, &row, &e), &e);
    assert_false(row);
    record_query_close(&q);
    record_query_close(&q);
    assert_done(record_db_whole(&db, "SELECT a FROM t WHERE a > 9", &n, &e), &e);
    assert_int_equal(n, 0);
    record_db_close(&db);
    record_db_close(&db);
}

/* The canonical form of each kind of value, by docs/record.md: a text carries its length, so that
 * none can look like the lines behind it. */
static void test_canonical_columns(void **state)
{
    struct record_db db = {0};
    struct record_query q = {0};
    struct text out = {0};
    struct error e = {0};
    bool row;

    (void)state;
    open_memory(&db);
    assert_done(record_query_open(&q, &db,
                                  "SELECT 12 AS n, 0.1 AS r, 3.0 AS w, NULL AS m, 'a' || char(10) "
                                  "|| 'b' AS t, '' AS empty",
                                  &e),
                &e);
    assert_done(record_query_step(&q, &row, &e), &e);
    record_columns_add(&q, &out);
    assert_string_equal(out.data, "n integer 12\nr real 0.1\nw real 3\nm null\nt text 3:a\nb\n"
                                  "empty text 0:\n");
    record_query_close(&q);
    text_clear(&out);
    record_db_close(&db);
}

/* The record is opened as the design says: write-ahead log, every commit synced, keys checked. */
static void test_settings(void **state)
{
    static const struct {
        const char *sql;
        int64_t want;
    } settings[] = {
        {"PRAGMA synchronous", 2},
        {"PRAGMA foreign_keys", 1},
        {"PRAGMA recursive_triggers", 1},
        {"SELECT count(*) FROM pragma_journal_mode WHERE journal_mode = 'wal'", 1},
    };
    struct tree *tree = *state;
    struct record_db db = {0};
    struct error e = {0};

    assert_done(record_db_open(&db, tree_path(tree, "a?b#c%d"), RECORD_DB_WRITE, &e), &e);
    for (size_t i = 0; i < sizeof settings / sizeof *settings; i++) {
        int64_t got;

        assert_done(record_db_whole(&db, settings[i].sql, &got, &e), &e);
        assert_int_equal(got, settings[i].want);
    }
    assert_done(record_db_run(&db, "CREATE TABLE t (a)", &e), &e);
    assert_done(record_db_fold(&db, &e), &e);
    record_db_close(&db);
    /* A name that would mean something else in a URI, on a medium that cannot be written. */
    assert_done(record_db_open(&db, tree_path(tree, "a?b#c%d"), RECORD_DB_FROZEN, &e), &e);
    assert_false(record_db_run(&db, "CREATE TABLE u (a)", &e));
    record_db_close(&db);
}

/* What goes wrong is told by kind: whose fault it is, and what can be done. */
static void test_faults(void **state)
{
    struct tree *tree = *state;
    struct record_db db = {0}, other = {0};
    struct error e = {0};

    assert_false(record_db_open(&db, tree_path(tree, "absent/x"), RECORD_DB_WRITE, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    e = (struct error){0};
    tree_write(tree, "letter",
               "Dear Sir, this is no data base, though it is longer than its head "
               "of a hundred bytes would have to be to be looked at.");
    assert_false(record_db_open(&db, tree_path(tree, "letter"), RECORD_DB_WRITE, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    e = (struct error){0};
    assert_done(record_db_open(&db, tree_path(tree, "base"), RECORD_DB_WRITE, &e), &e);
    assert_done(record_db_run(&db, "CREATE TABLE t (a); PRAGMA max_page_count = 3", &e), &e);
    assert_false(record_db_run(&db, "INSERT INTO t VALUES (zeroblob(100000))", &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "the disk is full");
    e = (struct error){0};
    assert_done(record_db_open(&other, tree_path(tree, "base"), RECORD_DB_READ, &e), &e);
    assert_false(record_db_run(&other, "INSERT INTO t VALUES (1)", &e));
    assert_int_equal(e.kind, ERROR_STORE);
    e = (struct error){0};
    assert_false(record_db_run(&db, "SELECT nonsense", &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    record_db_undo(&db); /* with nothing to undo */
    assert_done(record_db_run(&db, "BEGIN; INSERT INTO t VALUES (1)", &(struct error){0}), &e);
    record_db_undo(&db);
    record_db_close(&other);
    record_db_close(&db);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_values),
        cmocka_unit_test(test_canonical_columns),
        in_tree(test_settings),
        in_tree(test_faults),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
