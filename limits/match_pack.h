/* All sets of a small batch: as many disjoint sets of K as there are, floor(n / K), so that the
 * worst set costs least, and among those arrangements the sum of the costs is least. Exactly, with
 * proof, as long as the budget lasts. */
#ifndef GAINSIEVE_MATCH_PACK_H
#define GAINSIEVE_MATCH_PACK_H

#include "limits/match_best.h"

/* Boards of a small batch, and sets that it may have: 24 of 4 have 10,626, 24 of 6 134,596. */
#define MATCH_PACK_BOARDS ((size_t)32)
#define MATCH_PACK_SETS ((size_t)150000)

/* What is asked: all `n` boards (indices, rising) in sets of `k`. A worst set that costs no more
 * than `enough` is good enough, and the sum decides (0: the least worst set); no set may cost more
 * than `most` (INFINITY: all may). At most about `budget` sets are looked at. */
struct match_pack_task {
    const size_t *boards;
    size_t n, k;
    double enough, most;
    uint64_t budget;
};

/* What came of it. `found` is false when there is no arrangement within `most`, or none was met
 * before the budget ran out. Sets stand in the order of their first boards. `worst_bound` and
 * `sum_bound`: no arrangement has a cheaper worst set (told for `enough` 0
 * only); none whose worst set is `worst` or `enough`
 * has a smaller sum. Proven: they are met, to MATCH_SAME_COST and to n times that. */
struct match_pack {
    bool found;
    size_t n_sets, n_left;
    struct match_set sets[MATCH_PACK_BOARDS / 2];
    size_t left[MATCH_PACK_BOARDS];
    double worst, sum;
    double worst_bound, sum_bound;
    bool worst_proven, sum_proven;
    uint64_t nodes;
};

/* How many sets of `k` there are of `n` boards; only "many" beyond 32 x MATCH_PACK_SETS. */
size_t match_pack_choices(size_t n, size_t k);

/* True when a batch is small enough. */
bool match_pack_is_small(size_t n, size_t k);

/* Solves it. How: all sets are listed. The worst set: a binary search over the costs of the sets,
 * each step asking by exact cover whether sets up to there can make the arrangement; at the low end
 * the cheapest sets of each board, of which n mod K boards may be left out. The sum: branch and
 * bound over the first board not yet in a set, bounded by a Lagrangian: any prices u of the boards
 * give sum cost >= sum u + sum over boards of min(0, cost - prices of the best set that begins
 * there), less the n mod K highest prices, because each set begins at one board and each board is
 * in one set or left over. The prices are raised by subgradient steps. Equal remainders are looked
 * at once. Fails (ERROR_INPUT) when the batch is not small. */
bool match_pack_solve(const struct match_gains *gains, const struct match_pack_task *task,
                      struct match_pack *out, struct error *e) MUST_CHECK;

#endif
