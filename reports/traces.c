#include "reports/traces.h"

#include <math.h>

#include "drivers/base/memory.h"
#include "limits/coverage.h"
#include "limits/interpolate.h"

/* Up to so many points of a locus are all drawn; beyond, the extremes of so many stretches. */
#define LOCUS_POINTS ((size_t)48)
#define LOCUS_STRETCHES ((size_t)16)

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

/* A line being made from points of a sweep in their order. A gap that is too wide between a point
 * and the one before it breaks the line: nothing was measured there. */
struct line_writer {
    struct trace *out;
    const struct sweep *sweep;
    double max_step_hz;
    size_t next; /* behind the point added last; 0 before the first */
};

static void break_at_gaps(struct line_writer *w, size_t i)
{
    const double *f = w->sweep->frequency_hz;

    for (size_t k = w->next; w->next > 0 && k <= i; k++) {
        if (!gap_too_wide(f[k - 1], f[k], w->max_step_hz)) continue;
        trace_add(w->out, f[k], NAN);
        break;
    }
    w->next = i + 1;
}

static void add_sweep_point(struct line_writer *w, enum s_parameter parameter, size_t i)
{
    break_at_gaps(w, i);
    trace_add(w->out, w->sweep->frequency_hz[i],
              quantity_magnitude_db(sweep_s(w->sweep, i, parameter)));
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
static void add_stretch(struct line_writer *w, enum s_parameter parameter, size_t from, size_t to)
{
    const struct sweep *sweep = w->sweep;
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
        if (i == low || i == high || i == hole) add_sweep_point(w, parameter, i);
}

/* A line of the parameter in dB over points `from` to before `to`: every point, or the extremes of
 * equal stretches. The first and the last point always stand. */
static bool reduce(struct trace *out, const struct view *view, const struct sweep *sweep,
                   size_t from, size_t to, struct error *e)
{
    const enum s_parameter parameter = view->parameter;
    const size_t n = to - from, most = n < CEILING_PLOT_POINTS ? n : CEILING_PLOT_POINTS;
    struct line_writer w = {out, sweep, view->max_step_hz, 0};
    size_t stretches;

    if (to <= from || !(sweep->measured & S_BIT(parameter))) return true;
    /* Before each point a gap may break the line. */
    if (!trace_make(out, 2 * most, e)) return false;
    if (n <= CEILING_PLOT_POINTS) {
        for (size_t i = from; i < to; i++)
            add_sweep_point(&w, parameter, i);
        return true;
    }
    stretches = (CEILING_PLOT_POINTS - 2) / (has_hole(sweep, parameter) ? 3 : 2);
    add_sweep_point(&w, parameter, from);
    for (size_t k = 0; k < stretches; k++)
        add_stretch(&w, parameter, from + 1 + k * (n - 2) / stretches,
                    from + 1 + (k + 1) * (n - 2) / stretches);
    add_sweep_point(&w, parameter, to - 1);
    return true;
}

/* The line of a view: its range drawn and one point beyond on both sides. */
static bool make_line(struct trace *out, const struct view *view, const struct sweep *sweep,
                      struct error *e)
{
    size_t from = sweep_lower_point(sweep, view->left_hz);
    size_t to = sweep_lower_point(sweep, view->right_hz);

    if (from > 0) from--;
    if (to < sweep->n_points) to++;
    return reduce(out, view, sweep, from, to, e);
}

/* S11 at a place, or NaN. */
static double complex s11_at(const struct sweep *sweep, size_t *cursor, double frequency_hz)
{
    struct place place;

    if (!place_find(sweep, cursor, frequency_hz, 0, &place)) return CMPLX(NAN, NAN);
    return place_value(sweep, &place, S11);
}

/* The larger of two by abs(S); what is not a number never wins. */
static double complex larger(double complex a, double complex b)
{
    return cabs(b) > cabs(a) || isnan(cabs(a)) ? b : a;
}

/* A value by which a point of a locus may lie outside a limit. */
static double locus_value(double complex s, size_t which)
{
    const double complex z = (1 + s) / (1 - s);

    return which == 0 ? cabs(s) : which == 1 ? creal(z) : cimag(z);
}

/* Adds a point, after a break where the points since the last one have a hole or a wide gap. */
static void add_locus_point(struct line_writer *w, size_t i)
{
    const double complex s = sweep_s(w->sweep, i, S11);
    bool broken = false;

    for (size_t k = w->next; w->next > 0 && k < i && !broken; k++)
        broken = isnan(cabs(sweep_s(w->sweep, k, S11)));
    if (broken) trace_add(w->out, NAN, NAN);
    break_at_gaps(w, i);
    trace_add(w->out, creal(s), cimag(s));
}

/* Adds of a stretch the points where abs(S), resistance and reactance are smallest and largest, in
 * their order: whatever the limit is of, no excursion is lost. */
static void add_locus_stretch(struct line_writer *w, size_t from, size_t to)
{
    size_t chosen[6];

    for (size_t c = 0; c < 6; c++) {
        double best = NAN;

        chosen[c] = to;
        for (size_t i = from; i < to; i++) {
            const double value =
                (c % 2 == 0 ? 1 : -1) * locus_value(sweep_s(w->sweep, i, S11), c / 2);

            if (isnan(value) || value <= best) continue;
            best = value;
            chosen[c] = i;
        }
    }
    for (size_t i = from; i < to; i++)
        for (size_t c = 0; c < 6; c++)
            if (chosen[c] == i) {
                add_locus_point(w, i);
                break;
            }
}

/* The points of S11 within the range of the view's limits, the ends interpolated. */
static bool make_locus(struct trace *out, const struct view *view, const struct sweep *sweep,
                       struct error *e)
{
    const size_t from = sweep_lower_point(sweep, view->from_hz);
    const size_t to = sweep_lower_point(sweep, view->to_hz);
    const size_t n = to - from, stretches = n <= LOCUS_POINTS ? n : LOCUS_STRETCHES;
    struct line_writer w = {out, sweep, view->max_step_hz, 0};
    double complex end;
    size_t cursor = 0;

    if (!(sweep->measured & S_BIT(S11))) return true;
    /* Six points of a stretch, each with a break before it, and the ends. */
    if (!trace_make(out, 2 * 6 * stretches + 4, e)) return false;
    end = s11_at(sweep, &cursor, view->from_hz);
    trace_add(out, creal(end), cimag(end));
    for (size_t k = 0; k < stretches; k++)
        add_locus_stretch(&w, from + k * n / stretches, from + (k + 1) * n / stretches);
    end = s11_at(sweep, &cursor, view->to_hz);
    trace_add(out, creal(end), cimag(end));
    return true;
}

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

    if (!(sweep->measured & S_BIT(S21)) || coverage_is_placeholder(sweep, S21)) return NAN;
    if (isnan(frequency_hz) || !place_find(sweep, &cursor, frequency_hz, 0, &place)) return NAN;
    return quantity_magnitude_db(place_value(sweep, &place, S21));
}

