#include "drivers/link.h"

#include "drivers/base/memory.h"
#include "tests/peer.h"

/* A port's words are judged without opening anything; what is wrong is a usage error that shows the
 * port and what to write. */
static void test_ports(void **state)
{
    static const char *const good[] = {"fd:3", "fd:1000", "tcp:localhost:5025",
                                       "usbtmc:/dev/usbtmc0", "serial:/dev/ttyUSB0"};
    static const char *const bad[] = {
        "",           "fd",    "fd:",     "fd:x",    "fd:2",
        "fd:3x",      "fd:-3", "fd: 3",   "FD:3",    "gpib:7",
        "/dev/ttyS0", "tcp:",  "usbtmc:", "serial:", "fd:99999999999999999999"};
    char longest[2000];

    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        struct error e = {0};

        assert_done(link_check_port(good[i], &e), &e);
    }
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct error e = {0}, again = {0};

        assert_false(link_check_port(bad[i], &e));
        assert_int_equal(e.kind, ERROR_USAGE);
        assert_holds(e.text, bad[i]);
        assert_holds(e.text, "write");
        assert_null(link_open(bad[i], NULL, deadline_in(1), &again));
        assert_string_equal(again.text, e.text);
    }
    memset(longest, 'a', sizeof longest);
    memcpy(longest, "tcp:", 4);
    longest[CEILING_PORT + 1] = '\0';
    for (int i = 0; i < 2; i++) {
        struct error e = {0};

        assert_false(link_check_port(i ? "fd:3\033[2J" : longest, &e));
        assert_int_equal(e.kind, ERROR_USAGE);
        assert_holds(e.text, i ? "byte 5" : "1024 bytes");
        assert_null(strchr(e.text, '\033'));
    }
}

static void say_slowly(int descriptor)
{
    const char *const words = "+1.25E+00,-3\n";

    for (size_t i = 0; words[i]; i++) {
        peer_sleep(0.001);
        peer_say_bytes(descriptor, words + i, 1);
    }
}

/* A read boundary means nothing: single bytes make one answer. Fault 4. */
static void test_single_bytes(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        struct text got = {0};
        struct error e = {0};
        struct peer peer;

        peer_start(&peer, far, say_slowly);
        assert_done(peer_receive(link, &got, 5, &e), &e);
        assert_string_equal(text_words(&got), "+1.25E+00,-3\n");
        assert_false(link_has_bytes(link));
        peer_end(&peer);
        text_clear(&got);
        link_close(link);
        (void)close(far);
    }
}

/* Two answers in one piece: the first is whole, the second waits and is seen before the next query,
 * and nothing of it is lost. Fault 6. */
static void test_two_answers(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        struct text got = {0};
        struct error e = {0};
        size_t n;

        assert_false(link_has_bytes(link));
        peer_say(far, "1\n22\n333\nrest");
        assert_done(peer_receive(link, &got, 5, &e), &e);
        assert_string_equal(text_words(&got), "1\n");
        assert_true(link_has_bytes(link));
        assert_done(peer_receive(link, &got, 5, &e), &e);
        assert_string_equal(text_words(&got), "22\n");
        assert_done(peer_receive(link, &got, 5, &e), &e);
        assert_string_equal(text_words(&got), "333\n");
        assert_true(link_has_bytes(link));
        assert_done(link_drain(link, 0.1, &n, deadline_in(5), &e), &e);
        assert_int_equal(n, 4);
        assert_false(link_has_bytes(link));
        /* Bytes that no receive has looked at yet, too. */
        peer_say(far, "stale\n");
        for (int i = 0; i < 500 && !link_has_bytes(link); i++)
            peer_sleep(0.01);
        assert_true(link_has_bytes(link));
        assert_done(link_drain(link, 0, &n, deadline_in(5), &e), &e);
        assert_int_equal(n, 6);
        assert_done(link_drain(link, 0.02, &n, deadline_in(5), &e), &e);
        assert_int_equal(n, 0);
        text_clear(&got);
        link_close(link);
        (void)close(far);
    }
}

/* As many bytes as are allowed are no fault, one more is, and long before memory is full. Fault 20.
 */
static void test_too_long(void **state)
{
    (void)state;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++)
        for (int over = 0; over < 3; over++) {
            int far;
            struct link *link = peer_link(wire, &far);
            struct text got = {0};
            struct error e = {0};
            bool ok;

            peer_say(far, over == 0   ? "123456789\n"
                          : over == 1 ? "1234567890\n"
                                      : "12345678901234");
            ok = link_receive(link, peer_line, NULL, 10, &got, deadline_in(5), &e);
            if (over == 0) {
                assert_done(ok, &e);
                assert_int_equal(got.length, 10);
            } else {
                peer_check(ok, link, LINK_TOO_LONG, &e, "longer than the 10 bytes");
                assert_true(got.capacity <= 64);
            }
            text_clear(&got);
            link_close(link);
            (void)close(far);
        }
}

static void echo(int descriptor)
{
    char bytes[64];
    ssize_t n;

    while ((n = read(descriptor, bytes, sizeof bytes)) > 0)
        peer_say_bytes(descriptor, bytes, (size_t)n);
}

