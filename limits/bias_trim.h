/* The bias voltage at which a board has the wanted gain, from its sweeps at several settings.
 *
 * The gain that is trimmed is the mean of 20 log10 abs(S21) over a band: by frequency (trapezoids
 * between the measured points), so that points that lie close do not weigh more. The mean in dB,
 * because gains are compared as ratios; the band, because one frequency brings its own ripple and
 * noise. A band of one frequency is that frequency.
 *
 * Between the settings the gain follows the monotone curve of Steffen (see statistics.h), and never
 * is anything told outside the measured range. Settings without a usable sweep are left out, and
 * why is told. Formulas and limits of the method: docs/bias-trim.md. */
#ifndef GAINSIEVE_BIAS_TRIM_H
#define GAINSIEVE_BIAS_TRIM_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

#include "drivers/base/ceilings.h"
#include "drivers/base/text.h"
#include "drivers/measurement.h"

/* Gains this close are the same, so that a board is not refused for a rounded last digit. */
#define SAME_GAIN_DB 1e-9

/* When the phase moves further than this from one setting to the next, which way round it went is a
 * guess. Own choice: half of what can be told. */
#define TRIM_PHASE_STEP_DEG 90.0

/* Where the gain is taken. */
struct trim_band {
    double from_hz, to_hz; /* equal for one frequency */
    double max_step_hz;    /* widest gap between measured points; 0: any */
};

/* Gain against bias of one board. Holds no memory; the sweeps are the measurement's. */
struct trim_curve {
    struct trim_band band;
    size_t n;                                       /* usable settings */
    double bias_v[CEILING_BIAS_STEPS];              /* as measured, strictly rising */
    double gain_db[CEILING_BIAS_STEPS];             /* mean over the band; finite */
    const struct sweep *sweeps[CEILING_BIAS_STEPS]; /* borrowed */
    bool is_monotone;                               /* gain rises, or falls, at every setting */
    double lowest_db, highest_db;                   /* what it reaches; NaN when n is 0 */
};

/* Takes the curve from `m`, which must outlive it. A setting whose S21 was not measured, is a
 * placeholder, does not reach both ends of the band, has a gap wider than `max_step_hz` in it or a
 * value there that is not finite is left out, and `left_out` says why. */
void trim_curve_take(struct trim_curve *curve, const struct measurement *m,
                     const struct trim_band *band, struct text *left_out);

enum trim_outcome {
    TRIM_REACHED = 0,
    TRIM_TOO_LOW,  /* the board stays below the wanted gain; the nearest it can is told */
    TRIM_TOO_HIGH, /* ... above it */
    TRIM_NO_CURVE, /* no usable setting; every number is NaN */
};

/* Where a board is set. */
struct trim {
    enum trim_outcome outcome;
    double bias_v;      /* the lowest with the wanted gain, or with the nearest to it */
    double gain_db;     /* there */
    double db_per_10mv; /* slope there, with its sign; NaN with one usable setting */
    size_t n_settings;  /* how many biases have the wanted gain; a flat stretch counts once */
    double highest_v;   /* the highest of them; NaN when there is none */
};

/* The bias for `gain_db`. Of several the lowest is taken: it draws the least current and lies
 * before the gain turns back; that there are more is told in `n_settings`. False, with
 * TRIM_NO_CURVE, when nothing can be said: no usable setting, or a gain that is not finite. */
bool trim_find(struct trim *out, const struct trim_curve *curve, double gain_db);

/* What a person must know of the setting, in sentences: out of reach and the nearest, several
 * settings, gain falling with bias, few settings. Adds nothing when there is nothing to say. */
void trim_words(const struct trim *trim, const struct trim_curve *curve, double gain_db,
                struct text *out);

/* S21 at `bias_v` and each of `n` rising frequencies: magnitude in dB and phase, followed from
 * setting to setting by the shorter way round, each by the same monotone curve over bias. A setting
 * exactly on a measured one gives what was measured. NaN at a frequency that a setting of the curve
 * does not cover (`max_step_hz` of the curve's band holds) or where it has no finite value, and
 * everywhere for a bias outside the measured range. Returns the widest move of the phase between
 * neighbouring settings in degrees: above TRIM_PHASE_STEP_DEG the phase is a guess. */
double trim_response(const struct trim_curve *curve, double bias_v, const double *frequency_hz,
                     size_t n, double complex *out);

/* The gain to which most boards of a batch can be set. */
struct common_gain {
    size_t n_reach;               /* boards that reach it; 0 when no board has a curve */
    double gain_db;               /* the middle of the overlap */
    double lowest_db, highest_db; /* the overlap: every gain within is reached by these boards */
};

/* From what each of `n` boards reaches, lowest[i] to highest[i]; NaN for a board without a curve,
 * which is left out. Of several overlaps of as many boards the widest is taken, then the one with
 * the highest gain. False, with `out` as it was, only for lack of memory. */
bool common_gain_find(struct common_gain *out, const double *lowest_db, const double *highest_db,
                      size_t n, struct error *e) MUST_CHECK;

#endif
