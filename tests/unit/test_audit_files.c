#include "runner/audit.h"

#include "drivers/base/file.h"
#include "tests/record_fixture.h"

static void flip(struct tree *tree, const char *name, long at)
{
    FILE *file = fopen(tree_path(tree, name), "r+");
    int c;

    assert_non_null(file);
    assert_int_equal(fseek(file, at, SEEK_SET), 0);
    c = fgetc(file);
    assert_true(c != EOF);
    assert_int_equal(fseek(file, at, SEEK_SET), 0);
    assert_int_equal(fputc(c ^ 1, file), c ^ 1);
    assert_int_equal(fclose(file), 0);
}

/* Altered, missing and added files: each is found, and named. */
static void test_files(void **state)
{
    static const char *const names[] = {"sweeps/KW1/1/low.s2p", "sweeps/KW2/1/high.s2p",
                                        "limits.xml", "bench.xml"};
    struct tree *tree;
    char name[128];

    for (size_t i = 0; i < 2 * sizeof names / sizeof *names; i++) {
        const bool remove_it = i % 2;
        char where[128];

        assert_int_equal(tree_make(state), 0);
        tree = *state;
        record_fixture_batch(tree);
        (void)snprintf(name, sizeof name, "batch/%s", names[i / 2]);
        (void)snprintf(where, sizeof where, "%s: %s", names[i / 2],
                       remove_it ? "missing" : "altered");
        if (remove_it)
            assert_int_equal(unlink(tree_path(tree, name)), 0);
        else
            flip(tree, name, 5);
        record_fixture_audit(tree, where);
        assert_int_equal(tree_remove(state), 0);
    }
}

/* Files that are no part of the record, by where they lie. */
static void test_added(void **state)
{
    static const char *const added[] = {"sweeps/KW1/1/mid.s2p", "sweeps/KW1/2/low.s2p.7.part",
                                        "letter.txt",           "earlier/limits-0.xml",
                                        "reference.s2p",        "sub/batch.sqlite"};
    static const char *const reports[] = {"report.html", "units.csv", "units/KW1.html",
                                          "unfinished/1/low.s2p", "limits.xml.123.part"};
    char name[128];

    for (size_t i = 0; i < sizeof added / sizeof *added; i++) {
        assert_int_equal(tree_make(state), 0);
        record_fixture_batch(*state);
        (void)snprintf(name, sizeof name, "batch/%s", added[i]);
        tree_write(*state, name, "x");
        (void)snprintf(name, sizeof name, "%s: added", added[i]);
        record_fixture_audit(*state, name);
        assert_int_equal(tree_remove(state), 0);
    }
    assert_int_equal(tree_make(state), 0);
    record_fixture_batch(*state);
    for (size_t i = 0; i < sizeof reports / sizeof *reports; i++) {
        (void)snprintf(name, sizeof name, "batch/%s", reports[i]);
        tree_write(*state, name, "x");
    }
    record_fixture_audit(*state, NULL);
    assert_int_equal(tree_remove(state), 0);
}

/* One attempt without a verdict is what an interruption leaves: a remark. Two are not. */
static void test_unfinished(void **state)
{
    struct tree *tree = *state;
    struct audit audit = {0};
    struct error e = {0};

    record_fixture_batch(tree);
    tree_write(tree, "batch/sweeps/KW1/3/low.s2p", "x");
    tree_write(tree, "batch/sweeps/KW1/3/high.s2p.9.part", "x");
    assert_done(audit_batch(record_fixture_folder(tree), NULL, &audit, &e), &e);
    assert_int_equal(audit.n_faults, 0);
    assert_holds(text_words(&audit.remarks), "sweeps/KW1/3/: 2 files of an attempt that was "
                                             "interrupted");
    audit_clear(&audit);
    tree_write(tree, "batch/sweeps/KW4/1/low.s2p", "x");
    record_fixture_audit(tree, "sweeps/KW4/1/low.s2p: added");
}

/* Earlier limits and bench files are proven like the present ones. */
static void test_earlier(void **state)
{
    struct tree *tree = *state;
    struct record *record = NULL;
    struct text bytes = {0};
    struct error e = {0};
    char digest[DIGEST_HEX], name[128];

    record_fixture_batch(tree);
    assert_done(file_read(tree_path(tree, "batch/limits.xml"), 1 << 20, &bytes, &e), &e);
    digest_hex(bytes.data, bytes.length, digest);
    assert_done(record_fixture_try(tree, "new.xml", NULL, "new bound", &record, &e), &e);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    (void)snprintf(name, sizeof name, "batch/earlier/limits-%s.xml", digest);
    flip(tree, name, 9);
    (void)snprintf(name, sizeof name, "earlier/limits-%s.xml: altered", digest);
    record_fixture_audit(tree, name);
    text_clear(&bytes);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_files),
        cmocka_unit_test(test_added),
        in_tree(test_unfinished),
        in_tree(test_earlier),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
