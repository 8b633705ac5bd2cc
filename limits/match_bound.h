/* What every arrangement of a batch in sets costs at least. */
#ifndef GAINSIEVE_MATCH_BOUND_H
#define GAINSIEVE_MATCH_BOUND_H

#include "limits/match_best.h"

/* Boards whose quarrel over partners is looked at. */
#define MATCH_QUARREL_BOARDS ((size_t)7)

/* `worst` and `sum` of any arrangement in floor(n / K) disjoint sets of K are at least these. */
struct match_bound {
    double worst, sum;
    uint64_t nodes; /* weights computed */
};

/* Finds the bounds, and in `least[i]` (n_boards numbers of the caller) what a set with board i
 * costs at least: match_best_find() with i fixed. n mod K boards are left over, so the worst set
 * costs at least the (n mod K + 1)-th largest least[i], and the sum is at least 1/K of the sum of
 * all but the n mod K largest.
 *
 * The worst is then raised by the quarrel of the boards H with the largest least[i]: in an
 * arrangement H falls into blocks, one for each set that holds some of H, and at most n mod K of H
 * are left over. A set whose part of H is the block B costs at least what the best set with all of
 * B and nothing else of H costs. The least over all ways to cut H into blocks of the dearest block
 * is a bound; H begins with the n mod K + 1 dearest boards and grows as long as that raises the
 * bound. `nodes` is shared by all searches, half for each part; a search that ends early gives its
 * weaker bound. Fails as match_best_find() does. */
bool match_bound_find(const struct match_gains *gains, size_t k, uint64_t nodes, double *least,
                      struct match_bound *out, struct error *e) MUST_CHECK;

#endif
