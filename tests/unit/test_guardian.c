#include "runner/guardian.h"

#include "tests/bench_served.h"

/* Off must be on the line so soon after the end of the main process. */
#define SOON_S 1.0

/* A main process of its own: it starts a guardian, hands over both instruments, switches both on
 * and waits to be killed. */
struct main_process {
    struct bench_served served;
    struct profile profiles[2];
    struct link *fixture;
    pid_t pid;
};

static void open_instrument(struct instrument *i, const struct profile *profile, const char *port)
{
    struct error e = {0};

    *i = (struct instrument){.silence_s = SERVED_SILENCE_S};
    if (!instrument_open(i, profile, port, &e)) _exit(11);
}

static void say(const struct instrument *i, const char *words)
{
    struct error e = {0};

    if (!link_send(i->link, words, strlen(words), deadline_in(5), &e)) _exit(12);
}

/* In the child; what it ends with is a step that failed. */
static _Noreturn void live(const struct main_process *m, int report)
{
    struct instrument instruments[2];
    struct guardian guardian;
    struct error e = {0};

    /* The guardian's words are not the test's. */
    (void)dup2(open("/dev/null", O_WRONLY), STDERR_FILENO);
    if (!guardian_start(&guardian, &e)) _exit(10);
    for (unsigned k = 0; k < 2; k++) {
        open_instrument(&instruments[k], &m->profiles[k], m->served.ports[k]);
        if (!guardian_hold(&guardian, k, &instruments[k], &e)) _exit(13);
    }
    say(&instruments[BENCH_SUPPLY], "VOLT 2.4\nOUTP 1\n");
    say(&instruments[BENCH_ANALYSER], "OUTP 1\n");
    if (write(report, "", 1) != 1) _exit(14);
    for (;;)
        (void)pause();
}

static void begin_with(struct main_process *m, enum peer_wire wire)
{
    static const char *const files[] = {"docs/profiles/analyser.xml", "docs/profiles/supply.xml"};

    *m = (struct main_process){0};
    bench_served_start(&m->served, wire, "");
    for (unsigned k = 0; k < 2; k++)
        served_profile(&m->profiles[k], files[k], NULL, NULL);
    m->fixture = peer_open(m->served.ports[BENCH_FIXTURE]);
}

/* Forks the main process; it is on when this returns. */
static void start_main(struct main_process *m,
                       void (*program)(const struct main_process *, int report))
{
    const struct deadline deadline = deadline_in(5);
    int report[2];
    char byte;

    assert_int_equal(pipe(report), 0);
    m->pid = fork();
    assert_true(m->pid >= 0);
    if (m->pid == 0) {
        (void)close(report[0]);
        program(m, report[1]);
        _exit(15);
    }
    (void)close(report[1]);
    assert_int_equal(read(report[0], &byte, 1), 1);
    (void)close(report[0]);
    while (bench_served_state(m->fixture).output == 0 ||
           bench_served_state(m->fixture).rf_on == 0) {
        assert_false(deadline_passed(deadline));
        peer_sleep(0.005);
    }
}

/* The test's own copies of what only the main process has at a real bench. */
static void close_near_ends(const struct main_process *m)
{
    for (unsigned k = 0; k < 2; k++)
        if (strncmp(m->served.ports[k], "fd:", 3) == 0)
            (void)close((int)strtol(m->served.ports[k] + 3, NULL, 10));
}

/* Seconds until both are off. */
static double wait_for_off(const struct main_process *m)
{
    const double begun_s = peer_now_s();
    struct bench_state now;

    do {
        now = bench_served_state(m->fixture);
        if (peer_now_s() - begun_s > 10) break;
        peer_sleep(0.002);
    } while (now.output || now.rf_on);
    return peer_now_s() - begun_s;
}

static void kill_main(struct main_process *m)
{
    assert_int_equal(kill(m->pid, SIGKILL), 0);
    assert_int_equal(waitpid(m->pid, NULL, 0), m->pid);
}

static void end(struct main_process *m)
{
    link_close(m->fixture);
    bench_served_end(&m->served);
    for (unsigned k = 0; k < 2; k++)
        profile_clear(&m->profiles[k]);
}

