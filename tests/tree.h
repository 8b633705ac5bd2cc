/* A temporary folder for tests, removed with all that is in it. */
#ifndef GAINSIEVE_TESTS_TREE_H
#define GAINSIEVE_TESTS_TREE_H

#include <ftw.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/check.h"

/* A one-port sweep of one point. */
#define TREE_SWEEP "# MHz S RI R 50\n169 0.1 0.2\n"

struct tree {
    char top[256];
    char path[4096]; /* of tree_path() */
};

static inline int tree_make(void **state)
{
    static struct tree tree;
    const char *folder = getenv("TMPDIR");

    (void)snprintf(tree.top, sizeof tree.top, "%s/gainsieve-test-XXXXXX",
                   folder && *folder ? folder : "/tmp");
    *state = &tree;
    return mkdtemp(tree.top) ? 0 : -1;
}

static inline int tree_remove_one(const char *path, const struct stat *status, int kind,
                                  struct FTW *place)
{
    (void)status, (void)kind, (void)place;
    return remove(path);
}

static inline int tree_remove(void **state)
{
    const struct tree *tree = *state;

    return nftw(tree->top, tree_remove_one, 16, FTW_DEPTH | FTW_PHYS);
}

/* The whole path of a name in the tree; valid until the next call. */
static inline const char *tree_path(struct tree *tree, const char *name)
{
    (void)snprintf(tree->path, sizeof tree->path, "%s/%s", tree->top, name);
    return tree->path;
}

/* Makes the folders that lie above the name's last '/'. */
static inline void tree_folders(struct tree *tree, const char *name)
{
    char path[4096];

    (void)snprintf(path, sizeof path, "%s/%s", tree->top, name);
    for (char *p = path + strlen(tree->top) + 1; *p; p++) {
        if (*p != '/') continue;
        *p = '\0';
        (void)mkdir(path, 0755);
        *p = '/';
    }
}

/* Writes a file and makes the folders it lies in. */
static inline void tree_write(struct tree *tree, const char *name, const char *content)
{
    FILE *file;

    tree_folders(tree, name);
    file = fopen(tree_path(tree, name), "w");
    assert_non_null(file);
    assert_true(fputs(content, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

#endif
