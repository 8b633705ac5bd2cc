#include <dlfcn.h>
#include <netdb.h>
#include <stdatomic.h>

#include "drivers/base/memory.h"
#include "drivers/link.h"
#include "tests/peer.h"

/* ---- the system with two faults that it has seldom ---- */

/* A listener whose queue is full throws requests away, as a host does that is switched off. */
static char blocked_port[64];

/* A resolver that takes its time for two names, as one does whose server is silent, and has two
 * addresses for another, the first of them blocked. */
static atomic_int lookups, slow_lookups, slow_done;

int getaddrinfo(const char *restrict name, const char *restrict service,
                const struct addrinfo *restrict hints, struct addrinfo **restrict found)
{
    int (*real)(const char *, const char *, const struct addrinfo *, struct addrinfo **);
    const bool slow = name && strcmp(name, "slow.example") == 0;
    const bool stuck = name && strcmp(name, "stuck.example") == 0;
    int result;

    *(void **)&real = dlsym(RTLD_NEXT, "getaddrinfo");
    if (!(hints->ai_flags & AI_NUMERICHOST)) atomic_fetch_add(&lookups, 1);
    if (name && strcmp(name, "two.example") == 0 && !(hints->ai_flags & AI_NUMERICHOST)) {
        result = real("127.0.0.1", strrchr(blocked_port, ':') + 1, hints, found);
        return result ? result : real("127.0.0.1", service, hints, &(*found)->ai_next);
    }
    if ((!slow && !stuck) || (hints->ai_flags & AI_NUMERICHOST))
        return real(name, service, hints, found);
    atomic_fetch_add(&slow_lookups, 1);
    peer_sleep(stuck ? 60 : 0.6);
    result = real("127.0.0.1", service, hints, found);
    atomic_fetch_add(&slow_done, 1);
    return result;
}

/* A near port that is by chance the far one: with nobody listening, a socket connects to itself. */
static atomic_bool from_its_own_port;

int connect(int descriptor, __CONST_SOCKADDR_ARG address, socklen_t length)
{
    int (*real)(int, __CONST_SOCKADDR_ARG, socklen_t);

    *(void **)&real = dlsym(RTLD_NEXT, "connect");
    if (atomic_load(&from_its_own_port)) assert_int_equal(bind(descriptor, address, length), 0);
    return real(descriptor, address, length);
}

/* ---- helpers ---- */

/* A port of 127.0.0.1 that nobody listens on. */
static void free_port(char *port, size_t size)
{
    (void)close(peer_listen(port, size, 1));
}

/* Opening must fail with these words, naming the port, within `s`. */
static void check_no_link(const char *port, double allowed_s, double s, const char *words)
{
    const double began_s = peer_now_s();
    struct error e = {0};

    assert_null(link_open(port, NULL, deadline_in(allowed_s), &e));
    assert_true(peer_now_s() - began_s < s + PEER_LATE_S);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, port);
    assert_holds(e.text, words);
}

struct blocked {
    int listener, fill[3];
};

static void block(struct blocked *blocked)
{
    struct sockaddr_in address;
    socklen_t length = sizeof address;

    blocked->listener = peer_listen(blocked_port, sizeof blocked_port, 0);
    assert_int_equal(getsockname(blocked->listener, (struct sockaddr *)&address, &length), 0);
    for (size_t i = 0; i < 3; i++) {
        blocked->fill[i] = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
        (void)connect(blocked->fill[i], (struct sockaddr *)&address, length);
    }
    peer_sleep(0.02);
}

static void unblock(struct blocked *blocked)
{
    for (size_t i = 0; i < 3; i++)
        (void)close(blocked->fill[i]);
    (void)close(blocked->listener);
}

/* An IPv6 address in brackets reaches its listener. Without IPv6 there is nothing to test. */
static void test_ipv6(void **state)
{
    struct sockaddr_in6 address = {.sin6_family = AF_INET6, .sin6_addr = IN6ADDR_LOOPBACK_INIT};
    socklen_t length = sizeof address;
    const int listener = socket(AF_INET6, SOCK_STREAM, 0);
    struct link *link;
    char port[64];
    int far;

    (void)state;
    if (listener < 0 || bind(listener, (struct sockaddr *)&address, length) != 0) {
        if (listener >= 0) (void)close(listener);
        skip();
    }
    assert_int_equal(listen(listener, 1), 0);
    assert_int_equal(getsockname(listener, (struct sockaddr *)&address, &length), 0);
    (void)snprintf(port, sizeof port, "tcp:[::1]:%u", (unsigned)ntohs(address.sin6_port));
    link = peer_open(port);
    far = accept(listener, NULL, NULL);
    assert_true(far >= 0);
    link_close(link);
    (void)close(far);
    (void)close(listener);
}

/* Refused at once, with what to look at. Fault 48. */
static void test_refused(void **state)
{
    char port[64];

    (void)state;
    free_port(port, sizeof port);
    check_no_link(port, 10, 0, "the connection was refused");
}

