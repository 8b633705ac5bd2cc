#include "runner/record_chain.h"

#include "drivers/base/file.h"
#include "tests/record_fixture.h"

/* The canonical text of an entry, written out by docs/record.md by hand, and its digest: another
 * program that reads the page can prove the chain. */
static void test_by_hand(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_query q = {0};
    struct text canonical = {0};
    struct error e = {0};
    char want[1024], digest[DIGEST_HEX];
    bool row;

    record_fixture_batch(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_done(record_query_open(&q, &r.db,
                                  "SELECT before, sha256, (SELECT at_utc FROM note WHERE n = 5), "
                                  "(SELECT sha256 FROM chain WHERE n = 4) FROM chain WHERE n = 5",
                                  &e),
                &e);
    assert_done(record_query_step(&q, &row, &e), &e);
    assert_string_equal(record_column_text(&q, 0), record_column_text(&q, 3));
    (void)snprintf(want, sizeof want,
                   "gainsieve record 1\nentry 5 note\nbefore %s\ntable note\nn integer 5\nkind "
                   "text 17:wrongly-connected\nserial text 3:KW1\nattempt integer 1\nat_utc text "
                   "20:%s\noperator text 5:N. N.\nwords text 9:cable off\n",
                   record_column_text(&q, 0), record_column_text(&q, 2));
    assert_done(record_chain_text(&r.db, 5, "note", record_column_text(&q, 0), &canonical, &e), &e);
    assert_string_equal(canonical.data, want);
    digest_hex(want, strlen(want), digest);
    assert_string_equal(record_column_text(&q, 1), digest);
    record_query_close(&q);
    text_clear(&canonical);
    record_reader_close(&r);
}

/* An empty record ends before its first entry, and entries stand at the end only. */
static void test_end(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_db empty = {0};
    struct chain_link end = {.n = 7};
    struct error e = {0};

    assert_done(record_db_open(&empty, "empty", RECORD_DB_MEMORY, &e), &e);
    assert_done(record_db_run(&empty, "CREATE TABLE chain (n, sha256)", &e), &e);
    assert_done(record_chain_end(&empty, &end, &e), &e);
    assert_int_equal(end.n, 0);
    assert_int_equal(strspn(end.sha256, "0"), 64);
    record_db_close(&empty);
    record_fixture_batch(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_done(record_chain_end(&r.db, &end, &e), &e);
    assert_int_equal(end.n, 6);
    end.n = 4;
    assert_false(record_chain_add(&r.db, &end, "note", &e));
    record_reader_close(&r);
    assert_string_equal(record_chain_table(0), "batch");
    assert_null(record_chain_table(6));
}

/* Every table of the schema that holds rows is part of the canonical text: a new one would be
 * altered without a trace. */
static void test_all_tables(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_query q = {0};
    struct error e = {0};
    size_t n = 0;
    bool row;

    record_fixture_batch(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_done(record_query_open(&q, &r.db,
                                  "SELECT name FROM sqlite_schema WHERE type = 'table' AND name <> "
                                  "'chain'",
                                  &e),
                &e);
    while (record_query_step(&q, &row, &e) && row) {
        bool known = false;

        for (size_t i = 0; record_chain_table(i); i++)
            known = known || strcmp(record_chain_table(i), record_column_text(&q, 0)) == 0;
        assert_true(known);
        n++;
    }
    assert_int_equal(n, 6);
    record_query_close(&q);
    record_reader_close(&r);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_tree(test_by_hand),
        in_tree(test_end),
        in_tree(test_all_tables),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
