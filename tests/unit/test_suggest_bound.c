#include "limits/suggest_bound.h"

#include <stdlib.h>
#include <time.h>

#include "drivers/base/memory.h"
#include "drivers/random_source.h"
#include "limits/statistics.h"
#include "tests/check.h"

static const struct bound_wish lower_only = {
    .lower = true, .coverage = 0.95, .confidence = 0.95, .target_yield = 0.9};
static const struct bound_wish upper_only = {
    .upper = true, .coverage = 0.95, .confidence = 0.95, .target_yield = 0.9};
static const struct bound_wish both_sides = {
    .lower = true, .upper = true, .coverage = 0.95, .confidence = 0.95, .target_yield = 0.9};

static struct bound_suggestion suggest(const double *x, size_t n, const struct bound_wish *wish)
{
    struct bound_suggestion out = {0};
    struct error e = {0};

    assert_done(bound_suggest(&out, x, n, wish, &e), &e);
    return out;
}

/* Fails unless `part` is among the words, or is not, as said. */
static void check_words(const struct bound_suggestion *s, const char *part, bool is_there)
{
    struct text words = {0};

    bound_suggestion_words(s, &words);
    if ((strstr(text_words(&words), part) != NULL) != is_there) {
        print_error("\"%s\" %s in \"%s\"\n", part, is_there ? "is not" : "is", text_words(&words));
        fail();
    }
    text_clear(&words);
}

/* `n` values as normal as can be, of this mean and deviation 1, shuffled. */
static void fill_normal(double *x, size_t n, double mean)
{
    for (size_t i = 0; i < n; i++)
        /* 127 is a prime above the sizes used: each place comes once. */
        x[i * 127 % n] = mean + normal_quantile(((double)i + 0.5) / (double)n);
}

/* The worked limits of NIST/SEMATECH e-Handbook 7.2.6.3 (read second-hand): mean 97.07, s 0.0268,
 * 43 units, 0.90, 0.99; Howe's two-sided factor gives 97.010576..97.12942 there, the exact one
 * 2.222825 (computed elsewhere) a little more; the non-central t 1.8739536 one-sided. */
static void test_handbook(void **state)
{
    struct bound_wish wish = {.lower = true, .upper = true, .coverage = 0.90, .confidence = 0.99};
    struct bound_suggestion s;
    double x[43];

    (void)state;
    /* 21 below, 21 above, one at the mean: s^2 = 42 d^2 / 42. */
    for (size_t i = 0; i < 43; i++)
        x[i] = 97.07 + (i == 42 ? 0 : i % 2 ? 0.0268 : -0.0268);
    s = suggest(x, 43, &wish);
    assert_close(s.mean, 97.07, 1e-12);
    assert_close(s.deviation, 0.0268, 1e-12);
    assert_close(s.normal.factor, 2.222825174, 1e-9);
    assert_close(s.normal.lower, 97.07 - 2.222825174 * 0.0268, 1e-9);
    assert_close(s.normal.upper, 97.12942, 1.6e-4);
    wish.lower = false;
    s = suggest(x, 43, &wish);
    assert_true(isnan(s.normal.lower));
    assert_close(s.normal.upper, 97.07 + 1.8739536 * 0.0268, 1e-8);
}

/* 1 to 100: every order statistic is its own rank. 95/95 one-sided takes the second of 100 (93 to
 * 123 units), two-sided the first; a yield of 0.9 leaves 10 out, or 5 at each end. */
