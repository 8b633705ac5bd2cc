#include <netinet/tcp.h>

#include "drivers/link.h"
#include "tests/peer.h"

/* An address needs a host and a port; an IPv6 address stands in brackets (RFC 3986, 3.2.2; the
 * addresses are those for documents of RFC 5737 and RFC 3849; from memory). */
static void test_addresses(void **state)
{
    static const char *const good[] = {"tcp:localhost:5025",        "tcp:192.0.2.7:1",
                                       "tcp:bench-2.example:65535", "tcp:[::1]:5025",
                                       "tcp:[2001:db8::7]:5025",    "tcp:[fe80::1%eth0]:5025"};
    static const char *const bad[] = {"tcp:localhost",       "tcp:localhost:",  "tcp::5025",
                                      "tcp:localhost:0",     "tcp:host:65536",  "tcp:host:5025x",
                                      "tcp:host:-1",         "tcp:host: 5025",  "tcp:::1:5025",
                                      "tcp:2001:db8::7:502", "tcp:[::1]5025",   "tcp:[::1:5025",
                                      "tcp:[]:5025",         "tcp:ho st:5025",  "tcp:host/x:5025",
                                      "tcp:host:00005025",   "tcp:[::1]x:5025", "tcp:[",
                                      "tcp:[:5025",          "tcp:]:5025"};
    char longest[400] = "tcp:";

    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        struct error e = {0};

        assert_done(link_check_port(good[i], &e), &e);
    }
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct error e = {0};

        if (link_check_port(bad[i], &e)) fail_msg("%s was taken", bad[i]);
        assert_int_equal(e.kind, ERROR_USAGE);
        assert_holds(e.text, bad[i]);
        assert_holds(e.text, "brackets");
    }
    /* 253 characters are a name, 254 are none (RFC 1035; from memory). */
    for (size_t n = 253; n <= 254; n++) {
        struct error e = {0};

        memset(longest + 4, 'a', n);
        memcpy(longest + 4 + n, ":5025", 6);
        assert_int_equal(link_check_port(longest, &e), n == 253);
    }
}

/* Both ways over a real connection, which is set up so that small messages go at once and a pulled
 * cable is seen. */
static void test_connection(void **state)
{
    static const struct {
        int level, name, at_least, at_most;
    } options[] = {
        {IPPROTO_TCP, TCP_NODELAY, 1, 1},
        {SOL_SOCKET, SO_KEEPALIVE, 1, 1},
        {IPPROTO_TCP, TCP_KEEPIDLE, 1, 30},
        {IPPROTO_TCP, TCP_KEEPINTVL, 1, 30},
        {IPPROTO_TCP, TCP_USER_TIMEOUT, 1000, 60000},
    };
    int far;
    struct link *link = peer_link(PEER_TCP, &far);
    struct text got = {0};
    struct error e = {0};
    char query[16] = "";

    (void)state;
    for (size_t i = 0; i < sizeof options / sizeof options[0]; i++) {
        int value = -1;
        socklen_t size = sizeof value;

        assert_int_equal(
            getsockopt(link->descriptor, options[i].level, options[i].name, &value, &size), 0);
        assert_in_range(value, options[i].at_least, options[i].at_most);
    }
    assert_done(link_send(link, "*IDN?\n", 6, deadline_in(5), &e), &e);
    assert_int_equal(read(far, query, sizeof query - 1), 6);
    assert_string_equal(query, "*IDN?\n");
    peer_say(far, "maker,model,serial,0\n");
    assert_done(peer_receive(link, &got, 5, &e), &e);
    assert_string_equal(text_words(&got), "maker,model,serial,0\n");
    text_clear(&got);
    link_close(link);
    (void)close(far);
}

