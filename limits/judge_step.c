/* Quantities that need one bias step at a time. */
#include <math.h>

#include "limits/coverage.h"
#include "limits/interpolate.h"
#include "limits/judging.h"

static bool place_is_finite(const struct sweep *sweep, const struct place *place,
                            enum s_parameter parameter)
{
    double complex s = place_value(sweep, place, parameter);

    return isfinite(creal(s)) && isfinite(cimag(s));
}

/* The extremes of abs(S)^2 of one parameter over a range, and where they lie. */
struct extremes {
    bool any;
    double lowest, highest;
    double lowest_hz, highest_hz;
};

static void extremes_take(struct extremes *x, struct judging *j, double bias_v, double frequency_hz,
                          double complex s)
{
    double power = creal(s) * creal(s) + cimag(s) * cimag(s);

    if (!isfinite(power)) {
        judging_note_not_finite(j, frequency_hz, bias_v);
        return;
    }
    if (!x->any || power < x->lowest) {
        x->lowest = power;
        x->lowest_hz = frequency_hz;
    }
    if (!x->any || power > x->highest) {
        x->highest = power;
        x->highest_hz = frequency_hz;
    }
    x->any = true;
}

/* Squares are compared and no logarithm is taken, which gives the same extremes. */
static struct extremes find_extremes(struct judging *j, const struct bias_sweep *bias,
                                     enum s_parameter parameter)
{
    const struct sweep *sweep = &bias->sweep;
    const struct bound_line *line = j->limit->lower.n_points ? &j->limit->lower : &j->limit->upper;
    double from_hz = line->frequency_hz[0], to_hz = line->frequency_hz[line->n_points - 1];
    struct extremes x = {0};
    struct place place;
    size_t cursor = 0, i = sweep_lower_point(sweep, from_hz);

    if (place_find(sweep, &cursor, from_hz, j->limit->max_step_hz, &place))
        extremes_take(&x, j, bias->bias_v, from_hz, place_value(sweep, &place, parameter));
    for (; i < sweep->n_points && sweep->frequency_hz[i] <= to_hz; i++)
        extremes_take(&x, j, bias->bias_v, sweep->frequency_hz[i], sweep_s(sweep, i, parameter));
    if (place_find(sweep, &cursor, to_hz, j->limit->max_step_hz, &place))
        extremes_take(&x, j, bias->bias_v, to_hz, place_value(sweep, &place, parameter));
    return x;
}

/* A trace that is quiet at every point looked at was not measured there, whatever it holds
 * elsewhere: a perfect match would pass. */
static void note_quiet(struct judging *j, const struct bias_sweep *bias)
{
    char volts[VALUE_TEXT];

    reason_add(&j->missing,
               "bias %s: %s is below -120 dB at every point that counts, as if not measured",
               value_rounded(bias->bias_v, UNIT_V, volts),
               s_parameter_name(j->limit->quantity->parameter));
}

static void judge_flat_magnitude(struct judging *j, const struct bias_sweep *bias)
{
    struct extremes x = find_extremes(j, bias, j->limit->quantity->parameter);

    if (!x.any) return;
    if (x.highest < QUIET_POWER) {
        note_quiet(j, bias);
        return;
    }
    (void)judging_take(j, x.lowest_hz, bias->bias_v, quantity_power_db(x.lowest), sqrt(x.lowest));
    (void)judging_take(j, x.highest_hz, bias->bias_v, quantity_power_db(x.highest),
                       sqrt(x.highest));
}

static void judge_points_of(struct judging *j, const struct bias_sweep *bias)
{
    const struct quantity *quantity = j->limit->quantity;
    const struct sweep *sweep = &bias->sweep;
    struct sample_walk walk;
    struct place place;
    double frequency_hz, loudest = 0;
    size_t cursor = 0;

    sample_walk_start(&walk, j->limit);
    sample_walk_add(&walk, sweep);
    while (sample_walk_next(&walk, &frequency_hz)) {
        double complex s[S_PARAMETERS] = {0};
        double magnitude = NAN;

        if (!place_find(sweep, &cursor, frequency_hz, j->limit->max_step_hz, &place)) continue;
        for (enum s_parameter p = S11; p < S_PARAMETERS; p++)
            if (quantity->needs & S_BIT(p)) s[p] = place_value(sweep, &place, p);
        if (quantity->is_magnitude_db) magnitude = cabs(s[quantity->parameter]);
        if (!(magnitude <= loudest)) loudest = magnitude;
        (void)judging_take(j, frequency_hz, bias->bias_v,
                           quantity->formula(s, j->limits->impedance_ohm), magnitude);
    }
    if (quantity->is_magnitude_db && loudest * loudest < QUIET_POWER) note_quiet(j, bias);
}

