#include "limits/match_best.h"

#include "drivers/base/memory.h"
#include "tests/match_boards.h"
#include "tests/match_brute.h"

#define BUDGET 100000000

static size_t rest_of(uint32_t boards, size_t *out)
{
    size_t n = 0;

    for (; boards; boards &= boards - 1)
        out[n++] = (size_t)__builtin_ctz(boards);
    return n;
}

static uint32_t mask_of(const struct match_set *set)
{
    uint32_t mask = 0;

    for (size_t i = 0; i < set->k; i++)
        mask |= (uint32_t)1 << set->members[i];
    return mask;
}

/* The answer to one question is what looking at all sets gives. */
static void check_one(const struct match_gains *gains, const struct brute *brute, uint32_t fixed,
                      uint32_t allowed)
{
    size_t given[BRUTE_BOARDS], free[BRUTE_BOARDS];
    size_t n_given = rest_of(fixed, given), n_free = rest_of(allowed, free);
    double want = brute_best(brute, fixed, allowed);
    struct match_best got;
    struct error e = {0};

    assert_done(match_best_find(gains, free, n_free, given, n_given, brute->k, BUDGET, &got, &e),
                &e);
    assert_true(got.proven);
    assert_close(got.set.cost, want, 2 * MATCH_SAME_COST);
    assert_true(got.bound <= want + 1e-14);
    assert_close(brute->cost[mask_of(&got.set)], got.set.cost, 1e-13);
    assert_int_equal(mask_of(&got.set) & fixed, fixed);
    assert_int_equal(mask_of(&got.set) & ~(fixed | allowed), 0);
    /* A small budget gives a set no better and a bound that holds. */
    assert_done(match_best_find(gains, free, n_free, given, n_given, brute->k, 3, &got, &e), &e);
    assert_true(got.set.cost >= want - 2 * MATCH_SAME_COST);
    assert_true(got.bound <= want + 1e-14);
}

/* Batches of all sizes up to 14, sets of 2 to 5, free, with fixed boards and with some not allowed:
 * brute force gives the same. */
static void test_brute_force(void **state)
{
    static struct brute brute;
    struct error e = {0};

    (void)state;
    for (size_t n = 2; n <= BRUTE_BOARDS; n++)
        for (size_t k = 2; k <= 5 && k <= n; k++)
            for (uint64_t seed = 100 * n + k; seed < 100 * n + k + 20; seed += 10) {
                bool noise = seed % 20 < 10;
                double complex *gain = (noise ? match_noise : match_boards)(n, noise ? 2 : 9, seed);
                uint32_t all = ((uint32_t)1 << n) - 1;
                struct match_gains gains;

                print_message("seed %d\n", (int)seed);
                assert_non_null(gain);
                assert_done(match_gains_wrap(&gains, gain, n, noise ? 2 : 9, &e), &e);
                brute_begin(&brute, &gains, k);
                check_one(&gains, &brute, 0, all);
                check_one(&gains, &brute, 1u << n / 2, all & ~(1u << n / 2));
                if (n > k) check_one(&gains, &brute, 0, all & ~1u);
                if (n > k && k > 2) check_one(&gains, &brute, 6, all & ~7u);
                free(gain);
            }
}

/* Boards that are all alike: the first ones, at once, whatever there are. */
static void test_ties(void **state)
{
    double complex gain[300];
    size_t all[300];
    struct match_gains gains;
    struct match_best got;
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < 300; i++) {
        gain[i] = CMPLX(3, 0.1);
        all[i] = i;
    }
    assert_done(match_gains_wrap(&gains, gain, 300, 1, &e), &e);
    assert_done(match_best_find(&gains, all, 300, NULL, 0, 5, 1000000, &got, &e), &e);
    assert_true(got.proven);
    for (size_t i = 0; i < 5; i++)
        assert_int_equal(got.set.members[i], i);
    /* Twins of the best pair: the pair that comes first. */
    for (size_t i = 0; i < 300; i++)
        gain[i] = cexp(CMPLX(0, 0.01 * (double)i));
    gain[250] = gain[120];
    gain[40] = gain[30];
    assert_done(match_best_find(&gains, all, 300, NULL, 0, 2, 1000000, &got, &e), &e);
    assert_int_equal(got.set.members[0], 30);
    assert_int_equal(got.set.members[1], 40);
}

/* Questions without an answer are refused; without memory it ends in order at each allocation. */
static void test_refused(void **state)
{
    double complex gain[6] = {1, 1, 1, 1, 1, 1};
    size_t all[6] = {0, 1, 2, 3, 4, 5};
    struct match_gains gains;
    struct match_best got;
    struct error e = {0};

    (void)state;
    assert_done(match_gains_wrap(&gains, gain, 6, 1, &e), &e);
    assert_false(match_best_find(&gains, all, 6, NULL, 0, 1, BUDGET, &got, &e));
    assert_holds(e.text, "from 2 to 16");
    e = (struct error){0};
    assert_false(match_best_find(&gains, all, 3, NULL, 0, 4, BUDGET, &got, &e));
    assert_holds(e.text, "make no set of 4");
    e = (struct error){0};
    assert_false(match_best_find(&gains, all + 4, 2, all, 4, 4, BUDGET, &got, &e));
    for (unsigned long nth = 1; nth <= 4; nth++) {
        e = (struct error){0};
        memory_fail_at(nth);
        assert_false(match_best_find(&gains, all, 6, NULL, 0, 3, BUDGET, &got, &e));
        assert_int_equal(e.kind, ERROR_MEMORY);
    }
    memory_fail_at(0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_brute_force),
        cmocka_unit_test(test_ties),
        cmocka_unit_test(test_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
