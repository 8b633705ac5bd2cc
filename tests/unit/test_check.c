/* The tests' own helpers must fail when they should: a comparison that lets NaN through would make
 * every test above it worthless. Each case runs in a child, whose exit status is what is checked.
 */
#include "tests/check.h"

#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

static double nan_value(void)
{
    return strtod("nan", NULL);
}

static void same(void **state)
{
    (void)state;
    assert_close(1.5, 1.5, 0);
    assert_close(-0.0, 0.0, 0);
}

static void inside_tolerance(void **state)
{
    (void)state;
    assert_close(1.0, 1.25, 0.25);
    assert_close(1.25, 1.0, 0.25);
}

static void outside_tolerance(void **state)
{
    (void)state;
    assert_close(1.0, 1.0 + 0x1p-52, 0);
}

static void below(void **state)
{
    (void)state;
    assert_close(0.9, 1.0, 0.05);
}

static void got_nan(void **state)
{
    (void)state;
    assert_close(nan_value(), 1.0, 1e9);
}

static void want_nan(void **state)
{
    (void)state;
    assert_close(1.0, nan_value(), 1e9);
}

static void both_nan(void **state)
{
    (void)state;
    assert_close(nan_value(), nan_value(), 1e9);
}

static void tolerance_nan(void **state)
{
    (void)state;
    assert_close(1.0, 1.0, nan_value());
}

/* The difference of two infinities is not a number, so not even equal ones are close. */
static void infinities(void **state)
{
    (void)state;
    assert_close(HUGE_VAL, HUGE_VAL, 1.0);
}

static void done(void **state)
{
    const struct error e = {0};

    (void)state;
    assert_done(true, &e);
}

static void not_done(void **state)
{
    const struct error e = {.kind = ERROR_INPUT, .text = "a reason"};

    (void)state;
    assert_done(false, &e);
}

static void holds(void **state)
{
    (void)state;
    assert_holds("a long text", "long");
}

static void does_not_hold(void **state)
{
    (void)state;
    assert_holds("a long text", "short");
}

static void nothing_holds_nothing(void **state)
{
    (void)state;
    assert_holds(NULL, "short");
}

static const struct {
    const char *name;
    CMUnitTestFunction test;
    bool passes;
} cases[] = {
    {"the same", same, true},
    {"inside the tolerance", inside_tolerance, true},
    {"one bit outside the tolerance", outside_tolerance, false},
    {"below", below, false},
    {"got NaN", got_nan, false},
    {"want NaN", want_nan, false},
    {"both NaN", both_nan, false},
    {"a tolerance of NaN", tolerance_nan, false},
    {"infinities", infinities, false},
    {"done", done, true},
    {"not done", not_done, false},
    {"holds", holds, true},
    {"does not hold", does_not_hold, false},
    {"no text", nothing_holds_nothing, false},
};

/* Runs one case as a test program of its own and returns its exit status: 0, or the number of
 * failed tests. */
static int run_case(size_t i)
{
    pid_t child;
    int status = 0;

    (void)fflush(NULL);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        const struct CMUnitTest test = {cases[i].name, cases[i].test, NULL, NULL, NULL};
        const struct CMUnitTest tests[] = {test};

        /* What a failing case says would look like a failure of this program. */
        if (!freopen("/dev/null", "w", stdout) || !freopen("/dev/null", "w", stderr)) _exit(99);
        _exit(cmocka_run_group_tests(tests, NULL, NULL));
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static void test_helpers(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int status = run_case(i);

        if (status != (cases[i].passes ? 0 : 1))
            print_error("%s: ended with %d\n", cases[i].name, status);
        assert_int_equal(status, cases[i].passes ? 0 : 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_helpers)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
