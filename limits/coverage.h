/* Do the data cover what a limit asks? If not, why, in words. */
#ifndef GAINSIEVE_COVERAGE_H
#define GAINSIEVE_COVERAGE_H

#include "drivers/base/text.h"
#include "drivers/measurement.h"
#include "limits/limits.h"

/* -120 dB as a square of abs(S): what is quieter at every point was not measured. */
#define QUIET_POWER 1e-12

/* The bias setting of `m` that belongs to the step, or NULL: the nearest within the tolerance. */
const struct bias_sweep *coverage_find_step(const struct limits *limits,
                                            const struct measurement *m, size_t step);

/* True when every point of the parameter is below -120 dB or all (two or more) are the same number:
 * what files and instruments write where nothing was measured. */
bool coverage_is_placeholder(const struct sweep *sweep, enum s_parameter parameter);

/* True when the sweep of the step has the parameters in `needs` and can be looked at. Otherwise
 * adds to `missing` why not. */
bool coverage_usable(const struct limits *limits, const struct bias_sweep *bias, size_t step,
                     unsigned needs, struct text *missing);

/* True when the sweep reaches both ends of each bound of the limit and leaves no gap wider than its
 * max-step within. Otherwise adds to `missing` what it does not cover. */
bool coverage_spans(const struct limits *limits, const struct limit *limit,
                    const struct bias_sweep *bias, size_t step, struct text *missing);

/* Adds a sentence to a list of reasons, with a semicolon between and an end when it gets too long.
 */
void reason_add(struct text *reason, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* "bias mid (2.4 V)". */
void bias_step_words(const struct limits *limits, size_t step, struct text *out);

#endif
