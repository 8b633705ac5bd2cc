#include "limits/statistics.h"

#include "tests/check.h"

/* Exact binomial interval, NIST/SEMATECH e-Handbook 7.2.4.1: 4 failures of 20, 90 %. The page
 * prints 0.071354 and 0.401029; its solver is good to 2e-6 only. */
static void test_handbook_interval(void **state)
{
    double low, high;

    (void)state;
    proportion_interval(4, 20, 0.90, &low, &high);
    assert_close(low, 0.071354, 2e-6);
    assert_close(high, 0.401029, 2e-6);
    assert_close(low, 0.071353884, 1e-9);
    assert_close(high, 0.401028117, 1e-9);
}

/* R. G. Newcombe, Statistics in Medicine 17 (1998) 857, Table I, exact method (from memory). */
static void test_newcombe(void **state)
{
    static const struct {
        size_t k, n;
        double low, high;
        double exact_low, exact_high; /* computed */
    } table[] = {{81, 263, 0.2527, 0.3676, 0.252737, 0.367622},
                 {15, 148, 0.0578, 0.1617, 0.057844, 0.161650},
                 {0, 20, 0, 0.1684, 0, 0.168433},
                 {1, 29, 0.0009, 0.1776, 0.000873, 0.177644}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        double low, high;

        proportion_interval(table[i].k, table[i].n, 0.95, &low, &high);
        assert_close(low, table[i].low, 5e-5);
        assert_close(high, table[i].high, 5e-5);
        assert_close(low, table[i].exact_low, 1e-6);
        assert_close(high, table[i].exact_high, 1e-6);
    }
}

/* A batch of 24 (computed with two other libraries). */
static void test_batch_of_24(void **state)
{
    double low, high;

    (void)state;
    proportion_interval(24, 24, 0.95, &low, &high);
    assert_close(low, 0.857526, 1e-6);
    assert_close(high, 1, 0);
    proportion_interval(23, 24, 0.95, &low, &high);
    assert_close(low, 0.788798, 1e-6);
    assert_close(high, 0.998946, 1e-6);
    proportion_interval(20, 24, 0.95, &low, &high);
    assert_close(low, 0.626158, 1e-6);
    assert_close(high, 0.952646, 1e-6);
    proportion_interval(0, 24, 0.95, &low, &high);
    assert_close(low, 0, 0);
    assert_close(high, 0.142474, 1e-6);
}

/* Thousands of units, where the library's own inverse finds nothing: checked by putting the ends
 * back into the normal approximation, which is good to 1e-4 there. */
static void test_large_batch(void **state)
{
    double low, high, p = 0.8091, spread = 1.959964 * sqrt(p * (1 - p) / 10000);

    (void)state;
    proportion_interval(8091, 10000, 0.95, &low, &high);
    assert_close(low, p - spread, 2e-4);
    assert_close(high, p + spread, 2e-4);
    assert_true(low < p && p < high);
}

/* No units, or impossible counts, have no interval. */
static void test_no_interval(void **state)
{
    static const double confidences[] = {0, 1, -0.5, NAN};
    double low = 0, high = 0;

    (void)state;
    proportion_interval(0, 0, 0.95, &low, &high);
    assert_true(isnan(low) && isnan(high));
    proportion_interval(3, 2, 0.95, &low, &high);
    assert_true(isnan(low) && isnan(high));
    for (size_t i = 0; i < 4; i++) {
        proportion_interval(1, 2, confidences[i], &low, &high);
        assert_true(isnan(low) && isnan(high));
    }
}

/* z for a required one-sided conformance probability, JCGM 106:2012 Table 1 (from memory). */
static const double jcgm[5][2] = {
    {0.84, 0.80}, {1.28, 0.90}, {1.64, 0.95}, {2.33, 0.99}, {3.09, 0.999}};

/* That table, from z to the probability. */
static void test_normal(void **state)
{
    (void)state;
    for (size_t i = 0; i < 5; i++)
        assert_close(normal_cdf(jcgm[i][0]), jcgm[i][1], 0.002);
    /* The same z to more digits (computed). */
    assert_close(normal_cdf(0.8416), 0.80, 2e-5);
    assert_close(normal_cdf(1.2816), 0.90, 1e-5);
    assert_close(normal_cdf(1.6449), 0.95, 1e-5);
    assert_close(normal_cdf(2.3263), 0.99, 2e-6);
    assert_close(normal_cdf(3.0902), 0.999, 1e-6);
    assert_close(normal_cdf(-2), 0.0227501319481792, 1e-15);
    assert_close(normal_cdf(0), 0.5, 0);
    assert_true(normal_cdf(-38) > 0);
}

