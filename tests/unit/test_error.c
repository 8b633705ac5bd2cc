#include <sys/wait.h>
#include <unistd.h>

#include "drivers/base/error.h"
#include "tests/check.h"

/* One line sets an error and returns false. */
static void test_set(void **state)
{
    struct error e = {0};

    (void)state;
    assert_false(error_set(&e, ERROR_INPUT, "%s:%d: wrong", "a.s2p", 7));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_string_equal(e.text, "a.s2p:7: wrong");
}

/* A sentence longer than the ceiling is cut and stays a text. */
static void test_long_text(void **state)
{
    static char words[2 * CEILING_ERROR_TEXT];
    struct error e = {0};

    (void)state;
    memset(words, 'x', sizeof words - 1);
    assert_false(error_set(&e, ERROR_STORE, "%s", words));
    assert_int_equal(strlen(e.text), CEILING_ERROR_TEXT - 1);
}

/* Setting an error twice would hide the first cause: it is a bug and ends the program. */
static void test_second_is_a_bug(void **state)
{
    pid_t child = fork();
    int status = 0;

    (void)state;
    assert_true(child >= 0);
    if (child == 0) {
        struct error e = {0};

        (void)freopen("/dev/null", "w", stderr);
        (void)error_set(&e, ERROR_INPUT, "first");
        (void)error_set(&e, ERROR_INPUT, "second");
        _exit(0);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_set), cmocka_unit_test(test_long_text),
                                       cmocka_unit_test(test_second_is_a_bug)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