/* A reset is the end of the link with its cause in words; what came before it is told. Fault 48. */
static void test_reset(void **state)
{
    const struct linger reset = {1, 0};
    int far;
    struct link *link = peer_link(PEER_TCP, &far);
    struct text got = {0};
    struct error e = {0};

    (void)state;
    assert_int_equal(setsockopt(far, SOL_SOCKET, SO_LINGER, &reset, sizeof reset), 0);
    (void)close(far);
    peer_check(peer_receive(link, &got, 5, &e), link, LINK_GONE, &e, "Connection reset by peer");
    e = (struct error){0};
    peer_check(link_send(link, "OUTP 1\n", 7, deadline_in(5), &e), link, LINK_GONE, &e, "");
    text_clear(&got);
    link_close(link);
}

/* An instrument that has another owner often takes a second connection into its queue and says
 * nothing: the deadline of the first answer tells. Fault 48. */
static void test_accepted_but_silent(void **state)
{
    char port[64];
    const int listener = peer_listen(port, sizeof port, 1);
    struct link *link = peer_open(port);
    struct text got = {0};
    struct error e = {0};

    (void)state;
    assert_done(link_send(link, "*IDN?\n", 6, deadline_in(1), &e), &e);
    peer_check(peer_receive(link, &got, 0.1, &e), link, LINK_TIMEOUT, &e,
               "no answer within 0.10 s");
    text_clear(&got);
    link_close(link);
    (void)close(listener);
}

static void answer_once(int listener)
{
    const int far = accept(listener, NULL, NULL);
    char query[16];

    if (read(far, query, sizeof query) > 0) peer_say(far, "a,b,c,d\n");
    (void)close(far);
}

static void answer_nothing(int listener)
{
    (void)close(accept(listener, NULL, NULL));
}

/* Closed right after the connection, or after the first answer. Fault 48. */
static void test_closed(void **state)
{
    (void)state;
    for (int answers = 0; answers < 2; answers++) {
        char port[64];
        const int listener = peer_listen(port, sizeof port, 1);
        const double began_s = peer_now_s();
        struct link *link;
        struct text got = {0};
        struct error e = {0};
        struct peer peer;

        peer_start(&peer, listener, answers ? answer_once : answer_nothing);
        link = peer_open(port);
        if (answers) {
            assert_done(link_send(link, "*IDN?\n", 6, deadline_in(5), &e), &e);
            assert_done(peer_receive(link, &got, 5, &e), &e);
            assert_string_equal(text_words(&got), "a,b,c,d\n");
        }
        peer_end(&peer);
        peer_check(peer_receive(link, &got, 5, &e), link, LINK_GONE, &e, "hung up");
        assert_true(peer_now_s() - began_s < PEER_LATE_S);
        text_clear(&got);
        link_close(link);
        (void)close(listener);
    }
}

/* Telnet's first bytes, in one piece or two, name what is wrong, whoever reads first, and go on
 * doing so (RFC 854: IAC is 255, WILL to DON'T are 251 to 254; from memory). */
static void test_telnet(void **state)
{
    (void)state;
    for (int way = 0; way < 4; way++) {
        int far;
        struct link *link = peer_link(PEER_TCP, &far);
        struct text got = {0};
        struct error e = {0}, later = {0};
        size_t n;

        peer_say_bytes(far, "\xFF", 1);
        if (way == 1) peer_sleep(0.02);
        peer_say_bytes(far, &"\xFB\xFC\xFD\xFE"[way], 1);
        peer_say_bytes(far, "\x2C\n", 2);
        if (way == 2)
            peer_check(link_drain(link, 0.05, &n, deadline_in(5), &e), link, LINK_OTHER, &e,
                       "speaks Telnet");
        else
            peer_check(peer_receive(link, &got, 5, &e), link, LINK_OTHER, &e, "speaks Telnet");
        assert_holds(e.text, way == 0   ? "FF FB"
                             : way == 1 ? "FF FC"
                             : way == 2 ? "FF FD"
                                        : "FF FE");
        peer_check(peer_receive(link, &got, 5, &later), link, LINK_OTHER, &later, "speaks Telnet");
        text_clear(&got);
        link_close(link);
        (void)close(far);
    }
}