/* Killed with both on, over each kind of wire: both are off in a second. */
static void test_killed(void **state)
{
    (void)state;
    for (enum peer_wire wire = PEER_SOCKETS; wire < PEER_WIRES; wire++) {
        struct main_process m;

        begin_with(&m, wire);
        start_main(&m, live);
        close_near_ends(&m);
        kill_main(&m);
        assert_true(wait_for_off(&m) < SOON_S);
        bench_served_stop(&m.served);
        assert_close(m.served.bench.supply.settings[SUPPLY_VOLTAGE], 0, 0);
        end(&m);
    }
}

/* Killed in the middle of a message: the rest of it does not become part of "off". */
static _Noreturn void live_half_sent(const struct main_process *m, int report)
{
    struct instrument instruments[2];
    struct guardian guardian;
    struct error e = {0};

    (void)dup2(open("/dev/null", O_WRONLY), STDERR_FILENO);
    if (!guardian_start(&guardian, &e)) _exit(10);
    for (unsigned k = 0; k < 2; k++) {
        open_instrument(&instruments[k], &m->profiles[k], m->served.ports[k]);
        if (!guardian_hold(&guardian, k, &instruments[k], &e)) _exit(13);
    }
    say(&instruments[BENCH_SUPPLY], "VOLT 2.4\nOUTP 1\nVOLT 2");
    say(&instruments[BENCH_ANALYSER], "OUTP 1\nSOUR:POW -2");
    if (write(report, "", 1) != 1) _exit(14);
    for (;;)
        (void)pause();
}

static void test_killed_in_a_message(void **state)
{
    struct main_process m;

    (void)state;
    begin_with(&m, PEER_TCP);
    start_main(&m, live_half_sent);
    kill_main(&m);
    assert_true(wait_for_off(&m) < SOON_S);
    bench_served_stop(&m.served);
    assert_close(m.served.bench.analyser.settings[ANALYSER_POWER], -30, 0);
    end(&m);
}

/* What a guardian sends is seen at the other end of a plain socket pair. */
struct line {
    struct instrument at;
    int far;
};

static void open_line(struct line *l, const struct profile *profile)
{
    struct error e = {0};
    char port[32];
    int ends[2];

    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
    (void)snprintf(port, sizeof port, "fd:%d", ends[0]);
    *l = (struct line){.far = ends[1]};
    assert_done(instrument_open(&l->at, profile, port, &e), &e);
}

static void close_line(struct line *l)
{
    instrument_close(&l->at);
    if (l->far >= 0) (void)close(l->far);
    l->far = -1;
}

/* All that came until it was quiet for a moment. */
static void hear(const struct line *l, char *out, size_t room)
{
    struct pollfd polled = {l->far, POLLIN, 0};
    size_t n = 0;

    while (n + 1 < room && poll(&polled, 1, 300) > 0) {
        const ssize_t got = read(l->far, out + n, room - 1 - n);

        if (got <= 0) break;
        n += (size_t)got;
    }
    out[n] = '\0';
}

#define SUPPLY_OFF "@\nOUTP 0\nSOUR:VOLT 0\n"

/* A bench that was read back as off is left alone; else the guardian sends before it goes. */
static void test_goodbye(void **state)
{
    struct profile profile = {0};
    char got[256];

    (void)state;
    served_profile(&profile, "docs/profiles/supply.xml", NULL, NULL);
    for (unsigned is_off = 0; is_off < 2; is_off++) {
        struct guardian g;
        struct error e = {0};
        struct line l;

        assert_done(guardian_start(&g, &e), &e);
        open_line(&l, &profile);
        assert_done(guardian_hold(&g, 1, &l.at, &e), &e);
        guardian_end(&g, is_off == 1);
        assert_int_equal(g.pid, 0);
        guardian_end(&g, false); /* twice is harmless */
        hear(&l, got, sizeof got);
        assert_string_equal(got, is_off ? "" : SUPPLY_OFF);
        close_line(&l);
    }
    profile_clear(&profile);
}

