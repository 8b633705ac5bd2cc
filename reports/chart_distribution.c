#include "reports/limit_charts.h"

#include <math.h>
#include <stdlib.h>

#include "drivers/base/memory.h"
#include "limits/statistics.h"
#include "reports/batch_picture.h"

#define MOST_BINS 30
#define LEAST_BINS 8
/* Bins get narrower by half at most when they are laid on the bounds, and stand out on both sides.
 */
#define ROOM_FOR_BINS (2 * MOST_BINS + 2)

/* Whether both sides tell the same value of every unit: one value, two bounds. */
static bool sides_agree(const struct limit_series *series)
{
    if (series->is_margin) return false;
    for (size_t i = 0; i < series->n; i++)
        if (fabs(series->lower.value[i] - series->upper.value[i]) > 1e-9) return false;
    return true;
}

/* The rows that are drawn: one or two sides. */
static size_t pick_sides(const struct limit_series *series, const struct limit_side *sides[2])
{
    size_t n = 0;

    if (series->lower.is_bounded) sides[n++] = &series->lower;
    if (series->upper.is_bounded && !(n == 1 && sides_agree(series))) sides[n++] = &series->upper;
    return n;
}

bool chart_take_values(struct plot_range *range, const struct limit_side *const *sides,
                       size_t n_sides, size_t n, struct error *e)
{
    float *row = memory_make(n_sides * n, sizeof *row, e);
    struct spread spread;

    if (!row) return false;
    for (size_t i = 0; i < n_sides * n; i++)
        row[i] = (float)sides[i / n]->value[i % n];
    spread_of(&spread, row, n_sides * n);
    memory_free(row);
    batch_take_most(range, &spread);
    batch_widen(range, &(struct plot_range){spread.lowest, spread.highest});
    return true;
}

void chart_take_bounds(struct plot_range *range, const struct limit_series *series)
{
    plot_range_take(range, series->lower.bound);
    plot_range_take(range, series->lower.guarded);
    plot_range_take(range, series->upper.bound);
    plot_range_take(range, series->upper.guarded);
}

const char *chart_side_words(const struct limit_series *series, bool is_lower)
{
    if (series->is_margin)
        return is_lower ? "margin to the lower bound" : "margin to the upper bound";
    return is_lower ? "lowest value of each unit" : "highest value of each unit";
}

struct bins {
    size_t n, most; /* how many; the fullest */
    double from, width;
    size_t count[ROOM_FOR_BINS];
    size_t below, above; /* values beyond the picture */
};

/* Bins over a range whose edges lie on the bounds, so that none holds units of both sides of one. A
 * range is widened to whole bins. Where two bounds are closer together than half a bin, only the
 * lower is an edge. */
static void lay_bins(struct bins *out, const struct limit_series *series, size_t n,
                     struct plot_range *x)
{
    const double gap = series->is_margin ? NAN : series->upper.bound - series->lower.bound;
    const double anchor = series->lower.is_bounded ? series->lower.bound : series->upper.bound;
    double width = (x->high - x->low) / (double)n;

    if (gap >= width / 2) width = gap / fmax(1, floor(gap / width));
    *out = (struct bins){.width = width};
    out->from = anchor - ceil((anchor - x->low) / width) * width;
    out->n = (size_t)fmin(ceil((x->high - out->from) / width), ROOM_FOR_BINS);
    x->low = out->from;
    x->high = out->from + width * (double)out->n;
}

/* The bin of a value. Rounding must not carry it over a bound, and what is on one is inside. */
static double place_of(const struct bins *bins, const struct limit_series *series, double value)
{
    const struct limit_side *const sides[] = {&series->lower, &series->upper};
    double place = floor((value - bins->from) / bins->width);

    for (size_t k = 0; k < 2 && !isnan(place); k++) {
        const bool is_lower = k == 0 || series->is_margin;
        const double bound = sides[k]->bound, at = (bound - bins->from) / bins->width;
        const double edge = round(at);

        if (!sides[k]->is_bounded || fabs(at - edge) > 1e-6) continue;
        if (is_lower ? value >= bound : value > bound)
            place = fmax(place, edge);
        else
            place = fmin(place, edge - 1);
    }
    return place;
}

static void fill_bins(struct bins *bins, const struct limit_series *series,
                      const struct limit_side *side)
{
    for (size_t i = 0; i < series->n; i++) {
        const double place = place_of(bins, series, side->value[i]);

        if (isnan(place)) continue;
        if (place < 0) {
            bins->below++;
        } else if (place >= (double)bins->n) {
            bins->above++;
        } else {
            size_t *count = &bins->count[(size_t)place];

            ++*count;
            if (*count > bins->most) bins->most = *count;
        }
    }
}

