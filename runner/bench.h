/* The bench at work: opened, identified, made safe; then one measurement after the other; and off.
 *
 * A test is a sequence that cannot be skipped (docs/safety.md): trips and limit set and read back,
 * output on at 0 V, ramp with the current watched, settle, RF on, sweep, RF off, for each bias
 * step; then down, off, read back as off. Every way out of bench_measure() passes bench_quiet();
 * only when `is_off` is true may a person be asked to touch the board. */
#ifndef GAINSIEVE_BENCH_H
#define GAINSIEVE_BENCH_H

#include "drivers/analyser.h"
#include "drivers/fixture.h"
#include "drivers/measurement.h"
#include "drivers/supply.h"
#include "limits/limits.h"
#include "runner/guardian.h"
#include "runner/safety.h"

/* What is being done, for a screen. `left_s` is NaN when not known. */
struct bench_doing {
    const char *words; /* "bias mid, 2.40 V: sweep" */
    size_t n_done, n_steps;
    double left_s;
    bool wants_file; /* a person is to save the sweep of this step into the folder now */
};

/* Who looks on. `tell` may be NULL; `ask` is needed for a manual supply only. */
struct bench_watcher {
    void (*tell)(void *context, const struct bench_doing *doing);
    supply_ask *ask;
    void *context;
};

struct bench {
    const struct bench_file *file; /* borrowed, as are the two below */
    const struct limits *limits;
    struct bench_watcher watcher;
    struct guardian *guardian; /* NULL only for a rehearsal, and for instruments without a link */
    /* Hears the messages of a rehearsal; with it nothing is sent to anything. NULL: the real thing.
     */
    void (*heard)(const char *who, const char *bytes, size_t n);
    struct bench_hold { /* which slot of the guardian is whose */
        struct bench *bench;
        unsigned slot;
    } holds[GUARDIAN_SLOTS];
    struct bias_name names[CEILING_BIAS_STEPS];
    struct analyser analyser;
    struct supply supply;
    struct fixture fixture;
    struct safety_levels levels;
    bool is_open;
    bool is_off;          /* RF and bias were read back as off, and nothing was sent since */
    bool may_be_on;       /* a board was powered, and its bias was not read back as off since */
    bool board_refused;   /* the last failure was the board's (too much current, a trip), not the
                             bench's */
    double step_s;        /* how long a bias step took; NaN before the first */
    struct text identity; /* of both instruments, for the record */
};

/* Born `= {0}` with file, limits, watcher and guardian set. Checks levels and ratings before
 * anything is sent, opens the links and hands them to the guardian, switches off, asks who is
 * there, arranges the analyser. ERROR_BENCH or ERROR_INPUT; the bench is then closed, and off as
 * far as it could be. */
bool bench_open(struct bench *b, struct error *e) MUST_CHECK;

/* Measures one unit at every bias step of the limits into `out`. When the board draws too much or
 * trips the supply, this is no failure of the bench: the steps that could not be measured are
 * missing with the reason. When an exchange went wrong and nothing else, the whole test is done
 * once more, from a bench that is off. ERROR_BENCH otherwise: `out` is void, nothing of it may be
 * judged. ERROR_STOPPED. The bench is off either way, if `is_off` says so. */
bool bench_measure(struct bench *b, const char *serial, struct measurement *out,
                   struct error *e) MUST_CHECK;

/* RF off, bias off, each tried whatever becomes of the other, and whatever anybody asked for.
 * False: NOT known to be off, in words for the operator. */
bool bench_quiet(struct bench *b, struct error *e) MUST_CHECK;

/* Off, closed, freed; the guardian stays. Harmless on zero and twice. */
void bench_close(struct bench *b);

#endif
