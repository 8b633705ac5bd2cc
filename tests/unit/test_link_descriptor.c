#include "drivers/link.h"

#include <sys/time.h>

#include "tests/peer.h"

/* A descriptor that cannot be a link is refused with the reason, and stays the caller's. */
static void test_refused(void **state)
{
    struct error e = {0};
    char port[32];
    int ends[2];

    (void)state;
    assert_null(link_open("fd:1000000", NULL, deadline_in(1), &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "fd:1000000: the descriptor is not open");
    assert_int_equal(pipe(ends), 0);
    (void)snprintf(port, sizeof port, "fd:%d", ends[0]);
    e = (struct error){0};
    assert_null(link_open(port, NULL, deadline_in(1), &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "does not go both ways");
    assert_true(fcntl(ends[0], F_GETFD) >= 0);
    (void)close(ends[0]);
    (void)close(ends[1]);
}

/* An open link neither blocks nor passes its descriptor on to programs that are started; opening
 * says nothing to the other side, and closing closes. */
static void test_owned(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        const int near = link->descriptor;
        struct pollfd polled = {.fd = far, .events = POLLIN};

        assert_true(fcntl(near, F_GETFD) & FD_CLOEXEC);
        assert_true(fcntl(near, F_GETFL) & O_NONBLOCK);
        assert_int_equal(poll(&polled, 1, 10), 0);
        link_close(link);
        assert_int_equal(fcntl(near, F_GETFD), -1);
        (void)close(far);
    }
    link_close(NULL);
}

/* Writing to a peer that is gone is an error, not the end of the process by SIGPIPE: the bench must
 * be switched off. link_send() looks first, so here it is the own end that takes no more bytes:
 * what the write sees when the peer goes in between. */
static void test_no_broken_pipe(void **state)
{
    (void)state;
    for (int own = 0; own < 2; own++) {
        int far;
        struct link *link = peer_link(PEER_SOCKETS, &far);
        struct error e = {0};

        (void)signal(SIGPIPE, SIG_DFL);
        if (own)
            assert_int_equal(shutdown(link->descriptor, SHUT_WR), 0);
        else
            (void)close(far);
        peer_check(link_send(link, "OUTP 0\n", 7, deadline_in(1), &e), link, LINK_GONE, &e,
                   own ? "Broken pipe" : "hung up");
        link_close(link);
        if (own) (void)close(far);
    }
}

/* A peer that has shut its side, though it might still read, ends a message before its first byte.
 */
static void test_half_closed(void **state)
{
    int far;
    struct link *link = peer_link(PEER_TCP, &far);
    struct error e = {0};
    char byte;

    (void)state;
    assert_int_equal(shutdown(far, SHUT_WR), 0);
    peer_sleep(0.02);
    peer_check(link_send(link, "OUTP 1\n", 7, deadline_in(1), &e), link, LINK_GONE, &e, "hung up");
    link_close(link);
    assert_int_equal(read(far, &byte, 1), 0);
    (void)close(far);
}

/* The wait for events: what came is told, also when it is a hang-up; 0 at the deadline. */
static void test_wait(void **state)
{
    int far;
    struct link *link = peer_link(PEER_SOCKETS, &far);
    struct error e = {0};
    short ready;

    (void)state;
    assert_done(link_wait(link, POLLIN, &ready, deadline_in(0.02), &e), &e);
    assert_int_equal(ready, 0);
    assert_done(link_wait(link, POLLIN | POLLOUT, &ready, deadline_in(5), &e), &e);
    assert_int_equal(ready, POLLOUT);
    peer_say(far, "x");
    /* What is there already is seen after the deadline, too. */
    assert_done(link_wait(link, POLLIN, &ready, deadline_in(-1), &e), &e);
    assert_int_equal(ready, POLLIN);
    (void)close(far);
    assert_done(link_wait(link, POLLIN, &ready, deadline_in(5), &e), &e);
    assert_true(ready & POLLHUP);
    assert_false(link_stopped(link));
    link_close(link);
}

static void take_alarm(int signal_number)
{
    (void)signal_number;
}

/* Signals that are no wish to stop neither end a wait nor make it longer nor spin. */
static void test_other_signals(void **state)
{
    const struct itimerval often = {{0, 5000}, {0, 5000}}, never = {{0, 0}, {0, 0}};
    struct sigaction action = {.sa_handler = take_alarm};
    int far;
    struct link *link = peer_link(PEER_PTY, &far);
    const double began_s = peer_now_s(), cpu_s = peer_clock_s(CLOCK_THREAD_CPUTIME_ID);
    struct text got = {0};
    struct error e = {0};

    (void)state;
    assert_int_equal(sigaction(SIGALRM, &action, NULL), 0);
    assert_int_equal(setitimer(ITIMER_REAL, &often, NULL), 0);
    peer_check(peer_receive(link, &got, 0.2, &e), link, LINK_TIMEOUT, &e, "no answer");
    assert_int_equal(setitimer(ITIMER_REAL, &never, NULL), 0);
    assert_true(peer_now_s() - began_s >= 0.2);
    assert_true(peer_now_s() - began_s < 0.2 + PEER_LATE_S);
    assert_true(peer_clock_s(CLOCK_THREAD_CPUTIME_ID) - cpu_s < 0.1);
    text_clear(&got);
    link_close(link);
    (void)close(far);
}

static bool wait_unheard(void)
{
    int far;
    struct link *link = peer_link(PEER_SOCKETS, &far);
    struct error e = {0};
    short ready;

    link->ignores_stop = true;
    if (!link_wait(link, POLLIN, &ready, deadline_in(0.25), &e) || ready || !stop_wanted())
        return false;
    if (link_stopped(link)) return false;
    link->ignores_stop = false;
    return link_stopped(link) && !link_wait(link, POLLIN, &ready, deadline_in(10), &e) &&
           e.kind == ERROR_STOPPED;
}

/* A link that switches the bench off waits to its deadline; made to listen again, it stops. */
static void test_ignores_stop(void **state)
{
    (void)state;
    peer_stop_within(wait_unheard);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_refused),        cmocka_unit_test(test_owned),
        cmocka_unit_test(test_no_broken_pipe), cmocka_unit_test(test_half_closed),
        cmocka_unit_test(test_wait),           cmocka_unit_test(test_other_signals),
        cmocka_unit_test(test_ignores_stop)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
