#include "limits/match_bound.h"

#include "drivers/base/memory.h"
#include "tests/match_boards.h"
#include "tests/match_brute.h"

/* Bounds against all arrangements there are. With a large budget each board's least is exact. */
static void check_one(const struct match_gains *gains, const struct brute *brute, uint64_t nodes)
{
    double worst = brute_arrange(brute, INFINITY, false), least[BRUTE_BOARDS];
    uint32_t all = ((uint32_t)1 << brute->n) - 1;
    struct match_bound got;
    struct error e = {0};

    assert_done(match_bound_find(gains, brute->k, nodes, least, &got, &e), &e);
    assert_true(got.worst <= worst + 1e-14);
    assert_true(got.sum <= brute_arrange(brute, INFINITY, true) + 1e-13);
    for (size_t i = 0; i < brute->n; i++) {
        double want = brute_best(brute, 1u << i, all & ~(1u << i));

        assert_true(least[i] <= want + 1e-14);
        if (nodes > 1000000) assert_close(least[i], want, 2 * MATCH_SAME_COST);
    }
    /* Up to seven boards the quarrel looks at every way to cut the batch. */
    if (nodes > 1000000 && brute->n <= MATCH_QUARREL_BOARDS && brute->n % brute->k + 2 <= brute->n)
        assert_close(got.worst, worst, 2 * MATCH_SAME_COST);
}

static void test_brute_force(void **state)
{
    static struct brute brute;
    struct error e = {0};

    (void)state;
    for (size_t n = 2; n <= 12; n++)
        for (size_t k = 2; k <= 5 && k <= n; k++)
            for (uint64_t seed = 100 * n + k; seed < 100 * n + k + 20; seed += 10) {
                bool noise = seed % 20 < 10;
                double complex *gain = (noise ? match_noise : match_boards)(n, noise ? 2 : 9, seed);
                struct match_gains gains;

                print_message("seed %d\n", (int)seed);
                assert_non_null(gain);
                assert_done(match_gains_wrap(&gains, gain, n, noise ? 2 : 9, &e), &e);
                brute_begin(&brute, &gains, k);
                check_one(&gains, &brute, 100000000);
                check_one(&gains, &brute, 0);
                free(gain);
            }
}

/* Three boards here, three there, in pairs: each has a near partner, but one pair must go across.
 * Only the quarrel sees that: sin^2 of half of the angle across. */
static void test_quarrel(void **state)
{
    static const double phases[] = {-0.5, 0, 0.5, 2, 2.01, 2.02};
    double complex gain[6];
    double least[6], highest = 0;
    struct match_gains gains;
    struct match_bound got;
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < 6; i++)
        gain[i] = cexp(CMPLX(0, phases[i]));
    assert_done(match_gains_wrap(&gains, gain, 6, 1, &e), &e);
    assert_done(match_bound_find(&gains, 2, 1000000, least, &got, &e), &e);
    for (size_t i = 0; i < 6; i++)
        highest = fmax(highest, least[i]);
    assert_close(highest, pow(sin(0.25), 2), 1e-11);
    assert_close(got.worst, pow(sin(0.75), 2), 1e-11);
}

/* A board far from all has a budget of its own when the first one was too short for a proof. */
static void test_again(void **state)
{
    double complex *gain = match_boards(150, 17, 1);
    double *least = malloc(150 * sizeof *least);
    struct match_gains gains;
    struct match_bound little, much;
    struct error e = {0};

    (void)state;
    assert_true(gain && least);
    assert_done(match_gains_wrap(&gains, gain, 150, 17, &e), &e);
    assert_done(match_bound_find(&gains, 5, 0, least, &little, &e), &e);
    assert_done(match_bound_find(&gains, 5, 4000000, least, &much, &e), &e);
    assert_true(little.worst < much.worst && little.sum < much.sum);
    free(least);
    free(gain);
}

/* No batch is refused; no memory is told. */
static void test_refused(void **state)
{
    double complex gain[5] = {1, 1, 1, 1, 1};
    double least[5];
    struct match_gains gains;
    struct match_bound got;
    struct error e = {0};

    (void)state;
    assert_done(match_gains_wrap(&gains, gain, 5, 1, &e), &e);
    assert_false(match_bound_find(&gains, 6, 100, least, &got, &e));
    assert_holds(e.text, "5 boards in sets of 6");
    for (unsigned long nth = 1; nth <= 6; nth++) {
        e = (struct error){0};
        memory_fail_at(nth);
        assert_false(match_bound_find(&gains, 2, 100, least, &got, &e));
        assert_int_equal(e.kind, ERROR_MEMORY);
    }
    memory_fail_at(0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_brute_force),
        cmocka_unit_test(test_quarrel),
        cmocka_unit_test(test_again),
        cmocka_unit_test(test_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
