#include <math.h>

#include "drivers/base/memory.h"
#include "limits/coverage.h"
#include "limits/interpolate.h"
#include "reports/batch.h"

static bool trace_make(struct trace *out, size_t n_points, struct error *e)
{
    out->x = memory_make(2 * n_points, sizeof *out->x, e);
    if (!out->x) return false;
    out->y = out->x + n_points;
    return true;
}

static void trace_add(struct trace *out, double x, double y)
{
    out->x[out->n_points] = (float)x;
    out->y[out->n_points++] = (float)y;
}

static void add_sweep_point(struct trace *out, const struct sweep *sweep,
                            enum s_parameter parameter, size_t i)
{
    trace_add(out, sweep->frequency_hz[i], quantity_magnitude_db(sweep_s(sweep, i, parameter)));
}

/* abs(S)^2 orders points as dB do, without a logarithm. */
static double power_of(const struct sweep *sweep, enum s_parameter parameter, size_t i)
{
    double complex s = sweep_s(sweep, i, parameter);

    return creal(s) * creal(s) + cimag(s) * cimag(s);
}

static bool has_hole(const struct sweep *sweep, enum s_parameter parameter)
{
    for (size_t i = 0; i < sweep->n_points; i++)
        if (isnan(power_of(sweep, parameter, i))) return true;
    return false;
}

/* Adds the lowest and the highest point of a stretch and its first hole, in their order: neither an
 * excursion nor a hole beside it is lost. */
static void add_stretch(struct trace *out, const struct sweep *sweep, enum s_parameter parameter,
                        size_t from, size_t to)
{
    size_t low = to, high = to, hole = to;
    double lowest = INFINITY, highest = -INFINITY;

    for (size_t i = from; i < to; i++) {
        double power = power_of(sweep, parameter, i);

        if (isnan(power)) {
            if (hole == to) hole = i;
            continue;
        }
        if (low == to || power < lowest) low = i, lowest = power;
        if (high == to || power > highest) high = i, highest = power;
    }
    for (size_t i = from; i < to; i++)
        if (i == low || i == high || i == hole) add_sweep_point(out, sweep, parameter, i);
}

/* A line of the parameter in dB over the sweep: every point, or the extremes of equal stretches.
 * The first and the last point always stand. */
static bool reduce(struct trace *out, const struct sweep *sweep, enum s_parameter parameter,
                   struct error *e)
{
    const size_t n = sweep->n_points;
    size_t stretches;

    if (n == 0 || !(sweep->measured & S_BIT(parameter))) return true;
    if (!trace_make(out, n < CEILING_PLOT_POINTS ? n : CEILING_PLOT_POINTS, e)) return false;
    if (n <= CEILING_PLOT_POINTS) {
        for (size_t i = 0; i < n; i++)
            add_sweep_point(out, sweep, parameter, i);
        return true;
    }
    stretches = (CEILING_PLOT_POINTS - 2) / (has_hole(sweep, parameter) ? 3 : 2);
    add_sweep_point(out, sweep, parameter, 0);
    for (size_t k = 0; k < stretches; k++)
        add_stretch(out, sweep, parameter, 1 + k * (n - 2) / stretches,
                    1 + (k + 1) * (n - 2) / stretches);
    add_sweep_point(out, sweep, parameter, n - 1);
    return true;
}

/* Where gain against bias is drawn: the middle of the first gain slope or range limit, else of the
 * first gain limit, else nowhere. */
double traces_centre_hz(const struct limits *limits)
{
    const struct limit *best = NULL;

    for (size_t i = 0; i < limits->n_limits; i++) {
        const struct limit *limit = &limits->limits[i];
        bool across = limit->quantity->shape == OVER_SLOPE || limit->quantity->shape == OVER_RANGE;
        bool gain = limit->quantity->is_magnitude_db && limit->quantity->parameter == S21;

        if (across && (!best || best->quantity->shape == OVER_POINTS)) best = limit;
        if (gain && !best) best = limit;
    }
    if (best) {
        const struct bound_line *line = best->lower.n_points ? &best->lower : &best->upper;

        return (line->frequency_hz[0] + line->frequency_hz[line->n_points - 1]) / 2;
    }
    return NAN;
}

static double gain_at(const struct sweep *sweep, double frequency_hz)
{
    struct place place;
    size_t cursor = 0;

    if (isnan(frequency_hz) || !place_find(sweep, &cursor, frequency_hz, 0, &place)) return NAN;
    return quantity_magnitude_db(place_value(sweep, &place, S21));
}

bool unit_traces_make(struct unit_traces *out, const struct limits *limits,
                      const struct measurement *m, struct error *e)
{
    const double centre_hz = traces_centre_hz(limits);
    struct unit_traces made = {.n_biases = limits->n_biases};

    made.gain = memory_make(made.n_biases, sizeof *made.gain, e);
    if (!made.gain) goto failed;
    made.input_reflection = memory_make(made.n_biases, sizeof *made.input_reflection, e);
    if (!made.input_reflection) goto failed;
    made.bias_v = memory_make(2 * made.n_biases, sizeof *made.bias_v, e);
    if (!made.bias_v) goto failed;
    made.gain_db = made.bias_v + made.n_biases;
    for (size_t i = 0; i < made.n_biases; i++) {
        const struct bias_sweep *bias = coverage_find_step(limits, m, i);

        made.bias_v[i] = made.gain_db[i] = NAN;
        if (!bias || bias->sweep.n_points == 0) continue;
        made.bias_v[i] = bias->bias_v;
        made.gain_db[i] = gain_at(&bias->sweep, centre_hz);
        if (!reduce(&made.gain[i], &bias->sweep, S21, e)) goto failed;
        if (!reduce(&made.input_reflection[i], &bias->sweep, S11, e)) goto failed;
    }
    *out = made;
    return true;
failed:
    unit_traces_clear(&made);
    return false;
}

void unit_traces_clear(struct unit_traces *traces)
{
    for (size_t i = 0; i < traces->n_biases; i++) {
        if (traces->gain) memory_free(traces->gain[i].x);
        if (traces->input_reflection) memory_free(traces->input_reflection[i].x);
    }
    memory_free(traces->gain);
    memory_free(traces->input_reflection);
    memory_free(traces->bias_v);
    *traces = (struct unit_traces){0};
}
