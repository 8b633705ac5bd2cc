#include "drivers/base/file.h"

#include <dirent.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include "drivers/base/memory.h"
#include "tests/tree.h"

/* Reading `name` must be refused as an input fault whose text holds the path and `words`. */
static void check_refused(struct tree *tree, const char *name, size_t ceiling, const char *words)
{
    struct text bytes = {0};
    struct error e = {0};

    assert_false(file_read(tree_path(tree, name), ceiling, &bytes, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, tree_path(tree, name));
    assert_holds(e.text, words);
    assert_int_equal(bytes.length, 0);
    text_clear(&bytes);
}

static void check_content(struct tree *tree, const char *name, const char *want)
{
    struct text bytes = {0};
    struct error e = {0};

    assert_done(file_read(tree_path(tree, name), 1 << 20, &bytes, &e), &e);
    assert_string_equal(text_words(&bytes), want);
    text_clear(&bytes);
}

/* How many names the tree's top holds: a file left behind by a failed write shows here. */
static size_t count_names(const struct tree *tree)
{
    DIR *folder = opendir(tree->top);
    size_t n = 0;

    assert_non_null(folder);
    while (readdir(folder))
        n++;
    (void)closedir(folder);
    return n - 2;
}

/* What is not a regular file is named as such: no waiting for a pipe's writer, no folder's bytes.
 */
static void test_what_is_no_file(void **state)
{
    struct tree *tree = *state;

    assert_int_equal(mkfifo(tree_path(tree, "pipe"), 0600), 0);
    assert_int_equal(mkdir(tree_path(tree, "folder"), 0700), 0);
    (void)alarm(20); /* a reader that waits for the pipe ends the test here */
    check_refused(tree, "missing", 100, "No such file");
    check_refused(tree, "pipe", 100, "is not a file");
    check_refused(tree, "folder", 100, "is not a file");
    check_refused(tree, "missing/below", 100, "No such file");
    (void)alarm(0);
    check_refused(tree, "", 100, "is not a file");
    assert_int_equal(symlink("/dev/zero", tree_path(tree, "device")), 0);
    check_refused(tree, "device", 100, "is not a file");
}

/* The ceiling itself is allowed, one byte more is not, whether or not the buffer was used before.
 */
static void test_ceiling(void **state)
{
    struct tree *tree = *state;
    struct text bytes = {0};
    struct error e = {0};

    tree_write(tree, "ten", "0123456789");
    tree_write(tree, "empty", "");
    assert_done(file_read(tree_path(tree, "ten"), 10, &bytes, &e), &e);
    assert_string_equal(bytes.data, "0123456789");
    assert_false(file_read(tree_path(tree, "ten"), 9, &bytes, &e));
    assert_holds(e.text, "longer than 9 bytes");
    assert_int_equal(bytes.length, 0);
    e = (struct error){0};
    assert_done(file_read(tree_path(tree, "ten"), 10, &bytes, &e), &e);
    assert_int_equal(bytes.length, 10);
    assert_done(file_read(tree_path(tree, "empty"), 0, &bytes, &e), &e);
    assert_int_equal(bytes.length, 0);
    assert_string_equal(text_words(&bytes), "");
    text_clear(&bytes);
    check_refused(tree, "ten", 0, "longer than 0 bytes");
}

/* Files longer than the first read, and whose size is not told beforehand (those of /proc). */
static void test_many_reads(void **state)
{
    struct tree *tree = *state;
    const size_t length = 1500001;
    char *long_text = malloc(length + 1);
    struct text bytes = {0};
    struct error e = {0};

    assert_non_null(long_text);
    for (size_t i = 0; i < length; i++)
        long_text[i] = (char)('a' + i % 23);
    long_text[length] = '\0';
    tree_write(tree, "long", long_text);
    assert_done(file_read(tree_path(tree, "long"), length, &bytes, &e), &e);
    assert_int_equal(bytes.length, length);
    assert_memory_equal(bytes.data, long_text, length + 1);
    /* The same buffer then takes a short one, of which nothing of the long one may stay. */
    tree_write(tree, "short", "s");
    assert_done(file_read(tree_path(tree, "short"), length, &bytes, &e), &e);
    assert_string_equal(bytes.data, "s");
    if (access("/proc/self/status", R_OK) == 0) {
        assert_done(file_read("/proc/self/status", length, &bytes, &e), &e);
        assert_holds(bytes.data, "Pid:");
        assert_false(file_read("/proc/self/status", 10, &bytes, &e));
        assert_holds(e.text, "longer than 10 bytes");
    }
    text_clear(&bytes);
    free(long_text);
}

/* NUL bytes are bytes like others; the NUL behind the last one is not counted. */
static void test_nul_bytes(void **state)
{
    struct tree *tree = *state;
    struct text bytes = {0};
    struct error e = {0};

    assert_done(file_write(tree_path(tree, "f"), "a\0b", 3, FILE_PLAIN, &e), &e);
    assert_done(file_read(tree_path(tree, "f"), 10, &bytes, &e), &e);
    assert_int_equal(bytes.length, 3);
    assert_memory_equal(bytes.data, "a\0b", 4);
    text_clear(&bytes);
}

/* Both ways of writing replace the old file and leave nothing beside it. */
static void test_write(void **state)
{
    struct tree *tree = *state;
    struct error e = {0};

    assert_done(file_write(tree_path(tree, "f"), "one", 3, FILE_PLAIN, &e), &e);
    check_content(tree, "f", "one");
    assert_done(file_write(tree_path(tree, "f"), "two", 3, FILE_DURABLE, &e), &e);
    check_content(tree, "f", "two");
    assert_done(file_write(tree_path(tree, "f"), "", 0, FILE_DURABLE, &e), &e);
    check_content(tree, "f", "");
    assert_int_equal(count_names(tree), 1);
}

/* A name without a folder lies in the current one, which is then the folder to sync. */
static void test_write_bare_name(void **state)
{
    struct tree *tree = *state;
    struct error e = {0};
    int before = open(".", O_RDONLY | O_DIRECTORY);

    assert_true(before >= 0);
    assert_int_equal(chdir(tree->top), 0);
    assert_done(file_write("bare", "x", 1, FILE_DURABLE, &e), &e);
    assert_int_equal(fchdir(before), 0);
    (void)close(before);
    check_content(tree, "bare", "x");
}

/* A folder that is missing, a folder in the file's place, a name too long: an error that names the
 * file, and nothing left behind. */
static void test_write_refused(void **state)
{
    struct tree *tree = *state;
    char long_name[600];
    struct error e = {0};

    assert_false(file_write(tree_path(tree, "none/f"), "x", 1, FILE_PLAIN, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "none/f: cannot be written: No such file");
    e = (struct error){0};
    assert_int_equal(mkdir(tree_path(tree, "folder"), 0700), 0);
    assert_false(file_write(tree_path(tree, "folder"), "x", 1, FILE_PLAIN, &e));
    assert_holds(e.text, "folder: cannot be written");
    e = (struct error){0};
    memset(long_name, 'n', sizeof long_name - 1);
    long_name[sizeof long_name - 1] = '\0';
    assert_false(file_write(tree_path(tree, long_name), "x", 1, FILE_PLAIN, &e));
    assert_holds(e.text, "name too long");
    assert_int_equal(count_names(tree), 1);
}

/* A disk that is full in the middle of a file leaves the old file whole and nothing beside it. The
 * child's limit on the size of files stands for the full disk. */
static void test_full_disk(void **state)
{
    struct tree *tree = *state;
    static char bytes[100000];
    int status = 0;
    pid_t child;

    tree_write(tree, "f", "old");
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        const struct rlimit limit = {4096, 4096};
        struct error e = {0};

        (void)signal(SIGXFSZ, SIG_IGN);
        if (setrlimit(RLIMIT_FSIZE, &limit) != 0) _exit(2);
        if (file_write(tree_path(tree, "f"), bytes, sizeof bytes, FILE_PLAIN, &e)) _exit(3);
        if (e.kind != ERROR_STORE || !strstr(e.text, "cannot be written: File too large")) _exit(4);
        _exit(0);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
    check_content(tree, "f", "old");
    assert_int_equal(count_names(tree), 1);
}

/* A folder that may not be written to. Root may write anywhere, so the child of a test run by root
 * becomes somebody else first. */
static void test_read_only_folder(void **state)
{
    struct tree *tree = *state;
    int status = 0;
    pid_t child;

    tree_write(tree, "f", "old");
    assert_int_equal(chmod(tree->top, 0555), 0);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct error e = {0};

        if (getuid() == 0 && setuid(65534) != 0) _exit(2);
        if (file_write(tree_path(tree, "f"), "new", 3, FILE_PLAIN, &e)) _exit(3);
        if (e.kind != ERROR_STORE || !strstr(e.text, "Permission denied")) _exit(4);
        e = (struct error){0};
        if (file_make_folder(tree_path(tree, "sub"), &e)) _exit(5);
        if (e.kind != ERROR_STORE || !strstr(e.text, "Permission denied")) _exit(6);
        _exit(0);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(chmod(tree->top, 0755), 0);
    assert_int_equal(status, 0);
    check_content(tree, "f", "old");
    assert_int_equal(count_names(tree), 1);
}

/* Folders are made with those above them; making them again is fine. */
static void test_make_folder(void **state)
{
    static const char *const names[] = {"a/b/c", "a/b/c", "a/b/c/", "a//b/d", "e"};
    struct tree *tree = *state;

    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        struct error e = {0};
        struct stat status;

        assert_done(file_make_folder(tree_path(tree, names[i]), &e), &e);
        assert_int_equal(stat(tree_path(tree, names[i]), &status), 0);
        assert_true(S_ISDIR(status.st_mode));
    }
}

/* A file in the way of a folder is never taken for one, and stays. */
static void test_folder_in_the_way(void **state)
{
    struct tree *tree = *state;
    struct error e = {0};

    tree_write(tree, "file", "keep");
    assert_false(file_make_folder(tree_path(tree, "file"), &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "file: is in the way");
    e = (struct error){0};
    assert_false(file_make_folder(tree_path(tree, "file/below"), &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "file/below: the folder cannot be made: Not a directory");
    e = (struct error){0};
    assert_int_equal(symlink("nowhere", tree_path(tree, "dangling")), 0);
    assert_false(file_make_folder(tree_path(tree, "dangling"), &e));
    assert_holds(e.text, "dangling: is in the way");
    e = (struct error){0};
    assert_false(file_make_folder("", &e));
    assert_int_equal(e.kind, ERROR_STORE);
    check_content(tree, "file", "keep");
}

/* No memory at any allocation is an error of that kind, and nothing stays behind. */
static void test_no_memory(void **state)
{
    struct tree *tree = *state;
    bool ok = false;

    tree_write(tree, "f", "old");
    for (unsigned long nth = 1; !ok; nth++) {
        struct text bytes = {0};
        struct error e = {0};
        char path[4096];

        assert_true(nth < 50);
        (void)snprintf(path, sizeof path, "%s", tree_path(tree, "f"));
        memory_fail_at(nth);
        ok = file_make_folder(tree->top, &e) && file_write(path, "new", 3, FILE_DURABLE, &e) &&
             file_read(path, 100, &bytes, &e);
        memory_fail_at(0);
        assert_int_equal(e.kind, ok ? ERROR_NONE : ERROR_MEMORY);
        assert_int_equal(count_names(tree), 1);
        text_clear(&bytes);
    }
    check_content(tree, "f", "new");
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_tree(test_what_is_no_file),
        in_tree(test_ceiling),
        in_tree(test_many_reads),
        in_tree(test_nul_bytes),
        in_tree(test_write),
        in_tree(test_write_bare_name),
        in_tree(test_write_refused),
        in_tree(test_full_disk),
        in_tree(test_read_only_folder),
        in_tree(test_make_folder),
        in_tree(test_folder_in_the_way),
        in_tree(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
