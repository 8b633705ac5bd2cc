#include <math.h>

#include "drivers/base/memory.h"
#include "limits/statistics.h"
#include "limits/yield.h"
#include "reports/limit_charts.h"

/* Values beyond the chart's limits that get a ring. */
#define MOST_RINGS 40
/* Up to here every value is a dot of its own. */
#define MOST_DOTS ((size_t)300)
/* Failed units that get a mark. */
#define MOST_FAILED 100
/* A cross, from its middle. */
#define CROSS_HALF 4

/* The mean distance inside the bound in mean moving ranges, which go with the deviation. Where all
 * values are the same the range is next to nothing, and the distance decides. */
static double room_inside(const struct limit_side *side, size_t n)
{
    struct individuals chart;

    individuals_of(&chart, side->margin, n);
    return chart.mean / fmax(chart.mean_range, 1e-9);
}

/* The side that lies nearer to its bound in its own deviations: the one that will fail first. */
static const struct limit_side *tighter(const struct limit_series *series, bool *is_lower)
{
    *is_lower = !series->upper.is_bounded;
    if (series->lower.is_bounded && series->upper.is_bounded)
        *is_lower =
            !(room_inside(&series->upper, series->n) < room_inside(&series->lower, series->n));
    return *is_lower ? &series->lower : &series->upper;
}

/* The lowest and the highest value of every stretch in a line of `MOST_DOTS` points. */
static void reduce(const double *values, size_t n, struct trace *out)
{
    const size_t stretches = MOST_DOTS / 2;

    for (size_t k = 0; k < stretches; k++) {
        const size_t from = k * n / stretches, to = (k + 1) * n / stretches;
        size_t low = to, high = to;

        for (size_t i = from; i < to; i++) {
            if (isnan(values[i])) continue;
            if (low == to || values[i] < values[low]) low = i;
            if (high == to || values[i] > values[high]) high = i;
        }
        for (size_t i = from; i < to; i++) {
            if (i != low && i != high) continue;
            out->x[out->n_points] = (float)(i + 1);
            out->y[out->n_points++] = (float)values[i];
        }
    }
}

static void draw_values(struct plot *p, const double *values, size_t n)
{
    float x[MOST_DOTS], y[MOST_DOTS];
    struct trace trace = {0, x, y};

    if (n > MOST_DOTS) {
        reduce(values, n, &trace);
    } else {
        for (size_t i = 0; i < n; i++) {
            x[i] = (float)(i + 1);
            y[i] = (float)values[i];
        }
        trace.n_points = n;
    }
    plot_trace(p, &trace, "run", NULL);
    /* The line tells the order, dots tell the units. */
    for (size_t i = 0; n <= MOST_DOTS && i < n; i++)
        if (!isnan(y[i])) svg_path_dot(&p->path, plot_x(p, (double)x[i]), plot_y(p, (double)y[i]));
    if (p->path.d.length > 0 || p->path.d.failed) plot_path(p->html, &p->path, "dot", NULL);
    svg_path_reset(&p->path);
}

static void draw_limits(struct plot *p, const struct individuals *chart)
{
    const double lines[] = {chart->mean, chart->low, chart->high};

    for (size_t i = 0; i < 3; i++)
        if (isfinite(lines[i]))
            plot_line(p, p->x_from, lines[i], p->x_to, lines[i], i == 0 ? "mean" : "natural");
    if (!isfinite(chart->low)) return;
    plot_key(p, "mean", "mean");
    plot_key(p, "natural", "3 sigma by moving ranges (d2 = 1.128): not the acceptance limits");
}

/* Says what the picture leaves out: values further out than it reaches, and rings. */
static void add_note(struct text *out, const struct plot *p, const double *values, size_t n,
                     const struct individuals *chart)
{
    size_t n_out = 0, n_beyond = 0;

    for (size_t i = 0; i < n; i++) {
        n_out += values[i] < p->y_from || values[i] > p->y_to;
        n_beyond += values[i] < chart->low || values[i] > chart->high;
    }
    if (n_out > 0) text_addf(out, "%zu further out than the picture reaches. ", n_out);
    if (n_beyond > MOST_RINGS)
        text_addf(out, "%zu values are beyond 3 sigma; the first %d have a ring.", n_beyond,
                  MOST_RINGS);
}

static void draw_rings(struct plot *p, const double *values, size_t n,
                       const struct individuals *chart)
{
    size_t n_rings = 0;

    for (size_t i = 0; i < n && n_rings < MOST_RINGS; i++) {
        if (!(values[i] < chart->low) && !(values[i] > chart->high)) continue;
        plot_marker(p, (double)(i + 1), values[i], "beyond", NULL);
        n_rings++;
    }
}

/* What the series' limit says of a unit; NULL when nobody judged it. */
static const struct finding *finding_of(const struct limit_series *series, size_t i)
{
    const struct judgement *judgement = series->judgements ? series->judgements[i] : NULL;

    for (size_t k = 0; judgement && k < judgement->n_findings; k++)
        if (judgement->findings[k].limit == series->limit) return &judgement->findings[k];
    return NULL;
}

