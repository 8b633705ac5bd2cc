#include "limits/match_improve.h"

#include "drivers/base/memory.h"
#include "tests/match_boards.h"
#include "tests/match_brute.h"
#include "tests/match_check.h"

/* Boards in the order of their indices as sets; the last ones are left over. */
static void in_order(struct match_arrangement *all, const struct match_gains *gains, size_t k,
                     struct match_set *sets, size_t *left)
{
    size_t board = 0;

    *all = (struct match_arrangement){.gains = gains, .k = k, .sets = sets, .left = left};
    all->n_sets = gains->n_boards / k;
    all->n_left = gains->n_boards % k;
    all->budget = 1000000;
    for (size_t i = 0; i < all->n_sets; i++) {
        sets[i].k = k;
        for (size_t j = 0; j < k; j++)
            sets[i].members[j] = board++;
        match_set_settle(gains, &sets[i]);
    }
    for (size_t i = 0; i < all->n_left; i++)
        left[i] = board++;
}

static double sum_of(const struct match_arrangement *all)
{
    double sum = 0;

    for (size_t i = 0; i < all->n_sets; i++)
        sum += all->sets[i].cost;
    return sum;
}

/* Batches up to 14: the result is an arrangement, never worse than the start nor better than the
 * best there is; as the whole batch is one group, or nearly so, it mostly is the best. */
static void test_small(void **state)
{
    static struct brute brute;
    struct match_set sets[7];
    size_t left[7], met = 0, asked = 0;
    struct error e = {0};

    (void)state;
    for (size_t n = 4; n <= BRUTE_BOARDS; n++)
        for (size_t k = 2; k <= 5 && k <= n; k++) {
            double complex *gain = match_noise(n, 2, n + 20 * k);
            struct match_gains gains;
            struct match_arrangement all;
            double worst, before, before_sum;

            assert_non_null(gain);
            assert_done(match_gains_wrap(&gains, gain, n, 2, &e), &e);
            brute_begin(&brute, &gains, k);
            worst = brute_arrange(&brute, INFINITY, false);
            in_order(&all, &gains, k, sets, left);
            before = match_arrangement_worst(&all);
            before_sum = sum_of(&all);
            assert_done(match_improve(&all, 1, &e), &e);
            match_check(&gains, sets, all.n_sets, left, all.n_left, match_arrangement_worst(&all),
                        sum_of(&all));
            assert_true(match_arrangement_worst(&all) >= worst - 1e-11);
            assert_true(match_arrangement_worst(&all) < before - 1e-12 ||
                        (match_arrangement_worst(&all) <= before && sum_of(&all) <= before_sum));
            asked++;
            if (match_arrangement_worst(&all) < worst + 1e-11) met++;
            free(gain);
        }
    print_message("best worst set met in %d of %d batches\n", (int)met, (int)asked);
    assert_true(met * 10 >= asked * 9);
}

/* With any budget the arrangement stays one, and a larger budget never harms; twice the same gives
 * the same. */
static void test_budget(void **state)
{
    double complex *gain = match_boards(61, 9, 4);
    struct match_set sets[15], again[15];
    size_t left[4], left_again[4];
    struct match_gains gains;
    struct match_arrangement all, other;
    struct error e = {0};
    double last = INFINITY;

    (void)state;
    assert_non_null(gain);
    assert_done(match_gains_wrap(&gains, gain, 61, 9, &e), &e);
    for (uint64_t budget = 0; budget < 3000000; budget = 4 * budget + 100) {
        in_order(&all, &gains, 4, sets, left);
        in_order(&other, &gains, 4, again, left_again);
        all.budget = other.budget = budget;
        assert_done(match_improve(&all, 9, &e), &e);
        assert_done(match_improve(&other, 9, &e), &e);
        match_check(&gains, sets, all.n_sets, left, all.n_left, match_arrangement_worst(&all),
                    sum_of(&all));
        for (size_t i = 0; i < all.n_sets; i++)
            assert_memory_equal(sets[i].members, again[i].members, 4 * sizeof *sets[i].members);
        assert_int_equal(all.nodes, other.nodes);
        assert_true(match_arrangement_worst(&all) <= last + 1e-12);
        last = match_arrangement_worst(&all);
    }
    free(gain);
}

/* Sets of 16 are too many to arrange groups anew: exchanges alone still help. No memory is told. */
static void test_large_sets(void **state)
{
    double complex *gain = match_boards(50, 9, 6);
    struct match_set sets[3];
    size_t left[16];
    struct match_gains gains;
    struct match_arrangement all;
    struct error e = {0};
    double before;

    (void)state;
    assert_non_null(gain);
    assert_done(match_gains_wrap(&gains, gain, 50, 9, &e), &e);
    in_order(&all, &gains, 16, sets, left);
    before = match_arrangement_worst(&all);
    assert_done(match_improve(&all, 1, &e), &e);
    match_check(&gains, sets, 3, left, 2, match_arrangement_worst(&all), sum_of(&all));
    assert_true(match_arrangement_worst(&all) < before);
    for (unsigned long nth = 1; nth <= 3; nth++) {
        e = (struct error){0};
        memory_fail_at(nth);
        assert_false(match_improve(&all, 1, &e));
        assert_int_equal(e.kind, ERROR_MEMORY);
    }
    memory_fail_at(0);
    free(gain);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_small),
        cmocka_unit_test(test_budget),
        cmocka_unit_test(test_large_sets),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
