/* Intervals and distributions. The only file that uses GSL in limits/; its error handler is off
 * (see statistics_start), statuses are checked and NaN is refused. */
#ifndef GAINSIEVE_STATISTICS_H
#define GAINSIEVE_STATISTICS_H

#include <stddef.h>

/* Switches off GSL's handler, which would end the program. Once, at the start of the program. */
void statistics_start(void);

/* The standard normal distribution function. */
double normal_cdf(double z);

/* Two-sided Clopper-Pearson interval for a proportion: `k` of `n` at `confidence` (0.95).
 * C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404 (from memory); NIST/SEMATECH e-Handbook
 * 7.2.4.1. NaN for n of zero. */
void proportion_interval(size_t k, size_t n, double confidence, double *low, double *high);

/* Slope of the least-squares line through `n` points (NIST StRD Norris is its check). NaN when all
 * x are the same. */
double line_slope(const double *x, const double *y, size_t n);

#endif
