#include "runner/batch_folder.h"

#include <sys/sysmacros.h>

#include "drivers/base/memory.h"
#include "reports/page_parts.h"
#include "tests/tree.h"

/* Names of folders are made like those of the units' pages, so that a person finds both. */
static void test_names(void **state)
{
    static const char *const serials[] = {"KW000101", "../a b", "%2E",      "a-b_c.d", ".",
                                          "..",       "/",      "\xc3\xa4", "a/b"};

    (void)state;
    for (size_t i = 0; i < sizeof serials / sizeof *serials; i++) {
        struct text name = {0};
        char page[PAGE_UNIT_NAME];

        batch_add_name(&name, serials[i]);
        page_unit_name(NULL, serials[i], page);
        page[strlen(page) - strlen(".html")] = '\0';
        assert_string_equal(name.data, page);
        text_clear(&name);
    }
}

/* Network file systems by their numbers (linux/magic.h, from memory) and, in user space, by the
 * line of their mount; a local disk is none. */
static void test_network(void **state)
{
    static const char mounts[] =
        "22 1 254:0 / / rw,relatime - ext4 /dev/vda rw\n"
        "40 22 0:40 / /mnt/a rw,nosuid shared:3 - fuse.sshfs bench@host:/data rw\n"
        "41 22 0:41 / /mnt/b rw - fuse.other server:/data rw\n"
        "42 22 0:42 / /mnt/c rw - fuseblk /dev/sdb1 rw\n"
        "43 22 0:43 / /mnt/d rw";
    char room[64];

    (void)state;
    assert_string_equal(batch_network_name(0x6969, "", 0, room), "nfs");
    assert_string_equal(batch_network_name(0xff534d42, "", 0, room), "cifs");
    assert_string_equal(batch_network_name(0xfe534d42, "", 0, room), "smb2");
    assert_string_equal(batch_network_name(0x517b, "", 0, room), "smb");
    assert_string_equal(batch_network_name(0x01021997, "", 0, room), "9p");
    /* The kernel's number sign-extended, as statfs() gives it on some machines. */
    assert_string_equal(batch_network_name((unsigned long)(long)(int)0xff534d42, "", 0, room),
                        "cifs");
    assert_null(batch_network_name(0xef53, mounts, makedev(0, 40), room)); /* ext4 */
    assert_string_equal(batch_network_name(0x65735546, mounts, makedev(0, 40), room), "fuse.sshfs");
    assert_string_equal(batch_network_name(0x65735546, mounts, makedev(0, 41), room), "fuse.other");
    assert_null(batch_network_name(0x65735546, mounts, makedev(0, 42), room));
    assert_null(batch_network_name(0x65735546, mounts, makedev(0, 43), room));
    assert_null(batch_network_name(0x65735546, mounts, makedev(0, 4), room));
    assert_null(batch_network_name(0x65735546, "", makedev(0, 40), room));
}

/* The folder of the tests is on a local disk; one that is not there is told. */
static void test_disk(void **state)
{
    struct tree *tree = *state;
    struct error e = {0};

    assert_done(batch_check_disk(tree->top, &e), &e);
    assert_false(batch_check_disk(tree_path(tree, "absent"), &e));
    assert_int_equal(e.kind, ERROR_STORE);
}

static bool take_name(void *context, const char *name, struct error *e)
{
    (void)e;
    text_addf(context, "%s\n", name);
    return true;
}

/* Every file in a fixed order, links and hidden files too; nothing where there is no folder. */
static void test_each_file(void **state)
{
    struct tree *tree = *state;
    struct text names = {0};
    struct error e = {0};

    tree_write(tree, "sweeps/b/1/x", "");
    tree_write(tree, "sweeps/a/2/.y", "");
    tree_write(tree, "top", "");
    assert_int_equal(symlink("..", tree_path(tree, "sweeps/a/up")), 0);
    assert_done(batch_each_file(tree->top, "sweeps", take_name, &names, &e), &e);
    assert_string_equal(names.data, "sweeps/a/2/.y\nsweeps/a/up\nsweeps/b/1/x\n");
    text_reset(&names);
    assert_done(batch_each_file(tree->top, "", take_name, &names, &e), &e);
    assert_string_equal(names.data, "sweeps/a/2/.y\nsweeps/a/up\nsweeps/b/1/x\ntop\n");
    /* A slash at the end of the folder's name, as a shell's completion leaves it. */
    text_reset(&names);
    assert_done(batch_each_file(tree_path(tree, ""), "", take_name, &names, &e), &e);
    assert_string_equal(names.data, "sweeps/a/2/.y\nsweeps/a/up\nsweeps/b/1/x\ntop\n");
    text_reset(&names);
    assert_done(batch_each_file(tree->path, "sweeps", take_name, &names, &e), &e);
    assert_string_equal(names.data, "sweeps/a/2/.y\nsweeps/a/up\nsweeps/b/1/x\n");
    text_reset(&names);
    assert_done(batch_each_file(tree->top, "absent", take_name, &names, &e), &e);
    assert_int_equal(names.length, 0);
    text_clear(&names);
}

/* Folders are made with those between; a file in the way is told; no memory is no folder. */
static void test_make(void **state)
{
    struct tree *tree = *state;
    struct error e = {0};

    assert_done(batch_make_folder(tree->top, "sweeps/KW1/1", &e), &e);
    assert_true(batch_has(tree->top, "sweeps/KW1/1"));
    assert_done(batch_make_folder(tree_path(tree, ""), "sweeps/KW1/1", &e), &e);
    assert_false(batch_has(tree->top, "sweeps/KW1/2"));
    assert_false(batch_has(tree_path(tree, "absent"), "x"));
    tree_write(tree, "file", "");
    assert_false(batch_make_folder(tree->top, "file/x", &e));
    assert_int_equal(e.kind, ERROR_STORE);
    for (unsigned long nth = 1; nth < 3; nth++) {
        e = (struct error){0};
        memory_fail_at(nth);
        assert_false(batch_make_folder(tree->top, "sweeps/KW1/3", &e));
        memory_fail_at(0);
        assert_int_equal(e.kind, ERROR_MEMORY);
    }
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_names), cmocka_unit_test(test_network),
        in_tree(test_disk),           in_tree(test_each_file),
        in_tree(test_make),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
