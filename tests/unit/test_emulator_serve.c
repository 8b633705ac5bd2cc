/* Instruments on real sockets and pseudo-terminals. */
#include "drivers/emulator_serve.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <pthread.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "tests/emulator_check.h"

/* A bench served by a thread of its own; closing `stop` ends it. */
struct served {
    struct emulator bench;
    struct emulator_server server;
    pthread_t thread;
    int stop;
    bool ok;
    struct error e;
};

static void *serve(void *context)
{
    struct served *s = context;

    s->ok = emulator_serve(&s->server, &s->e);
    return NULL;
}

static void set_up(struct served *s, const char *faults)
{
    const struct emulator_settings settings = {.seed = 1};

    *s = (struct served){.stop = -1};
    emulator_start(&s->bench, &settings);
    s->server.bench = &s->bench;
    arm(&s->bench, faults);
}

static void go(struct served *s)
{
    int ends[2];

    assert_int_equal(pipe2(ends, O_CLOEXEC), 0);
    s->server.stop = ends[0];
    s->server.has_stop = true;
    s->stop = ends[1];
    assert_int_equal(pthread_create(&s->thread, NULL, serve, s), 0);
}

static void finish(struct served *s)
{
    const int stop = s->server.stop;

    if (s->stop >= 0) (void)close(s->stop);
    assert_int_equal(pthread_join(s->thread, NULL), 0);
    assert_done(s->ok, &s->e);
    (void)close(stop);
    emulator_server_clear(&s->server);
    emulator_clear(&s->bench);
}

/* What comes until `length` bytes are there, 2 s have gone by or the other side is gone: then
 * `*gone`. */
static size_t hear(int from, char *bytes, size_t length, bool *gone)
{
    size_t n = 0;

    *gone = false;
    while (n < length) {
        struct pollfd one = {from, POLLIN, 0};
        ssize_t got;

        if (poll(&one, 1, 2000) <= 0) return n;
        got = read(from, bytes + n, length - n);
        if (got <= 0) {
            *gone = true;
            return n;
        }
        n += (size_t)got;
    }
    return n;
}

static void ask(int at, const char *message, const char *want)
{
    char got[256];
    bool gone;

    assert_int_equal(write(at, message, strlen(message)), strlen(message));
    assert_int_equal(hear(at, got, strlen(want), &gone), strlen(want));
    assert_memory_equal(got, want, strlen(want));
}

static int dial(const struct emulator_port *port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr = {htonl(INADDR_LOOPBACK)}};
    const char *colon = strrchr(port->where, ':');
    const int at = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

    assert_memory_equal(port->where, "tcp:127.0.0.1:", 14);
    address.sin_port = htons((uint16_t)strtoul(colon + 1, NULL, 10));
    assert_int_equal(connect(at, (const struct sockaddr *)&address, sizeof address), 0);
    return at;
}

