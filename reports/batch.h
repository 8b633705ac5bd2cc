/* What a batch's pages are made from: the limits, the judgements and, for the pictures, the lines
 * of some units. Filled by the runner, read by the pages. */
#ifndef GAINSIEVE_BATCH_H
#define GAINSIEVE_BATCH_H

#include <stddef.h>

#include "drivers/measurement.h"
#include "limits/judge.h"
#include "limits/limits.h"
#include "limits/yield.h"

/* A line for drawing: at most CEILING_PLOT_POINTS points, reduced so that the lowest and the
 * highest value of every stretch stay, and a hole where the stretch has one. A NaN breaks the line.
 */
struct trace {
    size_t n_points;
    float *x, *y; /* one allocation, `x` owns it; a float is a hundredth of a pixel */
};

/* The lines of one unit, in the order of the limits' bias steps. */
struct unit_traces {
    size_t n_biases;
    struct trace *gain;             /* dB over Hz */
    struct trace *input_reflection; /* dB over Hz */
    double *bias_v;                 /* as measured; NaN where there is no sweep; owns gain_db too */
    double *gain_db;                /* at traces_centre_hz(), for gain against bias */
};

/* Fills `out` from a measurement; steps without a sweep give empty lines. */
bool unit_traces_make(struct unit_traces *out, const struct limits *limits,
                      const struct measurement *m, struct error *e) MUST_CHECK;
void unit_traces_clear(struct unit_traces *traces);

/* The frequency at which gain against bias is drawn: the middle of the first gain slope or range
 * limit, else of the first gain limit; NaN when there is none. */
double traces_centre_hz(const struct limits *limits);

struct batch {
    const struct limits *limits;
    const char *source; /* what was checked, in words: paths as the user gave them */
    size_t n_judgements;
    const struct judgement
        *judgements;          /* by serial, attempt; a unit's attempts follow each other */
    struct batch_yield yield; /* counts and interval, from limits/yield.h */
    size_t n_traces;          /* the first units' lines: at most CEILING_DRAWN_UNITS */
    const struct unit_traces *traces;
    const size_t *trace_owner; /* index of the judgement that each belongs to */
};

#endif
