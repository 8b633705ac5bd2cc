/* Counts and yield of a batch. A unit counts once, with its last attempt; the first-pass yield
 * takes its first. */
#ifndef GAINSIEVE_YIELD_H
#define GAINSIEVE_YIELD_H

#include <stddef.h>

#include "limits/judge.h"

struct batch_yield {
    size_t n_units, n_pass, n_fail, n_incomplete; /* by last attempt */
    size_t n_first_pass;                          /* PASS at the first attempt on record */
    double yield;                                 /* n_pass / n_units; NaN without units */
    double yield_low, yield_high;                 /* 95 % Clopper-Pearson interval, two-sided */
    size_t *failed_by_limit; /* for each limit, units whose last attempt failed it; owned */
};

/* `judgements` by serial, attempt: attempts of one unit follow each other. */
bool batch_yield_count(struct batch_yield *out, const struct judgement *judgements, size_t n,
                       size_t n_limits, struct error *e) MUST_CHECK;
void batch_yield_clear(struct batch_yield *yield);

/* True when the judgement is the last attempt of its unit. */
bool judgement_is_last(const struct judgement *judgements, size_t n, size_t i);

#endif
