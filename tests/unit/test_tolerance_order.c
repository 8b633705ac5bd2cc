#include <stdlib.h>
#include <time.h>

#include "drivers/random_source.h"
#include "limits/statistics.h"
#include "limits/tolerance.h"
#include "tests/check.h"

typedef bool order_of(struct tolerance_rank *, size_t, double, double, struct error *);

static struct tolerance_rank rank_of(order_of *of, size_t n, double coverage, double confidence)
{
    struct error e = {0};
    struct tolerance_rank out = {0};

    assert_done(of(&out, n, coverage, confidence, &e), &e);
    return out;
}

static size_t least(bool two_sided, double coverage, double confidence)
{
    struct error e = {0};
    size_t n = 0;

    assert_done(tolerance_least_units(&n, two_sided, coverage, confidence, &e), &e);
    return n;
}

static struct quantile_ranks ranks_of(size_t n, double share, double confidence)
{
    struct error e = {0};
    struct quantile_ranks out = {0};

    assert_done(tolerance_quantile_ranks(&out, n, share, confidence, &e), &e);
    return out;
}

/* NIST/SEMATECH e-Handbook 7.2.6.4 (an excerpt read): with what confidence the smallest to the
 * largest of 25 cover a share; and its closed form for other sizes. */
static void test_handbook_range(void **state)
{
    static const double table[][2] = {{0.50, 1.000},  {0.75, 0.993}, {0.90, 0.729}, {0.95, 0.358},
                                      {0.975, 0.129}, {0.99, 0.026}, {0.995, 0.007}};

    (void)state;
    for (size_t i = 0; i < 7; i++)
        assert_close(tolerance_order_confidence(25, 2, table[i][0]), table[i][1], 5.001e-4);
    for (size_t n = 2; n < 700; n += 9) {
        const double count = (double)n, p = 0.97;

        assert_close(tolerance_order_confidence(n, 2, p),
                     1 - count * pow(p, count - 1) + (count - 1) * pow(p, count), 1e-12);
        assert_close(tolerance_order_confidence(n, 1, p), 1 - pow(p, count), 1e-12);
    }
}

/* The smallest batches, common tables (computed elsewhere too). */
static void test_least_units(void **state)
{
    (void)state;
    assert_int_equal(least(true, 0.90, 0.95), 46);
    assert_int_equal(least(true, 0.95, 0.95), 93);
    assert_int_equal(least(true, 0.99, 0.95), 473);
    assert_int_equal(least(true, 0.90, 0.90), 38);
    assert_int_equal(least(true, 0.99, 0.99), 662);
    assert_int_equal(least(false, 0.90, 0.95), 29);
    assert_int_equal(least(false, 0.95, 0.95), 59);
    assert_int_equal(least(false, 0.99, 0.95), 299);
    /* The farthest that is taken: log(1e-6) / log(1 - 1e-6), and there is one for two sides. */
    assert_close((double)least(false, 1 - TOLERANCE_TAIL, 1 - TOLERANCE_TAIL),
                 log(1e-6) / log1p(-1e-6), 1);
    assert_true(least(true, 1 - TOLERANCE_TAIL, 1 - TOLERANCE_TAIL) < TOLERANCE_MOST_UNITS);
    assert_true(tolerance_order_confidence(least(true, 1 - TOLERANCE_TAIL, 1 - TOLERANCE_TAIL), 2,
                                           1 - TOLERANCE_TAIL) >= 1 - TOLERANCE_TAIL);
}

/* The binomial sum of the header, term by term. */
static double summed_confidence(size_t n, size_t n_excluded, double coverage)
{
    const double count = (double)n;
    double sum = 0;

    for (size_t k = n_excluded; k <= n; k++) {
        const double at = (double)k;

        sum += exp(lgamma(count + 1) - lgamma(at + 1) - lgamma(count - at + 1) +
                   at * log1p(-coverage) + (count - at) * log(coverage));
    }
    return sum;
}

