#include "drivers/link.h"

#include <stdatomic.h>

#include "drivers/base/memory.h"
#include "tests/peer.h"

/* Silence lasts until the deadline and no longer, and waiting costs next to no processor time. The
 * error says what to look at. */
static void test_silence(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        const double began_s = peer_now_s(), cpu_s = peer_clock_s(CLOCK_THREAD_CPUTIME_ID);
        struct text got = {0};
        struct error e = {0};

        peer_check(peer_receive(link, &got, 0.3, &e), link, LINK_TIMEOUT, &e,
                   "no answer within 0.30 s");
        assert_true(peer_now_s() - began_s >= 0.3);
        assert_true(peer_now_s() - began_s < 0.3 + PEER_LATE_S);
        assert_true(peer_clock_s(CLOCK_THREAD_CPUTIME_ID) - cpu_s < 0.02);
        assert_int_equal(got.length, 0);
        /* Time over is not the end: the next exchange may succeed. */
        peer_say(far, "late\n");
        e = (struct error){0};
        assert_done(peer_receive(link, &got, 5, &e), &e);
        assert_string_equal(text_words(&got), "late\n");
        assert_int_equal(link->fault, LINK_OK);
        text_clear(&got);
        link_close(link);
        (void)close(far);
    }
}

static atomic_bool enough;

static void dribble(int descriptor)
{
    while (!atomic_load(&enough)) {
        peer_sleep(0.27);
        peer_say(descriptor, "x");
    }
}

/* One byte every 0.9 x deadline, for ever: each byte comes in time, the answer does not. Fault 5.
 */
static void test_dribble(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        double began_s;
        struct text got = {0};
        struct error e = {0};
        struct peer peer;

        peer_say(far, "x");
        atomic_store(&enough, false);
        peer_start(&peer, far, dribble);
        began_s = peer_now_s();
        peer_check(peer_receive(link, &got, 0.3, &e), link, LINK_TIMEOUT, &e, " bytes came (\"x");
        assert_holds(e.text, "then silence for 0.");
        assert_true(peer_now_s() - began_s < 0.3 + PEER_LATE_S);
        assert_in_range(got.length, 1, 2);
        atomic_store(&enough, true);
        peer_end(&peer);
        text_clear(&got);
        link_close(link);
        (void)close(far);
    }
}

static void flood(int descriptor)
{
    char many[4096];

    memset(many, 'x', sizeof many);
    while (send(descriptor, many, sizeof many, MSG_NOSIGNAL) > 0)
        continue;
}

/* Bytes that never pause leave no moment in which nothing is there; the deadline holds all the
 * same, for an answer and for a drain. */
static void test_flood(void **state)
{
    int far;
    struct link *link = peer_link(PEER_TCP, &far);
    double began_s;
    struct text got = {0};
    struct error e = {0};
    struct peer peer;
    size_t n;

    (void)state;
    peer_start(&peer, far, flood);
    while (!link_has_bytes(link))
        peer_sleep(0.01);
    began_s = peer_now_s();
    peer_check(link_receive(link, peer_line, NULL, (size_t)512 << 20, &got, deadline_in(0.2), &e),
               link, LINK_TIMEOUT, &e, "the answer was not complete within 0.20 s");
    assert_true(peer_now_s() - began_s < 0.2 + PEER_LATE_S);
    e = (struct error){0};
    peer_check(link_drain(link, 1, &n, deadline_in(0.2), &e), link, LINK_TIMEOUT, &e,
               "does not stop sending");
    assert_true(n > 0);
    assert_true(peer_now_s() - began_s < 0.4 + 2 * PEER_LATE_S);
    text_clear(&got);
    link_close(link);
    peer_end(&peer);
    (void)close(far);
}

/* A descriptor that has hung up stays an error at once, for every call, without spinning. */
static void check_gone(struct link *link)
{
    const double began_s = peer_now_s();
    struct text got = {0};
    size_t n;

    for (int i = 0; i < 4; i++) {
        struct error e = {0};
        bool ok = i == 0   ? link_send(link, "*IDN?\n", 6, deadline_in(5), &e)
                  : i == 1 ? peer_receive(link, &got, 5, &e)
                  : i == 2 ? link_drain(link, 1, &n, deadline_in(5), &e)
                           : link_clear(link, deadline_in(5), &e);

        peer_check(ok, link, LINK_GONE, &e, "open it again");
    }
    assert_false(link_has_bytes(link));
    assert_true(peer_now_s() - began_s < PEER_LATE_S);
    text_clear(&got);
}

