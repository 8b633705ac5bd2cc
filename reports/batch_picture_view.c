#include "reports/batch_picture.h"

static bool is_outside_view(const void *context, const struct finding *finding)
{
    const struct view *view = context;

    return view_concerns(view, finding->limit) && (finding->failed_steps >> view->step & 1);
}

/* The bounds, nearly all units, and the last ones and the outsiders as far as they leave room for
 * the others. */
static struct plot_range view_range(const struct batch *batch, size_t v,
                                    const struct spread *spread, const struct outsiders *outside)
{
    const struct view *view = &batch->views->view[v];
    struct plot_range y, keep, lines;
    size_t cursor = 0, unit;
    bool is_outside;

    plot_range_start(&keep);
    plot_range_start(&lines);
    picture_take_bounds(&keep, batch->limits, view);
    y = keep;
    for (size_t i = 0; i < VIEW_COLUMNS; i++) {
        batch_take_most(&y, &spread[i]);
        plot_range_take(&lines, spread[i].lowest);
        plot_range_take(&lines, spread[i].highest);
    }
    while (batch_next_drawn(batch, outside, &cursor, &unit, &is_outside)) {
        const struct trace *all = batch->units[unit].traces->lines;

        if (all) plot_range_take_trace(&lines, &all[v], view->left_hz, view->right_hz);
    }
    batch_widen(&y, &lines);
    picture_finish_range(&y, view, &keep);
    return y;
}

static void draw_units(struct plot *p, const struct batch *batch, size_t v,
                       const struct outsiders *outside)
{
    size_t cursor = 0, unit;
    bool is_outside;

    while (batch_next_drawn(batch, outside, &cursor, &unit, &is_outside)) {
        const struct trace *all = batch->units[unit].traces->lines;

        if (all)
            batch_draw_unit(p, batch, unit, is_outside, &all[v], NULL, is_outside_view,
                            &batch->views->view[v]);
    }
}

bool batch_picture_view(const struct gallery *g, size_t v, struct error *e)
{
    const struct view *view = &g->batch->views->view[v];
    const struct plot_range x = {view->left_hz, view->right_hz};
    struct spread spread[VIEW_COLUMNS];
    double at_hz[VIEW_COLUMNS];
    struct outsiders outside;
    struct plot_range y;
    struct text title = {0}, note = {0};
    struct plot plot;

    if (!spread_of_view(spread, g->batch, v, e)) return false;
    if (!outsiders_find(&outside, g->batch, is_outside_view, view, g->n_pictures, e)) return false;
    for (size_t i = 0; i < VIEW_COLUMNS; i++)
        at_hz[i] = view_column_hz(view, i);
    y = view_range(g->batch, v, spread, &outside);
    picture_view_words(&title, g->batch->limits, view);
    html_need(g->html, &title);
    plot_open(&plot, g->html,
              &(struct plot_words){text_words(&title),
                                   "dB over frequency in MHz: the spread of all units over the "
                                   "bounds, units that failed a limit each for itself.",
                                   "MHz", "dB", 1e6},
              &x, &y);
    picture_draw_bounds(&plot, g->batch->limits, view);
    if (!batch_is_small(g->batch))
        batch_draw_spread(&plot, at_hz, spread, VIEW_COLUMNS, g->batch->n_units);
    draw_units(&plot, g->batch, v, &outside);
    batch_add_left_out(&note, &outside, &plot.names);
    html_need(g->html, &note);
    plot.note = text_words(&note);
    plot_close(&plot);
    text_clear(&note);
    outsiders_clear(&outside);
    text_clear(&title);
    return true;
}
