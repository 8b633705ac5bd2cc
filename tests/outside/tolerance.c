/* Tolerance factors and order statistics against the distributions of r-mathlib: the one-sided
 * factor by its quantile of non-central t, the two-sided one by an integral over the deviation (the
 * program's is over the mean), order statistics by its binomial distribution. Prints the worst
 * relative differences and ends with 1 if one is too large. Built by tolerance.sh. */
#define MATHLIB_STANDALONE
#include <Rmath.h>
#include <stdbool.h>
#include <stdio.h>

#include "limits/statistics.h"
#include "limits/tolerance.h"

static const double shares[] = {0.5, 0.75, 0.9, 0.95, 0.99, 0.999};
#define N_SHARES (sizeof shares / sizeof *shares)

static double worse(double so_far, double got, double want)
{
    const double difference = fabs(got / want - 1);

    return difference <= so_far ? so_far : difference;
}

/* One line for a group; true when its worst difference is small enough. */
static bool tell(const char *what, double worst, double allowed)
{
    const bool good = worst <= allowed;

    printf("tolerance: %s: worst %.1e, allowed %.0e: %s\n", what, worst, allowed,
           good ? "good" : "WRONG");
    return good;
}

/* r-mathlib's own shift ends at 37.62 and its quantile is good to about 1e-11. */
static bool check_one_sided(void)
{
    static const size_t sizes[] = {2, 3, 5, 6, 10, 24, 43, 100, 200};
    double worst = 0;

    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        for (size_t c = 0; c < N_SHARES * N_SHARES; c++) {
            const double coverage = shares[c / N_SHARES], confidence = shares[c % N_SHARES];
            const double n = (double)sizes[i], shift = qnorm(coverage, 0, 1, 1, 0) * sqrt(n);
            struct error e = {0};
            double k;

            if (shift > 37 || (coverage < 0.6 && confidence < 0.6)) continue;
            if (!tolerance_factor_one_sided(&k, sizes[i], coverage, confidence, &e)) return false;
            worst = worse(worst, k * sqrt(n), qnt(confidence, n - 1, shift, 1, 0));
        }
    }
    return tell("one-sided factor", worst, 1e-8);
}

/* The distance of the sample's mean at which mean -+ v still covers the share. */
static double reach(double v, double coverage)
{
    double low = 0, high = v + 9;

    for (int i = 0; i < 80; i++) {
        const double x = (low + high) / 2;

        if (pnorm(x + v, 0, 1, 1, 0) - pnorm(x - v, 0, 1, 1, 0) > coverage)
            low = x;
        else
            high = x;
    }
    return low;
}

/* With what confidence the factor covers: over s from where mean -+ k s can cover at all, with
 * s = first + u^2 against the root that the integrand begins with, by Simpson's rule. */
static double confidence_of(double k, double n, double coverage)
{
    const double first = qnorm((1 + coverage) / 2, 0, 1, 1, 0) / k;
    const double last = sqrt(qchisq(1e-16, n - 1, 0, 0) / (n - 1));
    const int steps = 2000;
    double sum = 0;

    if (last <= first) return 0;
    for (int i = 0; i <= steps; i++) {
        const double u = sqrt(last - first) * i / steps, s = first + u * u;
        const double weight = i == 0 || i == steps ? 1 : i % 2 ? 4 : 2;

        sum += weight * 2 * u * dchisq((n - 1) * s * s, n - 1, 0) * 2 * (n - 1) * s *
               (2 * pnorm(sqrt(n) * reach(k * s, coverage), 0, 1, 1, 0) - 1);
    }
    return sum * sqrt(last - first) / steps / 3;
}

static bool check_two_sided(void)
{
    static const size_t sizes[] = {2, 3, 5, 10, 24, 43, 100, 1000, 20000};
    double worst = 0;

    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        for (size_t c = 0; c < N_SHARES * N_SHARES; c++) {
            struct error e = {0};
            double k;

            if (!tolerance_factor_two_sided(&k, sizes[i], shares[c / N_SHARES],
                                            shares[c % N_SHARES], &e))
                return false;
            worst = worse(worst, confidence_of(k, (double)sizes[i], shares[c / N_SHARES]),
                          shares[c % N_SHARES]);
        }
    }
    return tell("confidence of the two-sided factor", worst, 1e-7);
}

static bool check_order(void)
{
    double worst = 0;

    for (size_t n = 1; n <= 3000; n += 1 + n / 4)
        for (size_t m = 1; m <= n && m <= 40; m++)
            for (size_t c = 0; c < N_SHARES; c++)
                worst = worse(worst, tolerance_order_confidence(n, m, shares[c]),
                              pbinom((double)m - 1, (double)n, 1 - shares[c], 0, 0));
    return tell("order statistics", worst, 1e-9);
}

int main(void)
{
    bool good;

    statistics_start();
    good = check_one_sided();
    good = check_two_sided() && good;
    good = check_order() && good;
    return good ? 0 : 1;
}