/* A cross at a unit's value with its serial number, or an arrow at the frame. */
static void draw_failed_unit(struct plot *p, const char *serial, double x, double y)
{
    const double at_x = plot_x(p, x), at_y = plot_y(p, y);
    float place[2] = {(float)x, (float)y};
    const struct trace point = {1, &place[0], &place[1]};
    struct plot_sight sight;

    html_open(p->html, "g");
    html_attribute(p->html, "class", "unit");
    html_element(p->html, "title", NULL, serial);
    if (plot_is_outside(p, &point, &sight)) {
        plot_arrow(p->html, &p->names, &sight, "arrow", serial);
        plot_key(p, "arrow", "failed this limit, outside this picture");
    } else {
        svg_path_move(&p->path, at_x - CROSS_HALF, at_y - CROSS_HALF);
        svg_path_line(&p->path, at_x + CROSS_HALF, at_y + CROSS_HALF);
        svg_path_move(&p->path, at_x + CROSS_HALF, at_y - CROSS_HALF);
        svg_path_line(&p->path, at_x - CROSS_HALF, at_y + CROSS_HALF);
        plot_path(p->html, &p->path, "failed-unit", NULL);
        svg_path_reset(&p->path);
        plot_key(p, "failed-unit", "failed this limit");
    }
    html_close(p->html);
}

static void draw_failed(struct plot *p, const struct limit_series *series, const double *values,
                        struct text *note)
{
    size_t n_failed = 0;

    for (size_t i = 0; i < series->n; i++) {
        const struct finding *finding = finding_of(series, i);

        if (!finding || !finding_has_failed(finding) || isnan(values[i])) continue;
        if (n_failed++ < MOST_FAILED)
            draw_failed_unit(p, series->judgements[i]->serial, (double)(i + 1), values[i]);
    }
    plot_names_add_beyond(&p->names, note);
    if (n_failed > MOST_FAILED)
        text_addf(note, "%zu units failed this limit; the first %d are marked. ", n_failed,
                  MOST_FAILED);
}

static void draw_guard(struct plot *p, const struct limit_side *side)
{
    const double x[2] = {p->x_from, p->x_to};
    const double low[2] = {fmin(side->bound, side->guarded), fmin(side->bound, side->guarded)};
    const double high[2] = {fmax(side->bound, side->guarded), fmax(side->bound, side->guarded)};

    if (!(low[0] < high[0])) return;
    plot_area(p, x, low, high, 2, "guard", "guard band");
    plot_key(p, "guard", "guard band");
}

/* Both acceptance limits, whichever side is shown: a value outside either is a failure. */
static void draw_bounds(struct plot *p, const struct limit_series *series)
{
    const struct limit_side *const sides[] = {&series->lower, &series->upper};

    for (size_t k = 0; k < 2; k++) {
        double x[2] = {p->x_from, p->x_to}, value[2] = {sides[k]->bound, sides[k]->bound};
        const struct bound_line line = {2, x, value};

        if (!sides[k]->is_bounded || (k == 1 && series->is_margin && series->lower.is_bounded))
            continue;
        draw_guard(p, sides[k]);
        plot_bound(p, &line, k == 0 || series->is_margin, "acceptance limit");
        plot_key(p, "bound", "acceptance limit");
    }
}

static void write_title(struct text *out, const struct limit_series *series, bool is_lower)
{
    text_addf(out, "%s: %s%s from unit to unit", series->limit->id,
              series->is_margin ? "margin of the " : "", series->limit->quantity->words);
    if (series->lower.is_bounded && series->upper.is_bounded)
        text_addf(out, ", %s", chart_side_words(series, is_lower));
}

bool chart_individuals(struct html *h, const struct limit_series *series, const char *order,
                       struct error *e)
{
    const enum unit unit = series->limit->quantity->unit;
    bool is_lower;
    const struct limit_side *side = tighter(series, &is_lower);
    /* Room for four at least: ticks between units are none. */
    const struct plot_range x = {0.5, fmax((double)series->n, 4) + 0.5};
    struct individuals chart;
    struct plot_range y;
    struct text title = {0}, note = {0};
    struct plot plot;

    individuals_of(&chart, side->value, series->n);
    plot_range_start(&y);
    chart_take_bounds(&y, series);
    plot_range_take(&y, chart.low);
    plot_range_take(&y, chart.high);
    if (!chart_take_values(&y, &side, 1, series->n, e)) return false;
    plot_range_finish(&y);
    write_title(&title, series, is_lower);
    html_need(h, &title);
    plot_open(&plot, h,
              &(struct plot_words){text_words(&title),
                                   "The values of the units one after the other, their mean, and "
                                   "the limits of an individuals chart, which say what the "
                                   "process does by itself and not what is accepted.",
                                   order, unit == UNIT_ONE ? "" : unit_name(unit), 1},
              &x, &y);
    draw_bounds(&plot, series);
    draw_limits(&plot, &chart);
    draw_values(&plot, side->value, series->n);
    draw_rings(&plot, side->value, series->n, &chart);
    draw_failed(&plot, series, side->value, &note);
    add_note(&note, &plot, side->value, series->n, &chart);
    html_need(h, &note);
    plot.note = text_words(&note);
    plot_close(&plot);
    text_clear(&note);
    text_clear(&title);
    return true;
}