static void test_ranks(void **state)
{
    double x[100];
    struct bound_suggestion s;

    (void)state;
    for (size_t i = 0; i < 100; i++)
        x[i * 37 % 100] = (double)i + 1;
    s = suggest(x, 100, &lower_only);
    assert_int_equal(s.order.rank, 2);
    assert_int_equal(s.order.n_needed, 59);
    assert_close(s.order.lower, 2, 0);
    assert_close(s.order.confidence, tolerance_order_confidence(100, 2, 0.95), 0);
    assert_true(isnan(s.order.upper) && isnan(s.normal.upper) && isnan(s.target_upper.at));
    assert_close(s.target_lower.at, 11, 0);
    s = suggest(x, 100, &upper_only);
    assert_close(s.order.upper, 99, 0);
    assert_close(s.target_upper.at, 90, 0);
    assert_true(isnan(s.order.lower) && isnan(s.normal.lower) && isnan(s.target_lower.at));
    s = suggest(x, 100, &both_sides);
    assert_int_equal(s.order.rank, 1);
    assert_int_equal(s.order.n_needed, 93);
    assert_close(s.order.lower, 1, 0);
    assert_close(s.order.upper, 100, 0);
    assert_close(s.target_lower.at, 6, 0);
    assert_close(s.target_upper.at, 95, 0);
}

/* The target's bound accepts at least the share, one value further in less; its interval holds it;
 * and a mirrored batch has mirrored suggestions. */
static void check_target(const double *x, size_t n, double yield)
{
    struct bound_wish wish = lower_only, mirror = upper_only;
    struct bound_suggestion s, m;
    size_t inside = 0, further = 0;
    double mirrored[64];

    wish.target_yield = mirror.target_yield = yield;
    for (size_t i = 0; i < n; i++)
        mirrored[i] = -x[i];
    s = suggest(x, n, &wish);
    m = suggest(mirrored, n, &mirror);
    for (size_t i = 0; i < n; i++) {
        inside += x[i] >= s.target_lower.at;
        further += x[i] > s.target_lower.at;
    }
    assert_true((double)inside >= yield * (double)n - 1e-6);
    assert_true((double)further < yield * (double)n - 1e-6);
    assert_false(s.target_lower.low > s.target_lower.at || s.target_lower.high < s.target_lower.at);
    assert_close(m.target_upper.at, -s.target_lower.at, 0);
    assert_int_equal(isnan(m.target_upper.high), isnan(s.target_lower.low));
    if (!isnan(s.target_lower.low)) assert_close(m.target_upper.high, -s.target_lower.low, 0);
    if (!isnan(s.target_lower.high)) assert_close(m.target_upper.low, -s.target_lower.high, 0);
    assert_close(m.order.upper, -s.order.lower, 0);
}

static void test_target(void **state)
{
    static const double yields[] = {0.5, 0.8, 0.9, 0.95, 0.99, 1};
    double x[64];

    (void)state;
    for (size_t n = 60; n <= 64; n++) {
        fill_normal(x, n, 3);
        for (size_t i = 0; i < 6; i++)
            check_target(x, n, yields[i]);
    }
    /* 1 - 0.9 of 10 is one unit, though doubles make 0.9999999999999998 of it. */
    assert_true((1 - 0.9) * 10 < 1);
    for (size_t i = 0; i < 10; i++)
        x[i] = (double)i;
    assert_close(suggest(x, 10, &lower_only).target_lower.at, 1, 0);
}

/* Units without a value are left out, counted and named, and change nothing else. */
static void test_left_out(void **state)
{
    double x[64], holes[67];
    struct bound_suggestion s, with_holes;

    (void)state;
    fill_normal(x, 64, 20);
    memcpy(holes + 2, x, sizeof x);
    holes[0] = holes[1] = holes[66] = NAN;
    s = suggest(x, 64, &both_sides);
    with_holes = suggest(holes, 67, &both_sides);
    assert_int_equal(s.n_left_out, 0);
    assert_int_equal(with_holes.n, 64);
    assert_int_equal(with_holes.n_left_out, 3);
    assert_close(with_holes.normal.lower, s.normal.lower, 0);
    assert_close(with_holes.target_upper.at, s.target_upper.at, 0);
    check_words(&with_holes, "3 units without a value are left out.", true);
    check_words(&s, "left out", false);
}

