#include "limits/statistics.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <math.h>

void statistics_start(void)
{
    (void)gsl_set_error_handler_off();
}

double normal_cdf(double z)
{
    return 0.5 * erfc(-z / sqrt(2));
}

/* The p at which the beta distribution function of `a`, `b` reaches `probability`. By halving: the
 * library's own inverse finds nothing for thousands of units. */
static double beta_quantile(double probability, double a, double b)
{
    double low = 0, high = 1;

    for (int i = 0; i < 200; i++) {
        double middle = (low + high) / 2;

        if (gsl_cdf_beta_P(middle, a, b) < probability)
            low = middle;
        else
            high = middle;
    }
    return high;
}

void proportion_interval(size_t k, size_t n, double confidence, double *low, double *high)
{
    const double tail = (1 - confidence) / 2;
    const double successes = (double)k, failures = (double)n - (double)k;

    *low = *high = NAN;
    if (n == 0 || k > n || !(confidence > 0 && confidence < 1)) return;
    *low = k == 0 ? 0 : beta_quantile(tail, successes, failures + 1);
    /* The mirror of the lower end, so that the small tail is the one that is sought. */
    *high = k == n ? 1 : 1 - beta_quantile(tail, failures, successes + 1);
}

double line_slope(const double *x, const double *y, size_t n)
{
    double mean_x = 0, mean_y = 0, above = 0, below = 0;

    for (size_t i = 0; i < n; i++) {
        mean_x += (x[i] - x[0]) / (double)n;
        mean_y += y[i] / (double)n;
    }
    /* Sums about the means, not of raw squares, which would cancel. */
    for (size_t i = 0; i < n; i++) {
        const double from_mean = x[i] - x[0] - mean_x;

        above += from_mean * (y[i] - mean_y);
        below += from_mean * from_mean;
    }
    return above / below;
}
