#include "runner/record_source.h"

#include "tests/batch_fixture.h"

static void open_source(struct tree *tree, struct record_reader *r, struct record_source *rs)
{
    struct error e = {0};

    assert_done(record_reader_open(r, record_fixture_folder(tree), &e), &e);
    assert_done(record_source_open(rs, r, NULL, &e), &e);
}

/* What counts and what was marked are two lists in the record's order; circumstances are those of
 * the record. */
static void test_lists(void **state)
{
    static const struct {
        const char *serial;
        unsigned long attempt;
    } want[] = {{"KW1", 1}, {"KW1", 2}, {"KW2", 1}, {"KW3", 1}, {"KW5", 1}};
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_source rs;

    batch_fixture_make(tree);
    open_source(tree, &r, &rs);
    assert_int_equal(rs.n_kept, 7);
    assert_int_equal(rs.counted.n_attempts, 5);
    for (size_t i = 0; i < 5; i++) {
        const struct source_attempt *attempt = &rs.counted.attempts[i];

        assert_string_equal(attempt->serial, want[i].serial);
        assert_int_equal(attempt->attempt, want[i].attempt);
        assert_ptr_equal(attempt->limits, rs.limits[0]);
        assert_null(attempt->reference);
        assert_int_equal(strlen(attempt->circumstances.measured_at), 20);
        assert_string_equal(attempt->circumstances.operator_name, "N. N.");
        assert_memory_equal(attempt->circumstances.bench, "bench.xml ", 10);
        assert_int_equal(strlen(attempt->circumstances.bench), 22);
    }
    assert_int_equal(rs.marked.n_attempts, 2);
    assert_string_equal(rs.marked.attempts[0].serial, "KW2");
    assert_int_equal(rs.marked.attempts[0].attempt, 2);
    assert_string_equal(rs.marked.attempts[1].serial, "KW4");
    assert_true(record_source_unit(&rs, &rs.marked, 0)->verdict == VERDICT_PASS);
    record_source_close(&rs);
    record_source_close(&rs);
    record_reader_close(&r);
}

/* Each attempt has the limits of its night, unless others are named. */
static void test_limits(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_source rs;
    struct limits by = {0};
    struct error e = {0};

    batch_fixture_make(tree);
    batch_fixture_change(tree);
    open_source(tree, &r, &rs);
    assert_int_equal(rs.n_limits, 2);
    assert_ptr_equal(rs.counted.attempts[0].limits, rs.limits[1]);
    assert_close(rs.limits[1]->limits[0].lower.value[0], 18, 1e-12);
    assert_ptr_equal(rs.counted.attempts[6].limits, rs.limits[0]);
    assert_close(rs.limits[0]->limits[0].lower.value[0], 19, 1e-12);
    record_source_close(&rs);
    assert_done(limits_read(&by, tree_path(tree, "new.xml"), &e), &e);
    assert_done(record_source_open(&rs, &r, &by, &e), &e);
    for (size_t i = 0; i < rs.counted.n_attempts; i++)
        assert_ptr_equal(rs.counted.attempts[i].limits, &by);
    record_source_close(&rs);
    limits_clear(&by);
    record_reader_close(&r);
}

/* Limits that are not those of the record prove nothing. */
static void test_other_limits(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_source rs;
    struct error e = {0};

    batch_fixture_make(tree);
    tree_write(tree, "batch/limits.xml", RECORD_LIMITS_NEW);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_false(record_source_open(&rs, &r, NULL, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "batch/limits.xml: is missing or not the file that was recorded");
    record_reader_close(&r);
}

/* Another process changes the limits while the batch is read: the earlier ones are found. */
static void test_live_change(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record *record;
    struct record_source rs;
    struct error e = {0}, closing = {0};

    batch_fixture_make(tree);
    record = record_fixture_open(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    /* The log cannot be folded in while somebody reads, which loses nothing. */
    if (!record_close(record, &closing)) assert_int_equal(closing.kind, ERROR_STORE);
    record = NULL;
    assert_done(record_fixture_try(tree, "new.xml", "bench.xml", "tighter", &record, &e), &e);
    (void)record_fixture_store(record, "KW6", 18);
    assert_done(record_source_open(&rs, &r, NULL, &e), &e);
    assert_int_equal(rs.counted.n_attempts, 5);
    assert_close(rs.limits[0]->limits[0].lower.value[0], 18, 1e-12);
    record_source_close(&rs);
    record_reader_close(&r);
    record_fixture_close(record);
}

/* Each attempt compares with the reference sweeps that held when it was judged, with none before
 * there were any. */
static void test_references(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_source rs;
    struct record *record;
    struct measurement m = {0};
    struct error e = {0};
    double complex s;

    record_fixture_files(tree);
    record = record_fixture_open(tree);
    (void)record_fixture_store(record, "KW1", 20);
    record_fixture_measure(&m, "REF", 20);
    batch_fixture_turn(&m, 20);
    assert_done(record_store_reference(record, &m, &e), &e);
    (void)record_fixture_store(record, "KW2", 20);
    (void)record_fixture_store(record, "KW3", 20);
    batch_fixture_turn(&m, 30);
    assert_done(record_store_reference(record, &m, &e), &e);
    (void)record_fixture_store(record, "KW4", 20);
    record_fixture_close(record);
    measurement_clear(&m);
    open_source(tree, &r, &rs);
    assert_null(rs.counted.attempts[0].reference);
    assert_int_equal(rs.n_references, 2);
    assert_ptr_equal(rs.counted.attempts[1].reference, rs.counted.attempts[2].reference);
    s = rs.counted.attempts[1].reference->biases[0].sweep.s[S21];
    assert_close(carg(s) * 180 / M_PI, 20, 1e-9);
    s = rs.counted.attempts[3].reference->biases[0].sweep.s[S21];
    assert_close(carg(s) * 180 / M_PI, 50, 1e-9);
    record_source_close(&rs);
    record_reader_close(&r);
}

/* Memory may end at any place. */
static void test_out_of_memory(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_source rs;
    struct error e = {0};
    bool ok = false;

    batch_fixture_make(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    for (unsigned long n = 1; !ok; n++) {
        struct error inner = {0};

        memory_fail_at(n);
        ok = record_source_open(&rs, &r, NULL, &inner);
        memory_fail_at(0);
        if (!ok) assert_int_equal(inner.kind, ERROR_MEMORY);
        assert_in_range(n, 1, 2000);
    }
    record_source_close(&rs);
    record_reader_close(&r);
}

#define with_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_tree(test_lists),       with_tree(test_limits),     with_tree(test_other_limits),
        with_tree(test_live_change), with_tree(test_references), with_tree(test_out_of_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
