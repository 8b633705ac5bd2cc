#include "limits/bias_trim.h"

#include <math.h>
#include <stdlib.h>

#include "drivers/base/memory.h"
#include "drivers/base/value.h"
#include "limits/coverage.h"
#include "limits/interpolate.h"
#include "limits/quantity.h"
#include "limits/statistics.h"

static const double deg_per_rad = 180 / 3.14159265358979323846;

/* The gain where `place` is; false outside the sweep and in a gap. */
static bool gain_at(const struct sweep *sweep, size_t *cursor, double frequency_hz,
                    double max_step_hz, double *gain_db)
{
    struct place place;

    if (!place_find(sweep, cursor, frequency_hz, max_step_hz, &place)) return false;
    *gain_db = quantity_magnitude_db(place_value(sweep, &place, S21));
    return true;
}

/* Mean gain over the band, NaN where a value is; false when the sweep does not cover it. */
static bool mean_gain(const struct sweep *sweep, const struct trim_band *band, double *mean_db)
{
    size_t cursor = 0, i = sweep_lower_point(sweep, band->from_hz);
    double at_hz = band->from_hz, gain_db, sum = 0;

    if (!gain_at(sweep, &cursor, at_hz, band->max_step_hz, &gain_db)) return false;
    *mean_db = gain_db;
    while (at_hz < band->to_hz) {
        const bool inside = i < sweep->n_points && sweep->frequency_hz[i] < band->to_hz;
        const double next_hz = inside ? sweep->frequency_hz[i] : band->to_hz;
        double next_db;

        i++;
        if (!gain_at(sweep, &cursor, next_hz, band->max_step_hz, &next_db)) return false;
        if (inside && next_hz <= at_hz) continue;
        /* Both ends of a gap are points; what is between them is not. */
        if (gap_too_wide(at_hz, next_hz, band->max_step_hz)) return false;
        sum += (next_hz - at_hz) * (gain_db + next_db) / 2;
        at_hz = next_hz;
        gain_db = next_db;
        *mean_db = sum / (band->to_hz - band->from_hz);
    }
    return true;
}

/* True when the setting has a gain; otherwise says why not. */
static bool setting_usable(const struct bias_sweep *bias, const struct trim_band *band,
                           double *gain_db, struct text *left_out)
{
    char at[VALUE_TEXT], from[VALUE_TEXT], to[VALUE_TEXT];
    const char *why = NULL;

    (void)value_words(bias->bias_v, UNIT_V, at);
    if (!isfinite(bias->bias_v))
        why = "the bias was not measured";
    else if (bias->missing.length > 0)
        why = bias->missing.data;
    else if (bias->sweep.n_points == 0)
        why = "the sweep is empty";
    else if (!(bias->sweep.measured & S_BIT(S21)))
        why = "S21 was not measured";
    else if (coverage_is_placeholder(&bias->sweep, S21))
        why = "S21 is a placeholder (below -120 dB or the same number everywhere)";
    if (why) {
        reason_add(left_out, "%s: %s", at, why);
        return false;
    }
    if (!mean_gain(&bias->sweep, band, gain_db)) {
        reason_add(left_out, "%s: the sweep does not cover %s to %s without a gap", at,
                   value_rounded(band->from_hz, UNIT_HZ, from),
                   value_rounded(band->to_hz, UNIT_HZ, to));
        return false;
    }
    if (isfinite(*gain_db)) return true;
    reason_add(left_out, "%s: S21 has a value in the band that is not a number", at);
    return false;
}

/* True when no gain falls where another rises; the same gain twice does neither. */
static bool never_turns(const double *gain_db, size_t n)
{
    bool rises = false, falls = false;

    for (size_t i = 1; i < n; i++) {
        if (gain_db[i] > gain_db[i - 1]) rises = true;
        if (gain_db[i] < gain_db[i - 1]) falls = true;
    }
    return !(rises && falls);
}

void trim_curve_take(struct trim_curve *curve, const struct measurement *m,
                     const struct trim_band *band, struct text *left_out)
{
    *curve = (struct trim_curve){.band = *band, .lowest_db = NAN, .highest_db = NAN};
    for (size_t i = 0; i < m->n_biases && curve->n < CEILING_BIAS_STEPS; i++) {
        const struct bias_sweep *bias = &m->biases[i];
        double gain_db = NAN;

        if (!setting_usable(bias, band, &gain_db, left_out)) continue;
        curve->bias_v[curve->n] = bias->bias_v;
        curve->gain_db[curve->n] = gain_db;
        curve->sweeps[curve->n++] = &bias->sweep;
        curve->lowest_db = fmin(curve->lowest_db, gain_db);
        curve->highest_db = fmax(curve->highest_db, gain_db);
    }
    curve->is_monotone = never_turns(curve->gain_db, curve->n);
}

