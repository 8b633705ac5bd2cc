/* All sets of a small batch looked at one by one, by other formulas than the program's. */
#ifndef GAINSIEVE_TESTS_MATCH_BRUTE_H
#define GAINSIEVE_TESTS_MATCH_BRUTE_H

#include <stdint.h>

#include "limits/match_cost.h"
#include "tests/check.h"

#define BRUTE_BOARDS 14

/* Costs of all subsets of K boards, by bit masks; -1 for other subsets. */
struct brute {
    size_t n, k;
    double cost[1 << BRUTE_BOARDS];
};

/* Cost by the identity 1 - n = sum over pairs |a - b|^2 / (K sum |a|^2). */
static inline double brute_cost(const struct match_gains *gains, uint32_t set)
{
    double worst = 0;

    for (size_t p = 0; p < gains->n_places; p++) {
        double apart = 0, power = 0;

        for (size_t i = 0; i < gains->n_boards; i++) {
            double complex a = gains->gain[i * gains->n_places + p];

            if (!(set >> i & 1)) continue;
            power += creal(a * conj(a));
            for (size_t j = 0; j < i; j++) {
                double complex d = a - gains->gain[j * gains->n_places + p];

                if (set >> j & 1) apart += creal(d * conj(d));
            }
        }
        worst = fmax(worst, power > 0 ? apart / (__builtin_popcount(set) * power) : 1);
    }
    return worst;
}

static inline void brute_begin(struct brute *brute, const struct match_gains *gains, size_t k)
{
    brute->n = gains->n_boards;
    brute->k = k;
    for (uint32_t set = 0; set < (uint32_t)1 << brute->n; set++)
        brute->cost[set] = (size_t)__builtin_popcount(set) == k ? brute_cost(gains, set) : -1;
}

/* The cheapest set that holds `fixed` and else only boards of `allowed`. */
static inline double brute_best(const struct brute *brute, uint32_t fixed, uint32_t allowed)
{
    double best = INFINITY;

    for (uint32_t set = 0; set < (uint32_t)1 << brute->n; set++)
        if (brute->cost[set] >= 0 && (set & fixed) == fixed && !(set & ~(fixed | allowed)))
            best = fmin(best, brute->cost[set]);
    return best;
}

/* The least worst set (`sum` false) or least sum with sets up to `most`, over all arrangements: for
 * each remainder, its lowest board is in some set or left over. */
static inline double brute_arrange(const struct brute *brute, double most, bool sum)
{
    static double value[1 << BRUTE_BOARDS];

    for (uint32_t rest = 0; rest < (uint32_t)1 << brute->n; rest++) {
        uint32_t low = rest & (~rest + 1), others = rest & ~low;
        size_t count = (size_t)__builtin_popcount(rest);

        value[rest] = count < brute->k ? 0 : INFINITY;
        if (count < brute->k) continue;
        if (count % brute->k != 0) value[rest] = value[others];
        for (uint32_t part = others; part; part = (part - 1) & others) {
            double cost = brute->cost[part | low], after;

            if (cost < 0 || cost > most) continue;
            after = value[others & ~part];
            value[rest] = fmin(value[rest], sum ? cost + after : fmax(cost, after));
        }
    }
    return value[((uint32_t)1 << brute->n) - 1];
}

#endif
