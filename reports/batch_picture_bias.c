#include <math.h>

#include "reports/batch_picture.h"

static bool is_outside_bias(const void *context, const struct finding *finding)
{
    const struct quantity *quantity = finding->limit->quantity;

    (void)context;
    return picture_is_of_bias(finding->limit) ||
           (quantity->is_magnitude_db && quantity->parameter == S21);
}

static void draw_units(struct plot *p, const struct batch *batch, const struct outsiders *outside)
{
    float x[CEILING_BIAS_STEPS], y[CEILING_BIAS_STEPS];
    float parts_x[2 * CEILING_BIAS_STEPS], parts_y[2 * CEILING_BIAS_STEPS];
    size_t cursor = 0, unit;
    bool is_outside;

    while (batch_next_drawn(batch, outside, &cursor, &unit, &is_outside)) {
        const struct batch_unit *drawn = &batch->units[unit];
        const struct trace trace = picture_bias_trace(drawn->traces, x, y);
        const struct trace parts =
            picture_failed_parts(batch->limits, drawn->judgement, drawn->traces, parts_x, parts_y);

        batch_draw_unit(p, batch, unit, is_outside, &trace, &parts, is_outside_bias, NULL);
    }
}

/* Nearly all units and the wedges; the last ones and the outsiders as far as they leave room. */
static struct plot_range gain_range(const struct batch *batch, const struct spread *spread,
                                    const double *bias_v, const double *median,
                                    const struct outsiders *outside)
{
    float trace_x[CEILING_BIAS_STEPS], trace_y[CEILING_BIAS_STEPS];
    struct plot_range y, lines;
    size_t cursor = 0, unit;
    bool is_outside;

    plot_range_start(&y);
    plot_range_start(&lines);
    for (size_t i = 0; i < batch->limits->n_biases; i++) {
        batch_take_most(&y, &spread[i]);
        plot_range_take(&lines, spread[i].lowest);
        plot_range_take(&lines, spread[i].highest);
    }
    picture_take_wedges(&y, batch->limits, bias_v, median);
    while (batch_next_drawn(batch, outside, &cursor, &unit, &is_outside)) {
        const struct trace trace = picture_bias_trace(batch->units[unit].traces, trace_x, trace_y);

        plot_range_take_trace(&lines, &trace, -INFINITY, INFINITY);
    }
    batch_widen(&y, &lines);
    plot_range_finish(&y);
    return y;
}

/* The range of the bias; false when there are fewer than two steps with a gain. */
static bool bias_range(const struct limits *limits, const struct spread *spread, double *bias_v,
                       double *median, struct plot_range *x)
{
    plot_range_start(x);
    for (size_t i = 0; i < limits->n_biases; i++) {
        bias_v[i] = limits->biases[i].at_v;
        median[i] = spread[i].median;
        if (!isnan(median[i])) plot_range_take(x, bias_v[i]);
    }
    if (!(x->low < x->high)) return false;
    plot_range_finish(x);
    return true;
}

/* The wedges begin at the batch's median. */
bool batch_picture_bias(const struct gallery *g, struct error *e)
{
    const struct limits *limits = g->batch->limits;
    struct spread spread[CEILING_BIAS_STEPS];
    double bias_v[CEILING_BIAS_STEPS], median[CEILING_BIAS_STEPS];
    struct plot_range x, y;
    struct outsiders outside;
    struct text title = {0}, note = {0};
    struct plot plot;

    if (!spread_of_bias(spread, g->batch, e)) return false;
    if (!bias_range(limits, spread, bias_v, median, &x)) return true;
    if (!outsiders_find(&outside, g->batch, is_outside_bias, NULL, g->n_pictures, e)) return false;
    y = gain_range(g->batch, spread, bias_v, median, &outside);
    picture_bias_words(&title, limits);
    html_need(g->html, &title);
    plot_open(&plot, g->html,
              &(struct plot_words){text_words(&title),
                                   "Gain in dB over the bias in volts: the spread of all units, "
                                   "as wedges where slope limits let the gain go from the "
                                   "median at the step before, and as bars where range limits "
                                   "let it end.",
                                   "V", "dB", 1},
              &x, &y);
    picture_draw_wedges(&plot, limits, bias_v, median);
    if (!batch_is_small(g->batch))
        batch_draw_spread(&plot, bias_v, spread, limits->n_biases, g->batch->n_units);
    draw_units(&plot, g->batch, &outside);
    batch_add_left_out(&note, &outside, &plot.names);
    html_need(g->html, &note);
    plot.note = text_words(&note);
    plot_close(&plot);
    text_clear(&note);
    outsiders_clear(&outside);
    text_clear(&title);
    return true;
}