/* Counts a bias with the wanted gain, which rise from call to call. */
static void add_setting(struct trim *trim, double bias_v)
{
    if (isnan(bias_v)) return;
    if (trim->n_settings++ == 0) trim->bias_v = bias_v;
    trim->highest_v = bias_v;
}

/* All biases with the wanted gain. A setting that has it counts, unless the one before did too (a
 * flat stretch); between two settings the curve passes it once, when they lie on its two sides. */
static void find_settings(struct trim *trim, const struct trim_curve *curve, double gain_db)
{
    for (size_t i = 0; i < curve->n; i++) {
        const double here_db = curve->gain_db[i] - gain_db;
        const double last_db = i == 0 ? NAN : curve->gain_db[i - 1] - gain_db;
        const bool is_here = fabs(here_db) <= SAME_GAIN_DB;
        const bool was_here = fabs(last_db) <= SAME_GAIN_DB;

        if (is_here && was_here)
            trim->highest_v = curve->bias_v[i];
        else if (is_here)
            add_setting(trim, curve->bias_v[i]);
        else if (!was_here && i > 0 && (here_db > 0) != (last_db > 0))
            add_setting(trim,
                        monotone_find(curve->bias_v, curve->gain_db, curve->n, i - 1, gain_db));
    }
}

bool trim_find(struct trim *out, const struct trim_curve *curve, double gain_db)
{
    *out = (struct trim){TRIM_NO_CURVE, NAN, NAN, NAN, 0, NAN};
    if (curve->n == 0 || !isfinite(gain_db)) return false;
    if (curve->highest_db < gain_db - SAME_GAIN_DB)
        out->outcome = TRIM_TOO_LOW;
    else if (curve->lowest_db > gain_db + SAME_GAIN_DB)
        out->outcome = TRIM_TOO_HIGH;
    else
        out->outcome = TRIM_REACHED;
    if (out->outcome == TRIM_REACHED) {
        find_settings(out, curve, gain_db);
    } else {
        const double nearest_db =
            out->outcome == TRIM_TOO_LOW ? curve->highest_db : curve->lowest_db;
        size_t i = 0;

        while (curve->gain_db[i] != nearest_db)
            i++;
        out->bias_v = curve->bias_v[i];
    }
    if (curve->n == 1) {
        out->gain_db = curve->gain_db[0];
    } else {
        double db_per_v;

        if (!monotone_at(curve->bias_v, curve->gain_db, curve->n, out->bias_v, &out->gain_db,
                         &db_per_v)) {
            *out = (struct trim){TRIM_NO_CURVE, NAN, NAN, NAN, 0, NAN};
            return false;
        }
        out->db_per_10mv = db_per_v / 100;
    }
    return true;
}

static void reach_words(const struct trim *trim, double gain_db, struct text *out)
{
    char wanted[VALUE_TEXT], nearest[VALUE_TEXT], at[VALUE_TEXT];

    reason_add(out, "cannot be set to %s: the %s gain within the measured bias is %s at %s",
               value_rounded(gain_db, UNIT_DB, wanted),
               trim->outcome == TRIM_TOO_LOW ? "highest" : "lowest",
               value_rounded(trim->gain_db, UNIT_DB, nearest),
               value_rounded(trim->bias_v, UNIT_V, at));
}

void trim_words(const struct trim *trim, const struct trim_curve *curve, double gain_db,
                struct text *out)
{
    char wanted[VALUE_TEXT], low[VALUE_TEXT], high[VALUE_TEXT];

