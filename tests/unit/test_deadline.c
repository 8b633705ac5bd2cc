#include "drivers/base/deadline.h"

#include <limits.h>
#include <sys/time.h>

#include "tests/peer.h"

/* Times that are none, or too long, must not make a wait endless. */
static void test_bounds(void **state)
{
    (void)state;
    assert_true(deadline_passed(deadline_in(-1)));
    assert_true(deadline_passed(deadline_in((double)NAN)));
    assert_true(deadline_passed(deadline_in((double)INFINITY)));
    assert_true(deadline_passed(deadline_in(0)));
    assert_true(deadline_passed((struct deadline){0}));
    assert_true(deadline_passed((struct deadline){INT64_MIN}));
    assert_close(deadline_left_s(deadline_in(1e9)), 86400, 1);
    assert_close(deadline_left_s(deadline_in(7)), 7, 1);
    assert_int_equal(deadline_left_ms((struct deadline){INT64_MAX}), INT_MAX);
    assert_int_equal(deadline_left_ms(deadline_in(-1)), 0);
    assert_close(deadline_left_s((struct deadline){0}), 0, 0);
}

/* Rounded up: with 0.3 ms left poll() must wait 1 ms, not spin with 0. */
static void test_rounded_up(void **state)
{
    const struct deadline soon = deadline_in(0.2);
    struct deadline almost = soon;

    (void)state;
    while (deadline_left_ms(soon) > 1)
        peer_sleep(0.0005);
    while (!deadline_passed(almost))
        assert_true(deadline_left_ms(almost) == 1 || deadline_passed(almost));
    assert_int_equal(deadline_left_ms(soon), 0);
    assert_in_range(deadline_left_ms(deadline_in(86400)), 86399000, 86400000);
}

/* What is measured with it runs with the deadlines: 20 ms are 20 ms, and not of the calendar. */
static void test_now(void **state)
{
    const double begun_s = deadline_now_s();

    (void)state;
    while (deadline_now_s() - begun_s < 0.02)
        peer_sleep(0.001);
    assert_close(deadline_left_s(deadline_in(5)) + deadline_now_s() - begun_s, 5, 1);
    assert_close(deadline_now_s(), (double)deadline_in(0).at_ns / 1e9, 1);
}

/* The earlier of two, whichever comes first in the call. */
static void test_first(void **state)
{
    const struct deadline a = deadline_in(1), b = deadline_in(2);

    (void)state;
    assert_true(deadline_first(a, b).at_ns == a.at_ns);
    assert_true(deadline_first(b, a).at_ns == a.at_ns);
}

static void take_alarm(int signal_number)
{
    (void)signal_number;
}

/* Signals that are no wish to stop neither shorten a wait nor make it spin: an alarm every 5 ms. */
static void test_other_signals(void **state)
{
    const struct itimerval often = {{0, 5000}, {0, 5000}}, never = {{0, 0}, {0, 0}};
    const double began_s = peer_now_s(), cpu_s = peer_clock_s(CLOCK_THREAD_CPUTIME_ID);
    struct sigaction action = {.sa_handler = take_alarm};

    (void)state;
    assert_int_equal(sigaction(SIGALRM, &action, NULL), 0);
    assert_int_equal(setitimer(ITIMER_REAL, &often, NULL), 0);
    assert_true(deadline_wait(deadline_in(0.2)));
    assert_true(peer_now_s() - began_s >= 0.2);
    assert_true(peer_now_s() - began_s < 0.2 + PEER_LATE_S);
    deadline_sleep(deadline_in(0.2));
    assert_true(peer_now_s() - began_s >= 0.4);
    assert_int_equal(setitimer(ITIMER_REAL, &never, NULL), 0);
    assert_true(peer_clock_s(CLOCK_THREAD_CPUTIME_ID) - cpu_s < 0.1);
}

static bool wait_long(void)
{
    const struct deadline pause = deadline_in(10);
    double began_s;

    if (deadline_wait(pause) || deadline_passed(pause)) return false;
    /* Once asked, a wait does not even begin; a sleep for switching off does. */
    began_s = peer_now_s();
    if (deadline_wait(pause) || deadline_wait(deadline_in(0))) return false;
    if (peer_now_s() - began_s > PEER_LATE_S) return false;
    deadline_sleep(deadline_in(0.02));
    return peer_now_s() - began_s >= 0.02;
}

/* A wish to stop ends a wait at once, though not the pauses of switching off. */
static void test_stop(void **state)
{
    (void)state;
    peer_stop_within(wait_long);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bounds),        cmocka_unit_test(test_rounded_up),
        cmocka_unit_test(test_now),           cmocka_unit_test(test_first),
        cmocka_unit_test(test_other_signals), cmocka_unit_test(test_stop)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