/* The rank found is the last that holds, by trying all, and there is none exactly below the
 * smallest n. */
static void test_ranks(void **state)
{
    static order_of *const both[] = {tolerance_order_one_sided, tolerance_order_two_sided};

    (void)state;
    for (size_t sides = 1; sides <= 2; sides++) {
        const size_t first = least(sides == 2, 0.9, 0.95);

        for (size_t n = 0; n <= 160; n += n < 60 ? 1 : 7) {
            struct error e = {0};
            struct tolerance_rank found = {.rank = 77, .confidence = 77};
            size_t last = 0;

            while (sides * (last + 1) <= n && summed_confidence(n, sides * (last + 1), 0.9) >= 0.95)
                last++;
            if (n < first) {
                assert_int_equal(last, 0);
                assert_false(both[sides - 1](&found, n, 0.9, 0.95, &e));
                assert_int_equal(found.rank, 77);
                assert_close(found.confidence, 77, 0);
                continue;
            }
            found = rank_of(both[sides - 1], n, 0.9, 0.95);
            assert_int_equal(found.rank, last);
            assert_close(found.confidence, summed_confidence(n, sides * last, 0.9), 1e-11);
        }
    }
}

/* Known one-sided ranks for 95/95: the 1st of 59, the 2nd from 93 on, the 3rd from 124 on (common
 * tables of order statistics, from memory; the closed form above is their proof). */
static void test_ranks_95(void **state)
{
    (void)state;
    assert_int_equal(rank_of(tolerance_order_one_sided, 59, 0.95, 0.95).rank, 1);
    assert_int_equal(rank_of(tolerance_order_one_sided, 92, 0.95, 0.95).rank, 1);
    assert_int_equal(rank_of(tolerance_order_one_sided, 93, 0.95, 0.95).rank, 2);
    assert_int_equal(rank_of(tolerance_order_one_sided, 123, 0.95, 0.95).rank, 2);
    assert_int_equal(rank_of(tolerance_order_one_sided, 124, 0.95, 0.95).rank, 3);
    assert_int_equal(rank_of(tolerance_order_two_sided, 93, 0.95, 0.95).rank, 1);
    /* One value has 0.05 of the rest above it with confidence 0.95: here every rank will do. */
    assert_int_equal(rank_of(tolerance_order_one_sided, 1, 0.05, 0.9).rank, 1);
    assert_int_equal(rank_of(tolerance_order_one_sided, 5, 0.01, 0.9).rank, 5);
    assert_int_equal(rank_of(tolerance_order_two_sided, 4, 0.01, 0.9).rank, 2);
}