/* The same bytes later are data of a block, and other first bytes are no Telnet. Fault 23. */
static void test_no_telnet(void **state)
{
    static const char *const words[] = {"#12\xFF\xFB\n", "\xFF\xFA\n", "\xFF\xFF\n", "\xFB\xFF\n"};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        int far;
        struct link *link = peer_link(PEER_TCP, &far);
        struct text got = {0};
        struct error e = {0};

        peer_say(far, words[i]);
        assert_done(peer_receive(link, &got, 5, &e), &e);
        peer_say(far, "\xFF\xFD\n");
        assert_done(peer_receive(link, &got, 5, &e), &e);
        assert_string_equal(text_words(&got), "\xFF\xFD\n");
        text_clear(&got);
        link_close(link);
        (void)close(far);
    }
}

/* Clearing gives a new connection with nothing of the old one in it, and ends the old one for a
 * process that shares it, too: an instrument with one connection takes the new one only then. */
static void test_clear(void **state)
{
    char port[64], byte;
    const int listener = peer_listen(port, sizeof port, 2);
    struct link *link = peer_open(port);
    const int first = accept(listener, NULL, NULL), shared = dup(link->descriptor);
    struct text got = {0};
    struct error e = {0};
    int second;

    (void)state;
    peer_say(first, "1\nold\n");
    assert_done(peer_receive(link, &got, 5, &e), &e);
    assert_true(link_has_bytes(link));
    assert_done(link_clear(link, deadline_in(5), &e), &e);
    assert_false(link_has_bytes(link));
    second = accept(listener, NULL, NULL);
    assert_true(second >= 0);
    assert_int_equal(read(first, &byte, 1), 0);
    peer_say(second, "new\n");
    assert_done(peer_receive(link, &got, 5, &e), &e);
    assert_string_equal(text_words(&got), "new\n");
    text_clear(&got);
    link_close(link);
    (void)close(shared);
    (void)close(first);
    (void)close(second);
    (void)close(listener);
}

static struct sockaddr_in late_address;

static void listen_late(int unused)
{
    const int one = 1, late = socket(AF_INET, SOCK_STREAM, 0);

    (void)unused;
    peer_sleep(0.2);
    (void)setsockopt(late, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one);
    if (bind(late, (struct sockaddr *)&late_address, sizeof late_address) == 0)
        (void)listen(late, 1);
    (void)close(accept(late, NULL, NULL));
    (void)close(late);
}

/* After clearing, an instrument may refuse for a moment; it is asked again. One that goes on
 * refusing is an error at the deadline, and the link is then gone. */
static void test_clear_refused(void **state)
{
    socklen_t length = sizeof late_address;

    (void)state;
    for (int late = 0; late < 2; late++) {
        char port[64];
        const int listener = peer_listen(port, sizeof port, 1);
        struct link *link = peer_open(port);
        const int far = accept(listener, NULL, NULL);
        const double began_s = peer_now_s();
        struct error e = {0};
        struct peer peer;

        assert_int_equal(getsockname(listener, (struct sockaddr *)&late_address, &length), 0);
        (void)close(listener);
        if (late) {
            peer_start(&peer, -1, listen_late);
            assert_done(link_clear(link, deadline_in(10), &e), &e);
            assert_true(peer_now_s() - began_s >= 0.2);
            peer_end(&peer);
        } else {
            peer_check(link_clear(link, deadline_in(0.2), &e), link, LINK_OTHER, &e, "refused");
            assert_true(peer_now_s() - began_s >= 0.2);
            assert_true(peer_now_s() - began_s < 0.2 + PEER_LATE_S);
            e = (struct error){0};
            peer_check(link_send(link, "x\n", 2, deadline_in(5), &e), link, LINK_GONE, &e,
                       "open it again");
        }
        link_close(link);
        (void)close(far);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_addresses),    cmocka_unit_test(test_connection),
        cmocka_unit_test(test_reset),        cmocka_unit_test(test_accepted_but_silent),
        cmocka_unit_test(test_closed),       cmocka_unit_test(test_telnet),
        cmocka_unit_test(test_no_telnet),    cmocka_unit_test(test_clear),
        cmocka_unit_test(test_clear_refused)};

    /* A wait without an end would end here. */
    (void)alarm(120);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
