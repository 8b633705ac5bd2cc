/* An instrument of the emulated bench behind a socket pair, served by a thread, spoken to through a
 * profile. */
#ifndef GAINSIEVE_TESTS_SERVED_H
#define GAINSIEVE_TESTS_SERVED_H

#include <pthread.h>
#include <sys/socket.h>
#include <unistd.h>

#include "drivers/emulator_serve.h"
#include "drivers/instrument.h"
#include "tests/emulator_check.h"
#include "tests/peer.h"
#include "tests/profile_file.h"

/* Short waits: everything is on one machine. */
#define SERVED_TIMEOUT_S 0.5
#define SERVED_SILENCE_S 0.05

struct served {
    struct emulator bench; /* the thread's, until served_stop() */
    struct emulator_server server;
    pthread_t thread;
    bool runs, ok;
    struct error e;
    struct profile profile;
    struct instrument at;
    unsigned n_sent;  /* messages */
    struct text last; /* ... and the last of them */
};

static inline void *served_run(void *context)
{
    struct served *s = context;

    s->ok = emulator_serve(&s->server, &s->e);
    return NULL;
}

static inline void served_ear(void *context, bool sent, const char *bytes, size_t n)
{
    struct served *s = context;

    if (!sent) return;
    s->n_sent++;
    text_reset(&s->last);
    text_add_bytes(&s->last, bytes, n);
}

/* Reads a shipped profile, with every `from` replaced by `to` (NULL: as it is). */
static inline void served_profile(struct profile *out, const char *path, const char *const *from,
                                  const char *const *to)
{
    char *file = calloc(1, 65536);
    FILE *in = fopen(path, "r");

    assert_non_null(file);
    assert_non_null(in);
    assert_true(fread(file, 1, 65535, in) > 0);
    (void)fclose(in);
    for (; from && *from; from++, to++)
        while (strstr(file, *from)) {
            char *changed = profile_with(file, *from, *to);

            free(file);
            file = changed;
        }
    profile_take(out, file);
    free(file);
}

/* Starts the bench with a board in it; `s->profile` and `s->at` must be ready. Opens nothing. */
static inline int served_begin(struct served *s, const char *faults)
{
    const struct emulator_settings settings = {.seed = 1};
    struct error e = {0};
    int ends[2];

    emulator_start(&s->bench, &settings);
    plug(&s->bench, "KW000101");
    arm(&s->bench, faults);
    s->server.bench = &s->bench;
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
    assert_done(emulator_server_open(&s->server,
                                     s->profile.kind == PROFILE_SUPPLY ? &s->bench.supply
                                                                       : &s->bench.analyser,
                                     ends[0], &e),
                &e);
    assert_int_equal(pthread_create(&s->thread, NULL, served_run, s), 0);
    s->runs = true;
    if (!(s->at.silence_s > 0)) s->at.silence_s = SERVED_SILENCE_S;
    s->at.ear = served_ear;
    s->at.ear_context = s;
    return ends[1];
}

/* The same with the instrument open. */
static inline void served_open(struct served *s, const char *faults)
{
    struct error e = {0};
    char port[32];

    (void)snprintf(port, sizeof port, "fd:%d", served_begin(s, faults));
    assert_done(instrument_open(&s->at, &s->profile, port, &e), &e);
}

static inline void served_supply(struct served *s, const char *faults)
{
    *s = (struct served){0};
    served_profile(&s->profile, "docs/profiles/supply.xml", NULL, NULL);
    s->profile.timeout_s = SERVED_TIMEOUT_S;
    served_open(s, faults);
}

static inline void served_analyser(struct served *s, const char *faults)
{
    *s = (struct served){0};
    served_profile(&s->profile, "docs/profiles/analyser.xml", NULL, NULL);
    s->profile.timeout_s = SERVED_TIMEOUT_S;
    served_open(s, faults);
}

/* Runs the step and looks at the words, and that they name profile, line and port. */
static inline void served_check(struct served *s, enum profile_step step,
                                const struct profile_values *values, struct step_result *result,
                                const char *words, const char *fault)
{
    struct error e = {0};
    const double begin_s = peer_now_s();
    const bool ok = instrument_step(&s->at, step, values, result, &e);

    if (ok != !words || (words && !strstr(e.text, words)))
        print_error("%s: \"%s\" is not \"%s\"\n", fault, e.text, words ? words : "all well");
    assert_int_equal(ok, !words);
    assert_true(peer_now_s() - begin_s < SERVED_TIMEOUT_S + PEER_LATE_S);
    if (ok) return;
    assert_holds(e.text, words);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_true(strncmp(e.text, s->profile.path, strlen(s->profile.path)) == 0);
    assert_holds(e.text, ", fd:");
}

/* Closes the instrument and waits for the thread; the bench may be looked at then. */
static inline void served_stop(struct served *s)
{
    instrument_close(&s->at);
    if (s->runs) assert_int_equal(pthread_join(s->thread, NULL), 0);
    s->runs = false;
    assert_done(s->ok, &s->e);
}

static inline void served_end(struct served *s)
{
    served_stop(s);
    emulator_server_clear(&s->server);
    emulator_clear(&s->bench);
    profile_clear(&s->profile);
    text_clear(&s->last);
}

#endif
