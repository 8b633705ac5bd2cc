/* Tolerance bounds: what a share `coverage` of all units to come stays inside of, said with a
 * stated `confidence` from a sample of `n` (units of a batch, one value each). By the normal
 * distribution, as mean -+ k s; and free of any distribution, by order statistics. The Wilson
 * interval for a share stands here too.
 *
 * Shares, coverages and confidences are plain numbers (0.95, not 95); k is without a unit; bounds
 * are in the unit of the values. The functions that can fail do so (ERROR_USAGE) for a coverage or
 * confidence outside TOLERANCE_TAIL..1 - TOLERANCE_TAIL and for more than TOLERANCE_MOST_UNITS, and
 * (ERROR_INPUT) for an n that is too small: the words then say how many are needed. `out` is left
 * as it was: there is never a number where there is no bound. Nothing here allocates.
 *
 * None of them knows whether the sample is a fair one: units removed before they were measured, or
 * a process that drifts, make every bound here too good. */
#ifndef GAINSIEVE_TOLERANCE_H
#define GAINSIEVE_TOLERANCE_H

#include <stdbool.h>
#include <stddef.h>

#include "drivers/base/error.h"

#define TOLERANCE_TAIL 1e-6
/* Far more than any archive holds; at this number every coverage and confidence taken here has its
 * order statistic. */
#define TOLERANCE_MOST_UNITS ((size_t)100000000)

/* The factor k of a one-sided bound: at least the share `coverage` of a normal population is below
 * mean + k s (or above mean - k s) with `confidence`. With z the normal quantile,
 *
 *     k = t(confidence; n - 1 degrees, shift z(coverage) sqrt(n)) / sqrt(n)
 *
 * t the quantile of the non-central t distribution: exact, NIST/SEMATECH e-Handbook 7.2.6.3. Good
 * to 1e-9 of k. Negative when the coverage is small. Needs n of 2. */
bool tolerance_factor_one_sided(double *out, size_t n, double coverage, double confidence,
                                struct error *e) MUST_CHECK;

/* The factor k of a two-sided interval: at least `coverage` of a normal population is between
 * mean - k s and mean + k s with `confidence`. The exact one (ISO 16269-6:2014 Annex F tabulates
 * it, rounded up; read second-hand), not Howe's approximation, which e-Handbook 7.2.6.3 gives:
 * 2.2228 instead of 2.2173 for 43 units, 0.90, 0.99. It solves, with r(x) from
 * Phi(x + r) - Phi(x - r) = coverage,
 *
 *     integral over z of phi(z) P(chi-square of n - 1 degrees > (n - 1) r(z / sqrt(n))^2 / k^2) dz
 *         = confidence
 *
 * by the trapezoidal rule, which converges exponentially for it. (A. Wald, J. Wolfowitz, Annals of
 * Mathematical Statistics 17 (1946) 208; from memory.) Good to 1e-9 of k; to 1e-8 for a million
 * units, whose chi-square GSL gives to fewer digits, and for a confidence within 1e-5 of 1. Takes
 * some milliseconds for thousands of units: worth keeping where many limits have the same n. Needs
 * n of 2. */
bool tolerance_factor_two_sided(double *out, size_t n, double coverage, double confidence,
                                struct error *e) MUST_CHECK;

/* Howe's approximation to it, sqrt((n - 1) (1 + 1/n) z((1 + coverage) / 2)^2 / chi-square), with
 * the lower 1 - confidence point of n - 1 degrees: e-Handbook 7.2.6.3. To compare with other
 * people's figures, not to set bounds by. Needs n of 2. */
bool tolerance_factor_howe(double *out, size_t n, double coverage, double confidence,
                           struct error *e) MUST_CHECK;

/* A bound by order statistics. */
struct tolerance_rank {
    size_t rank;       /* the bound is the rank-th smallest value, or the rank-th largest, or (two
                          sides) both: 1 is the extreme itself */
    double confidence; /* achieved; at least the one that was asked for */
};

/* With what confidence at least `coverage` of any continuous population lies in what is left of it
 * when `n_excluded` of the n + 1 gaps about n sorted values are taken off: beyond the rank-th
 * smallest, `rank` are; outside the rank-th smallest to the rank-th largest, 2 rank. It is
 *
 *     P(at least n_excluded of n trials succeed, each with 1 - coverage)
 *
 * which for smallest to largest is 1 - n p^(n-1) + (n-1) p^n, e-Handbook 7.2.6.4 (S. S. Wilks,
 * Annals of Mathematical Statistics 12 (1941) 91; from memory). Where values can be equal it is
 * more. NaN for a coverage outside 0..1; 0 where all or more is taken off. */
double tolerance_order_confidence(size_t n, size_t n_excluded, double coverage);

/* The innermost order statistic that holds `coverage` with `confidence`, for one side or (the same
 * rank from both ends) two. Needs tolerance_least_units(). */
bool tolerance_order_one_sided(struct tolerance_rank *out, size_t n, double coverage,
                               double confidence, struct error *e) MUST_CHECK;
bool tolerance_order_two_sided(struct tolerance_rank *out, size_t n, double coverage,
                               double confidence, struct error *e) MUST_CHECK;

/* The smallest n for which there is one: one-sided the first with 1 - coverage^n >= confidence. */
bool tolerance_least_units(size_t *out, bool two_sided, double coverage, double confidence,
                           struct error *e) MUST_CHECK;

/* Between which order statistics the `share` quantile of any continuous population lies: the low-th
 * smallest is above it, and the high-th smallest below it, with at most (1 - confidence) / 2 each.
 * `low` is 0 and `high` is n + 1 where the sample has no such value, as with every small one: that
 * end is then open. (H. A. David, H. N. Nagaraja, Order Statistics, 2003, 7.1; from memory.)
 * Needs n of 1; a share of 0..1 ends included. */
struct quantile_ranks {
    size_t low, high;
    double confidence; /* achieved, an open end counting as infinite */
};
bool tolerance_quantile_ranks(struct quantile_ranks *out, size_t n, double share, double confidence,
                              struct error *e) MUST_CHECK;

/* Two-sided Wilson interval for a share, `k` of `n` at `confidence`; with z the normal quantile of
 * (1 + confidence) / 2,
 *
 *     (k + z^2/2 -+ z sqrt(k (n - k) / n + z^2/4)) / (n + z^2)
 *
 * E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209 (from memory); NIST/SEMATECH e-Handbook 7.2.4.1.
 * For one end alone with confidence c ask for 2 c - 1. proportion_interval() holds its confidence
 * for every share; this one only on average over shares, and is mostly the narrower for it, except
 * near 0 and 1 in larger batches (none of 46 at 0.95 is the first such case). NaN as there: n of
 * zero, k above n, a confidence that is not between 0 and 1. */
void wilson_interval(size_t k, size_t n, double confidence, double *low, double *high);

#endif
