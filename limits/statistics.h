/* Intervals and distributions. The only file that uses GSL in limits/; its error handler is off
 * (see statistics_start), statuses are checked and NaN is refused. */
#ifndef GAINSIEVE_STATISTICS_H
#define GAINSIEVE_STATISTICS_H

#include <stdbool.h>
#include <stddef.h>

/* Switches off GSL's handler, which would end the program. Once, at the start of the program. */
void statistics_start(void);

/* The standard normal distribution function. */
double normal_cdf(double z);

/* Two-sided Clopper-Pearson interval for a proportion: `k` of `n` at `confidence` (0.95).
 * C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404 (from memory); NIST/SEMATECH e-Handbook
 * 7.2.4.1. NaN for n of zero. */
void proportion_interval(size_t k, size_t n, double confidence, double *low, double *high);

/* Mean of `n` values; NaN for n of zero. Summed about x[0], so that a large common part does not
 * cost digits. */
double sample_mean(const double *x, size_t n);

/* Standard deviation, n - 1 below the line; NaN for n < 2. In two passes, about the mean: exactly
 * zero when all values are the same (NIST StRD NumAcc1 to NumAcc4 are its check). */
double sample_deviation(const double *x, size_t n);

/* The value that the standard normal, or the chi-square distribution of `degrees` of freedom, stays
 * below with `probability`. Infinite, and zero for chi-square, at the ends of the distribution; NaN
 * for a probability outside 0..1, or for degrees that are not above zero. */
double normal_quantile(double probability);
double chi_square_quantile(double probability, double degrees);

/* The probability that a chi-square variable of `degrees` of freedom exceeds `x`. NaN for degrees
 * that are not above zero and finite, or an x of NaN. */
double chi_square_upper(double x, double degrees);

/* The probability that at least `k` of `n` independent trials succeed, each with probability `p`:
 * the beta distribution function of k and n - k + 1 at p. NaN for a p outside 0..1. */
double binomial_at_least(size_t k, size_t n, double p);

/* The value below which `probability` of a sample lies, NIST/SEMATECH e-Handbook 7.2.6.2: with
 * p (n + 1) = k + d it lies the fraction d of the way from the kth value to the next, and never
 * outside the sample. `sorted` is ascending and finite. NaN for n of zero or a probability outside
 * 0..1. */
double sorted_quantile(const float *sorted, size_t n, double probability);

/* The monotone curve through `n` points of strictly rising x, two or more: M. Steffen, Astronomy
 * and Astrophysics 239 (1990) 443 (from memory), straight through two. Between two neighbouring
 * points it never leaves the range of their y. `slope` may be NULL. False, with NaN, outside x[0]
 * to x[n - 1], for values that are not finite and for lack of memory. */
bool monotone_at(const double *x, const double *y, size_t n, double at, double *value,
                 double *slope);

/* The x between points `piece` and `piece + 1` at which that curve has the value, which must lie
 * from one's y to the other's; NaN when it does not, and as above. */
double monotone_find(const double *x, const double *y, size_t n, size_t piece, double value);

/* A squared of Anderson and Darling against the normal distribution with the sample's own mean and
 * deviation, times the small-sample factor 1 + 0.75/n + 2.25/n^2; 1.035 is its 1 % point (M. A.
 * Stephens in R. B. D'Agostino, M. A. Stephens, Goodness-of-Fit Techniques, 1986; from memory).
 * `sorted` is ascending. NaN for n < 8, for values that are all the same or not finite. */
double anderson_darling(const double *sorted, size_t n);

/* Slope of the least-squares line through `n` points (NIST StRD Norris is its check). NaN when all
 * x are the same. */
double line_slope(const double *x, const double *y, size_t n);

#endif
