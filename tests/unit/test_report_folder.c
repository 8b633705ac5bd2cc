/* An earlier report stays whole until the new one is; then nothing of it is left that would
 * contradict the new one, and nothing of anybody else's is touched. */
#include "tests/tree.h"

#include "runner/report_folder.h"

#define OURS "<!DOCTYPE html>\n<meta name=\"generator\" content=\"gainsieve\"/>"

static bool is_there(const char *path)
{
    return access(path, F_OK) == 0;
}

/* Opens the folder `out` of the tree with unit pages. */
static struct report_folder open_out(struct tree *tree)
{
    struct report_folder r = {0};
    struct error e = {0};
    char folder[4200];

    (void)snprintf(folder, sizeof folder, "%s", tree_path(tree, "out"));
    assert_done(report_folder_open(&r, folder, true, &e), &e);
    return r;
}

static void write_earlier(struct tree *tree)
{
    tree_write(tree, "out/units/KW1.html", OURS "old");
    tree_write(tree, "out/units/KW2.html", OURS "old");
    tree_write(tree, "out/units/mine.html", "<p>my own page</p>");
    tree_write(tree, "out/units/KW1.txt", OURS);
    tree_folders(tree, "out/units/folder.html/x");
}

/* Reason: a sheet of an earlier run says PASS of a board that fails now, or of one that is no
 * longer in the archive. */
static void test_commit(void **state)
{
    struct tree *tree = *state;
    struct report_folder r;
    struct error e = {0};

    write_earlier(tree);
    r = open_out(tree);
    assert_true(is_there(tree_path(tree, "out/units/KW1.html")));
    tree_write(tree, "out/units.part/KW2.html", OURS "new");
    assert_done(report_folder_commit(&r, &e), &e);
    report_folder_close(&r);
    report_folder_close(&r);
    assert_false(is_there(tree_path(tree, "out/units.part")));
    assert_false(is_there(tree_path(tree, "out/units/KW1.html")));
    assert_true(is_there(tree_path(tree, "out/units/mine.html")));
    assert_true(is_there(tree_path(tree, "out/units/KW1.txt")));
    assert_true(is_there(tree_path(tree, "out/units/folder.html")));
    assert_true(is_there(tree_path(tree, "out/units/KW2.html")));
}

/* Reason: an interrupted check costs the earlier report nothing, and leaves nothing behind. */
static void test_close_without_commit(void **state)
{
    struct tree *tree = *state;
    struct report_folder r;

    write_earlier(tree);
    r = open_out(tree);
    tree_write(tree, "out/units.part/KW2.html", OURS "new");
    report_folder_close(&r);
    assert_false(is_there(tree_path(tree, "out/units.part")));
    assert_true(is_there(tree_path(tree, "out/units/KW1.html")));
    assert_true(is_there(tree_path(tree, "out/units/KW2.html")));
}

/* Reason: pages and halves that a killed program left belong to no report. */
static void test_after_a_kill(void **state)
{
    struct tree *tree = *state;
    struct report_folder r;
    struct error e = {0};

    tree_write(tree, "out/units.part/KW7.html", OURS);
    tree_write(tree, "out/units.part/KW8.html.part", "half");
    r = open_out(tree);
    assert_false(is_there(tree_path(tree, "out/units.part/KW7.html")));
    assert_done(report_folder_commit(&r, &e), &e);
    report_folder_close(&r);
    assert_false(is_there(tree_path(tree, "out/units.part")));
    assert_false(is_there(tree_path(tree, "out/units/KW7.html")));
}

/* Reason: without unit pages no folder for them is made, and those of an earlier report go. */
static void test_without_pages(void **state)
{
    struct tree *tree = *state;
    struct report_folder r = {0};
    struct error e = {0};
    char folder[4200];

    (void)snprintf(folder, sizeof folder, "%s", tree_path(tree, "a/b"));
    assert_done(report_folder_open(&r, folder, false, &e), &e);
    assert_true(is_there(tree_path(tree, "a/b")));
    assert_false(is_there(tree_path(tree, "a/b/units")));
    tree_write(tree, "a/b/units/KW1.html", OURS);
    assert_done(report_folder_commit(&r, &e), &e);
    report_folder_close(&r);
    assert_false(is_there(tree_path(tree, "a/b/units/KW1.html")));
}

/* Reason: what stands in the way is named before anything is judged. */
static void test_in_the_way(void **state)
{
    static const char *const places[] = {"file", "one/units", "two/units.part"};
    struct tree *tree = *state;

    for (size_t i = 0; i < 3; i++) {
        struct report_folder r = {0};
        struct error e = {0};
        char folder[4200];

        tree_write(tree, places[i], "");
        (void)snprintf(folder, sizeof folder, "%s", tree_path(tree, places[i]));
        if (i > 0) *strrchr(folder, '/') = '\0';
        assert_false(report_folder_open(&r, folder, true, &e));
        assert_int_equal(e.kind, ERROR_STORE);
        assert_holds(e.text, "is in the way");
        assert_null(r.units.data);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_commit, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_close_without_commit, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_after_a_kill, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_without_pages, tree_make, tree_remove),
        cmocka_unit_test_setup_teardown(test_in_the_way, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