/* Bars as one path: the corners of every bar that is not empty. */
static void draw_bins(struct plot *p, const struct bins *bins, const char *class_name,
                      const char *title)
{
    double x[2], low[2] = {0, 0}, high[2];

    html_open(p->html, "g");
    html_element(p->html, "title", NULL, title);
    for (size_t i = 0; i < bins->n; i++) {
        if (bins->count[i] == 0) continue;
        x[0] = bins->from + bins->width * ((double)i + 0.06);
        x[1] = bins->from + bins->width * ((double)i + 0.94);
        high[0] = high[1] = (double)bins->count[i];
        plot_area(p, x, low, high, 2, class_name, NULL);
    }
    html_close(p->html);
}

/* Says what lies beyond the picture, at that side of it; each row of bins on a line of its own. */
static void write_beyond(struct plot *p, const struct bins *bins, size_t row)
{
    const double height = PLOT_TOP + 14 * ((double)row + 1);
    struct text words = {0};

    if (bins->below > 0) {
        text_addf(&words, "%zu further out", bins->below);
        html_need(p->html, &words);
        plot_words_at(p->html, "mark", "start", PLOT_LEFT + 4, height, text_words(&words));
    }
    text_reset(&words);
    if (bins->above > 0) {
        text_addf(&words, "%zu further out", bins->above);
        html_need(p->html, &words);
        plot_words_at(p->html, "mark", "end", PLOT_WIDTH - PLOT_RIGHT - 4, height,
                      text_words(&words));
    }
    text_clear(&words);
}

static void draw_side_bounds(struct plot *p, const struct limit_series *series)
{
    const struct limit_side *const sides[] = {&series->lower, &series->upper};

    for (size_t k = 0; k < 2; k++) {
        const struct limit_side *side = sides[k];
        /* On the axis of margins inside is above, whatever the side. */
        const bool is_lower = k == 0 || series->is_margin;
        const double x[2] = {fmin(side->bound, side->guarded), fmax(side->bound, side->guarded)};
        const double low[2] = {p->y_from, p->y_from}, high[2] = {p->y_to, p->y_to};

        if (!side->is_bounded || (k == 1 && series->is_margin && series->lower.is_bounded))
            continue;
        if (x[0] < x[1]) {
            plot_area(p, x, low, high, 2, "guard", "guard band");
            plot_key(p, "guard", "guard band");
        }
        plot_bound_upright(p, side->bound, is_lower, "bound");
        plot_key(p, "bound", "bound, its forbidden side shaded");
    }
}

static void draw_sides(struct plot *p, const struct limit_series *series, const struct bins *bins,
                       size_t n_sides)
{
    static const char *const classes[] = {"bar", "bar-other"};

    for (size_t k = 0; k < n_sides; k++) {
        draw_bins(p, &bins[k], classes[k], "units");
        if (bins[k].most > 0)
            plot_key(p, classes[k], n_sides == 1 ? "units" : chart_side_words(series, k == 0));
        write_beyond(p, &bins[k], k);
    }
}

bool chart_distribution(struct html *h, const struct limit_series *series, struct error *e)
{
    const enum unit unit = series->limit->quantity->unit;
    const struct limit_side *sides[2];
    const size_t n_sides = pick_sides(series, sides);
    const size_t n_bins = (size_t)fmin(fmax(2 * sqrt((double)series->n), LEAST_BINS), MOST_BINS);
    struct bins laid, bins[2] = {{0}};
    /* Up to four at least: there are no parts of units at the ticks. */
    struct plot_range x, y = {0, 4};
    struct text title = {0};
    struct plot plot;

    plot_range_start(&x);
    chart_take_bounds(&x, series);
    if (!chart_take_values(&x, sides, n_sides, series->n, e)) return false;
    plot_range_finish(&x);
    lay_bins(&laid, series, n_bins, &x);
    for (size_t k = 0; k < n_sides; k++) {
        bins[k] = laid;
        fill_bins(&bins[k], series, sides[k]);
        y.high = fmax(y.high, 1.08 * (double)bins[k].most);
    }
    text_addf(&title, "%s: %s%s", series->limit->id, series->is_margin ? "margin of the " : "",
              series->limit->quantity->words);
    html_need(h, &title);
    plot_open(&plot, h,
              &(struct plot_words){text_words(&title),
                                   "How many units have which value, with the bounds and their "
                                   "guard bands.",
                                   unit == UNIT_ONE ? "" : unit_name(unit), "units",
                                   unit == UNIT_HZ ? 1e6 : 1},
              &x, &y);
    draw_side_bounds(&plot, series);
    draw_sides(&plot, series, bins, n_sides);
    plot_close(&plot);
    text_clear(&title);
    return true;
}
