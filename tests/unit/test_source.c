#include "runner/source.h"

#include "tests/tree.h"

/* The attempts of an archive in its order, what an index tells of each, and their sweeps. */
static void test_archive(void **state)
{
    struct tree *tree = *state;
    char *paths[] = {tree->top};
    char index[4200];
    static const struct bias_name names[] = {{"low", 1.8}, {"high", 3.0}};
    const struct archive_request request = {
        .paths = paths, .n_paths = 1, .index = index, .biases = {names, 2, 0.01}};
    struct archive archive = {0};
    struct source source = {0};
    struct measurement m = {0};
    struct text bytes = {0};
    struct error e = {0};

    tree_write(tree, "a.s1p", TREE_SWEEP);
    tree_write(tree, "b.s1p", TREE_SWEEP);
    tree_write(tree, "c.s1p", TREE_SWEEP);
    tree_write(tree, "d.s1p", TREE_SWEEP);
    tree_write(tree, "index.csv",
               "serial,attempt,bias,file,operator\n"
               "B,1,low,a.s1p,\nA,2,low,c.s1p,N. N.\nA,1,low,d.s1p,\nA,1,high,b.s1p,\n");
    (void)snprintf(index, sizeof index, "%s", tree_path(tree, "index.csv"));
    assert_done(archive_open(&archive, &request, &e), &e);
    assert_done(source_of_archive(&source, &archive, &e), &e);
    assert_int_equal(source.n_attempts, 3);
    assert_string_equal(source.attempts[0].serial, "A");
    assert_int_equal(source.attempts[0].attempt, 1);
    assert_int_equal(source.attempts[1].attempt, 2);
    assert_null(source.attempts[0].limits);
    assert_int_equal(source_unit_end(&source, 0), 2);
    assert_int_equal(source_unit_end(&source, 2), 3);
    assert_done(source_load(&source, 0, &bytes, &m, &e), &e);
    assert_int_equal(m.n_biases, 2);
    assert_null(m.circumstances.operator_name);
    assert_done(source_load(&source, 1, &bytes, &m, &e), &e);
    assert_int_equal(m.n_biases, 1);
    assert_int_equal(m.attempt, 2);
    assert_string_equal(m.circumstances.operator_name, "N. N.");
    text_clear(&bytes);
    measurement_clear(&m);
    source_clear(&source);
    source_clear(&source);
    archive_clear(&archive);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_archive, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