static double clock_s(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

/* Reason: all instruments at once over TCP, each on a port of its own, the state shared; a new
 * connection after the first has closed; the next waits meanwhile. */
static void tcp(void **state)
{
    struct served s;
    struct error e = {0};
    int analyser, supply, fixture, second;
    struct pollfd one;

    (void)state;
    set_up(&s, "");
    assert_done(emulator_server_tcp(&s.server, &s.bench.analyser, 0, &e), &e);
    assert_done(emulator_server_tcp(&s.server, &s.bench.supply, 0, &e), &e);
    assert_done(emulator_server_tcp(&s.server, &s.bench.fixture, 0, &e), &e);
    go(&s);
    analyser = dial(&s.server.ports[0]);
    supply = dial(&s.server.ports[1]);
    fixture = dial(&s.server.ports[2]);
    ask(analyser, "*IDN?\n", "gainsieve,emulated analyser,E00001,1\n");
    ask(supply, "VOLT 2.4;:OUTP 1;:OUTP?\n", "1\n");
    ask(fixture, "FIXT:STAT?\n", "1,+2.4E+00,+0.0E+00,0,0\n");
    second = dial(&s.server.ports[1]);
    assert_int_equal(write(second, "OUTP?\n", 6), 6);
    one = (struct pollfd){second, POLLIN, 0};
    assert_int_equal(poll(&one, 1, 100), 0);
    /* Closing switches nothing off, as with real instruments. */
    (void)close(supply);
    ask(second, "", "1\n");
    (void)close(second);
    (void)close(analyser);
    (void)close(fixture);
    finish(&s);
}

/* Reason: a pseudo-terminal is a raw line: no echo, no byte changed, a whole trace comes through.
 */
static void pty(void **state)
{
    struct served s;
    struct error e = {0};
    char got[8 + 8 * 401];
    bool gone;
    int at;

    (void)state;
    set_up(&s, "");
    assert_done(emulator_server_pty(&s.server, &s.bench.analyser, &e), &e);
    assert_memory_equal(s.server.ports[0].where, "serial:/dev/pts/", 16);
    go(&s);
    at = open(s.server.ports[0].where + 7, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(at >= 0);
    ask(at, "FORM REAL,32;:SWE:POIN 401;:OUTP 1;:INIT;*OPC?\n", "1\n");
    assert_int_equal(write(at, "CALC:DATA?\n", 11), 11);
    assert_int_equal(hear(at, got, 6 + 8 * 401 + 1, &gone), 6 + 8 * 401 + 1);
    assert_memory_equal(got, "#43208", 6);
    assert_int_equal(got[6 + 8 * 401], '\n');
    (void)close(at);
    finish(&s);
}

/* Reason: a line of 11,520 bytes a second takes 0.28 s for 3,215 bytes, and no less. */
static void throttled_pty(void **state)
{
    struct served s;
    struct error e = {0};
    char got[8 + 8 * 401];
    double begin_s, took_s;
    bool gone;
    int at;

    (void)state;
    set_up(&s, "");
    assert_done(emulator_server_pty(&s.server, &s.bench.analyser, &e), &e);
    s.server.ports[0].bytes_per_s = 11520;
    go(&s);
    at = open(s.server.ports[0].where + 7, O_RDWR | O_NOCTTY | O_CLOEXEC);
    ask(at, "FORM REAL,32;:SWE:POIN 401;:INIT;*OPC?\n", "1\n");
    begin_s = clock_s();
    assert_int_equal(write(at, "CALC:DATA?\n", 11), 11);
    assert_int_equal(hear(at, got, 3215, &gone), 3215);
    took_s = clock_s() - begin_s;
    assert_true(took_s > 0.27);
    /* Wide above: other work may hold the processor. */
    assert_true(took_s < 1.5);
    (void)close(at);
    finish(&s);
}

/* Reason: a socket pair, as `emulated:` uses it; the server ends by itself when all are closed. */
static void open_pair(void **state)
{
    struct served s;
    struct error e = {0};
    int ends[2];

    (void)state;
    set_up(&s, "late=0.2@2 banner");
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
    assert_done(emulator_server_open(&s.server, &s.bench.supply, ends[0], &e), &e);
    assert_string_equal(s.server.ports[0].where, "emulated:supply");
    go(&s);
    ask(ends[1], "*TST?\n", "\r\nemulated instrument starting\r\nready\r\n0\n");
    {
        const double begin_s = clock_s();

        ask(ends[1], "*TST?\n", "0\n");
        assert_true(clock_s() - begin_s >= 0.19);
    }
    (void)close(ends[1]);
    /* Nobody closes `stop`: the thread ends all the same. */
    assert_int_equal(pthread_join(s.thread, NULL), 0);
    assert_done(s.ok, &s.e);
    (void)close(s.stop);
    (void)close(s.server.stop);
    emulator_server_clear(&s.server);
    emulator_clear(&s.bench);
}

/* Reason: a hang-up in the middle of an answer is one on each kind of link; TCP can connect again.
 */
static void hang_ups(void **state)
{
    struct served s;
    struct error e = {0};
    char got[64];
    bool gone;
    int at;

    (void)state;
    set_up(&s, "cut-gone@1");
    assert_done(emulator_server_tcp(&s.server, &s.bench.supply, 0, &e), &e);
    assert_done(emulator_server_pty(&s.server, &s.bench.analyser, &e), &e);
    go(&s);
    at = dial(&s.server.ports[0]);
    assert_int_equal(write(at, "*IDN?\n", 6), 6);
    assert_int_equal(hear(at, got, sizeof got, &gone), 17);
    assert_true(gone);
    (void)close(at);
    at = dial(&s.server.ports[0]);
    ask(at, "*TST?\n", "0\n");
    (void)close(at);
    at = open(s.server.ports[1].where + 7, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_int_equal(write(at, "*IDN?\n", 6), 6);
    (void)hear(at, got, sizeof got, &gone);
    assert_true(gone);
    (void)close(at);
    finish(&s);
}

/* Reason: an instrument that reads nothing any more makes a controller's writes wait. */
static void deaf(void **state)
{
    struct served s;
    struct error e = {0};
    char blanks[4096];
    ssize_t n = 0;
    int ends[2];

    (void)state;
    set_up(&s, "deaf@1");
    memset(blanks, ' ', sizeof blanks);
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
    assert_done(emulator_server_open(&s.server, &s.bench.supply, ends[0], &e), &e);
    go(&s);
    assert_int_equal(write(ends[1], "*TST?\n", 6), 6);
    (void)usleep(50000);
    assert_int_equal(fcntl(ends[1], F_SETFL, O_NONBLOCK), 0);
    for (unsigned i = 0; i < 4096 && n >= 0; i++)
        n = write(ends[1], blanks, sizeof blanks);
    assert_int_equal(n, -1);
    assert_int_equal(errno, EAGAIN);
    (void)close(ends[1]);
    finish(&s);
}

/* Reason: what cannot be had is an error with words, and leaves no descriptor behind. */
static void refusals(void **state)
{
    struct served s;
    struct error e = {0};

    (void)state;
    set_up(&s, "");
    assert_false(emulator_server_open(&s.server, &s.bench.supply, -1, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    e = (struct error){0};
    for (unsigned i = 0; i < EMULATOR_PORTS; i++)
        assert_done(emulator_server_tcp(&s.server, &s.bench.supply, 0, &e), &e);
    assert_false(emulator_server_tcp(&s.server, &s.bench.supply, 0, &e));
    assert_holds(e.text, "8 ports");
    e = (struct error){0};
    assert_false(emulator_server_tcp(
        &s.server, &s.bench.supply,
        (unsigned)strtoul(strrchr(s.server.ports[0].where, ':') + 1, NULL, 10), &e));
    assert_holds(e.text, "cannot listen");
    emulator_server_clear(&s.server);
    emulator_clear(&s.bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(tcp),           cmocka_unit_test(pty),
                                       cmocka_unit_test(throttled_pty), cmocka_unit_test(open_pair),
                                       cmocka_unit_test(hang_ups),      cmocka_unit_test(deaf),
                                       cmocka_unit_test(refusals)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
