/* Counts and yield of a batch. A unit counts once, with its last attempt; the first-pass yield
 * takes its first. */
#ifndef GAINSIEVE_YIELD_H
#define GAINSIEVE_YIELD_H

#include <stddef.h>

#include "limits/judge.h"

struct batch_yield {
    size_t n_units, n_pass, n_fail, n_incomplete; /* by last attempt */
    size_t n_first_pass;                 /* PASS at attempt 1; one that is not on record did not */
    double yield;                        /* n_pass / n_units; NaN without units */
    double yield_low, yield_high;        /* 95 % Clopper-Pearson interval, two-sided */
    double first, first_low, first_high; /* the same of the first attempts */
    /* Of the last attempts; one allocation, owned by failed_by_limit. */
    size_t n_limits;
    size_t *failed_by_limit; /* for each limit, units that failed it */
    size_t *failed_alone;    /* for each limit, units that failed it and no other */
    size_t *failed_together; /* n_limits squared: units that failed both; symmetric */
};

/* `judgements` by serial, attempt: attempts of one unit follow each other. */
bool batch_yield_count(struct batch_yield *out, const struct judgement *judgements, size_t n,
                       size_t n_limits, struct error *e) MUST_CHECK;
/* The indices of all limits in `out`, those that cost most units first, equal ones in the file's
 * order. */
void batch_yield_rank(const struct batch_yield *yield, size_t *out);
void batch_yield_clear(struct batch_yield *yield);

/* Whether a value was seen outside the limit: neither accepted nor incomplete. */
bool finding_has_failed(const struct finding *finding);

/* True when the judgement is the last attempt of its unit. */
bool judgement_is_last(const struct judgement *judgements, size_t n, size_t i);

#endif
