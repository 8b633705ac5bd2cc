#include "drivers/base/stop.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>

#include "tests/check.h"

/* How many of the descriptors that poll() is asked about are readable now. */
static int readable(int descriptor)
{
    struct pollfd polled = {.fd = descriptor, .events = POLLIN};

    return poll(&polled, 1, 0);
}

/* There is no descriptor before anybody listens, and one for good afterwards, which programs that
 * are started do not inherit. */
static void test_descriptor(void **state)
{
    const int descriptor = stop_descriptor();

    (void)state;
    assert_true(descriptor >= 0);
    assert_int_equal(readable(descriptor), 0);
    assert_true(fcntl(descriptor, F_GETFD) & FD_CLOEXEC);
    stop_listen();
    assert_int_equal(stop_descriptor(), descriptor);
}

/* Each of the three signals raises the flag and does not end the process; the flag stays. A poll
 * loop sees it too, also when the signal came before the wait and however often it comes. The
 * handler leaves errno alone, which the interrupted code may be about to read. */
static void test_signals(void **state)
{
    static const int signals[] = {SIGHUP, SIGINT, SIGTERM};

    (void)state;
    assert_false(stop_wanted());
    stop_listen();
    assert_false(stop_wanted());
    for (size_t i = 0; i < 3; i++) {
        errno = ERANGE;
        assert_int_equal(raise(signals[i]), 0);
        assert_int_equal(errno, ERANGE);
        assert_true(stop_wanted());
        assert_int_equal(readable(stop_descriptor()), 1);
    }
}

/* A SIGHUP that the process was told to ignore (nohup) stays ignored. Runs first: the flag stays
 * once up. */
static void test_ignored_signal(void **state)
{
    (void)state;
    assert_int_equal(stop_descriptor(), -1);
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
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ignored_signal), cmocka_unit_test(test_descriptor),
        cmocka_unit_test(test_signals), cmocka_unit_test(test_error)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
