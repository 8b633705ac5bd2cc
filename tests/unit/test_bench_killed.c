/* Killed in the middle of a test of a board, at message after message: bias and RF are off soon. */
#include "runner/bench.h"

#include "limits/limits.h"
#include "tests/bench_served.h"

#define SOON_S 1.0
/* Every so many messages; of two that are neighbours each does the same for safety. */
#define STRIDE 11

struct place {
    struct bench_served served;
    struct bench_file file;
    struct limits limits;
    struct link *fixture;
};

static unsigned long messages_left;

/* No clean-up, no handler: as kill -9 from outside at this moment. */
static void die_at_last(void *context, bool sent, const char *bytes, size_t n)
{
    (void)context, (void)bytes, (void)n;
    if (sent && --messages_left == 0) (void)raise(SIGKILL);
}

/* The main process: opens the bench and measures, and dies at the message. */
static _Noreturn void live(const struct place *p, unsigned long at)
{
    static struct bench bench;
    struct measurement measured = {0};
    struct guardian guardian;
    struct error e = {0};

    (void)alarm(30);
    (void)dup2(open("/dev/null", O_WRONLY), STDERR_FILENO);
    if (!guardian_start(&guardian, &e)) _exit(2);
    bench = (struct bench){.file = &p->file, .limits = &p->limits, .guardian = &guardian};
    bench.analyser.instrument.silence_s = bench.supply.instrument.silence_s = 0.02;
    if (!bench_open(&bench, &e)) _exit(3);
    messages_left = at;
    bench.analyser.instrument.ear = bench.supply.instrument.ear = die_at_last;
    if (!bench_measure(&bench, "KW000101", &measured, &e)) _exit(4);
    measurement_clear(&measured);
    bench_close(&bench);
    guardian_end(&guardian, bench.is_off);
    _exit(0);
}

static void begin(struct place *p)
{
    struct error e = {0};

    *p = (struct place){0};
    bench_served_start(&p->served, PEER_TCP, "");
    bench_served_file(&p->file, &p->served);
    bench_file_port(&p->file.fixture, NULL);
    p->file.sweep.points = 11;
    p->file.bias.ramp_step_v = 1;
    assert_done(limits_read(&p->limits, "docs/demo/kittiwake.xml", &e), &e);
    p->fixture = peer_open(p->served.ports[BENCH_FIXTURE]);
}

/* Whether it died, and at least once something was on then. */
static bool kill_at(struct place *p, unsigned long at, unsigned *n_on)
{
    struct bench_state now;
    double begun_s;
    int status;
    const pid_t pid = fork();

    assert_true(pid >= 0);
    if (pid == 0) live(p, at);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    begun_s = peer_now_s();
    if (WIFEXITED(status)) {
        assert_int_equal(WEXITSTATUS(status), 0);
        now = bench_served_state(p->fixture);
        assert_int_equal(now.output + now.rf_on, 0);
        return false;
    }
    assert_int_equal(WTERMSIG(status), SIGKILL);
    now = bench_served_state(p->fixture);
    *n_on += now.output || now.rf_on;
    while (now.output || now.rf_on) {
        if (peer_now_s() - begun_s >= SOON_S) print_error("killed at message %lu\n", at);
        assert_true(peer_now_s() - begun_s < SOON_S);
        peer_sleep(0.001);
        now = bench_served_state(p->fixture);
    }
    return true;
}

static void test_killed_at_each_step(void **state)
{
    unsigned n = 0, n_on = 0;
    struct place p;

    (void)state;
    begin(&p);
    for (unsigned long at = 1; kill_at(&p, at, &n_on); at += STRIDE)
        n++;
    assert_true(n >= 10);
    print_message("%u kills, something was still on at %u of them\n", n, n_on);
    link_close(p.fixture);
    bench_served_end(&p.served);
    bench_file_clear(&p.file);
    limits_clear(&p.limits);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_killed_at_each_step),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