/* A hang-up while nothing came, waited for or not. Fault 46. */
static void test_hang_up_before(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++)
        for (int sending = 0; sending < 2; sending++) {
            int far;
            struct link *link = peer_link(wire, &far);
            const double began_s = peer_now_s();
            struct text got = {0};
            struct error e = {0};
            bool ok;

            (void)close(far);
            peer_sleep(0.01);
            ok = sending ? link_send(link, "OUTP 1\n", 7, deadline_in(5), &e)
                         : peer_receive(link, &got, 5, &e);
            peer_check(ok, link, LINK_GONE, &e, "hung up");
            assert_true(peer_now_s() - began_s < PEER_LATE_S);
            check_gone(link);
            text_clear(&got);
            link_close(link);
        }
}

static void say_half(int descriptor)
{
    peer_say(descriptor, "#43208half");
    peer_sleep(0.1);
    (void)close(descriptor);
}

/* A hang-up within an answer ends it at once, with what came and how long the silence was.
 * Fault 17.
 */
static void test_hang_up_within(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        const double began_s = peer_now_s(), cpu_s = peer_clock_s(CLOCK_THREAD_CPUTIME_ID);
        struct text got = {0};
        struct error e = {0};
        struct peer peer;

        peer_start(&peer, far, say_half);
        peer_check(peer_receive(link, &got, 5, &e), link, LINK_GONE, &e, "hung up");
        assert_holds(e.text, "10 bytes came, \"#43208half\", then silence for 0.");
        assert_true(peer_now_s() - began_s < 0.1 + PEER_LATE_S);
        assert_true(peer_clock_s(CLOCK_THREAD_CPUTIME_ID) - cpu_s < 0.02);
        assert_string_equal(text_words(&got), "#43208half");
        check_gone(link);
        peer_end(&peer);
        text_clear(&got);
        link_close(link);
    }
}

/* What came before the hang-up is a good answer, and the hang-up is seen with the next call. A
 * pseudo-terminal, like a serial adapter, forgets what was not read. */
static void test_hang_up_after(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        struct text got = {0};
        struct error e = {0};

        if (wire != PEER_PTY) {
            peer_say(far, "last\n");
            (void)close(far);
            assert_done(peer_receive(link, &got, 5, &e), &e);
            assert_string_equal(text_words(&got), "last\n");
            peer_check(link_send(link, "OUTP 1\n", 7, deadline_in(5), &e), link, LINK_GONE, &e,
                       "hung up");
            check_gone(link);
        } else {
            (void)close(far);
        }
        text_clear(&got);
        link_close(link);
    }
}

/* A peer that stops reading: the write ends at the deadline and says how much was sent; the message
 * is not to be taken for sent. Fault 47. */
static void test_peer_stops_reading(void **state)
{
    const size_t n = (size_t)16 << 20;
    struct error none = {0};
    char *many = memory_make(n, 1, &none);

    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        const double began_s = peer_now_s(), cpu_s = peer_clock_s(CLOCK_THREAD_CPUTIME_ID);
        struct error e = {0};

        peer_check(link_send(link, many, n, deadline_in(0.3), &e), link, LINK_TIMEOUT, &e,
                   " of 16777216 bytes could be sent within 0.30 s");
        assert_null(strstr(e.text, "only 0 "));
        assert_true(peer_now_s() - began_s >= 0.3);
        assert_true(peer_now_s() - began_s < 0.3 + PEER_LATE_S);
        assert_true(peer_clock_s(CLOCK_THREAD_CPUTIME_ID) - cpu_s < 0.1);
        link_close(link);
        (void)close(far);
    }
    memory_free(many);
}

static void hang_up_soon(int descriptor)
{
    peer_sleep(0.1);
    (void)close(descriptor);
}

/* A hang-up during a write ends it at once. Fault 46. */
static void test_hang_up_in_write(void **state)
{
    const size_t n = (size_t)16 << 20;
    struct error none = {0};
    char *many = memory_make(n, 1, &none);

    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        const double began_s = peer_now_s();
        struct error e = {0};
        struct peer peer;

        peer_start(&peer, far, hang_up_soon);
        peer_check(link_send(link, many, n, deadline_in(5), &e), link, LINK_GONE, &e, "hung up");
        assert_true(peer_now_s() - began_s < 0.1 + PEER_LATE_S);
        check_gone(link);
        peer_end(&peer);
        link_close(link);
    }
    memory_free(many);
}

