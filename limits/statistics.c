#include "limits/statistics.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_interp.h>
#include <gsl/gsl_sf_erf.h>
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

/* Mean of the distances from x[0]. */
static double mean_shift(const double *x, size_t n)
{
    double sum = 0;

    for (size_t i = 0; i < n; i++)
        sum += x[i] - x[0];
    return sum / (double)n;
}

double sample_mean(const double *x, size_t n)
{
    return n == 0 ? NAN : x[0] + mean_shift(x, n);
}

double sample_deviation(const double *x, size_t n)
{
    double shift, squares = 0, left_over = 0;

    if (n < 2) return NAN;
    shift = mean_shift(x, n);
    for (size_t i = 0; i < n; i++) {
        const double from_mean = x[i] - x[0] - shift;

        squares += from_mean * from_mean;
        left_over += from_mean;
    }
    /* What rounding left in the mean is taken out of the squares again. */
    squares -= left_over * left_over / (double)n;
    return squares < 0 ? 0 : sqrt(squares / (double)(n - 1));
}

double normal_quantile(double probability)
{
    if (!(probability >= 0 && probability <= 1)) return NAN;
    return gsl_cdf_ugaussian_Pinv(probability);
}

/* By halving: the library's own inverse finds nothing at some of the thousands of degrees. */
double chi_square_quantile(double probability, double degrees)
{
    double low = 0, high = 1;

    if (!(probability >= 0 && probability <= 1 && degrees > 0 && degrees < HUGE_VAL)) return NAN;
    if (probability <= 0) return 0;
    if (probability >= 1) return HUGE_VAL;
    while (high < HUGE_VAL && gsl_cdf_chisq_P(high, degrees) < probability)
        high *= 2;
    for (int i = 0; i < 200; i++) {
        const double middle = (low + high) / 2;

        if (gsl_cdf_chisq_P(middle, degrees) < probability)
            low = middle;
        else
            high = middle;
    }
    return high;
}

double chi_square_upper(double x, double degrees)
{
    if (isnan(x) || !(degrees > 0 && degrees < HUGE_VAL)) return NAN;
    return gsl_cdf_chisq_Q(x, degrees);
}

double binomial_at_least(size_t k, size_t n, double p)
{
    if (!(p >= 0 && p <= 1)) return NAN;
    if (k == 0) return 1;
    return k > n ? 0 : gsl_cdf_beta_P(p, (double)k, (double)(n - k) + 1);
}

double sorted_quantile(const float *sorted, size_t n, double probability)
{
    const double place = probability * ((double)n + 1);
    size_t k;

    if (n == 0 || !(probability >= 0 && probability <= 1)) return NAN;
    if (place <= 1) return (double)sorted[0];
    if (place >= (double)n) return (double)sorted[n - 1];
    k = (size_t)place;
    return (double)sorted[k - 1] +
           (place - (double)k) * ((double)sorted[k] - (double)sorted[k - 1]);
}

static bool all_finite(const double *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!isfinite(x[i])) return false;
    return true;
}

/* The curve through the points, to be freed; NULL when there is none. */
static gsl_interp *monotone_curve(const double *x, const double *y, size_t n)
{
    gsl_interp *curve;

    if (n < 2 || !all_finite(x, n) || !all_finite(y, n)) return NULL;
    /* The library wants three points for the curve, which is a line for two. */
    curve = gsl_interp_alloc(n == 2 ? gsl_interp_linear : gsl_interp_steffen, n);
    if (curve && gsl_interp_init(curve, x, y, n) != GSL_SUCCESS) {
        gsl_interp_free(curve);
        curve = NULL;
    }
    return curve;
}

bool monotone_at(const double *x, const double *y, size_t n, double at, double *value,
                 double *slope)
{
    gsl_interp *curve;
    double slope_there = NAN;
    bool ok = false;

    *value = NAN;
    if (slope) *slope = NAN;
    curve = monotone_curve(x, y, n);
    if (!curve) return false;
    if (at >= x[0] && at <= x[n - 1])
        ok = gsl_interp_eval_e(curve, x, y, at, NULL, value) == GSL_SUCCESS &&
             gsl_interp_eval_deriv_e(curve, x, y, at, NULL, &slope_there) == GSL_SUCCESS;
    if (ok && slope) *slope = slope_there;
    if (!ok) *value = NAN;
    gsl_interp_free(curve);
    return ok;
}

/* By halving: the curve is monotone within a piece. */
double monotone_find(const double *x, const double *y, size_t n, size_t piece, double value)
{
    gsl_interp *curve;
    double low, high;

    if (piece + 1 >= n) return NAN;
    low = x[piece];
    high = x[piece + 1];
    if (value == y[piece]) return low;
    if (value == y[piece + 1]) return high;
    if (!((value > y[piece] && value < y[piece + 1]) || (value < y[piece] && value > y[piece + 1])))
        return NAN;
    curve = monotone_curve(x, y, n);
    if (!curve) return NAN;
    for (int i = 0; i < 100; i++) {
        const double middle = low + (high - low) / 2;
        double there = NAN;

        (void)gsl_interp_eval_e(curve, x, y, middle, NULL, &there);
        if ((there < value) == (y[piece] < y[piece + 1]))
            low = middle;
        else
            high = middle;
    }
    gsl_interp_free(curve);
    return high;
}

/* Logarithm of the normal distribution function, also where the function itself is too small for a
 * double. */
static double log_normal_cdf(double z)
{
    if (z > 0) return log1p(-0.5 * erfc(z / sqrt(2)));
    return gsl_sf_log_erfc(-z / sqrt(2)) - log(2);
}

double anderson_darling(const double *sorted, size_t n)
{
    const double count = (double)n;
    double shift, deviation, sum = 0;

    if (n < 8) return NAN;
    shift = mean_shift(sorted, n);
    deviation = sample_deviation(sorted, n);
    if (!(deviation > 0 && deviation < HUGE_VAL)) return NAN;
    for (size_t i = 0; i < n; i++) {
        const double low = (sorted[i] - sorted[0] - shift) / deviation;
        const double high = (sorted[n - 1 - i] - sorted[0] - shift) / deviation;

        sum += (2 * (double)i + 1) * (log_normal_cdf(low) + log_normal_cdf(-high));
    }
    return (-count - sum / count) * (1 + 0.75 / count + 2.25 / (count * count));
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
