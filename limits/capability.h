/* Process capability of one limit, and the limits of an individuals chart, over the units of a
 * batch. What they do not tell is in docs/statistics.md. */
#ifndef GAINSIEVE_CAPABILITY_H
#define GAINSIEVE_CAPABILITY_H

#include <stdbool.h>
#include <stddef.h>

#include "drivers/base/error.h"

/* With fewer units than this the indices are mostly chance. Common practice. */
#define CAPABILITY_SMALL 30

/* NIST/SEMATECH e-Handbook 6.1.6. Every number is NaN with fewer than two units or where a side's
 * margins are all the same. */
struct capability {
    size_t n;                   /* units with a margin on every bounded side */
    double cp, cp_low, cp_high; /* NaN unless both bounds are there; 95 % interval by chi-square */
    double cpk, cpk_low, cpk_high; /* 95 % interval by Bissell's normal approximation */
    bool is_small;                 /* n < CAPABILITY_SMALL */
    bool is_not_normal;            /* Anderson-Darling at 1 % on a bounded side; false when n is
                                      too small to tell */
};

/* `lower_margin`, `upper_margin`: for each of `n` units its smallest distance inside the lower and
 * the upper bound, negative outside, in the unit of the quantity. NULL where there is no such
 * bound; NaN for a unit without a value, which is then left out on both sides.
 *
 *     Cpl = mean(lower) / (3 s(lower))     Cpu = mean(upper) / (3 s(upper))
 *     Cpk = the smaller of them            Cp  = (Cpl + Cpu) / 2
 *
 * For one value x a unit, lower = x - LSL and upper = USL - x, both deviations are that of x and
 * these are the usual indices: Cp = (USL - LSL) / (6 s). Over a band the smallest distances from
 * the two bounds lie at different places and have a deviation each. Intervals, with n units:
 *
 *     Cp sqrt(chi2(0.025; n - 1) / (n - 1)) .. Cp sqrt(chi2(0.975; n - 1) / (n - 1))
 *     Cpk -+ z(0.975) sqrt(1 / (9 n) + Cpk^2 / (2 (n - 1)))
 *
 * False, with `out` as it was, only for lack of memory. */
bool capability_of(struct capability *out, const double *lower_margin, const double *upper_margin,
                   size_t n, struct error *e) MUST_CHECK;

/* Mean range of two values of a normal distribution over its deviation: 1.128379..., rounded as the
 * e-Handbook prints and uses it. */
#define INDIVIDUALS_D2 1.128

/* Limits of an individuals chart, e-Handbook 6.3.2.2: mean -+ 3 * mean moving range / d2. They say
 * what the process does by itself, not what is accepted. */
struct individuals {
    size_t n;          /* values that are not NaN */
    double mean;       /* of these */
    double mean_range; /* mean distance between one value and the next */
    double low, high;  /* control limits */
};

/* `x` in test order; NaN entries are skipped, and ranges go over them. Every number is NaN with
 * fewer than two values. */
void individuals_of(struct individuals *out, const double *x, size_t n);

#endif
