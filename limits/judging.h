/* One limit being judged on one measurement; between judge.c and the judge_*.c files only. */
#ifndef GAINSIEVE_JUDGING_H
#define GAINSIEVE_JUDGING_H

#include "drivers/base/text.h"
#include "limits/judge.h"

struct judging {
    const struct limits *limits;
    const struct limit *limit;
    const struct measurement *m;
    const struct measurement *reference; /* or NULL */
    uint64_t steps;                      /* set of the bias steps in hand */
    double least_margin; /* that the decision rule accepts, in the domain of the uncertainty */
    /* What was seen so far, wherever it was. */
    uint64_t failed_steps;
    double side_margin[2]; /* smallest to the lower and to the upper bound; INFINITY at first */
    /* The worst place so far; `seen` is false while no value was looked at. */
    bool seen;
    double decision_margin; /* in the domain of the uncertainty: dB, linear abs(S), ohm, ... */
    double value, bound, margin, frequency_hz, bias_v;
    double lower, upper; /* the bounds there; NaN where there is none */
    double magnitude;    /* linear abs(S) there, for a linear uncertainty */
    struct text missing; /* what the data do not cover, in words; empty when they cover all */
    struct text detail;  /* about the worst place, in words; may be empty */
};

/* Looks at one value: keeps it when it is worse than all before. `magnitude` is abs(S), used only
 * when the limit's uncertainty is linear. A value that is not finite goes to `missing`. True when
 * it was kept. */
bool judging_take(struct judging *j, double frequency_hz, double bias_v, double value,
                  double magnitude);

/* Notes that a value is not a number there. */
void judging_note_not_finite(struct judging *j, double frequency_hz, double bias_v);

/* The bias setting of a step, taken in hand, when it is usable for this limit; otherwise NULL, with
 * the reason noted. Gaps and ends that the limit needs are noted too, but do not make it unusable.
 */
const struct bias_sweep *judging_step(struct judging *j, size_t step);

/* Each judges every value of the limit; named after enum quantity_shape. */
void judge_over_points(struct judging *j);
void judge_over_band(struct judging *j);
void judge_over_delay(struct judging *j);
void judge_over_current(struct judging *j);
void judge_over_slope(struct judging *j);
void judge_over_range(struct judging *j);
void judge_over_shift(struct judging *j);
void judge_over_phase(struct judging *j);

#endif
