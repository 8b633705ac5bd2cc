/* A bench of the program over a served bench, for the tests of runner/bench.c. */
#ifndef GAINSIEVE_TESTS_BENCH_PLACE_H
#define GAINSIEVE_TESTS_BENCH_PLACE_H

#include "limits/limits.h"
#include "runner/bench.h"
#include "tests/bench_served.h"

/* The demo's bench and limits over a served bench, with a guardian. */
struct place {
    struct bench_served served;
    struct bench_file file;
    struct limits limits;
    struct guardian guardian;
    struct bench bench;
    struct bench_log log;
    struct measurement measured;
    char *profiles[2];
};

/* A shipped profile that waits less; freed and removed by end(). */
static inline char *short_profile(const char *path)
{
    char *file = calloc(1, 65536), *changed, *made;
    FILE *in = fopen(path, "r");
    const char *at;

    assert_non_null(file);
    assert_non_null(in);
    assert_true(fread(file, 1, 65535, in) > 0);
    (void)fclose(in);
    at = strstr(file, "timeout=\"3 s\"") ? "timeout=\"3 s\"" : "timeout=\"1 s\"";
    changed = profile_with(file, at, "timeout=\"300 ms\"");
    made = fixture_file(changed);
    free(changed);
    free(file);
    return made;
}

static inline void begin_with(struct place *p, const char *faults)
{
    static const char *const paths[] = {"docs/profiles/analyser.xml", "docs/profiles/supply.xml"};
    struct error e = {0};

    *p = (struct place){0};
    assert_done(guardian_start(&p->guardian, &e), &e);
    bench_served_start(&p->served, PEER_SOCKETS, faults);
    bench_served_file(&p->file, &p->served);
    p->file.sweep.points = 51;
    for (unsigned k = 0; k < 2; k++)
        p->profiles[k] = short_profile(paths[k]);
    bench_file_port(&p->file.analyser.profile, p->profiles[0]);
    bench_file_port(&p->file.supply.profile, p->profiles[1]);
    assert_done(limits_read(&p->limits, "docs/demo/kittiwake.xml", &e), &e);
    p->bench = (struct bench){.file = &p->file, .limits = &p->limits, .guardian = &p->guardian};
    p->bench.analyser.instrument.silence_s = SERVED_SILENCE_S;
    p->bench.supply.instrument.silence_s = SERVED_SILENCE_S;
}

static inline void end(struct place *p)
{
    bench_close(&p->bench);
    bench_close(&p->bench);
    guardian_end(&p->guardian, true);
    bench_served_end(&p->served);
    bench_file_clear(&p->file);
    limits_clear(&p->limits);
    measurement_clear(&p->measured);
    text_clear(&p->log.words);
    for (unsigned k = 0; k < 2; k++) {
        (void)unlink(p->profiles[k]);
        free(p->profiles[k]);
    }
}

static inline void open_bench(struct place *p)
{
    struct error e = {0};

    assert_done(bench_open(&p->bench, &e), &e);
    bench_log_listen(&p->log, &p->bench.analyser.instrument, 'a');
    bench_log_listen(&p->log, &p->bench.supply.instrument, 's');
}

static inline struct bench_state look(const struct place *p)
{
    return bench_served_state(p->bench.fixture.link);
}

static inline bool measure(struct place *p, const char *serial, struct error *e)
{
    return bench_measure(&p->bench, serial, &p->measured, e);
}

static inline void assert_all_off(const struct place *p)
{
    const struct bench_state now = look(p);

    assert_int_equal(now.output, 0);
    assert_int_equal(now.rf_on, 0);
    assert_true(p->bench.is_off);
}

#endif
