#include "drivers/base/stop.h"

#include <signal.h>

#include "tests/check.h"

/* Each of the three signals raises the flag and does not end the process; the flag stays. */
static void test_signals(void **state)
{
    static const int signals[] = {SIGHUP, SIGINT, SIGTERM};

    (void)state;
    assert_false(stop_wanted());
    stop_listen();
    assert_false(stop_wanted());
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(raise(signals[i]), 0);
        assert_true(stop_wanted());
    }
}

/* A SIGHUP that the process was told to ignore (nohup) stays ignored. Runs first: the flag stays
 * once up. */
static void test_ignored_signal(void **state)
{
    (void)state;
    assert_true(signal(SIGHUP, SIG_IGN) != SIG_ERR);
    stop_listen();
    assert_int_equal(raise(SIGHUP), 0);
    assert_false(stop_wanted());
    assert_true(signal(SIGHUP, SIG_DFL) != SIG_ERR);
}

/* Stopping is an error of its own kind, with what to do in words. */
static void test_error(void **state)
{
    struct error e = {0};

    (void)state;
    assert_false(stop_error(&e));
    assert_int_equal(e.kind, ERROR_STOPPED);
    assert_holds(e.text, "start again");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_ignored_signal),
                                       cmocka_unit_test(test_signals),
                                       cmocka_unit_test(test_error)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
