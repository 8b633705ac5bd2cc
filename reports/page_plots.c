/* The pictures of both pages. */
#include <math.h>
#include <string.h>

#include "reports/page_parts.h"
#include "reports/plot.h"

/* More names than this on one picture cover each other. */
#define MOST_NAMES 6

static bool is_gain(const struct limit *limit)
{
    return limit->quantity->is_magnitude_db && limit->quantity->parameter == S21;
}

bool page_limit_is_drawn(const struct limit *limit)
{
    return is_gain(limit) ||
           (limit->quantity->is_magnitude_db && limit->quantity->parameter == S11);
}

static bool has_failed(const struct finding *finding)
{
    return !finding->accepted && finding->outcome != OUTCOME_INCOMPLETE;
}

/* The lines of some units at some bias steps over the bounds of one limit. */
struct picture {
    const struct limits *limits;
    const struct limit *limit;
    size_t limit_index;
    uint64_t steps; /* set of bias steps, as in struct limit */
    const struct drawn_unit *units;
    size_t n_units;
};

static const struct trace *trace_of(const struct picture *picture, size_t unit, size_t step)
{
    const struct unit_traces *traces = picture->units[unit].traces;

    return is_gain(picture->limit) ? &traces->gain[step] : &traces->input_reflection[step];
}

static bool step_is_drawn(const struct picture *picture, size_t unit, size_t step)
{
    return (picture->steps >> step & 1) && step < picture->units[unit].traces->n_biases &&
           trace_of(picture, unit, step)->n_points > 0;
}

static bool unit_has_failed(const struct picture *picture, size_t unit)
{
    return has_failed(&picture->units[unit].judgement->findings[picture->limit_index]);
}

/* The band of the bounds and a quarter of it on both sides. */
static struct plot_range frequency_range(const struct limit *limit)
{
    const struct bound_line *lines[] = {&limit->lower, &limit->upper};
    struct plot_range x;
    double room;

    plot_range_start(&x);
    for (size_t i = 0; i < 2; i++) {
        if (lines[i]->n_points == 0) continue;
        plot_range_take(&x, lines[i]->frequency_hz[0]);
        plot_range_take(&x, lines[i]->frequency_hz[lines[i]->n_points - 1]);
    }
    room = x.high > x.low ? 0.25 * (x.high - x.low) : 0.05 * x.high;
    x.low = fmax(0, x.low - room);
    x.high += room;
    return x;
}

static void take_bounds(struct plot_range *y, const struct limit *limit)
{
    plot_range_take_line(y, &limit->lower);
    plot_range_take_line(y, &limit->upper);
}

static struct plot_range value_range(const struct picture *picture, const struct plot_range *x)
{
    struct plot_range y;

    plot_range_start(&y);
    take_bounds(&y, picture->limit);
    for (size_t i = 0; i < picture->n_units; i++) {
        for (size_t step = 0; step < picture->limits->n_biases; step++) {
            const struct trace *trace;

            if (!step_is_drawn(picture, i, step)) continue;
            trace = trace_of(picture, i, step);
            for (size_t k = 0; k < trace->n_points; k++)
                if ((double)trace->x[k] >= x->low && (double)trace->x[k] <= x->high)
                    plot_range_take(&y, (double)trace->y[k]);
        }
    }
    /* A needle of a reflection to -80 dB would press everything else together. */
    if (!is_gain(picture->limit)) {
        y.low = fmax(y.low, fmin(-45, y.high - 30));
        take_bounds(&y, picture->limit);
    }
    plot_range_finish(&y);
    return y;
}

/* Names already written, so that the next one keeps clear of them. */
struct names {
    size_t n;
    double heights[MOST_NAMES];
};

static bool is_free(const struct names *names, double height, double clearance)
{
    for (size_t i = 0; i < names->n; i++)
        if (fabs(names->heights[i] - height) < clearance) return false;
    return true;
}

