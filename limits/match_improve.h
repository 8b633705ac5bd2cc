/* Makes an arrangement of sets better, step by step, without a proof. */
#ifndef GAINSIEVE_MATCH_IMPROVE_H
#define GAINSIEVE_MATCH_IMPROVE_H

#include "limits/match_pack.h"

/* Disjoint sets and the boards in none, which are fewer than a set has; borrowed arrays. */
struct match_arrangement {
    const struct match_gains *gains;
    size_t k, n_sets, n_left;
    struct match_set *sets;
    size_t *left;
    uint64_t nodes, budget; /* weights and sets looked at, and how many may be */
};

/* The cost of the dearest set. */
double match_arrangement_worst(const struct match_arrangement *all);

/* Improves the worst set, then the sum of costs; neither gets worse (the sum may, where the worst
 * set gains). From the dearest set down: exchanges of one board with any other set and with those
 * left over, then groups of near sets, with those left over, arranged anew exactly; then groups
 * drawn from `seed` until many draws in a row gave nothing or the budget ran out. */
bool match_improve(struct match_arrangement *all, uint64_t seed, struct error *e) MUST_CHECK;

#endif
