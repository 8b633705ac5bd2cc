/* Archives in folders: which files are taken, in which order, and what stops the work. */
#include "tests/tree.h"

#include <errno.h>

#include "drivers/archive.h"
#include "drivers/base/memory.h"

static const struct bias_name three[] = {{"low", 1.8}, {"mid", 2.4}, {"high", 3.0}};
static const struct bias_name lone[] = {{"only", 5.0}};

#define THREE_STEPS    \
    {                  \
        three, 3, 0.01 \
    }
#define ONE_STEP      \
    {                 \
        lone, 1, 0.01 \
    }

static bool open_folder(struct tree *tree, const char *layout, bool one_step,
                        struct archive *archive, struct error *e)
{
    char *paths[] = {tree->top};
    struct archive_request request = {
        .paths = paths, .n_paths = 1, .layout = layout, .biases = THREE_STEPS};

    if (one_step) request.biases = (struct bias_names)ONE_STEP;
    return archive_open(archive, &request, e);
}

/* The archive's files as one text: "SERIAL#ATTEMPT@BIAS ", where BIAS is '?' without a step. */
static void listing(const struct archive *archive, char *out, size_t room)
{
    size_t n = 0;

    out[0] = '\0';
    for (size_t i = 0; i < archive->n_files && n < room; i++) {
        const struct archive_file *file = &archive->files[i];

        n += (size_t)snprintf(out + n, room - n, "%s#%lu@%s ", file->serial, file->attempt,
                              file->has_bias ? file->bias_text : "?");
    }
}

static void assert_listing(struct tree *tree, const char *layout, bool one_step, const char *want)
{
    struct archive archive = {0};
    struct error e = {0};
    char got[4096];

    assert_done(open_folder(tree, layout, one_step, &archive, &e), &e);
    listing(&archive, got, sizeof got);
    assert_string_equal(got, want);
    archive_clear(&archive);
}