/* Words at the right end of a line, inside the picture, moved down until they are clear. */
static void name_line(struct plot *p, const struct trace *trace, const char *words,
                      struct names *names)
{
    const double clearance = (p->y_to - p->y_from) * 14 / (PLOT_HEIGHT - PLOT_TOP - PLOT_BOTTOM);

    for (size_t k = trace->n_points; k > 0 && names->n < MOST_NAMES; k--) {
        double height = (double)trace->y[k - 1];

        if ((double)trace->x[k - 1] > p->x_to || isnan(height)) continue;
        while (!is_free(names, height, clearance))
            height -= clearance;
        names->heights[names->n++] = height;
        plot_label(p, (double)trace->x[k - 1], height, words);
        return;
    }
}

static void draw_unit(struct plot *p, const struct picture *picture, size_t unit)
{
    const char *serial = picture->units[unit].judgement->serial;
    const bool failed = unit_has_failed(picture, unit), alone = picture->n_units == 1;
    const char *look = failed ? "failed" : alone ? "strong" : "data";

    for (size_t step = 0; step < picture->limits->n_biases; step++) {
        struct text title = {0};

        if (!step_is_drawn(picture, unit, step)) continue;
        text_addf(&title, "%s at bias %s%s", serial, picture->limits->biases[step].id,
                  failed ? ", failed this limit" : "");
        plot_trace(p, trace_of(picture, unit, step), look, text_words(&title));
        plot_key(p, look,
                 failed  ? "failed this limit"
                 : alone ? "this unit"
                         : "did not fail this limit");
        text_clear(&title);
    }
}

/* Names the failed units; one unit alone has its bias steps named and its worst place marked. */
static void name_lines(struct plot *p, const struct picture *picture)
{
    const bool alone = picture->n_units == 1;
    struct names names = {0};

    for (size_t i = 0; i < picture->n_units; i++) {
        if (!alone && !unit_has_failed(picture, i)) continue;
        /* From the top, as gain rises with bias: names that move do so into free space below. */
        for (size_t step = picture->limits->n_biases; step-- > 0;) {
            if (!step_is_drawn(picture, i, step)) continue;
            name_line(p, trace_of(picture, i, step),
                      alone ? picture->limits->biases[step].id
                            : picture->units[i].judgement->serial,
                      &names);
            if (!alone) break;
        }
    }
    if (alone) {
        const struct finding *finding =
            &picture->units[0].judgement->findings[picture->limit_index];

        plot_marker(p, finding->frequency_hz, finding->value,
                    has_failed(finding) ? "failed" : "worst", "worst");
    }
}

/* "gain-high: gain at bias high (3 V)", or "match: input reflection over frequency" when more than
 * one step is drawn. */
static void add_title(struct text *out, const struct picture *picture)
{
    const struct limits *limits = picture->limits;
    size_t n = 0, only = 0;
    char volts[VALUE_TEXT];

    for (size_t step = 0; step < limits->n_biases; step++)
        if (picture->steps >> step & 1) n++, only = step;
    text_addf(out, "%s: %s ", picture->limit->id, picture->limit->quantity->words);
    if (n == 1)
        text_addf(out, "at bias %s (%s)", limits->biases[only].id,
                  value_words(limits->biases[only].at_v, UNIT_V, volts));
    else
        text_add(out, "over frequency");
}

static void draw_bounds(struct plot *p, const struct limit *limit)
{
    plot_bound(p, &limit->lower, true, "lower bound");
    plot_bound(p, &limit->upper, false, "upper bound");
    plot_key(p, "bound", "bound, shaded side forbidden");
}

