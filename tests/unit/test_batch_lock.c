#include "runner/batch_lock.h"

#include <signal.h>
#include <sys/wait.h>

#include "tests/tree.h"

/* Taken once, refused the second time, also within one process; free again after its release. */
static void test_once(void **state)
{
    struct tree *tree = *state;
    struct batch_lock first = {0}, second = {0};
    struct error e = {0};
    char words[64];

    assert_done(batch_lock_take(&first, tree->top, &e), &e);
    assert_false(batch_lock_take(&second, tree->top, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    (void)snprintf(words, sizeof words, "process %ld on ", (long)getpid());
    assert_holds(e.text, words);
    assert_false(second.held);
    batch_lock_release(&first);
    batch_lock_release(&first);
    e = (struct error){0};
    assert_done(batch_lock_take(&second, tree->top, &e), &e);
    batch_lock_release(&second);
}

/* The kernel drops the lock with a process that is killed, but not before a child that it forked
 * meanwhile has ended too. */
static void test_dropped_with_process(void **state)
{
    struct tree *tree = *state;
    struct batch_lock lock = {0};
    struct text who = {0};
    int pipes[2], status;
    pid_t child, grandchild = 0;

    assert_int_equal(pipe(pipes), 0);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct error e = {0};

        if (!batch_lock_take(&lock, tree->top, &e)) _exit(1);
        if (fork() == 0) {
            grandchild = getpid();
            if (write(pipes[1], &grandchild, sizeof grandchild) < 0) _exit(1);
        }
        for (;;)
            (void)pause();
    }
    (void)close(pipes[1]);
    assert_int_equal(read(pipes[0], &grandchild, sizeof grandchild), sizeof grandchild);
    assert_int_equal(kill(child, SIGKILL), 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(batch_lock_try(&lock, tree->top, &who), BATCH_LOCK_ELSEWHERE);
    assert_int_equal(kill(grandchild, SIGKILL), 0);
    /* The end of the grandchild is seen when the last writer of the pipe is gone. */
    assert_int_equal(read(pipes[0], &grandchild, sizeof grandchild), 0);
    for (int tries = 0; tries < 100 && !lock.held; tries++)
        if (batch_lock_try(&lock, tree->top, &who) != BATCH_LOCK_TAKEN) (void)usleep(10000);
    assert_true(lock.held);
    batch_lock_release(&lock);
    text_clear(&who);
    (void)close(pipes[0]);
}

/* Where nothing can be written nobody can hold a lock: told apart from a lock held elsewhere. What
 * an earlier holder wrote is not taken for a lock. A link in its place is not followed. */
static void test_impossible(void **state)
{
    struct tree *tree = *state;
    struct batch_lock lock = {0};
    struct text who = {0};
    struct error e = {0};

    assert_int_equal(batch_lock_try(&lock, tree_path(tree, "absent"), &who), BATCH_LOCK_IMPOSSIBLE);
    assert_holds(text_words(&who), "No such file");
    assert_false(batch_lock_take(&lock, tree->path, &e));
    assert_holds(e.text, "cannot be locked");
    tree_write(tree, BATCH_LOCK_NAME, "process 1 on \033[31mmoon\n");
    text_reset(&who);
    assert_int_equal(batch_lock_try(&lock, tree->top, &who), BATCH_LOCK_TAKEN);
    batch_lock_release(&lock);
    assert_int_equal(unlink(tree_path(tree, BATCH_LOCK_NAME)), 0);
    assert_int_equal(symlink("elsewhere", tree->path), 0);
    assert_int_equal(batch_lock_try(&lock, tree->top, &who), BATCH_LOCK_IMPOSSIBLE);
    text_clear(&who);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_tree(test_once),
        in_tree(test_dropped_with_process),
        in_tree(test_impossible),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
