/* What a guardian keeps open, and what not. */
#include "runner/guardian.h"

#include "tests/bench_served.h"
#include "tests/serial_pty.h"

/* A serial port that was closed can be opened anew by the process that handed it over: the copy
 * that the guardian keeps must not keep the port's lock. */
static void test_port_opened_anew(void **state)
{
    struct instrument i = {.silence_s = SERVED_SILENCE_S};
    struct profile profile = {0};
    struct guardian g;
    struct error e = {0};
    struct pty pty;

    (void)state;
    pty_make(&pty, "");
    served_profile(&profile, "docs/profiles/supply.xml", NULL, NULL);
    assert_done(guardian_start(&g, &e), &e);
    for (int n = 0; n < 2; n++) {
        assert_done(instrument_open(&i, &profile, pty.port, &e), &e);
        assert_done(guardian_hold(&g, 0, &i, &e), &e);
        instrument_close(&i);
    }
    guardian_end(&g, true);
    (void)close(pty.master);
    profile_clear(&profile);
}

/* It holds no file but what it was handed: who waits for the end of a pipe is not kept waiting. It
 * lives on when the terminal's signals end the main process. */
static void test_holds_nothing_else(void **state)
{
    static const int signals[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGTSTP, SIGPIPE};
    struct guardian g;
    struct error e = {0};
    int ends[2];
    char byte;

    (void)state;
    assert_int_equal(pipe(ends), 0);
    assert_done(guardian_start(&g, &e), &e);
    (void)close(ends[1]);
    assert_int_equal(read(ends[0], &byte, 1), 0);
    (void)close(ends[0]);
    peer_sleep(0.05);
    for (size_t k = 0; k < sizeof signals / sizeof *signals; k++)
        assert_int_equal(kill(g.pid, signals[k]), 0);
    peer_sleep(0.05);
    assert_int_equal(waitpid(g.pid, NULL, WNOHANG), 0);
    assert_true(getsid(g.pid) == g.pid);
    guardian_end(&g, true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_port_opened_anew),
        cmocka_unit_test(test_holds_nothing_else),
    };

    (void)alarm(60);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