/* dB at the columns of a view. */
static void fill_columns(float *out, const struct view *view, const struct sweep *sweep)
{
    size_t cursor = 0;

    for (size_t i = 0; i < VIEW_COLUMNS; i++) {
        struct place place;

        if (place_find(sweep, &cursor, view_column_hz(view, i), view->max_step_hz, &place))
            out[i] = (float)quantity_magnitude_db(place_value(sweep, &place, view->parameter));
    }
}

/* Where S11 is largest within the range of the view's limits, at its ends too. */
static void fill_worst(float out[2], const struct view *view, const struct sweep *sweep)
{
    size_t cursor = 0, i = sweep_lower_point(sweep, view->from_hz);
    double complex worst = s11_at(sweep, &cursor, view->from_hz);

    for (; i < sweep->n_points && sweep->frequency_hz[i] <= view->to_hz; i++)
        worst = larger(worst, sweep_s(sweep, i, S11));
    worst = larger(worst, s11_at(sweep, &cursor, view->to_hz));
    out[0] = (float)creal(worst);
    out[1] = (float)cimag(worst);
}

static bool make_view(struct unit_traces *out, const struct views *views, size_t v,
                      const struct bias_sweep *bias, struct error *e)
{
    const struct view *view = &views->view[v];

    if (!bias || !(bias->sweep.measured & S_BIT(view->parameter))) return true;
    /* What the judgement takes for not measured is not drawn as a perfect match. */
    if (coverage_is_placeholder(&bias->sweep, view->parameter)) return true;
    fill_columns(&out->columns[v * VIEW_COLUMNS], view, &bias->sweep);
    if (view->parameter == S11) fill_worst(&out->worst[2 * v], view, &bias->sweep);
    if (!out->lines) return true;
    return make_line(&out->lines[v], view, &bias->sweep, e) &&
           (view->parameter != S11 || make_locus(&out->loci[v], view, &bias->sweep, e));
}

static bool allocate(struct unit_traces *out, bool with_lines, struct error *e)
{
    out->columns = memory_make(out->n_views * (VIEW_COLUMNS + 2), sizeof *out->columns, e);
    if (!out->columns) return false;
    out->worst = out->columns + out->n_views * VIEW_COLUMNS;
    for (size_t i = 0; i < out->n_views * (VIEW_COLUMNS + 2); i++)
        out->columns[i] = NAN;
    out->bias_v = memory_make(2 * out->n_biases, sizeof *out->bias_v, e);
    if (!out->bias_v) return false;
    out->gain_db = out->bias_v + out->n_biases;
    if (!with_lines) return true;
    out->lines = memory_make(2 * out->n_views, sizeof *out->lines, e);
    out->loci = out->lines ? out->lines + out->n_views : NULL;
    return out->lines != NULL;
}

bool unit_traces_make(struct unit_traces *out, const struct limits *limits,
                      const struct views *views, const struct measurement *m, bool with_lines,
                      struct error *e)
{
    const double centre_hz = traces_centre_hz(limits);
    struct unit_traces made = {.n_views = views->n, .n_biases = limits->n_biases};

    if (!allocate(&made, with_lines, e)) goto failed;
    for (size_t i = 0; i < made.n_biases; i++) {
        const struct bias_sweep *bias = coverage_find_step(limits, m, i);

        made.bias_v[i] = made.gain_db[i] = NAN;
        if (!bias || bias->sweep.n_points == 0) continue;
        made.bias_v[i] = bias->bias_v;
        made.gain_db[i] = gain_at(&bias->sweep, centre_hz);
        for (size_t v = 0; v < views->n; v++)
            if (views->view[v].step == i && !make_view(&made, views, v, bias, e)) goto failed;
    }
    *out = made;
    return true;
failed:
    unit_traces_clear(&made);
    return false;
}

void unit_traces_drop_lines(struct unit_traces *traces)
{
    for (size_t i = 0; traces->lines && i < 2 * traces->n_views; i++)
        memory_free(traces->lines[i].x);
    memory_free(traces->lines);
    traces->lines = traces->loci = NULL;
}

void unit_traces_clear(struct unit_traces *traces)
{
    unit_traces_drop_lines(traces);
    memory_free(traces->columns);
    memory_free(traces->bias_v);
    *traces = (struct unit_traces){0};
}