/* The decision table, z = 2 margin / U, to all its digits (exact values, computed). */
static void test_decision_table(void **state)
{
    static const double table[][2] = {
        {-1, 0.0227501319481792},  {-0.5, 0.158655253931457}, {0, 0.5},
        {0.83, 0.951542773733277}, {0.5, 0.841344746068543},  {0.8224268134757, 0.95},
        {1, 0.977249868051821},    {1.5, 0.998650101968370}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        assert_close(normal_cdf(2 * table[i][0]), table[i][1], 1e-12);
        assert_close(normal_cdf(-2 * table[i][0]), 1 - table[i][1], 1e-12);
    }
}

/* Far out in the tails nothing becomes negative, more than one, or NaN. */
static void test_normal_tails(void **state)
{
    (void)state;
    assert_true(isnan(normal_cdf(NAN)));
    assert_close(normal_cdf(-HUGE_VAL), 0, 0);
    assert_close(normal_cdf(HUGE_VAL), 1, 0);
    assert_close(normal_cdf(-1e300), 0, 0);
    for (double z = -40; z < 40; z += 0.125) {
        assert_true(normal_cdf(z) >= 0 && normal_cdf(z) <= 1);
        assert_true(normal_cdf(z + 0.125) >= normal_cdf(z));
    }
}

/* Mirrored counts have mirrored intervals, a higher confidence a wider one, and each holds k / n.
 */
static void test_interval_shape(void **state)
{
    (void)state;
    for (size_t n = 1; n <= 60; n += 7) {
        for (size_t k = 0; k <= n; k++) {
            double low, high, mirrored_low, mirrored_high, wide_low, wide_high;
            double p = (double)k / (double)n;

            proportion_interval(k, n, 0.95, &low, &high);
            proportion_interval(n - k, n, 0.95, &mirrored_low, &mirrored_high);
            proportion_interval(k, n, 0.99, &wide_low, &wide_high);
            assert_close(low, 1 - mirrored_high, 1e-12);
            assert_close(high, 1 - mirrored_low, 1e-12);
            assert_true(low >= 0 && low <= p && p <= high && high <= 1);
            assert_true(wide_low <= low && high <= wide_high);
        }
    }
}

