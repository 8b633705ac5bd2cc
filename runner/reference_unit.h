/* The reference unit proves the bench: measured again, it must give what it gave. */
#ifndef GAINSIEVE_REFERENCE_UNIT_H
#define GAINSIEVE_REFERENCE_UNIT_H

#include "drivers/bench_file.h"
#include "drivers/measurement.h"
#include "limits/limits.h"

/* The unit's stored sweeps, one for each bias step of the limits: BIAS.s2p in the bench file's
 * folder. ERROR_INPUT. */
bool reference_unit_read(const struct bench_file *file, const struct limits *limits,
                         struct measurement *out, struct error *e) MUST_CHECK;

/* Compares at every point measured now: the gain in dB and S11 as abs of the difference. `*good`
 * only when every bias step is there, every point lies within the stored sweep, and both tolerances
 * hold everywhere; `words` says what was worst, or what is missing. */
bool reference_unit_compare(const struct bench_file *file, const struct limits *limits,
                            const struct measurement *stored, const struct measurement *now,
                            bool *good, struct text *words, struct error *e) MUST_CHECK;

#endif