/* A link that was opened anew replaces the old one in its slot, which is closed. */
static void test_replaced_slot(void **state)
{
    struct profile profile = {0};
    struct guardian g;
    struct error e = {0};
    struct line old, new;
    char got[256];

    (void)state;
    served_profile(&profile, "docs/profiles/supply.xml", NULL, NULL);
    assert_done(guardian_start(&g, &e), &e);
    open_line(&old, &profile);
    open_line(&new, &profile);
    assert_done(guardian_hold(&g, 0, &old.at, &e), &e);
    assert_done(guardian_hold(&g, 0, &new.at, &e), &e);
    instrument_close(&old.at);
    hear(&old, got, sizeof got);
    assert_string_equal(got, "");
    assert_int_equal(read(old.far, got, 1), 0); /* nobody holds it any more */
    guardian_end(&g, false);
    hear(&new, got, sizeof got);
    assert_string_equal(got, SUPPLY_OFF);
    close_line(&old);
    close_line(&new);
    profile_clear(&profile);
}

/* An instrument that takes no bytes does not hold up the other one. */
static void test_stuck_instrument(void **state)
{
    struct profile profiles[2] = {{0}};
    char block[4096];

    (void)state;
    memset(block, 'x', sizeof block);
    for (unsigned stuck = 0; stuck < 2; stuck++)
        for (unsigned waits = 0; waits < 2; waits++) {
            struct guardian g;
            struct error e = {0};
            struct line l[2];
            double begun_s;
            char byte;
            struct pollfd polled;

            served_profile(&profiles[0], "docs/profiles/supply.xml", NULL, NULL);
            served_profile(&profiles[1], "docs/profiles/supply.xml", NULL, NULL);
            assert_done(guardian_start(&g, &e), &e);
            for (unsigned k = 0; k < 2; k++) {
                open_line(&l[k], &profiles[k]);
                assert_done(guardian_hold(&g, k, &l[k].at, &e), &e);
            }
            /* Nobody reads: the socket's buffer is full. */
            while (write(l[stuck].at.link->descriptor, block, sizeof block) > 0)
                continue;
            if (waits) {
                /* ... and the descriptor waits, as one does that was made so. */
                const int flags = fcntl(l[stuck].at.link->descriptor, F_GETFL);

                assert_int_equal(fcntl(l[stuck].at.link->descriptor, F_SETFL, flags & ~O_NONBLOCK),
                                 0);
            }
            begun_s = peer_now_s();
            polled = (struct pollfd){l[!stuck].far, POLLIN, 0};
            (void)shutdown(g.socket, SHUT_RDWR); /* as the end of the main process */
            assert_int_equal(poll(&polled, 1, 3000), 1);
            assert_true(peer_now_s() - begun_s < 0.25);
            assert_int_equal(read(l[!stuck].far, &byte, 1), 1);
            for (unsigned k = 0; k < 2; k++)
                close_line(&l[k]);
            guardian_end(&g, true);
            profile_clear(&profiles[0]);
            profile_clear(&profiles[1]);
        }
}

/* A pause in one safe step does not put off the other instrument. */
static void test_pause(void **state)
{
    static const char *const from[] = {"<send text=\"SOUR:VOLT 0\"/>", NULL};
    static const char *const to[] = {"<pause time=\"800 ms\"/>", NULL};
    struct profile profiles[2] = {{0}};
    struct guardian g;
    struct error e = {0};
    struct line l[2];
    struct pollfd polled;
    double begun_s;

    (void)state;
    served_profile(&profiles[0], "docs/profiles/supply.xml", from, to);
    served_profile(&profiles[1], "docs/profiles/supply.xml", NULL, NULL);
    assert_done(guardian_start(&g, &e), &e);
    for (unsigned k = 0; k < 2; k++) {
        open_line(&l[k], &profiles[k]);
        assert_done(guardian_hold(&g, k, &l[k].at, &e), &e);
    }
    begun_s = peer_now_s();
    polled = (struct pollfd){l[1].far, POLLIN, 0};
    (void)shutdown(g.socket, SHUT_RDWR);
    assert_int_equal(poll(&polled, 1, 3000), 1);
    assert_true(peer_now_s() - begun_s < 0.3);
    for (unsigned k = 0; k < 2; k++)
        close_line(&l[k]);
    guardian_end(&g, true);
    profile_clear(&profiles[0]);
    profile_clear(&profiles[1]);
}