    if (trim->outcome == TRIM_NO_CURVE) {
        reason_add(out, "no gain against bias: no usable sweep at any setting");
        return;
    }
    if (trim->outcome != TRIM_REACHED) reach_words(trim, gain_db, out);
    (void)value_rounded(gain_db, UNIT_DB, wanted);
    (void)value_rounded(trim->bias_v, UNIT_V, low);
    (void)value_rounded(trim->highest_v, UNIT_V, high);
    if (trim->n_settings > 1)
        reason_add(out, "%s is reached at %zu settings from %s to %s: the lowest is taken", wanted,
                   trim->n_settings, low, high);
    else if (trim->n_settings == 1 && trim->highest_v > trim->bias_v)
        reason_add(out, "%s is reached everywhere from %s to %s: the lowest is taken", wanted, low,
                   high);
    if (!curve->is_monotone) reason_add(out, "gain does not move one way over the bias");
    if (trim->outcome == TRIM_REACHED && trim->db_per_10mv < 0)
        reason_add(out, "gain falls with rising bias at %s", low);
    if (curve->n == 1)
        reason_add(out, "one usable setting only: no slope");
    else if (curve->n == 2)
        reason_add(out, "two usable settings only: a straight line between them");
}

/* Magnitude and phase of each setting at one frequency, the phase followed by the shorter way
 * round. False where a setting has no value. */
static bool settings_at(const struct trim_curve *curve, size_t *cursors, double frequency_hz,
                        double *gain_db, double *phase_deg)
{
    for (size_t i = 0; i < curve->n; i++) {
        struct place place;
        double complex s;

        if (!place_find(curve->sweeps[i], &cursors[i], frequency_hz, curve->band.max_step_hz,
                        &place))
            return false;
        s = place_value(curve->sweeps[i], &place, S21);
        if (!isfinite(creal(s)) || !isfinite(cimag(s))) return false;
        gain_db[i] = quantity_magnitude_db(s);
        phase_deg[i] = carg(s) * deg_per_rad;
        if (i > 0)
            phase_deg[i] = phase_deg[i - 1] + quantity_wrap_deg(phase_deg[i] - phase_deg[i - 1]);
    }
    return true;
}

/* The curve's value over bias; of one setting that setting's. */
static double over_bias(const struct trim_curve *curve, const double *y, double bias_v)
{
    double value;

    if (curve->n == 1) return bias_v == curve->bias_v[0] ? y[0] : NAN;
    (void)monotone_at(curve->bias_v, y, curve->n, bias_v, &value, NULL);
    return value;
}

double trim_response(const struct trim_curve *curve, double bias_v, const double *frequency_hz,
                     size_t n, double complex *out)
{
    size_t cursors[CEILING_BIAS_STEPS] = {0};
    double gain_db[CEILING_BIAS_STEPS], phase_deg[CEILING_BIAS_STEPS];
    double widest_deg = 0;

    for (size_t k = 0; k < n; k++) {
        double magnitude, angle;

        out[k] = CMPLX(NAN, NAN);
        if (curve->n == 0 || !settings_at(curve, cursors, frequency_hz[k], gain_db, phase_deg))
            continue;
        for (size_t i = 1; i < curve->n; i++)
            widest_deg = fmax(widest_deg, fabs(phase_deg[i] - phase_deg[i - 1]));
        magnitude = pow(10, over_bias(curve, gain_db, bias_v) / 20);
        angle = over_bias(curve, phase_deg, bias_v) / deg_per_rad;
        out[k] = CMPLX(magnitude * cos(angle), magnitude * sin(angle));
    }
    return widest_deg;
}

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

bool common_gain_find(struct common_gain *out, const double *lowest_db, const double *highest_db,
                      size_t n, struct error *e)
{
    double *low = memory_make(2 * n, sizeof *low, e), *high;
    size_t n_known = 0, closed = 0;

    if (!low) return false;
    high = low + n;
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(lowest_db[i]) || !isfinite(highest_db[i])) continue;
        low[n_known] = lowest_db[i];
        high[n_known++] = highest_db[i];
    }
    qsort(low, n_known, sizeof *low, ascending);
    qsort(high, n_known, sizeof *high, ascending);
    *out = (struct common_gain){0, NAN, NAN, NAN};
    /* Up through the lower ends: from each on, until the next upper end, so many are open. */
    for (size_t i = 0; i < n_known; i++) {
        size_t open;

        while (high[closed] < low[i])
            closed++;
        open = i + 1 - closed;
        if (open < out->n_reach) continue;
        if (open == out->n_reach && high[closed] - low[i] < out->highest_db - out->lowest_db)
            continue;
        *out = (struct common_gain){open, (low[i] + high[closed]) / 2, low[i], high[closed]};
    }
    memory_free(low);
    return true;
}
