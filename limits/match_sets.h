/* All sets of a batch of any size: as many disjoint sets of K as there are, floor(n / K), so that
 * the worst set costs little, then the sum. Small batches (match_pack.h) exactly; larger ones by a
 * search with a bound, so that the gap is known. No clock: the effort is a count, and the same
 * input gives the same answer. */
#ifndef GAINSIEVE_MATCH_SETS_H
#define GAINSIEVE_MATCH_SETS_H

#include "limits/match_pack.h"

/* How long to look. `bound_nodes`: weights computed for the bound, all boards together;
 * `search_nodes`: weights and sets looked at to make the arrangement better; `seed` draws the
 * groups that are arranged anew. */
struct match_effort {
    uint64_t bound_nodes, search_nodes, seed;
};

/* An effort for a good answer in reasonable time: some seconds for 200 boards, under a minute for
 * 2,000, with 101 to 505 places on a usual machine. */
struct match_effort match_effort_usual(const struct match_gains *gains);

/* An arrangement. Sets stand from the cheapest to the dearest. Whatever arrangement of floor(n / K)
 * sets there is: its worst set costs at least `worst_bound`, its sum is at least `sum_bound`. When
 * the worst is proven, `sum_proven` says that no arrangement with that worst set has a smaller sum
 * (`sum_bound` is then of those). `least[i]`: what a set with board i costs at least, which tells
 * why a board was left over. Owned; ended by match_sets_clear(). */
struct match_sets {
    size_t k, n_sets, n_left, n_boards;
    struct match_set *sets;
    size_t *left;
    double *least;
    double worst, sum, worst_bound, sum_bound;
    bool worst_proven, sum_proven;
    uint64_t nodes;
};

/* Arranges all boards of `gains`. How, for large batches: the most isolated n mod K boards are put
 * aside; then the most isolated board takes the K - 1 that weigh least with it, again and again.
 * From the dearest set down, boards are exchanged with other sets and with those left over, and
 * groups of near sets are arranged anew by match_pack_solve(), as long as the worst set, or the sum
 * at the same worst set, gets less. The bound is that of
 * match_bound.h. Fails (ERROR_INPUT) as match_best_find() does. */
bool match_sets_find(const struct match_gains *gains, size_t k, const struct match_effort *effort,
                     struct match_sets *out, struct error *e) MUST_CHECK;

/* The best substitute for the board `dead` of a set, from `spare` (rising, none of the set): the
 * whole new set. Fails (ERROR_INPUT) when `dead` is not of the set or nothing is spare. */
bool match_substitute(const struct match_gains *gains, const struct match_set *set, size_t dead,
                      const size_t *spare, size_t n_spare, struct match_best *out,
                      struct error *e) MUST_CHECK;

/* Frees what match_sets_find() gave, also when it failed. */
void match_sets_clear(struct match_sets *sets);

#endif
