/* A measurement against limits: for each limit the worst margin and an outcome, for the unit a
 * verdict.
 *
 * Pure: no files, no clock, no globals; the same measurement and limits give the same judgement on
 * any day and machine. The rules are design chapter 3, told in docs/judgement.md. */
#ifndef GAINSIEVE_JUDGE_H
#define GAINSIEVE_JUDGE_H

#include "drivers/base/error.h"
#include "drivers/measurement.h"
#include "limits/limits.h"

/* Zero is the safe value: what nobody judged is incomplete. */
enum outcome {
    OUTCOME_INCOMPLETE = 0,
    OUTCOME_FAIL,
    OUTCOME_CONDITIONAL_FAIL,
    OUTCOME_CONDITIONAL_PASS,
    OUTCOME_PASS,
};

enum verdict { VERDICT_INCOMPLETE = 0, VERDICT_FAIL, VERDICT_PASS };

/* One limit on one unit. Where something does not apply or could not be had, the number is NaN. */
struct finding {
    const struct limit *limit; /* borrowed */
    enum outcome outcome;
    bool accepted;               /* under the file's decision rule */
    double value, bound, margin; /* at the worst place, in the quantity's unit; margin is negative
                                    outside the limit */
    double frequency_hz;         /* where; NaN for a bias current. Flatness: of the lowest gain */
    double bias_v;               /* where, as measured; the middle of the voltages of a slope */
    double conformance_probability; /* NaN when no uncertainty is stated */
    /* The smallest margin to the lower and to the upper bound, each for itself, in the quantity's
     * unit; NaN where there is no such bound. For the spread of a batch: a band has its lowest and
     * its highest value. */
    double lower_margin, upper_margin;
    uint64_t failed_steps; /* set of bias steps, 1 << index, at which a value was not accepted */
    double severity; /* for ranking: margin in guard bands, else relative to the bound's span */
    char *reason;    /* in words, when not accepted; NULL otherwise */
};

struct judgement {
    char serial[CEILING_SERIAL + 1];
    unsigned long attempt;
    enum verdict verdict;
    size_t n_findings;
    struct finding *findings;    /* one a limit, in the file's order */
    const struct finding *worst; /* NULL when no limit has a value */
    size_t n_failed;             /* findings neither accepted nor incomplete */
    char *reason;                /* in words, when not PASS; NULL otherwise */
    char *serial_fault;          /* how the serial number breaks the file's rule; NULL otherwise */
};

/* Judges `m`. `reference` holds the reference unit's sweeps, for phase limits; NULL without. Sweeps
 * must refer to the limits' impedance already: see measurement_prepare(). Fails on lack of memory
 * only. `out` must be zero or cleared. */
bool judge(const struct limits *limits, const struct measurement *m,
           const struct measurement *reference, struct judgement *out, struct error *e) MUST_CHECK;

/* Brings every sweep of `m` to the limits' impedance; one that cannot be brought there becomes
 * missing, with the reason. Fails on lack of memory only. */
bool measurement_prepare(struct measurement *m, double z0_ohm, struct error *e) MUST_CHECK;

/* Frees and zeroes; harmless on zero and twice. */
void judgement_clear(struct judgement *judgement);

/* "pass", "conditional-pass", ...; "PASS", "FAIL", "INCOMPLETE". */
const char *outcome_name(enum outcome outcome);
const char *verdict_name(enum verdict verdict);

#endif
