/* What archive_load() makes of the files of one attempt: sweeps, reasons, remarks, and where they
 * come from. */
#include "tests/tree.h"

#include "drivers/archive.h"
#include "drivers/base/memory.h"

static const struct bias_name three[] = {{"low", 1.8}, {"mid", 2.4}, {"high", 3.0}};

static void open_folder(struct tree *tree, bool with_origin, struct archive *archive)
{
    char *paths[] = {tree->top};
    const struct archive_request request = {
        .paths = paths, .n_paths = 1, .biases = {three, 3, 0.01}, .with_origin = with_origin};
    struct error e = {0};

    assert_done(archive_open(archive, &request, &e), &e);
}

/* Reason: what archive_load() makes of good, bad and unnamed files of one attempt; the measurement
 * is used again for the next. */
static void test_load(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct measurement m = {0};
    struct text bytes = {0};
    struct error e = {0};

    tree_write(tree, "KW1_low.s1p", TREE_SWEEP);
    tree_write(tree, "KW1_2.405V.s1p", "# MHz S RI R 50\n169 0.1 nonsense\n");
    tree_write(tree, "KW1_hgh.s1p", TREE_SWEEP);
    tree_write(tree, "KW1.s1p", TREE_SWEEP);
    tree_write(tree, "KW2_2.10V.s1p", TREE_SWEEP);
    tree_write(tree, "KW2_high.csv", "frequency_hz,s21_re,s21_im\n1,2,3\n");
    open_folder(tree, false, &archive);

    assert_done(archive_load(&archive, 0, &bytes, &m, &e), &e);
    assert_string_equal(m.serial, "KW1");
    assert_int_equal(m.attempt, 1);
    assert_int_equal(m.n_biases, 2);
    assert_true(m.biases[0].bias_v == 1.8);
    assert_true(isnan(m.biases[0].bias_current_ma));
    assert_int_equal(m.biases[0].missing.length, 0);
    assert_string_equal(m.biases[0].source.data, tree_path(tree, "KW1_low.s1p"));
    assert_true(m.biases[0].sweep.frequency_hz[0] == 169e6);
    assert_true(m.biases[1].bias_v == 2.405);
    assert_holds(m.biases[1].missing.data, "KW1_2.405V.s1p:2: ");
    assert_int_equal(m.biases[1].sweep.n_points, 0);
    assert_holds(m.remarks.data, "KW1.s1p: the name holds no bias step");
    assert_holds(m.remarks.data, "KW1_hgh.s1p: \"hgh\" is no bias step of the limits");

    assert_done(archive_load(&archive, archive_attempt_end(&archive, 0), &bytes, &m, &e), &e);
    assert_string_equal(m.serial, "KW2");
    assert_int_equal(m.n_biases, 1);
    assert_int_equal(m.biases[0].missing.length, 0);
    assert_int_equal(m.biases[0].sweep.measured, S_BIT(S21));
    assert_holds(m.remarks.data, "\"2.10V\" is no bias step");
    assert_null(strstr(m.remarks.data, "KW1"));
    measurement_clear(&m);
    text_clear(&bytes);
    archive_clear(&archive);
}

/* Reason: a sheet names each file by the digest of the very bytes that were judged, and repeats
 * what the file says of itself; the next unit does not inherit them, a file that cannot be used has
 * none, and nobody pays for what was not asked. The digest is that of sha256sum. */
static void test_origin(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct measurement m = {0};
    struct text bytes = {0};
    struct error e = {0};

    tree_write(tree, "KW1_low.s1p", "! Analyser 7\n# MHz S RI R 50\n169 0.1 0\n");
    tree_write(tree, "KW2_low.s1p", "# MHz S RI R 50\n169 0.1 0\n");
    tree_write(tree, "KW2_mid.s1p", "! broken\n");
    open_folder(tree, true, &archive);
    assert_done(archive_load(&archive, 0, &bytes, &m, &e), &e);
    assert_string_equal(m.biases[0].sha256,
                        "ccb1260ed36cc700a4a0e26a26d88081b58d8d8602f8715cc5fc9a6d8464fd17");
    assert_string_equal(text_words(&m.biases[0].comments), "Analyser 7");
    assert_done(archive_load(&archive, 1, &bytes, &m, &e), &e);
    assert_int_equal(strlen(m.biases[0].sha256), 64);
    assert_string_not_equal(m.biases[0].sha256,
                            "ccb1260ed36cc700a4a0e26a26d88081b58d8d8602f8715cc5fc9a6d8464fd17");
    assert_int_equal(m.biases[0].comments.length, 0);
    assert_true(m.biases[1].missing.length > 0);
    assert_string_equal(m.biases[1].sha256, "");
    assert_int_equal(m.biases[1].comments.length, 0);
    archive_clear(&archive);
    open_folder(tree, false, &archive);
    assert_done(archive_load(&archive, 0, &bytes, &m, &e), &e);
    assert_string_equal(m.biases[0].sha256, "");
    assert_int_equal(m.biases[0].comments.length, 0);
    measurement_clear(&m);
    text_clear(&bytes);
    archive_clear(&archive);
}

/* Reason: memory may end at any place; each must give an error and leak nothing. */
static void test_out_of_memory(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    unsigned long n = 1;
    bool ok = false;

    tree_write(tree, "KW1_low.s1p", "! Analyser 7\n# MHz S RI R 50\n169 0.1 0\n");
    tree_write(tree, "KW1_mid.s1p", TREE_SWEEP);
    open_folder(tree, true, &archive);
    for (; !ok; n++) {
        struct measurement m = {0};
        struct text bytes = {0};
        struct error e = {0};

        memory_fail_at(n);
        ok = archive_load(&archive, 0, &bytes, &m, &e);
        memory_fail_at(0);
        if (!ok) assert_int_equal(e.kind, ERROR_MEMORY);
        measurement_clear(&m);
        text_clear(&bytes);
        assert_in_range(n, 1, 1000);
    }
    assert_true(n > 5);
    archive_clear(&archive);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_load, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_origin, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_out_of_memory, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
