#include "runner/record_index.h"

#include "tests/batch_fixture.h"

/* A row a sweep of the attempts that count, with the digits that read back the same; a sweep that
 * could not be had keeps its place. */
static void test_rows(void **state)
{
    struct tree *tree = *state;
    struct record_reader r = {0};
    struct record_source rs;
    struct text index = {0};
    struct error e = {0};
    size_t n_lines = 0;

    batch_fixture_make(tree);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    assert_done(record_source_open(&rs, &r, NULL, &e), &e);
    assert_done(record_index_add(&rs, &index, &e), &e);
    for (const char *p = index.data; (p = strchr(p, '\n')) != NULL; p++)
        n_lines++;
    assert_int_equal(n_lines, 1 + 2 * 5);
    assert_memory_equal(index.data, "serial,attempt,bias,file,bias_current_ma,measured_at,", 53);
    assert_holds(index.data, "\r\nKW1,2,1.8012,sweeps/KW1/2/low.s2p,14.285714285714286,20");
    assert_holds(index.data, "Z,N. N.,bench.xml ");
    assert_holds(index.data, "\r\nKW5,1,1.8012,sweeps/KW5/1/1.8012V.s2p,,20");
    assert_holds(index.data, "\r\nKW5,1,2.9987,sweeps/KW5/1/high.s2p,30,20");
    assert_null(strstr(index.data, "KW2,2"));
    assert_null(strstr(index.data, "KW4"));
    text_clear(&index);
    record_source_close(&rs);
    record_reader_close(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_rows, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
