#include <math.h>

#include "drivers/base/memory.h"
#include "reports/batch_picture.h"

/* What puts a unit outside on a Smith chart: any limit on S11 alone at this bias step. */
static bool is_outside_chart(const void *context, const struct finding *finding)
{
    const struct view *view = context;

    return view_concerns(view, finding->limit) && (finding->failed_steps >> view->step & 1);
}

/* Every unit's S11 where it is largest, as pairs; NaN where not measured. */
static float *gather(const struct batch *batch, size_t v, struct error *e)
{
    float *points = memory_make(2 * batch->n_units, sizeof *points, e);

    for (size_t i = 0; points && i < batch->n_units; i++) {
        points[2 * i] = batch->units[i].traces->worst[2 * v];
        points[2 * i + 1] = batch->units[i].traces->worst[2 * v + 1];
    }
    return points;
}

static bool has_points(const float *points, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!isnan(points[2 * i]) && !isnan(points[2 * i + 1])) return true;
    return false;
}

/* The limit's circle with room around it, and 99 % of the units; a few may lie outside the window,
 * where their numbers tell more. */
static double find_reach(const float *points, size_t n, double circle, struct error *e)
{
    float *sizes = memory_make(n, sizeof *sizes, e);
    struct spread spread;

    if (!sizes) return NAN;
    for (size_t i = 0; i < n; i++)
        sizes[i] = hypotf(points[2 * i], points[2 * i + 1]);
    spread_of(&spread, sizes, n);
    memory_free(sizes);
    return smith_reach(fmax(1.3 * circle, spread.high));
}

static void draw_unit(struct smith *s, const struct trace *locus, bool is_outside,
                      const char *serial)
{
    struct plot_sight sight;

    if (smith_is_outside(s, locus, &sight)) {
        plot_arrow(s->html, &s->names, &sight, is_outside ? "arrow" : "arrow-data", serial);
        smith_key(s, is_outside ? "arrow" : "arrow-data",
                  is_outside ? BATCH_ARROW_FAILED : BATCH_ARROW);
        return;
    }
    smith_trace(s, locus, is_outside ? "failed" : "data", NULL);
    smith_name(s, locus, is_outside ? "mark" : "mark later", serial);
    smith_key(s, is_outside ? "failed" : "data",
              is_outside ? "failed a limit, over the band" : "a unit over the band");
}

static void draw_outsiders(struct smith *s, const struct batch *batch, size_t v,
                           const struct outsiders *outside)
{
    size_t cursor = 0, unit;
    bool is_outside;

    while (batch_next_drawn(batch, outside, &cursor, &unit, &is_outside)) {
        const struct batch_unit *drawn = &batch->units[unit];
        const struct trace *loci = drawn->traces->loci;

        if (!loci || loci[v].n_points == 0) continue;
        outsider_open(s->html, batch, drawn, is_outside_chart, &batch->views->view[v]);
        draw_unit(s, &loci[v], is_outside, drawn->judgement->serial);
        html_close(s->html);
    }
}

static bool write_chart(const struct gallery *g, size_t v, const float *points,
                        const struct outsiders *outside, struct error *e)
{
    const struct view *view = &g->batch->views->view[v];
    const struct limits *limits = g->batch->limits;
    const double reach = find_reach(points, g->batch->n_units, picture_circle(limits, view), e);
    struct text title = {0}, note = {0};
    struct smith smith;
    char volts[VALUE_TEXT];
    bool ok;

    if (isnan(reach)) return false;
    text_addf(&title, "input impedance at bias %s (%s)", limits->biases[view->step].id,
              value_words(limits->biases[view->step].at_v, UNIT_V, volts));
    html_need(g->html, &title);
    smith_open(&smith, g->html, text_words(&title),
               "Smith chart of the input: for every unit a dot where its reflection is largest "
               "within the band, and the limit's circle.",
               reach, limits->impedance_ohm);
    picture_draw_circles(&smith, limits, view);
    ok = smith_dots(&smith, points, g->batch->n_units, "dot", e);
    if (has_points(points, g->batch->n_units))
        smith_key(&smith, "dot", "a unit, where its reflection is largest");
    draw_outsiders(&smith, g->batch, v, outside);
    batch_add_left_out(&note, outside, &smith.names);
    html_need(g->html, &note);
    smith.note = text_words(&note);
    smith_close(&smith);
    text_clear(&note);
    text_clear(&title);
    return ok;
}

bool batch_picture_smith(const struct gallery *g, size_t v, struct error *e)
{
    float *points = gather(g->batch, v, e);
    struct outsiders outside;
    bool ok;

    if (!points) return false;
    ok = outsiders_find(&outside, g->batch, is_outside_chart, &g->batch->views->view[v],
                        g->n_pictures, e);
    if (ok) {
        ok = write_chart(g, v, points, &outside, e);
        outsiders_clear(&outside);
    }
    memory_free(points);
    return ok;
}
