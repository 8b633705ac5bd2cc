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

void proportion_interval(size_t k, size_t n, double confidence, double *low, double *high)
{
    const double tail = (1 - confidence) / 2;
    const double successes = (double)k, failures = (double)n - (double)k;

    *low = *high = NAN;
    if (n == 0 || k > n || !(confidence > 0 && confidence < 1)) return;
    *low = k == 0 ? 0 : gsl_cdf_beta_Pinv(tail, successes, failures + 1);
    *high = k == n ? 1 : gsl_cdf_beta_Qinv(tail, successes + 1, failures);
}

double line_slope(const double *x, const double *y, size_t n)
{
    double mean_x = 0, mean_y = 0, above = 0, below = 0;

    for (size_t i = 0; i < n; i++) {
        mean_x += x[i] / (double)n;
        mean_y += y[i] / (double)n;
    }
    /* Sums about the means, not of raw squares, which would cancel. */
    for (size_t i = 0; i < n; i++) {
        above += (x[i] - mean_x) * (y[i] - mean_y);
        below += (x[i] - mean_x) * (x[i] - mean_x);
    }
    return above / below;
}
