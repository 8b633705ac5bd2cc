/* Is an arrangement of sets what it claims to be? */
#ifndef GAINSIEVE_TESTS_MATCH_CHECK_H
#define GAINSIEVE_TESTS_MATCH_CHECK_H

#include "limits/match_best.h"
#include "tests/check.h"

/* All boards once, in a set or left over; members rising; costs, worst and sum right. */
static inline void match_check(const struct match_gains *gains, const struct match_set *sets,
                               size_t n_sets, const size_t *left, size_t n_left, double worst,
                               double sum)
{
    bool used[2000] = {false};
    size_t n = n_left;
    double highest = 0, total = 0;

    for (size_t i = 0; i < n_sets; i++) {
        n += sets[i].k;
        for (size_t j = 0; j < sets[i].k; j++) {
            assert_true(sets[i].members[j] < gains->n_boards && !used[sets[i].members[j]]);
            used[sets[i].members[j]] = true;
            assert_true(j == 0 || sets[i].members[j] > sets[i].members[j - 1]);
        }
        assert_close(sets[i].cost, match_cost(gains, sets[i].members, sets[i].k), 0);
        highest = fmax(highest, sets[i].cost);
        total += sets[i].cost;
    }
    for (size_t i = 0; i < n_left; i++) {
        assert_true(left[i] < gains->n_boards && !used[left[i]]);
        used[left[i]] = true;
    }
    assert_int_equal(n, gains->n_boards);
    assert_close(highest, worst, 0);
    assert_close(total, sum, 1e-12 * (double)(n_sets + 1));
}

#endif
