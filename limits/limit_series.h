/* What one limit was measured to be, unit by unit: the row of values that distributions, capability
 * and individuals charts are made from. */
#ifndef GAINSIEVE_LIMIT_SERIES_H
#define GAINSIEVE_LIMIT_SERIES_H

#include "limits/judge.h"

/* One side of a limit. A unit without a value, and a side without a bound, is NaN. */
struct limit_side {
    bool is_bounded;
    double bound;   /* on the axis of `value`; NaN when the side has none */
    double guarded; /* where the guard band ends; `bound` when there is none */
    double *margin; /* for each unit its smallest distance inside the bound */
    double *value;  /* for each unit the value at that distance, on the axis */
};

/* The axis is the quantity itself when every bound is one number; else, for a mask that varies with
 * frequency, the margin, and the bound is 0. */
struct limit_series {
    const struct limit *limit;
    const struct judgement *const *judgements; /* as given, borrowed */
    bool is_margin;
    size_t n;                       /* units */
    struct limit_side lower, upper; /* `lower.margin` owns all four rows */
};

/* Where the guard band of a bound ends: inside it by g U, in linear abs(S) where U is linear. The
 * bound itself when there is no guard band. */
double limit_guarded(const struct limits *limits, const struct limit *limit, double bound,
                     bool is_lower);

/* Gathers the limit with this index from `n` judgements, in their order. Fails on lack of memory
 * only. `out` must be zero or cleared. */
bool limit_series_make(struct limit_series *out, const struct limits *limits, size_t limit,
                       const struct judgement *const *judgements, size_t n,
                       struct error *e) MUST_CHECK;
/* Frees and zeroes; harmless on zero and twice. */
void limit_series_clear(struct limit_series *series);

#endif
