#include "limits/match_pack.h"

#include "drivers/base/memory.h"
#include "tests/match_boards.h"
#include "tests/match_brute.h"
#include "tests/match_check.h"

#define BUDGET 100000000

static size_t all[MATCH_PACK_BOARDS];

/* Worst set, sum, and the sum where a dearer worst set is good enough, against all arrangements. */
static void check_one(const struct match_gains *gains, const struct brute *brute)
{
    struct match_pack_task task = {all, brute->n, brute->k, 0, INFINITY, BUDGET};
    double worst = brute_arrange(brute, INFINITY, false), enough = worst * 1.3;
    double sum = brute_arrange(brute, worst + MATCH_SAME_COST, true);
    struct match_pack got;
    struct error e = {0};

    assert_done(match_pack_solve(gains, &task, &got, &e), &e);
    assert_true(got.found && got.worst_proven && got.sum_proven);
    match_check(gains, got.sets, got.n_sets, got.left, got.n_left, got.worst, got.sum);
    assert_int_equal(got.n_sets, brute->n / brute->k);
    assert_close(got.worst, worst, 1e-11);
    assert_close(got.worst_bound, worst, 1e-11);
    assert_close(got.sum, sum, 1e-10);
    assert_true(got.sum_bound <= got.sum + 1e-12);
    task.enough = enough;
    assert_done(match_pack_solve(gains, &task, &got, &e), &e);
    match_check(gains, got.sets, got.n_sets, got.left, got.n_left, got.worst, got.sum);
    assert_close(got.sum, brute_arrange(brute, enough, true), 1e-10);
    task.enough = 0;
    task.most = worst * 0.999;
    assert_done(match_pack_solve(gains, &task, &got, &e), &e);
    if (worst > 1e-6) assert_true(!got.found && got.worst_proven);
}

/* All batches up to 14 boards, sets of 2 to 5, smooth boards and noise. */
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
                struct match_gains gains;

                print_message("seed %d\n", (int)seed);
                assert_non_null(gain);
                assert_done(match_gains_wrap(&gains, gain, n, noise ? 2 : 9, &e), &e);
                brute_begin(&brute, &gains, k);
                check_one(&gains, &brute);
                free(gain);
            }
}

/* However small the budget, what is told holds: bounds lie below the answer of the full search, an
 * arrangement is one, and a proof is right. */
static void test_budget(void **state)
{
    double complex *gain = match_noise(24, 2, 7);
    struct match_pack_task task = {all, 24, 4, 0, INFINITY, BUDGET};
    struct match_gains gains;
    struct match_pack full, got;
    struct error e = {0};
    size_t unproven = 0;

    (void)state;
    assert_non_null(gain);
    assert_done(match_gains_wrap(&gains, gain, 24, 2, &e), &e);
    assert_done(match_pack_solve(&gains, &task, &full, &e), &e);
    assert_true(full.worst_proven && full.sum_proven);
    for (task.budget = 1; task.budget < 4 * full.nodes; task.budget += task.budget / 8 + 1) {
        assert_done(match_pack_solve(&gains, &task, &got, &e), &e);
        assert_true(got.worst_bound <= full.worst + 1e-11);
        if (!got.found) continue;
        match_check(&gains, got.sets, got.n_sets, got.left, got.n_left, got.worst, got.sum);
        assert_true(got.worst >= full.worst - 1e-11);
        if (got.worst_proven) assert_close(got.worst, full.worst, 1e-11);
        if (got.worst_proven) assert_true(got.sum_bound <= full.sum + 1e-10);
        if (got.worst_proven && got.sum_proven) assert_close(got.sum, full.sum, 1e-10);
        if (!got.sum_proven) unproven++;
    }
    assert_true(unproven > 0);
    free(gain);
}

/* A batch may be any boards of the array; what is not small is refused; no memory is told. */
static void test_task(void **state)
{
    double complex *gain = match_boards(40, 9, 3);
    size_t some[] = {3, 17, 21, 38, 39};
    struct match_pack_task task = {some, 5, 2, 0, INFINITY, BUDGET};
    struct match_gains gains;
    struct match_pack got;
    struct error e = {0};

    (void)state;
    assert_non_null(gain);
    assert_done(match_gains_wrap(&gains, gain, 40, 9, &e), &e);
    assert_done(match_pack_solve(&gains, &task, &got, &e), &e);
    assert_int_equal(got.n_sets, 2);
    assert_int_equal(got.n_left, 1);
    for (size_t i = 0; i < 2; i++)
        assert_true(got.sets[i].members[0] >= 3 && got.sets[i].members[1] <= 39);
    assert_int_equal(match_pack_choices(24, 4), 10626);
    assert_int_equal(match_pack_choices(24, 6), 134596);
    assert_true(match_pack_is_small(24, 6) && match_pack_is_small(32, 4));
    assert_false(match_pack_is_small(33, 2) || match_pack_is_small(32, 8) ||
                 match_pack_is_small(3, 4));
    task.n = 1;
    assert_false(match_pack_solve(&gains, &task, &got, &e));
    assert_holds(e.text, "no small batch");
    task.n = 5;
    for (unsigned long nth = 1; nth <= 6; nth++) {
        e = (struct error){0};
        memory_fail_at(nth);
        assert_false(match_pack_solve(&gains, &task, &got, &e));
        assert_int_equal(e.kind, ERROR_MEMORY);
    }
    memory_fail_at(0);
    free(gain);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_brute_force),
        cmocka_unit_test(test_budget),
        cmocka_unit_test(test_task),
    };

    for (size_t i = 0; i < MATCH_PACK_BOARDS; i++)
        all[i] = i;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