/* A large normal batch needs no words at all. */
static void test_no_words(void **state)
{
    double x[200];
    struct bound_suggestion s;
    struct text words = {0};

    (void)state;
    fill_normal(x, 200, -18);
    s = suggest(x, 200, &both_sides);
    assert_false(s.is_small || s.is_flat || s.is_not_normal);
    bound_suggestion_words(&s, &words);
    assert_int_equal(words.length, 0);
    text_clear(&words);
}

/* Small batches: wide factors, no order statistics, open ends, and words on each. */
static void test_small(void **state)
{
    double x[12];
    struct bound_suggestion s;

    (void)state;
    fill_normal(x, 12, 20);
    s = suggest(x, 12, &lower_only);
    assert_true(s.is_small && s.order.rank == 0);
    assert_true(isnan(s.order.lower) && isnan(s.order.confidence));
    assert_true(isfinite(s.normal.lower) && isfinite(s.target_lower.at));
    assert_true(isnan(s.target_lower.low) && isfinite(s.target_lower.high));
    check_words(&s, "Only 12 units", true);
    check_words(&s, "a coverage of 0.95 with confidence 0.95 needs 59 units.", true);
    check_words(&s, "the bound for a yield of 0.9 may lie", true);
    check_words(&s, "So few units", false);
    check_words(&(struct bound_suggestion){.n = 8, .deviation = 1}, "So few units", false);
    s = suggest(x, 7, &both_sides);
    check_words(&s, "So few units do not show whether the values are normal", true);
    check_words(&s, "needs 93 units.", true);
}

/* One unit, none, all the same, infinite: no number where there is no bound, and why. */
static void test_nothing_to_say(void **state)
{
    static const double same[9] = {0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1},
                        infinite[3] = {1, HUGE_VAL, 2}, missing[2] = {NAN, NAN};
    double rounded[9];
    struct bound_suggestion s = suggest(same, 1, &both_sides);

    (void)state;
    assert_true(isnan(s.normal.lower) && isnan(s.normal.factor) && isnan(s.deviation));
    assert_close(s.target_lower.at, 0.1, 0);
    check_words(&s, "Only 1 unit:", true);
    check_words(&s, "One unit has no spread", true);
    s = suggest(same, 9, &both_sides);
    assert_true(s.is_flat && isnan(s.normal.lower) && isnan(s.normal.upper));
    check_words(&s, "All values are the same", true);
    for (size_t i = 0; i < 9; i++)
        rounded[i] = 1000 + (double)i * 1e-10;
    s = suggest(rounded, 9, &both_sides);
    assert_true(s.is_flat && isnan(s.normal.lower) && s.deviation > 0);
    s = suggest(infinite, 3, &both_sides);
    assert_true(isnan(s.normal.lower) && isnan(s.normal.upper));
    assert_close(s.target_lower.at, 1, 0);
    check_words(&s, "A value is infinite", true);
    s = suggest(missing, 2, &both_sides);
    assert_true(s.n == 0 && s.n_left_out == 2 && isnan(s.mean) && isnan(s.target_lower.at));
    check_words(&s, "No unit has a value", true);
    s = suggest(NULL, 0, &both_sides);
    assert_true(s.n == 0 && isnan(s.normal.lower) && isnan(s.order.upper));
}

/* A skewed batch is told, and what to do follows from whether order statistics are there. */
static void test_not_normal(void **state)
{
    double x[100];
    struct bound_suggestion s;

    (void)state;
    for (size_t i = 0; i < 100; i++)
        x[i] = -log(((double)i + 0.5) / 100);
    s = suggest(x, 100, &lower_only);
    assert_true(s.is_not_normal);
    /* The normal bound would let negative values be expected, of which there are none. */
    assert_true(s.normal.lower < 0 && s.order.lower > 0);
    check_words(&s, "visibly not normal", true);
    check_words(&s, "take the order statistics.", true);
    for (size_t i = 0; i < 40; i++)
        x[i] = i < 36 ? (double)(i % 6) * 0.01 : 5 + (double)i;
    s = suggest(x, 40, &lower_only);
    assert_true(s.is_not_normal && s.order.rank == 0);
    check_words(&s, "for order statistics there are too few units.", true);
}