static bool stop_in_receive(void)
{
    int far;
    struct link *link = peer_link(PEER_TCP, &far);
    struct text got = {0};
    struct error e = {0}, later = {0}, last = {0};
    size_t n;

    if (peer_receive(link, &got, 10, &e) || e.kind != ERROR_STOPPED) return false;
    if (link->fault == LINK_OK || link->fault == LINK_GONE) return false;
    if (link_drain(link, 1, &n, deadline_in(10), &later) || later.kind != ERROR_STOPPED)
        return false;
    /* Switching off still goes out, and is read back by whoever says that he wants to. */
    e = (struct error){0};
    if (!link_send(link, "OUTP 0\n", 7, deadline_in(1), &e)) return false;
    link->ignores_stop = true;
    peer_say(far, "0\n");
    if (!peer_receive(link, &got, 1, &e) || strcmp(text_words(&got), "0\n") != 0) return false;
    return !peer_receive(link, &got, 0.02, &last) && link->fault == LINK_TIMEOUT;
}

static bool stop_in_send(void)
{
    const size_t n = (size_t)16 << 20;
    int far;
    struct link *link = peer_link(PEER_SOCKETS, &far);
    struct error e = {0};
    char *many = memory_make(n, 1, &e);

    return !link_send(link, many, n, deadline_in(10), &e) && e.kind == ERROR_STOPPED;
}

static bool stop_in_flood(void)
{
    int far;
    struct link *link = peer_link(PEER_TCP, &far);
    struct text got = {0};
    struct error e = {0};
    struct peer peer;
    size_t n;

    peer_start(&peer, far, flood);
    return !link_drain(link, 1, &n, deadline_in(10), &e) && e.kind == ERROR_STOPPED &&
           !peer_receive(link, &got, 1, &(struct error){0});
}

/* A wish to stop in the middle of any wait ends it within 100 ms, also while bytes come. It does
 * not keep the "off" from going out, nor from being confirmed. */
static void test_stop(void **state)
{
    (void)state;
    peer_stop_within(stop_in_receive);
    peer_stop_within(stop_in_send);
    peer_stop_within(stop_in_flood);
}

static void chatter(int descriptor)
{
    for (int i = 0; i < 5; i++) {
        peer_sleep(0.05);
        peer_say(descriptor, "x");
    }
}

/* Draining lasts as long as bytes come and the silence behind them; a peer that dribbles through
 * the whole deadline was not silent, whatever the last moment looked like. */
static void test_drain(void **state)
{
    int far;
    struct link *link = peer_link(PEER_SOCKETS, &far);
    double began_s = peer_now_s();
    struct error e = {0};
    struct peer peer;
    size_t n;

    (void)state;
    peer_start(&peer, far, chatter);
    peer_say(far, "x");
    assert_done(link_drain(link, 0.5, &n, deadline_in(30), &e), &e);
    assert_int_equal(n, 6);
    assert_true(peer_now_s() - began_s >= 0.75);
    assert_true(peer_now_s() - began_s < 0.75 + PEER_LATE_S);
    peer_end(&peer);
    peer_say(far, "x");
    peer_start(&peer, far, chatter);
    began_s = peer_now_s();
    peer_check(link_drain(link, 0.5, &n, deadline_in(0.12), &e), link, LINK_TIMEOUT, &e,
               "does not stop sending");
    assert_in_range(n, 1, 3);
    assert_true(peer_now_s() - began_s < 0.12 + PEER_LATE_S);
    peer_end(&peer);
    link_close(link);
    (void)close(far);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_silence),
                                       cmocka_unit_test(test_dribble),
                                       cmocka_unit_test(test_flood),
                                       cmocka_unit_test(test_hang_up_before),
                                       cmocka_unit_test(test_hang_up_within),
                                       cmocka_unit_test(test_hang_up_after),
                                       cmocka_unit_test(test_peer_stops_reading),
                                       cmocka_unit_test(test_hang_up_in_write),
                                       cmocka_unit_test(test_stop),
                                       cmocka_unit_test(test_drain)};

    /* A wait without an end would end here. */
    (void)alarm(120);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