/* NIST StRD, data set Norris (36 points): certified slope 1.00211681802045. */
static void test_norris(void **state)
{
    static const double x[] = {0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                               777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                               556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                               887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
    static const double y[] = {0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                               778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                               557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                               888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};

    (void)state;
    assert_close(line_slope(x, y, 36), 1.00211681802045, 1e-13);
}

/* All x the same have no slope. */
static void test_no_slope(void **state)
{
    static const double y[] = {0, 1, 4, 9, 16, 25, 36, 49};
    double x[8];

    (void)state;
    /* Tenths, whose mean is not to the bit what each of them is. */
    for (int tenths = 0; tenths < 100; tenths++) {
        for (size_t n = 1; n <= 8; n++) {
            x[n - 1] = tenths * 0.1;
            assert_true(isnan(line_slope(x, y, n)));
        }
    }
}

/* NIST StRD, univariate NumAcc1 to NumAcc4: certified mean and deviation. A large common part costs
 * a raw sum of squares every digit of the deviation. 1e-9 and 6e-9 for the last two is what is left
 * of 0.1 when 1000000.1 and 10000000.1 are stored in binary; of what is stored, half the distance
 * of the two values is the deviation to all digits. */
static void test_numacc(void **state)
{
    static const double numacc1[] = {10000001, 10000003, 10000002};
    static const struct {
        double first, even, odd, mean, tolerance;
    } table[] = {{1.2, 1.1, 1.3, 1.2, 1e-14},
                 {1000000.2, 1000000.1, 1000000.3, 1000000.2, 1e-9},
                 {10000000.2, 10000000.1, 10000000.3, 10000000.2, 6e-9}};

    (void)state;
    assert_close(sample_mean(numacc1, 3), 10000002, 0);
    assert_close(sample_deviation(numacc1, 3), 1, 0);
    for (size_t t = 0; t < sizeof table / sizeof *table; t++) {
        double x[1001] = {table[t].first};

        for (size_t i = 1; i < 1001; i++)
            x[i] = i % 2 ? table[t].even : table[t].odd;
        assert_close(sample_mean(x, 1001) / table[t].mean, 1, 1e-15);
        assert_close(sample_deviation(x, 1001), 0.1, 0.1 * table[t].tolerance);
        assert_close(sample_deviation(x, 1001), (table[t].odd - table[t].even) / 2, 1e-15);
    }
}

/* None has no mean, one no deviation, and values that are all the same a deviation of exactly zero,
 * also where they are tenths. */
static void test_moments_of_few(void **state)
{
    double x[7];

    (void)state;
    assert_true(isnan(sample_mean(NULL, 0)) && isnan(sample_deviation(NULL, 0)));
    for (int tenths = -50; tenths < 50; tenths++) {
        for (size_t n = 1; n <= 7; n++) {
            x[n - 1] = tenths * 0.1;
            assert_close(sample_mean(x, n), tenths * 0.1, 0);
            if (n == 1)
                assert_true(isnan(sample_deviation(x, n)));
            else
                assert_close(sample_deviation(x, n), 0, 0);
        }
    }
}

/* The chi-square distribution function by its finite sum (a Poisson sum for even degrees, one that
 * begins with erfc for odd): a way that has nothing in common with the library's. */
static double chi_square_cdf(double x, int degrees)
{
    double upper = degrees % 2 ? erfc(sqrt(x / 2)) : 0;
    const double start = degrees % 2 ? 0.5 : 0;

    for (int k = 0; k < degrees / 2; k++) {
        const double power = k + start;

        upper += exp(power * log(x / 2) - x / 2 - lgamma(power + 1));
    }
    return 1 - upper;
}

/* Lower 1 % point at 42 degrees, NIST/SEMATECH e-Handbook 7.2.6.3: 23.650, exact 23.650094678
 * (computed with two other libraries). Upper 5 % points, common tables: 3.841, 18.307 (from
 * memory).
 */
static void test_chi_square(void **state)
{
    static const double probabilities[] = {1e-6, 0.025, 0.5, 0.975, 0.999999};
    static const int degrees[] = {1, 2, 3, 23, 49, 50, 499, 1000, 2999, 9999, 10000, 11495};

    (void)state;
    assert_close(chi_square_quantile(0.01, 42), 23.650, 5e-4);
    assert_close(chi_square_quantile(0.01, 42), 23.650094678, 1e-8);
    assert_close(chi_square_quantile(0.95, 1), 3.841, 5e-4);
    assert_close(chi_square_quantile(0.95, 10), 18.307, 5e-4);
    for (size_t d = 0; d < sizeof degrees / sizeof *degrees; d++) {
        for (size_t i = 0; i < sizeof probabilities / sizeof *probabilities; i++) {
            double x = chi_square_quantile(probabilities[i], degrees[d]);

            assert_close(chi_square_cdf(x, degrees[d]), probabilities[i], 1e-10);
        }
    }
    /* Two degrees are an exponential distribution, whose quantile is a logarithm. */
    assert_close(chi_square_quantile(0.975, 2), -2 * log(0.025), 1e-12);
}

/* Ends of a distribution and what is no probability, or no number of degrees. */
static void test_quantile_ends(void **state)
{
    static const double wrong[] = {-0.1, 1.1, NAN}, wrong_degrees[] = {0, -1, NAN, HUGE_VAL};

    (void)state;
    assert_close(chi_square_quantile(0, 5), 0, 0);
    assert_true(chi_square_quantile(1, 5) >= HUGE_VAL);
    assert_true(normal_quantile(1) >= HUGE_VAL);
    assert_true(normal_quantile(0) <= -HUGE_VAL);
    for (size_t i = 0; i < 3; i++)
        assert_true(isnan(chi_square_quantile(wrong[i], 5)) && isnan(normal_quantile(wrong[i])));
    for (size_t i = 0; i < 4; i++)
        assert_true(isnan(chi_square_quantile(0.5, wrong_degrees[i])));
}

/* The same table backwards; the 1.959964 of every 95 % interval (common tables, from memory); else
 * the inverse of normal_cdf(). */
static void test_normal_quantile(void **state)
{
    (void)state;
    for (size_t i = 0; i < 5; i++)
        assert_close(normal_quantile(jcgm[i][1]), jcgm[i][0], 0.005);
    assert_close(normal_quantile(0.975), 1.959964, 5e-7);
    assert_close(normal_quantile(0.5), 0, 1e-15);
    for (double p = 1.0 / 1024; p < 1; p += 1.0 / 1024)
        assert_close(normal_cdf(normal_quantile(p)), p, 1e-14);
}

/* NIST/SEMATECH e-Handbook 7.2.6.2, 12 measurements, 90th percentile: 0.9 (13) = 11.7, so 0.7 of
 * the way from the 11th to the 12th: 95.1981 (data and result from memory; the arithmetic closes).
 */
static void test_percentile(void **state)
{
    static const float sorted[] = {95.0610F, 95.0925F, 95.1065F, 95.1195F, 95.1442F, 95.1567F,
                                   95.1591F, 95.1682F, 95.1772F, 95.1937F, 95.1959F, 95.1990F};

    (void)state;
    assert_close(sorted_quantile(sorted, 12, 0.9), 95.1981, 5e-5);
}

/* The definition worked by hand: places within, exactly on, and beyond the ends of the sample. */
static void test_sorted_quantile(void **state)
{
    static const float four[] = {-2, 1, 5, 13};
    /* Places 0, 0.95, 1, 1.5, 2.5, 3.75, 4, 4.95, 5. */
    static const double table[][2] = {{0, -2},    {0.19, -2}, {0.2, -2},  {0.3, -0.5}, {0.5, 3},
                                      {0.75, 11}, {0.8, 13},  {0.99, 13}, {1, 13}};

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        assert_close(sorted_quantile(four, 4, table[i][0]), table[i][1], 1e-14);
    for (double p = 0; p <= 1; p += 0.125)
        assert_close(sorted_quantile(four, 1, p), -2, 0);
    assert_true(isnan(sorted_quantile(four, 4, -0.01)) && isnan(sorted_quantile(four, 4, 1.01)));
    assert_true(isnan(sorted_quantile(four, 4, NAN)) && isnan(sorted_quantile(four, 0, 0.5)));
}

/* A higher probability never gives a lower value, and a mirrored sample gives mirrored values. */
static void test_quantile_shape(void **state)
{
    float sorted[50], mirrored[50];

    (void)state;
    for (size_t i = 0; i < 50; i++) {
        sorted[i] = (float)(i * i) - 700;
        mirrored[49 - i] = -sorted[i];
    }
    for (size_t n = 1; n <= 50; n += 7) {
        double before = -HUGE_VAL;

        for (double p = 0; p <= 1; p += 1.0 / 128) {
            double value = sorted_quantile(sorted, n, p);

            assert_true(value >= before);
            assert_close(value, -sorted_quantile(mirrored + 50 - n, n, 1 - p), 1e-10);
            before = value;
        }
    }
}

/* Logarithm of the upper tail of the normal distribution: erfc, and far out the continued fraction
 * of Mills' ratio, z + 1/(z + 2/(z + 3/(z + ...))). */
static double log_upper_tail(double z)
{
    double fraction = z;

    if (z < 5) return log(0.5 * erfc(z / sqrt(2)));
    for (int k = 200; k >= 1; k--)
        fraction = z + k / fraction;
    return -z * z / 2 - 0.5 * log(2 * acos(-1)) - log(fraction);
}

/* Anderson-Darling by its definition n * integral of (Fn - u)^2 / (u (1 - u)) du, each step of Fn
 * integrated for itself with the antiderivative c^2 ln u - (1 - c)^2 ln(1 - u) - u, where Fn = c:
 * another form than the sum over ranks, and tails of its own. */
static double squared_distance(const double *sorted, size_t n)
{
    const double count = (double)n, mean = sample_mean(sorted, n);
    const double deviation = sample_deviation(sorted, n);
    double sum = -1; /* of -u over all of 0..1 */

    for (size_t i = 0; i <= n; i++) {
        const double c = (double)i / count;
        const double from = i == 0 ? -HUGE_VAL : (sorted[i - 1] - mean) / deviation;
        const double to = i == n ? HUGE_VAL : (sorted[i] - mean) / deviation;

        if (i > 0) sum += c * c * ((i == n ? 0 : log_upper_tail(-to)) - log_upper_tail(-from));
        if (i < n)
            sum -= (1 - c) * (1 - c) * (log_upper_tail(to) - (i == 0 ? 0 : log_upper_tail(from)));
    }
    return count * sum * (1 + 0.75 / count + 2.25 / (count * count));
}

/* Weights of 20 chicks: mean 209.6, deviation 30.65, A squared 0.214 before the small-sample factor
 * (R. B. D'Agostino, M. A. Stephens, Goodness-of-Fit Techniques, 1986, after C. I. Bliss; from
 * memory, also the data). */
static void test_chicks(void **state)
{
    static const double chicks[] = {156, 162, 168, 182, 186, 190, 190, 196, 202, 210,
                                    214, 220, 226, 230, 230, 236, 236, 242, 246, 270};
    const double factor = 1 + 0.75 / 20 + 2.25 / 400;

    (void)state;
    assert_close(sample_mean(chicks, 20), 209.6, 1e-12);
    assert_close(sample_deviation(chicks, 20), 30.65, 0.005);
    assert_close(anderson_darling(chicks, 20) / factor, 0.214, 5e-4);
    assert_close(anderson_darling(chicks, 20), squared_distance(chicks, 20), 1e-11);
}

/* Samples of every size that stand exactly at the quantiles of a distribution: the normal one is
 * found normal, the exponential one is not (1.035 is the 1 % point), and both agree with the
 * definition. A shift and a scale change nothing. */
static void test_normality(void **state)
{
    (void)state;
    for (size_t n = 8; n <= 512; n *= 2) {
        double normal[512], exponential[512], moved[512];

        for (size_t i = 0; i < n; i++) {
            double p = ((double)i + 0.5) / (double)n;

            normal[i] = normal_quantile(p);
            exponential[i] = -log(1 - p);
            moved[i] = 1000 + 3 * exponential[i];
        }
        assert_close(anderson_darling(normal, n), squared_distance(normal, n), 1e-10);
        assert_close(anderson_darling(exponential, n), squared_distance(exponential, n), 1e-10);
        assert_close(anderson_darling(moved, n), anderson_darling(exponential, n), 1e-8);
        assert_true(anderson_darling(normal, n) < 0.2);
        if (n >= 32) assert_true(anderson_darling(exponential, n) > 1.035);
    }
}

/* Too few to tell, all the same, not finite: no figure. */
static void test_no_normality(void **state)
{
    double x[20], same[20];

    (void)state;
    for (size_t i = 0; i < 20; i++) {
        x[i] = (double)(i * i);
        same[i] = 0.3;
    }
    for (size_t n = 0; n < 8; n++)
        assert_true(isnan(anderson_darling(x, n)));
    assert_true(anderson_darling(x, 8) > 0);
    x[19] = HUGE_VAL;
    assert_true(isnan(anderson_darling(x, 20)));
    assert_true(isnan(anderson_darling(same, 20)));
}

/* One value a million deviations off, where 1 - Phi is zero in a double and its logarithm infinite:
 * the figure stays finite, high and right, on either side. */
static void test_outlier(void **state)
{
    static double x[20000], mirrored[20000];
    static const size_t sizes[] = {8, 20, 2000, 20000};

    (void)state;
    for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++) {
        const size_t n = sizes[s];
        double high;

        for (size_t i = 0; i < n; i++) {
            x[i] = i + 1 == n ? 1e6 : normal_quantile(((double)i + 0.5) / ((double)n - 1));
            mirrored[n - 1 - i] = -x[i];
        }
        high = anderson_darling(x, n);
        assert_true(high > 1.035);
        assert_close(high / squared_distance(x, n), 1, 1e-9);
        assert_close(anderson_darling(mirrored, n) / high, 1, 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest lines_and_intervals[] = {
        cmocka_unit_test(test_handbook_interval), cmocka_unit_test(test_newcombe),
        cmocka_unit_test(test_batch_of_24),       cmocka_unit_test(test_large_batch),
        cmocka_unit_test(test_no_interval),       cmocka_unit_test(test_normal),
        cmocka_unit_test(test_decision_table),    cmocka_unit_test(test_normal_tails),
        cmocka_unit_test(test_interval_shape),    cmocka_unit_test(test_norris),
        cmocka_unit_test(test_no_slope)};
    const struct CMUnitTest samples[] = {
        cmocka_unit_test(test_numacc),          cmocka_unit_test(test_moments_of_few),
        cmocka_unit_test(test_chi_square),      cmocka_unit_test(test_quantile_ends),
        cmocka_unit_test(test_normal_quantile), cmocka_unit_test(test_percentile),
        cmocka_unit_test(test_sorted_quantile), cmocka_unit_test(test_quantile_shape),
        cmocka_unit_test(test_chicks),          cmocka_unit_test(test_normality),
        cmocka_unit_test(test_no_normality),    cmocka_unit_test(test_outlier)};

    statistics_start();
    return cmocka_run_group_tests(lines_and_intervals, NULL, NULL) +
           cmocka_run_group_tests(samples, NULL, NULL);
}