/* What is no wish is refused, and nothing written. */
static void test_wrong_wish(void **state)
{
    static const struct bound_wish wrong[] = {
        {.coverage = 0.9, .confidence = 0.9},
        {.lower = true, .coverage = 1, .confidence = 0.9},
        {.lower = true, .coverage = 0.9, .confidence = 0},
        {.upper = true, .coverage = NAN, .confidence = 0.9},
        {.upper = true, .coverage = 0.9, .confidence = 0.9, .target_yield = 0.4},
        {.upper = true, .coverage = 0.9, .confidence = 0.9, .target_yield = 1.1},
        {.upper = true, .coverage = 0.9, .confidence = 0.9, .target_yield = NAN}};
    static const double x[] = {1, 2, 4};

    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        for (size_t n = 0; n <= 3; n += 3) {
            struct bound_suggestion s = {.n = 77};
            struct error e = {0};

            assert_false(bound_suggest(&s, x, n, &wrong[i], &e));
            assert_int_equal(e.kind, ERROR_USAGE);
            assert_int_equal(s.n, 77);
        }
    }
}

/* Without memory, at each allocation, it says so, leaves what was there and leaks nothing. */
static void test_no_memory(void **state)
{
    static const double x[] = {1, 2, 4};
    unsigned long nth = 1;

    (void)state;
    for (;; nth++) {
        struct bound_suggestion s = {.n = 77};
        struct error e = {0};
        bool done;

        memory_fail_at(nth);
        done = bound_suggest(&s, x, 3, &both_sides, &e);
        memory_fail_at(0);
        if (done) break;
        assert_int_equal(e.kind, ERROR_MEMORY);
        assert_int_equal(s.n, 77);
    }
    assert_true(nth > 2);
}

/* Of 3,000 random batches of 64 the bounds hold their coverage as often as promised (the normal
 * ones 0.95, the order statistic its achieved confidence), and the interval of the target's bound
 * holds the true one, to five deviations of the count. */
static void test_simulated(void **state)
{
    const uint64_t seed = (uint64_t)time(NULL);
    const double trials = 3000;
    double normal_holds = 0, order_holds = 0, target_holds = 0, order_confidence = 0,
           target_confidence = 0;
    struct random_source source;

    (void)state;
    print_message("simulated suggestions: seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 0, 0);
    for (double t = 0; t < trials; t++) {
        struct bound_suggestion s;
        double x[64];

        for (size_t i = 0; i < 64; i++)
            x[i] = 20 +
                   0.3 * normal_quantile((floor(random_uniform(&source) * 0x1p52) + 0.5) * 0x1p-52);
        s = suggest(x, 64, &lower_only);
        normal_holds += normal_cdf((20 - s.normal.lower) / 0.3) >= 0.95;
        order_holds += normal_cdf((20 - s.order.lower) / 0.3) >= 0.95;
        target_holds += s.target_lower.low <= 20 + 0.3 * normal_quantile(0.1) &&
                        20 + 0.3 * normal_quantile(0.1) <= s.target_lower.high;
        order_confidence = s.order.confidence;
        target_confidence = s.target_confidence;
    }
    assert_close(normal_holds / trials, 0.95, 5 * sqrt(0.05 * 0.95 / trials));
    assert_close(order_holds / trials, order_confidence, 5 * sqrt(0.05 * 0.95 / trials));
    assert_close(target_holds / trials, target_confidence, 5 * sqrt(0.05 * 0.95 / trials));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_handbook),       cmocka_unit_test(test_ranks),
        cmocka_unit_test(test_target),         cmocka_unit_test(test_left_out),
        cmocka_unit_test(test_no_words),       cmocka_unit_test(test_small),
        cmocka_unit_test(test_nothing_to_say), cmocka_unit_test(test_not_normal),
        cmocka_unit_test(test_wrong_wish),     cmocka_unit_test(test_no_memory),
        cmocka_unit_test(test_simulated)};

    statistics_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