static void assert_open_error(struct tree *tree, const char *layout, const char *words)
{
    struct archive archive = {0};
    struct error e = {0};

    assert_false(open_folder(tree, layout, false, &archive, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, words);
    assert_null(archive.files);
}

/* Reason: all usual names together, in any depth, come out by serial and bias voltage; every
 * ending of a sweep file is taken, in any case, and nothing else. */
static void test_usual_names(void **state)
{
    struct tree *tree = *state;

    tree_write(tree, "LOT_7_KW1_low.s2p", "");
    tree_write(tree, "LOT_7_KW1_2.40V.S2P", "");
    tree_write(tree, "LOT_7_KW1_3000mV.ts", "");
    tree_write(tree, "deep/er/KW2/low.csv", "");
    tree_write(tree, "deep/er/KW2/high.s1p", "");
    tree_write(tree, "deep/KW3_mid.s4p", "");
    tree_write(tree, "KW4_low.txt", "");
    tree_write(tree, "KW4_low.s2p.bak", "");
    tree_write(tree, "KW4_low", "");
    assert_listing(tree, NULL, false,
                   "KW2#1@low KW2#1@high KW3#1@mid LOT_7_KW1#1@low LOT_7_KW1#1@2.40V "
                   "LOT_7_KW1#1@3000mV ");
}

/* Reason: with a single step SERIAL.s2p is enough. */
static void test_one_step(void **state)
{
    struct tree *tree = *state;

    tree_write(tree, "4.s2p", "");
    tree_write(tree, "5.s2p", "");
    tree_write(tree, "KW_1.s2p", "");
    tree_write(tree, "KW_2_only.s2p", "");
    assert_listing(tree, NULL, true, "4#1@only 5#1@only KW_1#1@only KW_2#1@only ");
}

/* Reason: hidden files and folders, the tables that we write and the index are no sweeps, wherever
 * they lie; other CSV files are. */
static void test_not_taken(void **state)
{
    struct tree *tree = *state;

    tree_write(tree, "KW1_low.s2p", "");
    tree_write(tree, ".KW2_low.s2p", "");
    tree_write(tree, ".hidden/KW3_low.s2p", "");
    tree_write(tree, "report/units.csv", "");
    tree_write(tree, "report/results.csv", "");
    tree_write(tree, "report/RESULTS.CSV", "");
    tree_write(tree, "report/report.html", "");
    tree_write(tree, "report/units/KW1.html", "");
    tree_write(tree, "index.csv", "");
    tree_write(tree, "KW4_low.csv", "");
    assert_listing(tree, NULL, false, "KW1#1@low KW4#1@low ");
}

/* Reason: a link to a folder could lead round in a circle; a link to a file is a file, and one
 * that leads nowhere is a missing sweep. Pipes are nothing of ours. */
static void test_links(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct measurement m = {0};
    struct text bytes = {0};
    struct error e = {0};

    tree_write(tree, "KW1_low.s1p", TREE_SWEEP);
    tree_write(tree, "sub/x", "");
    assert_int_equal(symlink("..", tree_path(tree, "sub/loop")), 0);
    assert_int_equal(symlink("KW1_low.s1p", tree_path(tree, "KW2_low.s1p")), 0);
    assert_int_equal(symlink("nowhere", tree_path(tree, "KW3_low.s1p")), 0);
    assert_int_equal(mkfifo(tree_path(tree, "KW4_low.s1p"), 0600), 0);
    assert_listing(tree, NULL, false, "KW1#1@low KW2#1@low KW3#1@low ");

    assert_done(open_folder(tree, NULL, false, &archive, &e), &e);
    assert_done(archive_load(&archive, 1, &bytes, &m, &e), &e);
    assert_int_equal(m.biases[0].sweep.n_points, 1);
    assert_done(archive_load(&archive, 2, &bytes, &m, &e), &e);
    assert_holds(m.biases[0].missing.data, "KW3_low.s1p: cannot be opened");
    measurement_clear(&m);
    text_clear(&bytes);
    archive_clear(&archive);
}

/* Reason: attempts from the layout; units, attempts and biases in their order though the names
 * are not; a file that does not fit is counted, not taken. */
static void test_layout(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct error e = {0};
    char got[1024];

    tree_write(tree, "b/10/low.s2p", "");
    tree_write(tree, "b/2/mid.s2p", "");
    tree_write(tree, "b/2/low.s2p", "");
    tree_write(tree, "a/1/high.s2p", "");
    tree_write(tree, "a/1/z.s2p", "");
    tree_write(tree, "a/none/low.s2p", "");
    tree_write(tree, "a/0/low.s2p", "");
    assert_done(open_folder(tree, "{serial}/{attempt}/{bias}.s2p", false, &archive, &e), &e);
    listing(&archive, got, sizeof got);
    assert_string_equal(got, "a#1@high a#1@? b#2@low b#2@mid b#10@low ");
    assert_int_equal(archive.n_left_out, 2);
    assert_int_equal(archive_attempt_end(&archive, 2), 4);
    assert_int_equal(archive_attempt_end(&archive, 4), 5);
    archive_clear(&archive);
}

/* Reason: which file is named as left out may not hang on the folder's own order either. */
static void test_left_out_is_first_by_name(void **state)
{
    struct tree *tree = *state;
    struct archive archive = {0};
    struct error e = {0};
    char name[32];

    tree_write(tree, "KW1_low.s2p", "");
    for (int i = 29; i >= 0; i--) {
        (void)snprintf(name, sizeof name, "x%02d.s2p", (i * 7) % 30);
        tree_write(tree, name, "");
    }
    assert_done(open_folder(tree, "{serial}_{bias}.s2p", false, &archive, &e), &e);
    assert_int_equal(archive.n_left_out, 30);
    assert_string_equal(archive.left_out, tree_path(tree, "x00.s2p"));
    archive_clear(&archive);
}

/* Reason: without one file that fits there is nothing to judge, and the words say which. */
static void test_nothing_there(void **state)
{
    struct tree *tree = *state;

    assert_open_error(tree, NULL, "no sweep file is there");
    tree_write(tree, "KW1.s2p", "");
    assert_open_error(tree, "{serial}-{bias}.s2p", "KW1.s2p: does not fit the layout");
}

/* Reason: files are made in two orders in two folders; the archives must be the same. */
static void test_order_of_folder(void **state)
{
    struct tree *tree = *state;
    char first[8192], second[8192], name[64];
    char *paths[1];
    struct archive_request request = {.paths = paths, .n_paths = 1, .biases = THREE_STEPS};
    struct archive archive = {0};
    struct error e = {0};

    for (int i = 0; i < 60; i++) {
        int k = (i * 37) % 60;

        (void)snprintf(name, sizeof name, "one/KW%02d_%s.s2p", i / 3, three[i % 3].id);
        tree_write(tree, name, "");
        (void)snprintf(name, sizeof name, "two/%s/KW%02d_%s.s2p", k % 2 ? "x" : "y", k / 3,
                       three[k % 3].id);
        tree_write(tree, name, "");
    }
    (void)tree_path(tree, "one");
    paths[0] = tree->path;
    assert_done(archive_open(&archive, &request, &e), &e);
    assert_int_equal(archive.n_files, 60);
    listing(&archive, first, sizeof first);
    archive_clear(&archive);
    (void)tree_path(tree, "two");
    assert_done(archive_open(&archive, &request, &e), &e);
    listing(&archive, second, sizeof second);
    assert_string_equal(first, second);
    archive_clear(&archive);
}

/* Reason: two files of one serial number, attempt and bias: both are named, nothing is chosen. */
static void test_doubles(void **state)
{
    struct tree *tree = *state;

    tree_write(tree, "KW1_mid.s2p", "");
    tree_write(tree, "KW1_low.s2p", "");
    tree_write(tree, "again/KW1_2.404.s2p", "");
    assert_open_error(tree, NULL, "both claim serial KW1, attempt 1, bias mid");
    assert_open_error(tree, NULL, "KW1_mid.s2p and ");
    assert_open_error(tree, NULL, "again/KW1_2.404.s2p both");
    /* Files that fit no step claim none. */
    assert_int_equal(unlink(tree_path(tree, "KW1_mid.s2p")), 0);
    tree_write(tree, "KW1_hgh.s2p", "");
    tree_write(tree, "again/KW1_hgh.s2p", "");
    assert_listing(tree, NULL, false, "KW1#1@low KW1#1@2.404 KW1#1@? KW1#1@? ");
}

/* Reason: single files may be named, with folders beside them; the same one twice is an error. */
static void test_files_named(void **state)
{
    struct tree *tree = *state;
    char first[4200], second[4200], folder[4200];
    char *paths[] = {first, second, folder};
    struct archive_request request = {.paths = paths, .n_paths = 3, .biases = THREE_STEPS};
    struct archive archive = {0};
    struct error e = {0}, e1 = {0}, e2 = {0}, e3 = {0};
    char got[512];

    tree_write(tree, "KW1_low.s2p", "");
    tree_write(tree, "KW1_mid.dat", "");
    tree_write(tree, "f/KW0_low.s2p", "");
    (void)snprintf(first, sizeof first, "%s", tree_path(tree, "KW1_mid.dat"));
    (void)snprintf(second, sizeof second, "%s", tree_path(tree, "KW1_low.s2p"));
    (void)snprintf(folder, sizeof folder, "%s/", tree_path(tree, "f"));
    assert_done(archive_open(&archive, &request, &e), &e);
    listing(&archive, got, sizeof got);
    assert_string_equal(got, "KW0#1@low KW1#1@low KW1#1@mid ");
    /* The folder's own slash is not doubled. */
    assert_string_equal(archive.files[0].path, tree_path(tree, "f/KW0_low.s2p"));
    archive_clear(&archive);

    (void)snprintf(first, sizeof first, "%s", second);
    assert_false(archive_open(&archive, &request, &e1));
    assert_holds(e1.text, "both claim");

    (void)snprintf(first, sizeof first, "%s", tree_path(tree, "none"));
    assert_false(archive_open(&archive, &request, &e2));
    assert_int_equal(e2.kind, ERROR_INPUT);
    assert_holds(e2.text, "none: cannot be read: No such file");

    first[0] = '\0';
    errno = 0;
    assert_false(archive_open(&archive, &request, &e3));
    assert_holds(e3.text, "\"\": cannot be read: No such file");
}

/* Reason: a folder that holds itself by a mount, or a hostile archive, ends at the ceiling. */
static void test_depth(void **state)
{
    struct tree *tree = *state;
    char name[256] = "";

    for (int i = 0; i < CEILING_ARCHIVE_DEPTH; i++)
        (void)snprintf(name + strlen(name), sizeof name - strlen(name), "d/");
    (void)snprintf(name + strlen(name), sizeof name - strlen(name), "KW1_low.s2p");
    tree_write(tree, name, "");
    assert_listing(tree, NULL, false, "KW1#1@low ");
    (void)snprintf(name + 2 * (size_t)CEILING_ARCHIVE_DEPTH, 32, "d/x");
    tree_write(tree, name, "");
    assert_open_error(tree, NULL, "lies more than 32 folders deep");
}

/* Reason: what an unreadable folder holds is not known, so the archive is not whole. Root may read
 * everything, and gives its rights away for this. */
static void test_unreadable_folder(void **state)
{
    struct tree *tree = *state;
    const uid_t user = geteuid();

    tree_write(tree, "KW1_low.s2p", "");
    tree_write(tree, "shut/KW2_low.s2p", "");
    assert_int_equal(chmod(tree->top, 0755), 0);
    assert_int_equal(chmod(tree_path(tree, "shut"), 0), 0);
    if (user == 0) assert_int_equal(seteuid(65534), 0);
    assert_open_error(tree, NULL, "shut: the folder cannot be read: Permission denied");
    if (user == 0) assert_int_equal(seteuid(user), 0);
    assert_int_equal(chmod(tree_path(tree, "shut"), 0755), 0);
}

/* Reason: a serial number that cannot stand in the tables ends the work, naming the file. */
static void test_unusable_serial(void **state)
{
    struct tree *tree = *state;

    tree_write(tree, "KW1_low.s2p", "");
    tree_write(tree, "=1+1_low.s2p", "");
    assert_open_error(tree, NULL, "/=1+1_low.s2p: the serial number \"=1+1\" cannot be used");
}

/* Reason: "." may be a unit's own folder: its sweeps belong to the serial number that the folder is
 * called, not to a unit ".". */
static void test_folder_named_by_a_dot(void **state)
{
    struct tree *tree = *state;
    char here[4096];
    char *paths[] = {(char[]){"."}};
    struct archive_request request = {.paths = paths, .n_paths = 1, .biases = THREE_STEPS};
    struct archive archive = {0};
    struct error e = {0};

    tree_write(tree, "KW1/low.s2p", "");
    assert_non_null(getcwd(here, sizeof here));
    assert_int_equal(chdir(tree_path(tree, "KW1")), 0);
    assert_done(archive_open(&archive, &request, &e), &e);
    assert_int_equal(chdir(here), 0);
    assert_int_equal(archive.n_files, 1);
    assert_string_equal(archive.files[0].serial, "KW1");
    archive_clear(&archive);
}

/* Reason: one sweep for two boards means that one of them was not measured. */
static void test_shared_file(void **state)
{
    struct tree *tree = *state;
    struct archive_request request = {.biases = THREE_STEPS};
    struct archive archive = {0};
    struct error e = {0};

    tree_write(tree, "a.s2p", "");
    tree_write(tree, "index.csv", "serial,attempt,bias,file\nS1,1,low,a.s2p\nS2,1,low,a.s2p\n");
    request.index = tree_path(tree, "index.csv");
    assert_false(archive_open(&archive, &request, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "a.s2p: is claimed by serial S1, attempt 1, bias low and by serial S2");
}

/* Reason: memory may end at any place; each must give an error, leak nothing and hold no half. */
static void test_out_of_memory(void **state)
{
    struct tree *tree = *state;
    unsigned long n = 1;

    tree_write(tree, "KW1/low.s1p", TREE_SWEEP);
    tree_write(tree, "KW1/deeper/x_mid.s1p", TREE_SWEEP);
    for (;; n++) {
        struct archive archive = {0};
        struct measurement m = {0};
        struct text bytes = {0};
        struct error e = {0};
        bool ok;

        memory_fail_at(n);
        ok = open_folder(tree, NULL, false, &archive, &e) &&
             archive_load(&archive, 0, &bytes, &m, &e);
        memory_fail_at(0);
        if (!ok) assert_int_equal(e.kind, ERROR_MEMORY);
        measurement_clear(&m);
        text_clear(&bytes);
        archive_clear(&archive);
        if (ok) break;
        assert_in_range(n, 1, 1000);
    }
    assert_true(n > 10);
}

/* Reason: clearing twice and clearing nothing are harmless. */
static void test_clear(void **state)
{
    struct archive archive = {0};

    (void)state;
    archive_clear(&archive);
    archive_clear(&archive);
    assert_null(archive.files);
}

#define with_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_tree(test_usual_names),     with_tree(test_one_step),
        with_tree(test_not_taken),       with_tree(test_links),
        with_tree(test_layout),          with_tree(test_left_out_is_first_by_name),
        with_tree(test_nothing_there),   with_tree(test_order_of_folder),
        with_tree(test_doubles),         with_tree(test_files_named),
        with_tree(test_depth),           with_tree(test_unreadable_folder),
        with_tree(test_unusable_serial), with_tree(test_folder_named_by_a_dot),
        with_tree(test_shared_file),     with_tree(test_out_of_memory),
        cmocka_unit_test(test_clear),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