/* A device that talks for ever does not keep the guardian, and who waits for it, for ever. */
static void *talk(void *context)
{
    const int fd = *(const int *)context;

    for (unsigned k = 0; k < 150; k++) {
        if (write(fd, "x", 1) != 1) break;
        peer_sleep(0.02);
    }
    return NULL;
}

static void test_talkative_instrument(void **state)
{
    struct profile profile = {0};
    struct guardian g;
    struct error e = {0};
    struct line l;
    pthread_t thread;
    double begun_s;

    (void)state;
    (void)signal(SIGPIPE, SIG_IGN);
    served_profile(&profile, "docs/profiles/supply.xml", NULL, NULL);
    assert_done(guardian_start(&g, &e), &e);
    open_line(&l, &profile);
    assert_done(guardian_hold(&g, 0, &l.at, &e), &e);
    assert_int_equal(pthread_create(&thread, NULL, talk, &l.far), 0);
    begun_s = peer_now_s();
    guardian_end(&g, false);
    assert_true(peer_now_s() - begun_s < 1.5);
    assert_int_equal(pthread_join(thread, NULL), 0);
    close_line(&l);
    profile_clear(&profile);
}

/* What cannot be held is refused, so that nothing is switched on. */
static void test_refused(void **state)
{
    static const char *const from[] = {"<send text=\"SOUR:VOLT 0\"/>", NULL};
    const char *to[] = {NULL, NULL};
    struct profile good = {0}, many = {0}, broad = {0};
    struct guardian g, none = {-1, 0};
    char sends[4096] = "", words[1024], text[256];
    struct error e = {0};
    struct line l;

    (void)state;
    served_profile(&good, "docs/profiles/supply.xml", NULL, NULL);
    for (unsigned k = 0; k < 15; k++)
        strncat(sends, "<send text=\"OUTP OFF\"/>", sizeof sends - strlen(sends) - 1);
    to[0] = sends; /* and OUTP 0, and what ends a half-sent message */
    served_profile(&many, "docs/profiles/supply.xml", from, to);
    memset(text, 'A', sizeof text - 1);
    text[180] = '\0';
    sends[0] = '\0';
    (void)snprintf(words, sizeof words, "<send text=\"%s\"/>", text);
    for (unsigned k = 0; k < 9; k++)
        strncat(sends, words, sizeof sends - strlen(sends) - 1);
    served_profile(&broad, "docs/profiles/supply.xml", from, to);
    assert_done(guardian_start(&g, &e), &e);
    open_line(&l, &good);
    l.at.profile = &many;
    assert_false(guardian_hold(&g, 0, &l.at, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "safe step is too long");
    l.at.profile = &broad; /* 1,600 bytes fit */
    e = (struct error){0};
    assert_done(guardian_hold(&g, 0, &l.at, &e), &e);
    l.at.profile = &good;
    assert_false(guardian_hold(&g, GUARDIAN_SLOTS, &l.at, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    e = (struct error){0};
    assert_false(guardian_hold(&none, 0, &l.at, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    guardian_end(&none, false);
    /* A guardian that was ended by somebody holds nothing. */
    assert_int_equal(kill(g.pid, SIGKILL), 0);
    peer_sleep(0.05);
    e = (struct error){0};
    assert_false(guardian_hold(&g, 0, &l.at, &e));
    assert_holds(e.text, "is gone");
    guardian_end(&g, false);
    close_line(&l);
    profile_clear(&good);
    profile_clear(&many);
    profile_clear(&broad);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_killed),
        cmocka_unit_test(test_killed_in_a_message),
        cmocka_unit_test(test_goodbye),
        cmocka_unit_test(test_replaced_slot),
        cmocka_unit_test(test_stuck_instrument),
        cmocka_unit_test(test_pause),
        cmocka_unit_test(test_talkative_instrument),
        cmocka_unit_test(test_refused),
    };

    (void)alarm(120);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