static size_t frame_256(void *context, const char *bytes, size_t n, bool ended, struct error *e)
{
    (void)context, (void)bytes, (void)ended, (void)e;
    return n >= 256 ? 256 : 0;
}

/* Every byte value passes both ways: NUL, line feed, XON, XOFF, 0xFF. Fault 23. */
static void test_every_byte(void **state)
{
    char bytes[256];

    (void)state;
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (char)i;
    for (enum peer_wire wire = 0; wire < PEER_WIRES; wire++) {
        int far;
        struct link *link = peer_link(wire, &far);
        struct text got = {0};
        struct error e = {0};
        struct peer peer;

        peer_start(&peer, far, echo);
        assert_done(link_send(link, bytes, sizeof bytes, deadline_in(5), &e), &e);
        assert_done(link_receive(link, frame_256, NULL, 300, &got, deadline_in(5), &e), &e);
        assert_int_equal(got.length, sizeof bytes);
        assert_memory_equal(got.data, bytes, sizeof bytes);
        text_clear(&got);
        link_close(link);
        peer_end(&peer);
        (void)close(far);
    }
}

static size_t refuse(void *context, const char *bytes, size_t n, bool ended, struct error *e)
{
    (void)context, (void)ended;
    (void)error_set(e, ERROR_BENCH, "not a frame: %.*s", (int)n, bytes);
    return 0;
}

/* What the frame finds wrong ends the call at once, with the frame's own words. */
static void test_frame_refuses(void **state)
{
    int far;
    struct link *link = peer_link(PEER_SOCKETS, &far);
    struct text got = {0};
    struct error e = {0};

    (void)state;
    peer_say(far, "abc");
    assert_false(link_receive(link, refuse, NULL, 100, &got, deadline_in(5), &e));
    assert_string_equal(e.text, "not a frame: abc");
    assert_int_equal(link->fault, LINK_OTHER);
    text_clear(&got);
    link_close(link);
    (void)close(far);
}

/* A link that tells where messages end, three bytes at a time. */
static bool read_message(struct link *link, char *bytes, size_t room, size_t *n,
                         struct deadline deadline, struct error *e)
{
    const char **left = link->own;

    (void)deadline, (void)e;
    *n = strlen(*left) < 3 ? strlen(*left) : 3;
    assert_true(*n <= room);
    memcpy(bytes, *left, *n);
    *left += *n;
    link->at_message_end = **left == '\0';
    return true;
}

static void close_nothing(struct link *link)
{
    (void)link;
}

static size_t frame_at_end(void *context, const char *bytes, size_t n, bool ended, struct error *e)
{
    (void)context, (void)bytes, (void)e;
    return ended ? n : 0;
}

/* The frame hears of the end of a message with its last byte and not before; an answer that is not
 * complete by then is a fault at once, since nothing more will come. */
static void test_message_end(void **state)
{
    static const struct link_kind kind = {
        .scheme = "test", .read = read_message, .close = close_nothing};
    const char *left = "1234567\n";
    char port[] = "test:1";
    struct link link = {.kind = &kind, .port = port, .own = &left, .message_ends = true};
    struct text got = {0};
    struct error e = {0};

    (void)state;
    assert_done(link_receive(&link, frame_at_end, NULL, 100, &got, deadline_in(5), &e), &e);
    assert_string_equal(text_words(&got), "1234567\n");
    left = "1\n234";
    assert_done(peer_receive(&link, &got, 5, &e), &e);
    assert_string_equal(text_words(&got), "1\n");
    assert_true(link_has_bytes(&link));
    peer_check(peer_receive(&link, &got, 5, &e), &link, LINK_OTHER, &e, "after 3 bytes");
    text_clear(&got);
}

/* No memory is an error of its own kind, at each allocation, and leaves nothing behind. */
static void test_no_memory(void **state)
{
    bool ok = false;

    (void)state;
    for (unsigned long nth = 1; !ok; nth++) {
        struct text got = {0};
        struct error e = {0};
        struct link *link;
        int ends[2];
        char port[32];

        assert_true(nth < 30);
        assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
        (void)snprintf(port, sizeof port, "fd:%d", ends[0]);
        peer_say(ends[1], "1\n2\n");
        memory_fail_at(nth);
        link = link_open(port, NULL, deadline_in(5), &e);
        ok = link && peer_receive(link, &got, 5, &e) && peer_receive(link, &got, 5, &e);
        memory_fail_at(0);
        if (!ok) assert_int_equal(e.kind, ERROR_MEMORY);
        if (!ok && link) assert_int_equal(link->fault, LINK_OTHER);
        if (!link) (void)close(ends[0]);
        link_close(link);
        text_clear(&got);
        (void)close(ends[1]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ports),       cmocka_unit_test(test_single_bytes),
        cmocka_unit_test(test_two_answers), cmocka_unit_test(test_too_long),
        cmocka_unit_test(test_every_byte),  cmocka_unit_test(test_frame_refuses),
        cmocka_unit_test(test_message_end), cmocka_unit_test(test_no_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
