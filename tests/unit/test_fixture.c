#include "drivers/fixture.h"

#include "tests/bench_served.h"

static void begin_with(struct bench_served *s, struct fixture *f, const char *faults)
{
    struct error e = {0};

    bench_served_start(s, PEER_SOCKETS, faults);
    *f = (struct fixture){0};
    assert_done(fixture_open(f, s->ports[BENCH_FIXTURE], &e), &e);
}

static void end(struct bench_served *s, struct fixture *f)
{
    fixture_close(f);
    fixture_close(f);
    bench_served_end(s);
}

/* The board is in the fixture when this says so, and none is when none was wanted. */
static void test_connect(void **state)
{
    struct bench_served s;
    struct fixture f;
    struct error e = {0};

    (void)state;
    begin_with(&s, &f, "");
    assert_done(fixture_connect(&f, "KW000110", &e), &e);
    assert_done(fixture_connect(&f, "KW000110", &e), &e);
    assert_done(fixture_connect(&f, NULL, &e), &e);
    assert_done(fixture_connect(&f, "KW000103", &e), &e);
    bench_served_stop(&s);
    assert_true(s.bench.connected);
    assert_int_equal(s.bench.number, 2); /* from KW000101 on */
    end(&s, &f);
}

/* A board that is not there is an error, though another one is; no serial number becomes a
 * command. */
static void test_no_such_board(void **state)
{
    static const char *const serials[] = {"KW999999",         "XX",   "",
                                          "KW000101\"\n*RST", "KW 1", "KW000101;OUTP 1"};
    struct bench_served s;
    struct fixture f;

    (void)state;
    begin_with(&s, &f, "");
    for (size_t k = 0; k < sizeof serials / sizeof *serials; k++) {
        struct error e = {0};

        assert_false(fixture_connect(&f, serials[k], &e));
        assert_int_equal(e.kind, ERROR_BENCH);
        assert_holds(e.text, "holds no board");
        assert_holds(e.text, f.link->port);
        assert_null(strchr(e.text, '\n'));
    }
    end(&s, &f);
}

/* No fixture is no fault. */
static void test_none(void **state)
{
    struct fixture f = {0};
    struct error e = {0};

    (void)state;
    assert_done(fixture_open(&f, NULL, &e), &e);
    assert_done(fixture_connect(&f, "KW000101", &e), &e);
    assert_done(fixture_connect(&f, NULL, &e), &e);
    fixture_close(&f);
}

/* A port that is not there, the answer of another board, none, or a hang-up in the middle of it: an
 * error, never "connected". */
static void test_faults(void **state)
{
    static const char *const answers[] = {"\"KW000102\"\n",   "NONE\n", "",          "\"KW0001",
                                          "\"KW000101\"\"\n", "\xff\n", "KW000101\n"};
    struct fixture f = {0};
    struct error e = {0};

    (void)state;
    assert_false(fixture_open(&f, "fd:990", &e));
    fixture_close(&f);
    for (size_t k = 0; k < sizeof answers / sizeof *answers; k++) {
        int ends[2];
        char port[32];

        assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
        (void)snprintf(port, sizeof port, "fd:%d", ends[0]);
        e = (struct error){0};
        assert_done(fixture_open(&f, port, &e), &e);
        peer_say(ends[1], answers[k]);
        (void)shutdown(ends[1], SHUT_WR);
        if (fixture_connect(&f, "KW000101", &e)) {
            print_error("%s: taken\n", answers[k]);
            fail();
        }
        assert_int_equal(e.kind, ERROR_BENCH);
        fixture_close(&f);
        (void)close(ends[1]);
    }
}

static void test_no_memory(void **state)
{
    (void)state;
    for (unsigned long nth = 1; nth < 4; nth++) {
        struct fixture f = {0};
        struct error e = {0};
        int ends[2];
        char port[32];

        assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
        (void)snprintf(port, sizeof port, "fd:%d", ends[0]);
        peer_say(ends[1], "\"KW000101\"\n");
        assert_done(fixture_open(&f, port, &e), &e);
        memory_fail_at(nth);
        if (fixture_connect(&f, "KW000101", &e))
            nth = 4;
        else
            assert_int_equal(e.kind, ERROR_MEMORY);
        memory_fail_at(0);
        fixture_close(&f);
        (void)close(ends[1]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_connect),   cmocka_unit_test(test_no_such_board),
        cmocka_unit_test(test_none),      cmocka_unit_test(test_faults),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