/* Nobody answers the request for a connection: the deadline holds. */
static void test_no_connection(void **state)
{
    struct blocked blocked;

    (void)state;
    block(&blocked);
    check_no_link(blocked_port, 0.2, 0.2, "no connection in time");
    unblock(&blocked);
}

/* An address that swallows everything leaves time for the next one of the same name. */
static void test_second_address(void **state)
{
    char port[64], named[80];
    const int listener = peer_listen(port, sizeof port, 1);
    struct blocked blocked;
    struct error e = {0};
    struct link *link;
    double began_s;

    (void)state;
    block(&blocked);
    began_s = peer_now_s();
    (void)snprintf(named, sizeof named, "tcp:two.example:%s", strrchr(port, ':') + 1);
    link = link_open(named, NULL, deadline_in(2), &e);
    assert_done(link != NULL, &e);
    assert_true(peer_now_s() - began_s < 1.8);
    link_close(link);
    unblock(&blocked);
    (void)close(listener);
}

static bool stop_in_connect(void)
{
    struct error e = {0};

    return !link_open(blocked_port, NULL, deadline_in(10), &e) && e.kind == ERROR_STOPPED;
}

static bool stop_in_lookup(void)
{
    struct error e = {0};

    return !link_open("tcp:stuck.example:5025", NULL, deadline_in(10), &e) &&
           e.kind == ERROR_STOPPED;
}

/* A wish to stop ends the wait for a connection and for a name, too. */
static void test_stop(void **state)
{
    struct blocked blocked;

    (void)state;
    block(&blocked);
    peer_stop_within(stop_in_connect);
    peer_stop_within(stop_in_lookup);
    unblock(&blocked);
}

/* A name is looked up, each of its addresses is tried: "localhost" has ::1 first on many systems,
 * and nobody listens there. */
static void test_name(void **state)
{
    char port[64], named[80];
    const int listener = peer_listen(port, sizeof port, 1);
    struct link *link;
    int far;

    (void)state;
    (void)snprintf(named, sizeof named, "tcp:localhost:%s", strrchr(port, ':') + 1);
    link = peer_open(named);
    far = accept(listener, NULL, NULL);
    assert_true(far >= 0);
    link_close(link);
    (void)close(far);
    (void)close(listener);
}

/* A name that cannot be one, with 64 characters between dots (RFC 1035: at most 63; from memory),
 * is told without asking the network. */
static void test_unknown_name(void **state)
{
    char port[128] = "tcp:";

    (void)state;
    memset(port + 4, 'a', 64);
    memcpy(port + 68, ":5025", 6);
    check_no_link(port, 20, 5, "is not known");
}

/* A resolver that takes longer than the deadline is left alone, and clears up when it is done; one
 * that is done in time is waited for. Addresses in numbers never ask it. */
static void test_slow_name(void **state)
{
    char port[64], named[80];
    const int listener = peer_listen(port, sizeof port, 1);
    const int before = atomic_load(&lookups);

    (void)state;
    (void)snprintf(named, sizeof named, "tcp:slow.example:%s", strrchr(port, ':') + 1);
    check_no_link(named, 0.1, 0.1, "was not found in time");
    link_close(peer_open(named));
    link_close(peer_open(port));
    assert_int_equal(atomic_load(&lookups) - before, 2);
    while (atomic_load(&slow_done) < atomic_load(&slow_lookups))
        peer_sleep(0.01);
    /* Until the thread that was left has cleared up. */
    peer_sleep(0.1);
    (void)close(listener);
}

/* A socket that is connected to itself would answer each query with its own words. */
static void test_talks_to_itself(void **state)
{
    char port[64];

    (void)state;
    free_port(port, sizeof port);
    atomic_store(&from_its_own_port, true);
    check_no_link(port, 10, 0, "the connection was refused");
    atomic_store(&from_its_own_port, false);
}

/* No memory is an error of its own kind at each allocation, with a name and with numbers. */
static void test_no_memory(void **state)
{
    char port[64], named[80];
    const int listener = peer_listen(port, sizeof port, 50);

    (void)state;
    (void)snprintf(named, sizeof named, "tcp:localhost:%s", strrchr(port, ':') + 1);
    for (int by_name = 0; by_name < 2; by_name++) {
        struct link *link = NULL;

        for (unsigned long nth = 1; !link; nth++) {
            struct error e = {0};

            assert_true(nth < 10);
            memory_fail_at(nth);
            link = link_open(by_name ? named : port, NULL, deadline_in(5), &e);
            memory_fail_at(0);
            if (!link) assert_int_equal(e.kind, ERROR_MEMORY);
        }
        link_close(link);
    }
    (void)close(listener);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_ipv6),
                                       cmocka_unit_test(test_refused),
                                       cmocka_unit_test(test_no_connection),
                                       cmocka_unit_test(test_second_address),
                                       cmocka_unit_test(test_stop),
                                       cmocka_unit_test(test_name),
                                       cmocka_unit_test(test_unknown_name),
                                       cmocka_unit_test(test_slow_name),
                                       cmocka_unit_test(test_talks_to_itself),
                                       cmocka_unit_test(test_no_memory)};

    /* A wait without an end would end here. */
    (void)alarm(120);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
