/* A whole emulated bench behind three links, served by a thread of the test: its instruments are
 * spoken to by the code under test, and its true state is asked for through the fixture. */
#ifndef GAINSIEVE_TESTS_BENCH_SERVED_H
#define GAINSIEVE_TESTS_BENCH_SERVED_H

#include "drivers/base/memory.h"
#include "drivers/bench_file.h"
#include "tests/peer.h"
#include "tests/served.h"

enum { BENCH_ANALYSER = 0, BENCH_SUPPLY, BENCH_FIXTURE, BENCH_PORTS };

struct bench_served {
    struct emulator bench; /* the thread's, until bench_served_stop() */
    struct emulator_server server;
    pthread_t thread;
    int quit[2];
    bool runs, ok;
    struct error e;
    char ports[BENCH_PORTS][128]; /* what a link opens, once where they are descriptors */
};

static inline void *bench_served_run(void *context)
{
    struct bench_served *s = context;

    s->ok = emulator_serve(&s->server, &s->e);
    return NULL;
}

/* One instrument behind a wire; a pty is opened here, since the serial library takes none. */
static inline void bench_served_add(struct bench_served *s, unsigned k, enum peer_wire wire)
{
    struct emulator_instrument *all[] = {&s->bench.analyser, &s->bench.supply, &s->bench.fixture};
    char where[EMULATOR_WHERE];
    struct error e = {0};
    int ends[2], fd;

    if (wire == PEER_SOCKETS) {
        assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
        assert_done(emulator_server_open(&s->server, all[k], ends[0], &e), &e);
        (void)snprintf(s->ports[k], sizeof s->ports[k], "fd:%d", ends[1]);
        return;
    }
    if (wire == PEER_TCP)
        assert_done(emulator_server_tcp(&s->server, all[k], 0, &e), &e);
    else
        assert_done(emulator_server_pty(&s->server, all[k], &e), &e);
    memcpy(where, s->server.ports[s->server.n_ports - 1].where, sizeof where);
    (void)snprintf(s->ports[k], sizeof s->ports[k], "%s", where);
    if (wire == PEER_TCP) return;
    fd = open(where + strlen("serial:"), O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(fd >= 0);
    (void)snprintf(s->ports[k], sizeof s->ports[k], "fd:%d", fd);
}

/* Serves on, after bench_served_stop(); emulator_serve() takes the links as opened anew. */
static inline void bench_served_go_on(struct bench_served *s)
{
    assert_int_equal(pipe2(s->quit, O_CLOEXEC), 0);
    s->server.has_stop = true;
    s->server.stop = s->quit[0];
    assert_int_equal(pthread_create(&s->thread, NULL, bench_served_run, s), 0);
    s->runs = true;
}

/* `faults` "" for none. A board is connected: KW000101. */
static inline void bench_served_start(struct bench_served *s, enum peer_wire wire,
                                      const char *faults)
{
    const struct emulator_settings settings = {.seed = 1};

    *s = (struct bench_served){0};
    (void)signal(SIGPIPE, SIG_IGN);
    emulator_start(&s->bench, &settings);
    plug(&s->bench, "KW000101");
    if (faults[0]) arm(&s->bench, faults);
    s->server.bench = &s->bench;
    for (unsigned k = 0; k < BENCH_PORTS; k++)
        bench_served_add(s, k, wire);
    bench_served_go_on(s);
}

/* The bench stands still and may be looked at. */
static inline void bench_served_stop(struct bench_served *s)
{
    if (!s->runs) return;
    (void)close(s->quit[1]);
    assert_int_equal(pthread_join(s->thread, NULL), 0);
    (void)close(s->quit[0]);
    s->runs = false;
    assert_done(s->ok, &s->e);
}

static inline void bench_served_end(struct bench_served *s)
{
    bench_served_stop(s);
    emulator_server_clear(&s->server);
    emulator_clear(&s->bench);
}

/* Says it to the fixture; the answer, without its end, is in `out` when the words ask. */
static inline void bench_served_say(struct link *fixture, const char *words, struct text *out)
{
    struct error e = {0};

    assert_done(link_send(fixture, words, strlen(words), deadline_in(5), &e), &e);
    if (!out) return;
    assert_done(peer_receive(fixture, out, 5, &e), &e);
    out->data[--out->length] = '\0';
}

/* What is true at the bench. */
struct bench_state {
    int output, rf_on;
    double v, a;
    unsigned long n_sweeps;
};

static inline struct bench_state bench_served_state(struct link *fixture)
{
    struct bench_state state = {0};
    struct text answer = {0};

    bench_served_say(fixture, "FIXT:STAT?\n", &answer);
    assert_int_equal(sscanf(text_words(&answer), "%d,%lf,%lf,%d,%lu", &state.output, &state.v,
                            &state.a, &state.rf_on, &state.n_sweeps),
                     5);
    text_clear(&answer);
    return state;
}

/* Arms faults of the running bench. */
static inline void bench_served_fault(struct link *fixture, const char *faults)
{
    struct text answer = {0};
    char words[256];

    (void)snprintf(words, sizeof words, "FIXT:FAUL \"%s\"\n", faults);
    bench_served_say(fixture, words, NULL);
    bench_served_say(fixture, "SYST:ERR?\n", &answer);
    assert_holds(text_words(&answer), "0,");
    assert_true(answer.data[0] == '0' || answer.data[1] == '0');
    text_clear(&answer);
}

static inline void bench_file_port(char **port, const char *words)
{
    struct error e = {0};

    memory_free(*port);
    *port = words ? memory_copy_text(words, &e) : NULL;
    assert_true(!words || *port);
}

/* The demo's bench file with nothing to wait for and the ports of a served bench (NULL: its own).
 */
static inline void bench_served_file(struct bench_file *file, const struct bench_served *s)
{
    struct error e = {0};

    assert_done(bench_file_read(file, "docs/demo/bench.xml", &e), &e);
    file->bias.ramp_interval_s = 0;
    file->bias.settling_s = 0;
    if (!s) return;
    bench_file_port(&file->analyser.port, s->ports[BENCH_ANALYSER]);
    bench_file_port(&file->supply.port, s->ports[BENCH_SUPPLY]);
    bench_file_port(&file->fixture, s->ports[BENCH_FIXTURE]);
}

/* What was sent to whom, a message a line: "s OUTP 0". */
struct bench_log {
    struct text words;
    struct bench_ear {
        struct bench_log *log;
        char who;
    } ears[2];
};

static inline void bench_log_hear(void *context, bool sent, const char *bytes, size_t n)
{
    const struct bench_ear *ear = context;

    if (!sent) return;
    text_addf(&ear->log->words, "%c %.*s", ear->who, (int)n, bytes);
}

static inline void bench_log_listen(struct bench_log *log, struct instrument *i, char who)
{
    struct bench_ear *ear = &log->ears[who == 's'];

    *ear = (struct bench_ear){log, who};
    i->ear = bench_log_hear;
    i->ear_context = ear;
}

/* How often the line was sent. */
static inline unsigned bench_log_count(const struct bench_log *log, const char *line)
{
    unsigned n = 0;

    for (const char *at = text_words(&log->words); (at = strstr(at, line)); at += strlen(line))
        n++;
    return n;
}

/* Fails unless the lines were sent in this order, whatever was between. */
static inline void bench_log_order(const struct bench_log *log, const char *const *lines)
{
    const char *at = text_words(&log->words);

    for (; *lines; lines++) {
        const char *found = strstr(at, *lines);

        if (!found) print_error("\"%s\" does not follow; what came:\n%.600s\n", *lines, at);
        assert_non_null(found);
        at = found + strlen(*lines);
    }
}

#endif
