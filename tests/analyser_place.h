/* An analyser with a profile over a served bench, for the tests of drivers/analyser_profile.c. */
#ifndef GAINSIEVE_TESTS_ANALYSER_PLACE_H
#define GAINSIEVE_TESTS_ANALYSER_PLACE_H

#include "drivers/analyser.h"
#include "tests/bench_served.h"

#define POINTS 51

/* An analyser of the demo's bench file over a served bench. */
struct place {
    struct bench_served served;
    struct bench_file file;
    struct analyser a;
    struct bench_log log;
    struct link *fixture;
    struct sweep sweep;
};

static inline void begin_as(struct place *p, const char *faults, const char *const *from,
                            const char *const *to)
{
    struct error e = {0};

    *p = (struct place){0};
    bench_served_start(&p->served, PEER_SOCKETS, faults);
    bench_served_file(&p->file, &p->served);
    p->file.sweep.points = POINTS;
    p->fixture = peer_open(p->served.ports[BENCH_FIXTURE]);
    p->a.instrument.silence_s = SERVED_SILENCE_S;
    served_profile(&p->a.profile, "docs/profiles/analyser.xml", from, to);
    p->a.profile.timeout_s = SERVED_TIMEOUT_S;
    assert_done(analyser_open(&p->a, &p->file, S_ALL, &e), &e);
    bench_log_listen(&p->log, &p->a.instrument, 'a');
}

static inline void begin_with(struct place *p, const char *faults)
{
    begin_as(p, faults, NULL, NULL);
}

static inline void end(struct place *p)
{
    analyser_close(&p->a);
    link_close(p->fixture);
    bench_served_end(&p->served);
    bench_file_clear(&p->file);
    sweep_clear(&p->sweep);
    text_clear(&p->log.words);
}

static inline bool ready(struct place *p, struct error *e)
{
    return p->a.kind->identify(&p->a, e) && p->a.kind->arrange(&p->a, e);
}

static inline void make_ready(struct place *p)
{
    struct error e = {0};

    assert_done(ready(p, &e), &e);
}

static inline bool measure(struct place *p, struct error *e)
{
    return p->a.kind->measure(&p->a, &p->sweep, e);
}

static inline bool is_quiet(struct place *p)
{
    return bench_served_state(p->fixture).rf_on == 0;
}

#endif
