/* What a set of boards costs, and what every set costs at least that holds some given boards.
 *
 * Cost of a set S of K boards: the largest of 1 - efficiency over all places, efficiency as in
 * combining.h; 0 for boards that are alike, 1 when nothing comes out. The loss in dB,
 * -10 log10(1 - cost), rises with it, so the order of sets is the same.
 *
 * Weight of a group C of m boards: m x its cost. The bound that all searches stand on:
 *
 *     K cost(S) >= m cost(C) for each C that S holds, whatever the amplitudes,      (1)
 *
 * that is, a weight never falls when a board joins. From a pair: cost(S) >= (2/K) cost(pair).
 *
 * Proof, at one place. Cut S into disjoint groups g of m_g boards with efficiencies n_g and powers
 * Q_g = sum |a|^2, sum over S: Q. By definition |sum_g a|^2 = m_g n_g Q_g. By the triangle
 * inequality, then by that of Cauchy and Schwarz
 *
 *     |sum_S a| <= sum_g sqrt(m_g n_g) sqrt(Q_g) <= sqrt(sum_g m_g n_g) sqrt(Q),
 *
 * so K n_S <= sum_g m_g n_g, or K (1 - n_S) >= sum_g m_g (1 - n_g). With C as one group and each
 * other board alone (n = 1) this is (1) at that place; the largest over the places keeps it,
 * because the place where C is worst is one of S's. A silent group has n_g = 0 by definition and
 * the first equation holds. The bound is reached: by boards equal to the mean of C times a factor.
 *
 * The identity 1 - n = sum over pairs |a_i - a_j|^2 / (K Q) gives the exact cost of pairs at one
 * place, and (1) needs no largest amplitude, as a bound by distances would. */
#ifndef GAINSIEVE_MATCH_COST_H
#define GAINSIEVE_MATCH_COST_H

#include <complex.h>
#include <stddef.h>
#include <stdint.h>

#include "drivers/base/error.h"

/* Boards of a set: who combines more, combines groups. */
#define MATCH_MOST_SIZE ((size_t)16)
/* Boards of a batch for matching. */
#define MATCH_MOST_BOARDS ((size_t)10000)
/* Costs closer than this are the same: far above what rounding makes, 1e-11 dB of loss. */
#define MATCH_SAME_COST 1e-12

/* Complex gains gain[board * n_places + place], borrowed. */
struct match_gains {
    size_t n_boards, n_places;
    const double complex *gain;
    size_t stride; /* places are looked at in steps of this, so that far ones come soon */
};

/* Wraps an array. Fails (ERROR_INPUT) without boards or places, above MATCH_MOST_BOARDS, and on a
 * gain that is no finite number. */
bool match_gains_wrap(struct match_gains *gains, const double complex *gain, size_t n_boards,
                      size_t n_places, struct error *e) MUST_CHECK;

/* The cost of a set of `k` boards, 0..1. */
double match_cost(const struct match_gains *gains, const size_t *members, size_t k);

/* A cost as loss in dB. */
double match_loss_db(double cost);

/* A group under construction: its sums at each place. */
struct match_group {
    size_t size;
    double complex *sum;
    double *power;
};

/* `n` empty groups in one block; the first owns it. NULL with `e` set when there is no memory.
 * Freed with match_groups_free(). */
struct match_group *match_groups_make(const struct match_gains *gains, size_t n,
                                      struct error *e) MUST_CHECK;
void match_groups_free(struct match_group *groups);

/* `out` = the group and one board more. `out` may be `group`. */
void match_group_add(const struct match_gains *gains, const struct match_group *group, size_t board,
                     struct match_group *out);

/* The weight of the group and one board more; some value above `most` as soon as it is above. */
double match_group_weight(const struct match_gains *gains, const struct match_group *group,
                          size_t board, double most);

/* The least that any set of `k` costs with these two boards: (2/k) of the pair's cost. */
double match_pair_bound(const struct match_gains *gains, size_t one, size_t other, size_t k);

#endif
