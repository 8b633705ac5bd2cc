/* Where the bounds of a limit could lie, from what the units of a batch were measured to be. A
 * suggestion only: it says what the process does, not what the product needs. */
#ifndef GAINSIEVE_SUGGEST_BOUND_H
#define GAINSIEVE_SUGGEST_BOUND_H

#include "drivers/base/text.h"
#include "limits/capability.h"
#include "limits/tolerance.h"

/* What is asked for. With one bound the tolerance bound is one-sided; with both it is a two-sided
 * interval. Shares as 0.95. */
struct bound_wish {
    bool lower, upper;   /* which bounds the limit has; one at least */
    double coverage;     /* share of the units to come that is to be inside */
    double confidence;   /* of the tolerance bounds, and of the target's interval */
    double target_yield; /* 0.5..1; 0 for none */
};

/* mean -+ factor s. */
struct normal_bounds {
    double factor, lower, upper;
};

/* The rank-th smallest and the rank-th largest value. */
struct order_bounds {
    size_t rank;       /* 0: too few units */
    size_t n_needed;   /* the smallest n for which there is one */
    double confidence; /* achieved */
    double lower, upper;
};

/* The tightest bound at which at least the target yield of these units is inside, and the interval
 * for where that bound lies for all units of this process. */
struct target_bound {
    double at, low, high; /* low or high is NaN: the batch is too small to say, that end is open */
};

/* Bounds are in the unit of the values, and NaN where there is none, or none was asked for. */
struct bound_suggestion {
    struct bound_wish wish;
    size_t n, n_left_out;   /* units with a value; units that were NaN */
    double mean, deviation; /* NaN for n of 0, and of 1 */
    bool is_small;          /* n < CAPABILITY_SMALL */
    bool is_flat;           /* all values the same to 1e-9: no normal bound */
    bool is_not_normal;     /* Anderson-Darling at 1 %; false when n is too small to tell */
    struct normal_bounds normal;
    struct order_bounds order;
    struct target_bound target_lower, target_upper;
    double target_confidence; /* achieved, of each interval for itself */
};

/* `x`: one value for each of `n` units (the side of a limit series), NaN for a unit without one.
 * Sources: of the factors and order statistics limits/tolerance.h; of the test limits/capability.h.
 * The target with one bound leaves out floor(n (1 - target_yield)) units; with both, an equal share
 * of floor(n (1 - target_yield) / 2) at each end. Its interval is that of the quantile, by
 * tolerance_quantile_ranks(): no distribution is assumed.
 *
 * Small batches, and values that are all the same or infinite, are no error: what can't be said is
 * NaN, and bound_suggestion_words() says why. Fails, with `out` as it was, on a wish without a
 * bound or outside its range (ERROR_USAGE) and on lack of memory. */
bool bound_suggest(struct bound_suggestion *out, const double *x, size_t n,
                   const struct bound_wish *wish, struct error *e) MUST_CHECK;

/* Adds what a reader must know before using the suggestion, in sentences: units left out, small n,
 * what is missing and why, visible non-normality. Nothing when there is nothing to say. */
void bound_suggestion_words(const struct bound_suggestion *suggestion, struct text *out);

#endif
