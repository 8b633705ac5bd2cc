#include "limits/match_sets.h"

#include "drivers/base/memory.h"
#include "tests/match_boards.h"
#include "tests/match_brute.h"
#include "tests/match_check.h"

static const struct match_effort effort = {1000000, 1000000, 1};

static void check_sets(const struct match_gains *gains, const struct match_sets *got)
{
    match_check(gains, got->sets, got->n_sets, got->left, got->n_left, got->worst, got->sum);
    assert_true(got->worst_bound <= got->worst && got->sum_bound <= got->sum);
    for (size_t i = 1; i < got->n_sets; i++)
        assert_true(got->sets[i - 1].cost <= got->sets[i].cost);
    for (size_t i = 0; i < got->n_sets; i++)
        for (size_t j = 0; j < got->k; j++)
            assert_true(got->least[got->sets[i].members[j]] <= got->sets[i].cost + 1e-14);
}

/* All batches up to 14 boards, sets of 2 to 5: worst and sum as brute force gives them, the least
 * of each board is that of its best set, and the best substitute is the best. */
static void check_one(const struct match_gains *gains, const struct brute *brute)
{
    double worst = brute_arrange(brute, INFINITY, false);
    uint32_t set = 0, all = ((uint32_t)1 << brute->n) - 1;
    size_t spare[BRUTE_BOARDS], n_spare = 0, dead;
    struct match_sets got;
    struct match_best best;
    struct error e = {0};

    assert_done(match_sets_find(gains, brute->k, &effort, &got, &e), &e);
    check_sets(gains, &got);
    assert_true(got.worst_proven && got.sum_proven);
    assert_int_equal(got.n_sets, brute->n / brute->k);
    assert_close(got.worst, worst, 1e-11);
    assert_close(got.sum, brute_arrange(brute, worst + MATCH_SAME_COST, true), 1e-10);
    for (size_t i = 0; i < brute->n; i++)
        assert_close(got.least[i], brute_best(brute, 1u << i, all & ~(1u << i)), 1e-11);
    for (size_t j = 0; j < brute->k; j++)
        set |= 1u << got.sets[0].members[j];
    for (size_t i = 0; i < brute->n; i++)
        if (!(set >> i & 1)) spare[n_spare++] = i;
    dead = got.sets[0].members[brute->k / 2];
    if (n_spare > 0) {
        assert_done(match_substitute(gains, &got.sets[0], dead, spare, n_spare, &best, &e), &e);
        assert_true(best.proven);
        assert_close(best.set.cost, brute_best(brute, set & ~(1u << dead), all & ~set), 1e-11);
    }
    match_sets_clear(&got);
}

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

/* A large batch made of families of K near boards, the families far apart, some boards strays: the
 * search must find the families, leave the strays and prove the worst set, because each family is
 * the best set of its boards. */
static void test_planted(void **state)
{
    enum { SETS = 20, K = 5, STRAYS = 3, N = SETS * K + STRAYS, PLACES = 3 };
    double complex gain[N * PLACES];
    struct match_gains gains;
    struct match_sets got;
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < N; i++)
        for (size_t p = 0; p < PLACES; p++) {
            size_t family = i < SETS * K ? i % SETS : SETS + i;
            double near = 0.002 * (double)(i / SETS) * (p == 1 ? 1.5 : 1);

            gain[i * PLACES + p] =
                cexp(CMPLX(0.02 * (double)(family % 7), 0.05 * (double)family + near));
        }
    assert_done(match_gains_wrap(&gains, gain, N, PLACES, &e), &e);
    assert_done(match_sets_find(&gains, K, &effort, &got, &e), &e);
    check_sets(&gains, &got);
    assert_int_equal(got.n_left, STRAYS);
    for (size_t i = 0; i < STRAYS; i++)
        assert_int_equal(got.left[i], SETS * K + i);
    for (size_t i = 0; i < got.n_sets; i++)
        for (size_t j = 0; j < K; j++)
            assert_int_equal(got.sets[i].members[j] % SETS, got.sets[i].members[0] % SETS);
    assert_true(got.worst_proven && got.sum_proven);
    match_sets_clear(&got);
}

/* A batch too large for a proof: bounds hold, whatever the effort, and the same is answered again.
 */
static void test_large(void **state)
{
    double complex *gain = match_boards(103, 17, 8);
    struct match_effort little = {0, 1000, 1};
    struct match_gains gains;
    struct match_sets got, again, quick;
    struct error e = {0};

    (void)state;
    assert_non_null(gain);
    assert_done(match_gains_wrap(&gains, gain, 103, 17, &e), &e);
    assert_done(match_sets_find(&gains, 4, &effort, &got, &e), &e);
    assert_done(match_sets_find(&gains, 4, &effort, &again, &e), &e);
    assert_done(match_sets_find(&gains, 4, &little, &quick, &e), &e);
    check_sets(&gains, &got);
    check_sets(&gains, &quick);
    assert_true(quick.worst >= got.worst_bound && got.worst >= quick.worst_bound);
    assert_true(quick.worst >= got.worst);
    assert_int_equal(got.nodes, again.nodes);
    for (size_t i = 0; i < got.n_sets; i++)
        assert_memory_equal(got.sets[i].members, again.sets[i].members, 4 * sizeof(size_t));
    match_sets_clear(&got);
    match_sets_clear(&again);
    match_sets_clear(&quick);
    free(gain);
}

/* What cannot be is refused; without memory, at each allocation in turn, nothing leaks. */
static void test_refused(void **state)
{
    double complex *gain = match_boards(9, 3, 2);
    struct match_set set = {.k = 2, .members = {1, 4}};
    struct match_gains gains;
    struct match_sets got;
    struct match_best best;
    struct error e = {0};
    bool done = false;

    (void)state;
    assert_non_null(gain);
    assert_done(match_gains_wrap(&gains, gain, 9, 3, &e), &e);
    assert_false(match_sets_find(&gains, 10, &effort, &got, &e));
    assert_holds(e.text, "9 boards in sets of 10");
    e = (struct error){0};
    assert_false(match_substitute(&gains, &set, 2, (size_t[]){5}, 1, &best, &e));
    assert_holds(e.text, "not in the set");
    e = (struct error){0};
    assert_false(match_substitute(&gains, &set, 1, NULL, 0, &best, &e));
    assert_holds(e.text, "no spare");
    for (unsigned long nth = 1; !done; nth++) {
        e = (struct error){0};
        memory_fail_at(nth);
        done = match_sets_find(&gains, 4, &effort, &got, &e);
        if (!done) assert_int_equal(e.kind, ERROR_MEMORY);
        match_sets_clear(&got);
    }
    memory_fail_at(0);
    free(gain);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_brute_force),
        cmocka_unit_test(test_planted),
        cmocka_unit_test(test_large),
        cmocka_unit_test(test_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
