#include "reports/batch_picture.h"

#include <math.h>

bool batch_is_small(const struct batch *batch)
{
    return batch->n_units < BATCH_SMALL;
}

/* Whether the unit is one of the outsiders that the picture holds. */
static bool is_listed(const struct outsiders *outside, size_t unit)
{
    for (size_t i = 0; i < outside->n_drawn; i++)
        if (outside->list[i].unit == unit) return true;
    return false;
}

bool batch_next_drawn(const struct batch *batch, const struct outsiders *outside, size_t *cursor,
                      size_t *unit, bool *is_outside)
{
    const size_t n_inside = batch_is_small(batch) ? batch->n_units : 0;

    while (*cursor < n_inside && is_listed(outside, *cursor))
        ++*cursor;
    *is_outside = *cursor >= n_inside;
    if (*is_outside && *cursor - n_inside >= outside->n_drawn) return false;
    *unit = *is_outside ? outside->list[*cursor - n_inside].unit : *cursor;
    ++*cursor;
    return true;
}

void batch_draw_spread(struct plot *p, const double *x, const struct spread *spread, size_t n,
                       size_t n_units)
{
    const bool all = n_units < 99;

    double low[VIEW_COLUMNS] = {0}, high[VIEW_COLUMNS] = {0};
    float line_x[VIEW_COLUMNS], line_y[VIEW_COLUMNS];
    struct trace line = {n, line_x, line_y};
    bool is_empty = true;

    for (size_t i = 0; i < n; i++)
        is_empty = is_empty && isnan(spread[i].median);
    if (is_empty) return;
    for (size_t i = 0; i < n; i++) {
        low[i] = all ? spread[i].lowest : spread[i].low;
        high[i] = all ? spread[i].highest : spread[i].high;
    }
    plot_area(p, x, low, high, n, "most", all ? "all units" : "middle 98 % of the units");
    for (size_t i = 0; i < n; i++)
        low[i] = spread[i].quarter, high[i] = spread[i].three_quarters;
    plot_area(p, x, low, high, n, "half", "middle 50 % of the units");
    for (int edge = 0; edge < 3; edge++) {
        for (size_t i = 0; i < n; i++) {
            line_x[i] = (float)x[i];
            line_y[i] = (float)(edge == 0   ? spread[i].lowest
                                : edge == 1 ? spread[i].highest
                                            : spread[i].median);
        }
        if (edge == 2 || !all) plot_trace(p, &line, edge < 2 ? "edge" : "median", NULL);
    }
    plot_key(p, "median", "median");
    plot_key(p, "half", "middle 50 %");
    plot_key(p, "most", all ? "all units" : "middle 98 %");
    if (!all) plot_key(p, "edge", "lowest and highest");
}

void batch_draw_unit(struct plot *p, const struct batch *batch, size_t unit, bool is_outside,
                     const struct trace *trace, const struct trace *failed_parts,
                     outsiders_concern *concerns, const void *picture)
{
    const bool has_parts = failed_parts && failed_parts->n_points > 0;
    const char *const serial = batch->units[unit].judgement->serial;
    struct plot_sight sight;
    bool is_seen;

    if (trace->n_points == 0) return;
    is_seen = !plot_is_outside(p, trace, &sight);
    outsider_open(p->html, batch, &batch->units[unit], concerns, picture);
    if (is_seen) {
        plot_trace(p, trace, is_outside ? "failed" : "data", NULL);
        if (has_parts) plot_trace(p, failed_parts, "failed-part", NULL);
        if (is_outside || batch_is_small(batch)) plot_name(p, trace, serial);
    } else {
        plot_arrow(p->html, &p->names, &sight, is_outside ? "arrow" : "arrow-data", serial);
    }
    html_close(p->html);
    if (is_seen)
        plot_key(p, is_outside ? "failed" : "data",
                 is_outside ? "failed a limit" : "a unit that failed none here");
    else
        plot_key(p, is_outside ? "arrow" : "arrow-data",
                 is_outside ? BATCH_ARROW_FAILED : BATCH_ARROW);
    if (is_seen && has_parts) plot_key(p, "failed-part", PICTURE_FAILED_PART);
}

void batch_take_most(struct plot_range *y, const struct spread *spread)
{
    const double room = 3 * (spread->three_quarters - spread->quarter);

    plot_range_take(y, fmax(spread->low, spread->quarter - room));
    plot_range_take(y, fmin(spread->high, spread->three_quarters + room));
}

void batch_widen(struct plot_range *y, const struct plot_range *lines)
{
    const double room = y->high - y->low, least = y->low - room, most = y->high + room;

    if (!(lines->low <= lines->high)) return;
    if (!(room > 0)) {
        plot_range_take(y, lines->low);
        plot_range_take(y, lines->high);
        return;
    }
    /* Both ends on both sides: all lines may lie far below. */
    plot_range_take(y, fmin(fmax(lines->low, least), most));
    plot_range_take(y, fmin(fmax(lines->high, least), most));
}

void batch_add_left_out(struct text *out, const struct outsiders *outside,
                        const struct plot_names *names)
{
    if (outside->n > outside->n_drawn)
        text_addf(out,
                  "%zu units failed a limit of this picture. The %zu furthest out are drawn one by "
                  "one; the others are in the picture of all units only, and in the table. ",
                  outside->n, outside->n_drawn);
    plot_names_add_beyond(names, out);
    if (names->n_later > 0)
        text_addf(out, "%zu more %s named in the table of units. ", names->n_later,
                  names->n_later == 1 ? "is" : "are");
}
