/* The best single set of K boards, exactly, by branch and bound over the weights of match_cost.h.
 */
#ifndef GAINSIEVE_MATCH_BEST_H
#define GAINSIEVE_MATCH_BEST_H

#include "limits/match_cost.h"

/* A set: its boards in rising order, its cost. */
struct match_set {
    size_t k;
    size_t members[MATCH_MOST_SIZE];
    double cost;
};

/* What a search gave. `proven`: no set costs less by MATCH_SAME_COST or more; otherwise the budget
 * ran out, `set` is the best one seen, and no set costs less than `bound` (0: nothing is known). */
struct match_best {
    struct match_set set;
    bool proven;
    double bound;
    uint64_t nodes; /* weights computed */
};

/* The set of `k` that costs least, holds the `n_fixed` boards of `fixed` (0 is usual) and fills up
 * from `allowed`: rising indices, none of them fixed. With fixed = a set without one board and
 * k = n_fixed + 1 this is the best substitute. Among sets of the same cost the one first in the
 * order of indices. At most about `budget` weights are computed, so the answer depends on the input
 * alone. Fails (ERROR_INPUT) when k is below 2, above MATCH_MOST_SIZE or above the boards at hand,
 * or when nothing is left to choose. */
bool match_best_find(const struct match_gains *gains, const size_t *allowed, size_t n_allowed,
                     const size_t *fixed, size_t n_fixed, size_t k, uint64_t budget,
                     struct match_best *out, struct error *e) MUST_CHECK;

/* Sorts the members of a set and computes its cost. */
void match_set_settle(const struct match_gains *gains, struct match_set *set);

#endif