/* Too few units are told with how many are needed. */
static void test_too_few(void **state)
{
    struct tolerance_rank out = {0};
    struct quantile_ranks ranks = {.low = 77};
    struct error e = {0};
    size_t n = 77;

    (void)state;
    assert_false(tolerance_order_one_sided(&out, 58, 0.95, 0.95, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "too few units (58): order statistics need 59 for a coverage of 0.95");
    e = (struct error){0};
    assert_false(tolerance_order_two_sided(&out, 92, 0.95, 0.95, &e));
    assert_holds(e.text, "need 93");
    e = (struct error){0};
    assert_false(tolerance_order_two_sided(&out, 92, 1, 0.95, &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    e = (struct error){0};
    assert_false(tolerance_least_units(&n, true, 0.95, NAN, &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    assert_int_equal(n, 77);
    e = (struct error){0};
    assert_false(tolerance_quantile_ranks(&ranks, 0, 0.5, 0.95, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    e = (struct error){0};
    assert_false(tolerance_quantile_ranks(&ranks, 9, 1.01, 0.95, &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    assert_int_equal(ranks.low, 77);
}

/* The median's interval by hand: of 6 the extremes hold it unless all are on one side, 1 - 2/64; 5
 * are too few for 0.95; of 20 it is 6th to 15th, 1 - 2 (1 + 20 + 190 + 1140 + 4845 + 15504) / 2^20.
 */
static void test_median(void **state)
{
    struct quantile_ranks ranks = ranks_of(6, 0.5, 0.95);

    (void)state;
    assert_int_equal(ranks.low, 1);
    assert_int_equal(ranks.high, 6);
    assert_close(ranks.confidence, 1 - 2.0 / 64, 1e-14);
    ranks = ranks_of(5, 0.5, 0.95);
    assert_int_equal(ranks.low, 0);
    assert_int_equal(ranks.high, 6);
    assert_close(ranks.confidence, 1, 1e-14);
    ranks = ranks_of(20, 0.5, 0.95);
    assert_int_equal(ranks.low, 6);
    assert_int_equal(ranks.high, 15);
    assert_close(ranks.confidence, 1 - 2 * 21700.0 / 1048576, 1e-13);
}

/* The interval holds the sample's own quantile, each tail is as asked and the next rank inward is
 * not; turned over it is the same. */
static void test_quantile_shape(void **state)
{
    (void)state;
    for (size_t n = 1; n < 400; n += 1 + n / 5) {
        for (double share = 0; share <= 1; share += 1.0 / 32) {
            const struct quantile_ranks ranks = ranks_of(n, share, 0.9),
                                        turned = ranks_of(n, 1 - share, 0.9);
            const double middle = (double)n * share;

            assert_true((double)ranks.low <= middle + 1 && middle <= (double)ranks.high);
            assert_int_equal(turned.low, n + 1 - ranks.high);
            assert_int_equal(turned.high, n + 1 - ranks.low);
            assert_true(ranks.confidence >= 0.9 - 1e-12);
            if (share > 0 && share < 1) {
                assert_true(summed_confidence(n, ranks.high, 1 - share) <= 0.05);
                assert_true(summed_confidence(n, ranks.high - 1, 1 - share) > 0.05);
                assert_true(1 - summed_confidence(n, ranks.low, 1 - share) <= 0.05);
                assert_true(1 - summed_confidence(n, ranks.low + 1, 1 - share) > 0.05);
            }
        }
    }
}

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

/* The ranks' confidences, tried on 20,000 samples of uniform values, where a value is the share
 * below it; to five deviations of the count. */
static void test_simulated(void **state)
{
    const uint64_t seed = (uint64_t)time(NULL);
    const size_t n = 70;
    const struct tolerance_rank one = rank_of(tolerance_order_one_sided, n, 0.9, 0.9),
                                two = rank_of(tolerance_order_two_sided, n, 0.9, 0.9);
    const struct quantile_ranks ranks = ranks_of(n, 0.2, 0.9);
    const double trials = 20000, tolerance = 5 * sqrt(0.25 / trials);
    double one_holds = 0, two_holds = 0, within = 0;
    struct random_source source;

    (void)state;
    print_message("simulated order statistics: seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 0, 0);
    for (double i = 0; i < trials; i++) {
        double x[70];

        for (size_t k = 0; k < n; k++)
            x[k] = random_uniform(&source);
        qsort(x, n, sizeof *x, ascending);
        one_holds += 1 - x[one.rank - 1] >= 0.9;
        two_holds += x[n - two.rank] - x[two.rank - 1] >= 0.9;
        within += x[ranks.low - 1] <= 0.2 && 0.2 <= x[ranks.high - 1];
    }
    assert_close(one_holds / trials, one.confidence, tolerance);
    assert_close(two_holds / trials, two.confidence, tolerance);
    assert_close(within / trials, ranks.confidence, tolerance);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_handbook_range), cmocka_unit_test(test_least_units),
        cmocka_unit_test(test_ranks),          cmocka_unit_test(test_ranks_95),
        cmocka_unit_test(test_too_few),        cmocka_unit_test(test_median),
        cmocka_unit_test(test_quantile_shape), cmocka_unit_test(test_simulated)};

    statistics_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
