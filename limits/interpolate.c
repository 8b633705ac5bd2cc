#include "limits/interpolate.h"

#include <math.h>

bool gap_too_wide(double from_hz, double to_hz, double max_step_hz)
{
    return max_step_hz > 0 && to_hz - from_hz > max_step_hz + SAME_FREQUENCY * to_hz;
}

static bool same_frequency(double a_hz, double b_hz)
{
    return fabs(a_hz - b_hz) <= SAME_FREQUENCY * fmax(fabs(a_hz), fabs(b_hz));
}

size_t sweep_lower_point(const struct sweep *sweep, double frequency_hz)
{
    size_t low = 0, high = sweep->n_points;

    while (low < high) {
        size_t middle = low + (high - low) / 2;

        if (sweep->frequency_hz[middle] < frequency_hz)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

bool place_find(const struct sweep *sweep, size_t *cursor, double frequency_hz, double max_step_hz,
                struct place *out)
{
    const double *f = sweep->frequency_hz;
    size_t last, i = *cursor;

    if (sweep->n_points == 0) return false;
    last = sweep->n_points - 1;
    if (frequency_hz < f[0] || frequency_hz > f[last]) {
        *out = (struct place){frequency_hz < f[0] ? 0 : last, 0};
        return same_frequency(frequency_hz, f[out->low]);
    }
    while (i < last && f[i + 1] <= frequency_hz)
        i++;
    *cursor = i;
    *out = (struct place){i, 0};
    if (f[i] == frequency_hz) return true;
    if (gap_too_wide(f[i], f[i + 1], max_step_hz)) {
        /* Not between the points, but a hair from one of them is that point. */
        if (same_frequency(frequency_hz, f[i])) return true;
        out->low = i + 1;
        return same_frequency(frequency_hz, f[i + 1]);
    }
    out->part = (frequency_hz - f[i]) / (f[i + 1] - f[i]);
    return true;
}

double complex place_value(const struct sweep *sweep, const struct place *place,
                           enum s_parameter parameter)
{
    double complex low = sweep_s(sweep, place->low, parameter), high;

    if (place->part == 0) return low;
    high = sweep_s(sweep, place->low + 1, parameter);
    return CMPLX(creal(low) + place->part * (creal(high) - creal(low)),
                 cimag(low) + place->part * (cimag(high) - cimag(low)));
}

void sample_walk_start(struct sample_walk *walk, const struct limit *limit)
{
    walk->n_sweeps = 0;
    walk->lines[0] = &limit->lower;
    walk->lines[1] = &limit->upper;
    walk->from_hz = INFINITY;
    walk->to_hz = -INFINITY;
    for (size_t i = 0; i < 2; i++) {
        const struct bound_line *line = walk->lines[i];

        walk->next_corner[i] = 0;
        if (line->n_points == 0) continue;
        walk->from_hz = fmin(walk->from_hz, line->frequency_hz[0]);
        walk->to_hz = fmax(walk->to_hz, line->frequency_hz[line->n_points - 1]);
    }
}

void sample_walk_add(struct sample_walk *walk, const struct sweep *sweep)
{
    walk->sweeps[walk->n_sweeps] = sweep;
    walk->next_point[walk->n_sweeps++] = sweep_lower_point(sweep, walk->from_hz);
}

/* Lowers `*lowest` to the frequency at `index` of a list, if there is one. */
static void consider(const double *frequency_hz, size_t n, size_t index, double *lowest)
{
    if (index < n && frequency_hz[index] < *lowest) *lowest = frequency_hz[index];
}

bool sample_walk_next(struct sample_walk *walk, double *frequency_hz)
{
    double lowest = INFINITY;

    for (size_t i = 0; i < walk->n_sweeps; i++)
        consider(walk->sweeps[i]->frequency_hz, walk->sweeps[i]->n_points, walk->next_point[i],
                 &lowest);
    for (size_t i = 0; i < 2; i++)
        consider(walk->lines[i]->frequency_hz, walk->lines[i]->n_points, walk->next_corner[i],
                 &lowest);
    if (!(lowest <= walk->to_hz)) return false;
    for (size_t i = 0; i < walk->n_sweeps; i++) {
        const struct sweep *sweep = walk->sweeps[i];
        size_t point = walk->next_point[i];

        if (point < sweep->n_points && sweep->frequency_hz[point] == lowest) walk->next_point[i]++;
    }
    for (size_t i = 0; i < 2; i++) {
        const struct bound_line *line = walk->lines[i];
        size_t corner = walk->next_corner[i];

        if (corner < line->n_points && line->frequency_hz[corner] == lowest) walk->next_corner[i]++;
    }
    *frequency_hz = lowest;
    return true;
}