void page_plot_limit(struct html *h, const struct limits *limits, size_t limit, uint64_t steps,
                     const struct drawn_unit *units, size_t n_units)
{
    const struct picture picture = {limits, &limits->limits[limit],
                                    limit,  limits->limits[limit].biases & steps,
                                    units,  n_units};
    struct plot_range x = frequency_range(picture.limit), y = value_range(&picture, &x);
    struct text title = {0}, description = {0};
    struct plot plot;

    add_title(&title, &picture);
    text_addf(
        &description,
        "%s in dB over frequency in MHz; the bounds of the limit are drawn with their forbidden "
        "side shaded, units that failed it at this bias step or another are dashed.",
        picture.limit->quantity->words);
    plot_open(&plot, h,
              &(struct plot_words){text_words(&title), text_words(&description), "MHz", "dB", 1e6},
              &x, &y);
    draw_bounds(&plot, picture.limit);
    /* What failed comes last and lies on top. */
    for (int failed = 0; failed < 2; failed++)
        for (size_t i = 0; i < n_units; i++)
            if (unit_has_failed(&picture, i) == (failed == 1)) draw_unit(&plot, &picture, i);
    name_lines(&plot, &picture);
    plot_close(&plot);
    text_clear(&title);
    text_clear(&description);
}

/* Gain over bias as a line of at most CEILING_BIAS_STEPS points; false with fewer than two. */
static bool bias_trace(const struct unit_traces *traces, float *x, float *y, struct trace *out)
{
    *out = (struct trace){0, x, y};
    for (size_t i = 0; i < traces->n_biases; i++) {
        if (isnan(traces->gain_db[i])) continue;
        out->x[out->n_points] = (float)traces->bias_v[i];
        out->y[out->n_points++] = (float)traces->gain_db[i];
    }
    return out->n_points >= 2;
}

/* The units' lines, those that failed last and on top. */
static void draw_bias_lines(struct plot *p, const struct drawn_unit *units, size_t n_units)
{
    float x_room[CEILING_BIAS_STEPS], y_room[CEILING_BIAS_STEPS];
    const bool alone = n_units == 1;
    struct names names = {0};
    struct trace trace;

    for (int failed = 0; failed < 2; failed++) {
        for (size_t i = 0; i < n_units; i++) {
            const bool is_failed = units[i].judgement->n_failed > 0;
            const char *look = is_failed ? "failed" : alone ? "strong" : "data";

            if (is_failed != (failed == 1) || !bias_trace(units[i].traces, x_room, y_room, &trace))
                continue;
            plot_trace(p, &trace, look, units[i].judgement->serial);
            plot_key(p, look,
                     is_failed ? "failed some limit"
                     : alone   ? "this unit"
                               : "failed no limit");
            if (is_failed && !alone) name_line(p, &trace, units[i].judgement->serial, &names);
        }
    }
}

void page_plot_bias(struct html *h, const struct limits *limits, const struct drawn_unit *units,
                    size_t n_units)
{
    float x_room[CEILING_BIAS_STEPS], y_room[CEILING_BIAS_STEPS];
    struct plot_range x, y;
    struct trace trace;
    struct text title = {0};
    char at[VALUE_TEXT];
    struct plot plot;

    plot_range_start(&x);
    plot_range_start(&y);
    for (size_t i = 0; i < n_units; i++) {
        if (!bias_trace(units[i].traces, x_room, y_room, &trace)) continue;
        plot_range_take_trace(&y, &trace);
        plot_range_take(&x, (double)trace.x[0]);
        plot_range_take(&x, (double)trace.x[trace.n_points - 1]);
    }
    if (!(x.low < x.high)) return;
    plot_range_finish(&x);
    plot_range_finish(&y);
    text_addf(&title, "Gain against bias at %s",
              value_rounded(traces_centre_hz(limits), UNIT_HZ, at));
    plot_open(&plot, h,
              &(struct plot_words){text_words(&title),
                                   "Gain in dB over the bias in volts, a line a unit; units that "
                                   "failed any limit are dashed.",
                                   "V", "dB", 1},
              &x, &y);
    draw_bias_lines(&plot, units, n_units);
    plot_close(&plot);
    text_clear(&title);
}
