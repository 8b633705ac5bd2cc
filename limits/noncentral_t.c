#include "limits/noncentral_t.h"

#include <math.h>

#include "limits/statistics.h"

/* What is this far below the highest density adds nothing to a double. */
static const double negligible = -45;

/* The density of log w, as a logarithm and 0 at its highest, where w = 1. */
static double log_density(double log_w, double degrees)
{
    /* expm1: for thousands of degrees this is a small difference times a large number. */
    return degrees * (log_w - expm1(2 * log_w) / 2);
}

/* Adds the nodes on one side of the highest density. */
static void add_side(double t, double degrees, double shift, double step, double *sum, double *norm)
{
    for (double i = 1;; i++) {
        const double height = log_density(i * step, degrees);

        if (height < negligible) return;
        *norm += exp(height);
        *sum += exp(height) * normal_cdf(t * exp(i * step) - shift);
    }
}

double noncentral_t_cdf(double t, double degrees, double shift)
{
    /* The narrowest of what the step must resolve: the density is 1 / sqrt(2 degrees) wide, the
     * rise of Phi 1 / shift; 1/4 where neither is narrow. */
    double narrow = 4, sum, norm = 1;

    if (isnan(t) || !(degrees >= 1 && degrees < HUGE_VAL) || !(fabs(shift) <= NONCENTRAL_T_SHIFT))
        return NAN;
    if (isinf(t)) return t > 0;
    narrow = fmax(narrow, fmax(sqrt(2 * degrees), fabs(shift)));
    sum = normal_cdf(t - shift);
    add_side(t, degrees, shift, 0.5 / narrow, &sum, &norm);
    add_side(t, degrees, shift, -0.5 / narrow, &sum, &norm);
    return sum / norm;
}
