#include "limits/match_cost.h"

#include "tests/check.h"
#include "tests/match_boards.h"

enum { BOARDS = 12, PLACES = 5 };

/* 1 - efficiency by the identity of the pair distances, which the module does not use. */
static double cost_by_pairs(const double complex *gain, const size_t *members, size_t k)
{
    double worst = 0;

    for (size_t p = 0; p < PLACES; p++) {
        double apart = 0, power = 0;

        for (size_t i = 0; i < k; i++) {
            power += pow(cabs(gain[members[i] * PLACES + p]), 2);
            for (size_t j = 0; j < i; j++)
                apart +=
                    pow(cabs(gain[members[i] * PLACES + p] - gain[members[j] * PLACES + p]), 2);
        }
        worst = fmax(worst, power > 0 ? apart / ((double)k * power) : 1);
    }
    return worst;
}

/* `k` different boards in random order. */
static void draw(struct random_source *random, size_t *members, size_t k)
{
    size_t all[BOARDS];

    for (size_t i = 0; i < BOARDS; i++)
        all[i] = i;
    for (size_t i = 0; i < k; i++) {
        size_t at = i + random_bits(random) % (BOARDS - i);

        members[i] = all[at];
        all[at] = all[i];
    }
}

/* The cost is one minus the efficiency in closed forms and equals the sum over pairs. */
static void test_cost(void **state)
{
    double complex *gain = match_noise(BOARDS, PLACES, 11);
    double complex two[] = {1, 1, 1, cexp(CMPLX(0, 0.3))};
    struct match_gains gains;
    struct random_source random;
    struct error e = {0};

    (void)state;
    print_message("seed 11\n");
    random_begin(&random, 11, 1, 1);
    assert_non_null(gain);
    assert_done(match_gains_wrap(&gains, gain, BOARDS, PLACES, &e), &e);
    for (int i = 0; i < 2000; i++) {
        size_t members[8], k = 1 + random_bits(&random) % 8;

        draw(&random, members, k);
        assert_close(match_cost(&gains, members, k), cost_by_pairs(gain, members, k), 1e-13);
    }
    assert_done(match_gains_wrap(&gains, two, 2, 2, &e), &e);
    assert_close(match_cost(&gains, (size_t[]){0, 1}, 2), pow(sin(0.15), 2), 1e-15);
    assert_close(match_loss_db(0.25), 1.24939, 6e-6);
    assert_close(match_loss_db(0), 0, 0);
    free(gain);
}

/* The weight of any group, be it of smooth boards or of noise with silent ones, never exceeds that
 * of a set that holds it; a pair's bound neither. Groups grown one by one have the weights of their
 * boards. */
static void test_bound_holds(void **state)
{
    struct error e = {0};

    (void)state;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        double complex *gain = (seed % 2 ? match_noise : match_boards)(BOARDS, PLACES, seed);
        struct match_gains gains;
        struct match_group *groups;
        struct random_source random;

        print_message("seed %d\n", (int)seed);
        random_begin(&random, seed, 2, 2);
        assert_non_null(gain);
        assert_done(match_gains_wrap(&gains, gain, BOARDS, PLACES, &e), &e);
        groups = match_groups_make(&gains, 9, &e);
        assert_non_null(groups);
        for (int i = 0; i < 200; i++) {
            size_t members[8], k = 2 + random_bits(&random) % 7;
            double whole, last = 0;

            draw(&random, members, k);
            whole = cost_by_pairs(gain, members, k);
            assert_true(match_pair_bound(&gains, members[0], members[1], k) <= whole + 1e-13);
            for (size_t m = 0; m < k; m++) {
                double weight = match_group_weight(&gains, &groups[m], members[m], INFINITY);

                assert_close(weight, (double)(m + 1) * cost_by_pairs(gain, members, m + 1), 1e-12);
                assert_true(weight >= last - 1e-12);
                assert_true(weight <= (double)k * whole + 1e-12);
                last = weight;
                match_group_add(&gains, &groups[m], members[m], &groups[m + 1]);
                assert_int_equal(groups[m + 1].size, m + 1);
            }
        }
        match_groups_free(groups);
        free(gain);
    }
}

/* The bound is reached: boards along the mean of the pair, of the right strength, leave 2/K of the
 * pair's cost, so no larger factor would be right. */
static void test_bound_is_tight(void **state)
{
    double complex mean = 0.5 + 0.5 * cexp(CMPLX(0, 0.4)), factor;
    double complex gain[] = {1, cexp(CMPLX(0, 0.4)), 0, 0};
    struct match_gains gains;
    struct error e = {0};
    double bound, efficiency;

    (void)state;
    /* Where the inequality of Cauchy and Schwarz is an equation: power in proportion to m n. */
    efficiency = pow(cabs(mean), 2);
    factor = 1 / efficiency;
    gain[2] = gain[3] = mean * factor;
    assert_done(match_gains_wrap(&gains, gain, 4, 1, &e), &e);
    bound = match_pair_bound(&gains, 0, 1, 4);
    assert_close(match_cost(&gains, (size_t[]){0, 1, 2, 3}, 4), bound, 1e-14);
    assert_true(bound > 0.01);
}

/* With a ceiling the weight may stop early, but never says less than the ceiling wrongly. */
static void test_early_stop(void **state)
{
    double complex *gain = match_noise(BOARDS, PLACES, 5);
    struct match_gains gains;
    struct match_group *groups;
    struct error e = {0};

    (void)state;
    assert_non_null(gain);
    assert_done(match_gains_wrap(&gains, gain, BOARDS, PLACES, &e), &e);
    groups = match_groups_make(&gains, 2, &e);
    assert_non_null(groups);
    for (size_t one = 0; one < BOARDS; one++) {
        match_group_add(&gains, &groups[0], one, &groups[1]);
        for (size_t other = 0; other < BOARDS; other++) {
            double whole = match_group_weight(&gains, &groups[1], other, INFINITY);

            for (double most = 0; most < 2; most += 0.1) {
                double early = match_group_weight(&gains, &groups[1], other, most);

                if (whole <= most) assert_close(early, whole, 0);
                if (whole > most) assert_true(early > most && early <= whole);
            }
        }
    }
    match_groups_free(groups);
    free(gain);
}

/* What is no batch is refused in words; each number of places gives a walk over all of them. */
static void test_wrap(void **state)
{
    double complex gain[60] = {0};
    struct match_gains gains;
    struct error e = {0};

    (void)state;
    for (size_t places = 1; places <= 60; places++) {
        size_t p = 0, n = 0;

        assert_done(match_gains_wrap(&gains, gain, 1, places, &e), &e);
        do {
            p = (p + gains.stride) % places;
            n++;
        } while (p != 0);
        assert_int_equal(n, places);
        assert_true(gains.stride <= places);
    }
    assert_false(match_gains_wrap(&gains, gain, 0, 5, &e));
    assert_holds(e.text, "no boards");
    e = (struct error){0};
    assert_false(match_gains_wrap(&gains, gain, MATCH_MOST_BOARDS + 1, 1, &e));
    assert_holds(e.text, "at most 10000");
    e = (struct error){0};
    gain[7] = NAN;
    assert_false(match_gains_wrap(&gains, gain, 2, 5, &e));
    assert_holds(e.text, "board 1 has no gain at place 2");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cost),           cmocka_unit_test(test_bound_holds),
        cmocka_unit_test(test_bound_is_tight), cmocka_unit_test(test_early_stop),
        cmocka_unit_test(test_wrap),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
