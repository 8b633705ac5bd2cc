/* Quantities that compare sweeps: across bias steps, or against the reference unit. */
#include <math.h>

#include "limits/coverage.h"
#include "limits/interpolate.h"
#include "limits/judging.h"
#include "limits/statistics.h"

/* One comparison: the value of two sweeps' parameters at one frequency. `span_v` is the difference
 * of their bias voltages, second minus first. */
typedef double compare_function(double complex first, double complex second, double span_v);

/* Judges a comparison at the measured points of either sweep and at the bounds' corners, the other
 * sweep interpolated. */
static void judge_pair(struct judging *j, const struct bias_sweep *first,
                       const struct bias_sweep *second, enum s_parameter parameter,
                       compare_function *compare, double bias_v)
{
    double span_v = second->bias_v - first->bias_v, frequency_hz;
    size_t first_cursor = 0, second_cursor = 0;
    struct place first_place, second_place;
    struct sample_walk walk;

    sample_walk_start(&walk, j->limit);
    sample_walk_add(&walk, &first->sweep);
    sample_walk_add(&walk, &second->sweep);
    while (sample_walk_next(&walk, &frequency_hz)) {
        if (!place_find(&first->sweep, &first_cursor, frequency_hz, j->limit->max_step_hz,
                        &first_place) ||
            !place_find(&second->sweep, &second_cursor, frequency_hz, j->limit->max_step_hz,
                        &second_place))
            continue;
        (void)judging_take(j, frequency_hz, bias_v,
                           compare(place_value(&first->sweep, &first_place, parameter),
                                   place_value(&second->sweep, &second_place, parameter), span_v),
                           NAN);
    }
}

static double gain_difference_db(double complex first, double complex second, double span_v)
{
    (void)span_v;
    return quantity_magnitude_db(second) - quantity_magnitude_db(first);
}

static double gain_slope_db_per_v(double complex first, double complex second, double span_v)
{
    return gain_difference_db(first, second, span_v) / span_v;
}

static double distance(double complex first, double complex second, double span_v)
{
    (void)span_v;
    return cabs(second - first);
}

static double angle_between_deg(double complex first, double complex second, double span_v)
{
    (void)span_v;
    return quantity_wrap_deg(carg(second * conj(first)) * (180 / M_PI));
}

void judge_over_range(struct judging *j)
{
    const struct bias_sweep *first = judging_step(j, j->limit->from);
    const struct bias_sweep *second = judging_step(j, j->limit->to);

    j->steps = UINT64_C(1) << j->limit->from | UINT64_C(1) << j->limit->to;
    if (first && second) judge_pair(j, first, second, S21, gain_difference_db, second->bias_v);
}

void judge_over_shift(struct judging *j)
{
    const struct bias_sweep *reference = judging_step(j, j->limit->reference);

    for (size_t step = 0; step < j->limits->n_biases; step++) {
        const struct bias_sweep *bias;

        if (!(j->limit->biases >> step & 1)) continue;
        bias = judging_step(j, step);
        if (bias && reference) judge_pair(j, reference, bias, S11, distance, bias->bias_v);
    }
}

/* The reference unit's sweep of the step; its faults are noted with its name in front. */
static const struct bias_sweep *reference_step(struct judging *j, size_t step)
{
    const struct bias_sweep *bias = coverage_find_step(j->limits, j->reference, step);
    struct text missing = {0};
    bool usable = coverage_usable(j->limits, bias, step, j->limit->quantity->needs, &missing);

    if (usable) (void)coverage_spans(j->limits, j->limit, bias, step, &missing);
    if (missing.length > 0)
        reason_add(&j->missing, "the reference unit %s: %s", j->reference->serial, missing.data);
    if (missing.failed) j->missing.failed = j->missing.no_memory = true;
    text_clear(&missing);
    return usable ? bias : NULL;
}

void judge_over_phase(struct judging *j)
{
    if (!j->reference) {
        reason_add(&j->missing, "no reference unit is named (--reference SERIAL)");
        return;
    }
    for (size_t step = 0; step < j->limits->n_biases; step++) {
        const struct bias_sweep *bias, *reference;

        if (!(j->limit->biases >> step & 1)) continue;
        bias = judging_step(j, step);
        reference = reference_step(j, step);
        if (bias && reference) judge_pair(j, reference, bias, S21, angle_between_deg, bias->bias_v);
    }
}

static void judge_local_slopes(struct judging *j, const struct bias_sweep *const *biases)
{
    for (size_t step = j->limit->from; step < j->limit->to; step++) {
        const struct bias_sweep *first = biases[step], *second = biases[step + 1];

        /* A missing step is never bridged: its two slopes are missing. */
        if (!first || !second) continue;
        j->steps = UINT64_C(3) << step;
        judge_pair(j, first, second, S21, gain_slope_db_per_v,
                   (first->bias_v + second->bias_v) / 2);
    }
}

/* Slope of the least-squares line through the gains at the places over the measured bias. */
static double fitted_slope(const struct bias_sweep *const *biases, size_t from, size_t to,
                           const struct place *places)
{
    double bias_v[CEILING_BIAS_STEPS], gain_db[CEILING_BIAS_STEPS];
    size_t n = 0;

    for (size_t i = from; i <= to; i++, n++) {
        bias_v[n] = biases[i]->bias_v;
        gain_db[n] = quantity_magnitude_db(place_value(&biases[i]->sweep, &places[i], S21));
    }
    return line_slope(bias_v, gain_db, n);
}

static void judge_fitted_slope(struct judging *j, const struct bias_sweep *const *biases)
{
    size_t cursors[CEILING_BIAS_STEPS] = {0};
    struct place places[CEILING_BIAS_STEPS];
    struct sample_walk walk;
    double frequency_hz;
    size_t from = j->limit->from, to = j->limit->to;

    sample_walk_start(&walk, j->limit);
    j->steps = 0;
    for (size_t i = from; i <= to; i++) {
        if (!biases[i]) return;
        j->steps |= UINT64_C(1) << i;
        sample_walk_add(&walk, &biases[i]->sweep);
    }
    while (sample_walk_next(&walk, &frequency_hz)) {
        bool all = true;

        for (size_t i = from; i <= to && all; i++)
            all = place_find(&biases[i]->sweep, &cursors[i], frequency_hz, j->limit->max_step_hz,
                             &places[i]);
        if (all)
            (void)judging_take(j, frequency_hz, (biases[from]->bias_v + biases[to]->bias_v) / 2,
                               fitted_slope(biases, from, to, places), NAN);
    }
}

void judge_over_slope(struct judging *j)
{
    const struct bias_sweep *biases[CEILING_BIAS_STEPS] = {NULL};

    for (size_t step = j->limit->from; step <= j->limit->to; step++)
        biases[step] = judging_step(j, step);
    if (j->limit->method == SLOPE_FIT)
        judge_fitted_slope(j, biases);
    else
        judge_local_slopes(j, biases);
}
