#include "drivers/base/file.h"

#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/check.h"

static char folder[64];

static int make_folder(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "/tmp/gainsieve-file-XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    char command[128];

    (void)state;
    (void)snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

static const char *path_of(const char *name)
{
    static char path[128];

    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

/* What is written reads back, byte for byte, NULs included, and ends in a NUL. */
static void test_round_trip(void **state)
{
    struct text bytes = {0};
    struct error e = {0};

    (void)state;
    assert_done(file_write(path_of("a"), "x\0y\n", 4, FILE_DURABLE, &e), &e);
    assert_done(file_read(path_of("a"), 100, &bytes, &e), &e);
    assert_int_equal(bytes.length, 4);
    assert_memory_equal(bytes.data, "x\0y\n\0", 5);
    assert_done(file_write(path_of("a"), "", 0, FILE_PLAIN, &e), &e);
    assert_done(file_read(path_of("a"), 100, &bytes, &e), &e);
    assert_int_equal(bytes.length, 0);
    assert_string_equal(bytes.data, "");
    text_clear(&bytes);
}

/* A file larger than the first read, into a buffer that is used again for a small one. */
static void test_large_then_small(void **state)
{
    size_t length = 3 << 20;
    char *large = malloc(length);
    struct text bytes = {0};
    struct error e = {0};

    (void)state;
    assert_non_null(large);
    for (size_t i = 0; i < length; i++)
        large[i] = (char)('a' + i % 23);
    assert_done(file_write(path_of("large"), large, length, FILE_PLAIN, &e), &e);
    assert_done(file_write(path_of("small"), "s", 1, FILE_PLAIN, &e), &e);
    assert_done(file_read(path_of("large"), 4 << 20, &bytes, &e), &e);
    assert_int_equal(bytes.length, length);
    assert_memory_equal(bytes.data, large, length);
    assert_done(file_read(path_of("small"), 100, &bytes, &e), &e);
    assert_string_equal(bytes.data, "s");
    text_clear(&bytes);
    free(large);
}

static void check_unreadable(const char *path, size_t ceiling, const char *words)
{
    struct text bytes = {0};
    struct error e = {0};

    assert_false(file_read(path, ceiling, &bytes, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, path);
    assert_holds(e.text, words);
    assert_int_equal(bytes.length, 0);
    text_clear(&bytes);
}

/* Missing, a folder, a pipe (which must not wait for a writer), a device, too long: each in words.
 */
static void test_unreadable(void **state)
{
    struct error e = {0};

    (void)state;
    check_unreadable(path_of("none"), 10, "No such file");
    check_unreadable(folder, 10, "is not a file");
    check_unreadable("/dev/zero", 10, "is not a file");
    assert_int_equal(mkfifo(path_of("pipe"), 0600), 0);
    check_unreadable(path_of("pipe"), 10, "is not a file");
    assert_done(file_write(path_of("eleven"), "12345678901", 11, FILE_PLAIN, &e), &e);
    check_unreadable(path_of("eleven"), 10, "longer than 10 bytes");
    /* A file of the kernel tells no size: the ceiling holds while reading. */
    check_unreadable("/proc/self/status", 10, "longer than 10 bytes");
}

/* Exactly the ceiling is still read. */
static void test_ceiling(void **state)
{
    struct text bytes = {0};
    struct error e = {0};

    (void)state;
    assert_done(file_write(path_of("ten"), "1234567890", 10, FILE_PLAIN, &e), &e);
    assert_done(file_read(path_of("ten"), 10, &bytes, &e), &e);
    assert_int_equal(bytes.length, 10);
    text_clear(&bytes);
}

/* When writing fails the old file stays whole and no half file is left. */
static void test_old_file_stays(void **state)
{
    struct text bytes = {0};
    struct error e = {0}, again = {0};

    (void)state;
    assert_int_equal(mkdir(path_of("taken"), 0700), 0);
    assert_int_equal(mkdir(path_of("taken/x"), 0700), 0);
    assert_false(file_write(path_of("taken"), "new", 3, FILE_DURABLE, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "cannot be written");
    assert_int_equal(access(path_of("taken/x"), F_OK), 0);
    assert_false(file_write(path_of("no/such/file"), "new", 3, FILE_DURABLE, &again));
    assert_int_equal(again.kind, ERROR_STORE);
    text_clear(&bytes);
}

/* Folders are made with those above them; one that is there is fine, a file in the way is not. */
static void test_folders(void **state)
{
    struct error e = {0};
    struct stat status;

    (void)state;
    assert_done(file_make_folder(path_of("p/q/r"), &e), &e);
    assert_done(file_make_folder(path_of("p/q/r/"), &e), &e);
    assert_int_equal(stat(path_of("p/q/r"), &status), 0);
    assert_true(S_ISDIR(status.st_mode));
    assert_done(file_write(path_of("f"), "x", 1, FILE_PLAIN, &e), &e);
    assert_false(file_make_folder(path_of("f"), &e));
    assert_int_equal(e.kind, ERROR_STORE);
    e = (struct error){0};
    assert_false(file_make_folder(path_of("f/g"), &e));
    assert_holds(e.text, "cannot be made");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_round_trip),     cmocka_unit_test(test_large_then_small),
        cmocka_unit_test(test_unreadable),     cmocka_unit_test(test_ceiling),
        cmocka_unit_test(test_old_file_stays), cmocka_unit_test(test_folders)};

    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
