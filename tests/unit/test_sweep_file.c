/* Which names are sweeps, and which reader a name gets. */
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "drivers/base/file.h"
#include "drivers/sweep_file.h"
#include "tests/sweep_check.h"

static char folder[256];

static int make_folder(void **state)
{
    const char *top = getenv("TMPDIR");

    (void)state;
    (void)snprintf(folder, sizeof folder, "%s/gainsieve-test-XXXXXX", top && *top ? top : "/tmp");
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    return rmdir(folder);
}

static const char *path_of(const char *name)
{
    static char path[512];

    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static const char *write_file(const char *name, const char *content)
{
    const char *path = path_of(name);
    struct error e = {0};

    assert_done(file_write(path, content, strlen(content), FILE_PLAIN, &e), &e);
    return path;
}

/* Reason: an archive holds other files too; what is not a sweep by its name is left alone, but a
 * sweep of more ports is a sweep, so that its refusal is told and not passed over. */
static void names_of_sweeps(void **state)
{
    static const char *const sweeps[] = {"a.s1p", "a.s2p", "A.S2P",     "a.s4p",   "a.s12p", "a.ts",
                                         "a.TS",  "a.csv", "d.x/b.Csv", "a.b.s2p", ".s2p"};
    static const char *const others[] = {"a",     "",          "a.sp",    "a.s2",   "a.s2px",
                                         "a.txt", "a.s2p.bak", "a.s2p/b", "a.s2p/", "s2p",
                                         "a.tsv", "a.xs2p",    "a.sxp"};

    (void)state;
    for (size_t i = 0; i < sizeof sweeps / sizeof *sweeps; i++)
        if (!sweep_file_name(sweeps[i])) fail_msg("%s is a sweep", sweeps[i]);
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        if (sweep_file_name(others[i])) fail_msg("%s is not a sweep", others[i]);
}

/* Reason: the name chooses the reader, whatever its case, and one buffer serves for all. */
static void the_name_chooses_the_reader(void **state)
{
    static const char *const csv = "frequency_hz,s11_re,s11_im\n1,2,3\n";
    static const char *const touchstone = "# Hz S RI\n4 5 6\n7 8 9\n";
    struct text bytes = {0};
    struct sweep s = {0};
    struct error e = {0};
    const char *path = write_file("a.CSV", csv);

    (void)state;
    assert_done(sweep_file_read(path, &bytes, &s, &e), &e);
    assert_int_equal(s.n_points, 1);
    assert_s(&s, 0, S11, 2, 3, 0);
    assert_int_equal(unlink(path), 0);
    path = write_file("a.s1p", touchstone);
    assert_done(sweep_file_read(path, &bytes, &s, &e), &e);
    assert_int_equal(s.n_points, 2);
    assert_s(&s, 1, S11, 8, 9, 0);
    assert_int_equal(unlink(path), 0);
    path = write_file("a.s1p", csv);
    assert_false(sweep_file_read(path, &bytes, &s, &e));
    assert_holds(e.text, "a.s1p:1: no option line");
    assert_int_equal(s.n_points, 0);
    assert_int_equal(unlink(path), 0);
    text_clear(&bytes);
    sweep_clear(&s);
}

/* Reason: a file that is not there, is a folder or is empty is an error that names it, and leaves
 * nothing of the sweep before. */
static void what_cannot_be_read_is_told(void **state)
{
    struct text bytes = {0};
    struct sweep s = {0};
    struct error e = {0};
    const char *path = write_file("a.s1p", "# Hz S RI\n4 5 6\n");

    (void)state;
    assert_done(sweep_file_read(path, &bytes, &s, &e), &e);
    assert_int_equal(unlink(path), 0);
    assert_false(sweep_file_read(path, &bytes, &s, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, path);
    assert_int_equal(s.n_points, 0);
    assert_int_equal(s.measured, 0);
    assert_int_equal(mkdir(path, 0700), 0);
    e = (struct error){0};
    assert_false(sweep_file_read(path, &bytes, &s, &e));
    assert_holds(e.text, path);
    assert_int_equal(rmdir(path), 0);
    path = write_file("a.s1p", "");
    e = (struct error){0};
    assert_false(sweep_file_read(path, &bytes, &s, &e));
    assert_holds(e.text, "the file holds no data");
    assert_int_equal(unlink(path), 0);
    text_clear(&bytes);
    sweep_clear(&s);
}

/* Reason: a file beyond the ceiling is refused before it fills the memory. The file is sparse. */
static void a_huge_file_is_refused(void **state)
{
    struct text bytes = {0};
    struct sweep s = {0};
    struct error e = {0};
    const char *path = write_file("a.s1p", "# Hz S RI\n4 5 6\n");

    (void)state;
    assert_int_equal(truncate(path, (off_t)CEILING_SWEEP_FILE + 1), 0);
    assert_false(sweep_file_read(path, &bytes, &s, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, path);
    assert_int_equal(unlink(path), 0);
    text_clear(&bytes);
    sweep_clear(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_of_sweeps),
        cmocka_unit_test(the_name_chooses_the_reader),
        cmocka_unit_test(what_cannot_be_read_is_told),
        cmocka_unit_test(a_huge_file_is_refused),
    };

    return cmocka_run_group_tests_name("sweep_file", tests, make_folder, remove_folder);
}