void judge_over_points(struct judging *j)
{
    for (size_t step = 0; step < j->limits->n_biases; step++) {
        const struct bias_sweep *bias;

        if (!(j->limit->biases >> step & 1)) continue;
        bias = judging_step(j, step);
        if (!bias) continue;
        if (j->limit->quantity->is_magnitude_db && !j->limit->is_mask)
            judge_flat_magnitude(j, bias);
        else
            judge_points_of(j, bias);
    }
}

void judge_over_band(struct judging *j)
{
    char low[VALUE_TEXT], high[VALUE_TEXT];

    for (size_t step = 0; step < j->limits->n_biases; step++) {
        const struct bias_sweep *bias;
        struct extremes x;

        if (!(j->limit->biases >> step & 1)) continue;
        bias = judging_step(j, step);
        if (!bias) continue;
        x = find_extremes(j, bias, S21);
        if (!x.any) continue;
        if (!judging_take(j, x.lowest_hz, bias->bias_v,
                          quantity_power_db(x.highest) - quantity_power_db(x.lowest), NAN))
            continue;
        text_reset(&j->detail);
        text_addf(&j->detail, "lowest at %s, highest at %s",
                  value_rounded(x.lowest_hz, UNIT_HZ, low),
                  value_rounded(x.highest_hz, UNIT_HZ, high));
    }
}

/* The step of the angle of S21 from point `i` to the next, in degrees, wrapped to +-180: unwrapping
 * assumes that the angle turns by less than half a circle between neighbours. */
static double angle_step_deg(const struct sweep *sweep, size_t i)
{
    double from = carg(sweep_s(sweep, i, S21)), to = carg(sweep_s(sweep, i + 1, S21));

    return quantity_wrap_deg((to - from) * (180 / M_PI));
}

/* -(1/360) d(angle)/df (common practice), the derivative over both neighbours of a measured point,
 * over the one neighbour at an end, and over its own interval between points. */
static double delay_ns(const struct sweep *sweep, const struct place *place)
{
    size_t from = place->low, to = place->low + 1;
    double turned_deg = 0;

    if (place->part == 0) {
        from = place->low > 0 ? place->low - 1 : 0;
        to = place->low + 1 < sweep->n_points ? place->low + 1 : place->low;
    }
    if (from == to) return NAN;
    for (size_t i = from; i < to; i++)
        turned_deg += angle_step_deg(sweep, i);
    return -turned_deg / 360 / (sweep->frequency_hz[to] - sweep->frequency_hz[from]) * 1e9;
}

static void judge_delay_of(struct judging *j, const struct bias_sweep *bias)
{
    const struct sweep *sweep = &bias->sweep;
    struct sample_walk walk;
    struct place place;
    double frequency_hz;
    size_t cursor = 0;

    sample_walk_start(&walk, j->limit);
    sample_walk_add(&walk, sweep);
    while (sample_walk_next(&walk, &frequency_hz)) {
        if (!place_find(sweep, &cursor, frequency_hz, j->limit->max_step_hz, &place)) continue;
        if (!place_is_finite(sweep, &place, S21))
            judging_note_not_finite(j, frequency_hz, bias->bias_v);
        else
            (void)judging_take(j, frequency_hz, bias->bias_v, delay_ns(sweep, &place), NAN);
    }
}

void judge_over_delay(struct judging *j)
{
    for (size_t step = 0; step < j->limits->n_biases; step++) {
        const struct bias_sweep *bias;

        if (!(j->limit->biases >> step & 1)) continue;
        bias = judging_step(j, step);
        if (bias) judge_delay_of(j, bias);
    }
}

void judge_over_current(struct judging *j)
{
    for (size_t step = 0; step < j->limits->n_biases; step++) {
        const struct bias_sweep *bias;
        struct text words = {0};

        if (!(j->limit->biases >> step & 1)) continue;
        bias = coverage_find_step(j->limits, j->m, step);
        j->steps = UINT64_C(1) << step;
        if (bias && isfinite(bias->bias_current_ma)) {
            (void)judging_take(j, NAN, bias->bias_v, bias->bias_current_ma, NAN);
            continue;
        }
        bias_step_words(j->limits, step, &words);
        reason_add(&j->missing, "no supply reading at %s", text_words(&words));
        text_clear(&words);
    }
}
