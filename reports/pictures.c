#include "reports/pictures.h"

#include <math.h>

#include "limits/limit_series.h"

void picture_take_bounds(struct plot_range *y, const struct limits *limits, const struct view *view)
{
    for (size_t i = 0; i < limits->n_limits; i++) {
        if (!view_has_bounds(view, &limits->limits[i])) continue;
        plot_range_take_line(y, &limits->limits[i].lower);
        plot_range_take_line(y, &limits->limits[i].upper);
    }
}

/* One side of a limit. */
struct side {
    const struct limits *limits;
    const struct limit *limit;
    bool is_lower;
};

static double guard_end(const void *context, double value)
{
    const struct side *side = context;

    return limit_guarded(side->limits, side->limit, value, side->is_lower);
}

/* "gain-high min" at the left end of a bound, on its forbidden side. */
static void name_bound(struct plot *p, const struct bound_line *line, const struct side *side)
{
    const double x = fmax(plot_x(p, line->frequency_hz[0]), PLOT_LEFT) + 3;
    const double y = plot_y(p, line->value[0]) + (side->is_lower ? 11 : -2);
    struct text words = {0};

    if (!(y > PLOT_TOP + 8 && y < PLOT_HEIGHT - PLOT_BOTTOM)) return;
    text_addf(&words, "%s %s", side->limit->id, side->is_lower ? "min" : "max");
    html_need(p->html, &words);
    plot_words_at(p->html, "bound-name", "start", x, y, text_words(&words));
    text_clear(&words);
}

void picture_draw_bound(struct plot *p, const struct limits *limits, const struct limit *limit)
{
    struct text title = {0};

    text_addf(&title, "bound of %s", limit->id);
    html_need(p->html, &title);
    for (int k = 0; k < 2; k++) {
        const struct side side = {limits, limit, k == 0};
        const struct bound_line *line = side.is_lower ? &limit->lower : &limit->upper;

        if (line->n_points == 0) continue;
        if (guard_end(&side, line->value[0]) != line->value[0]) {
            plot_bound_guard(p, line, guard_end, &side);
            plot_key(p, "guard", "guard band");
        }
        plot_bound(p, line, side.is_lower, text_words(&title));
        name_bound(p, line, &side);
    }
    plot_key(p, "bound", "bound, its forbidden side shaded");
    text_clear(&title);
}

void picture_draw_bounds(struct plot *p, const struct limits *limits, const struct view *view)
{
    for (size_t i = 0; i < limits->n_limits; i++)
        if (view_has_bounds(view, &limits->limits[i]))
            picture_draw_bound(p, limits, &limits->limits[i]);
}

void picture_finish_range(struct plot_range *y, const struct view *view,
                          const struct plot_range *keep)
{
    if (view->parameter == S11) {
        y->low = fmax(y->low, fmin(-45, y->high - 30));
        if (keep->low <= keep->high) {
            plot_range_take(y, keep->low);
            plot_range_take(y, keep->high);
        }
    }
    plot_range_finish(y);
}

bool picture_is_of_bias(const struct limit *limit)
{
    return limit->quantity->shape == OVER_SLOPE || limit->quantity->shape == OVER_RANGE;
}

bool picture_has_bias(const struct limits *limits)
{
    return limits->n_biases >= 2 && !isnan(traces_centre_hz(limits));
}

struct trace picture_bias_trace(const struct unit_traces *traces, float *x, float *y)
{
    struct trace trace = {0, x, y};

    for (size_t i = 0; i < traces->n_biases; i++) {
        if (isnan(traces->gain_db[i])) continue;
        /* A step that is missing before it breaks the line. */
        if (trace.n_points > 0 && isnan(traces->gain_db[i - 1])) {
            x[trace.n_points] = (float)traces->bias_v[i];
            y[trace.n_points++] = NAN;
        }
        x[trace.n_points] = (float)traces->bias_v[i];
        y[trace.n_points++] = (float)traces->gain_db[i];
    }
    return trace;
}

void picture_bias_words(struct text *out, const struct limits *limits)
{
    char at[VALUE_TEXT];

    text_addf(out, "gain against bias at %s", value_rounded(traces_centre_hz(limits), UNIT_HZ, at));
}

/* Where a limit lets the gain at step `to` lie, seen from step `from`; NaN where it says nothing.
 */
struct wedge {
    size_t from, to;
    double low, high;
    bool is_range; /* said of `to` alone: what lies between the steps is nobody's matter */
};

static void make_wedge(struct wedge *out, const struct limits *limits, const struct limit *limit,
                       size_t from, size_t to, const double *bias_v, const double *gain_db)
{
    const double centre_hz = traces_centre_hz(limits);
    const double span = limit->quantity->shape == OVER_SLOPE ? bias_v[to] - bias_v[from] : 1;

    *out = (struct wedge){
        .from = from,
        .to = to,
        .is_range = limit->quantity->shape == OVER_RANGE,
        .low = gain_db[from] + bound_line_at(&limit->lower, centre_hz) * span,
        .high = gain_db[from] + bound_line_at(&limit->upper, centre_hz) * span,
    };
}

/* Calls `take` for every wedge of every limit that is judged at the frequency drawn. A fitted slope
 * has none: it is a line through all steps and says nothing of where one of them lies. */
static void each_wedge(const struct limits *limits, const double *bias_v, const double *gain_db,
                       void (*take)(void *context, const struct wedge *), void *context)
{
    for (size_t i = 0; i < limits->n_limits; i++) {
        const struct limit *limit = &limits->limits[i];
        struct wedge wedge;

        if (limit->quantity->shape == OVER_RANGE) {
            make_wedge(&wedge, limits, limit, limit->from, limit->to, bias_v, gain_db);
            take(context, &wedge);
        }
        if (limit->quantity->shape != OVER_SLOPE || limit->method != SLOPE_LOCAL) continue;
        for (size_t step = limit->from; step < limit->to; step++) {
            make_wedge(&wedge, limits, limit, step, step + 1, bias_v, gain_db);
            take(context, &wedge);
        }
    }
}

static void take_wedge(void *context, const struct wedge *wedge)
{
    plot_range_take(context, wedge->low);
    plot_range_take(context, wedge->high);
}

void picture_take_wedges(struct plot_range *y, const struct limits *limits, const double *bias_v,
                         const double *gain_db)
{
    each_wedge(limits, bias_v, gain_db, take_wedge, y);
}

struct drawing {
    struct plot *p;
    const double *bias_v, *gain_db;
};

/* A side without a bound reaches to the edge of the picture. */
static void draw_wedge(void *context, const struct wedge *wedge)
{
    const struct drawing *d = context;
    const double x[2] = {d->bias_v[wedge->from], d->bias_v[wedge->to]};
    const double start = d->gain_db[wedge->from];
    const double low[2] = {start, isnan(wedge->low) ? d->p->y_from : wedge->low};
    const double high[2] = {start, isnan(wedge->high) ? d->p->y_to : wedge->high};

    if (isnan(start) || isnan(x[0]) || isnan(x[1])) return;
    if (isnan(wedge->low) && isnan(wedge->high)) return;
    if (wedge->is_range) {
        plot_line(d->p, x[1], low[1], x[1], high[1], "span");
        plot_key(d->p, "span", "where the range limit lets the gain end");
        return;
    }
    plot_area(d->p, x, low, high, 2, "wedge", NULL);
    plot_key(d->p, "wedge", "where the slope limit lets the gain go to the next step");
}

void picture_draw_wedges(struct plot *p, const struct limits *limits, const double *bias_v,
                         const double *gain_db)
{
    struct drawing drawing = {p, bias_v, gain_db};

    each_wedge(limits, bias_v, gain_db, draw_wedge, &drawing);
}

/* The lowest and the highest value of a line; false when it has no points. */
static bool line_extremes(const struct bound_line *line, double *low, double *high)
{
    struct plot_range range;

    plot_range_start(&range);
    plot_range_take_line(&range, line);
    *low = range.low;
    *high = range.high;
    return line->n_points > 0;
}

double picture_circle(const struct limits *limits, const struct view *view)
{
    double largest = 0, low, high;

    for (size_t i = 0; i < limits->n_limits; i++)
        if (view_has_bounds(view, &limits->limits[i]) &&
            line_extremes(&limits->limits[i].upper, &low, &high))
            largest = fmax(largest, pow(10, high / 20));
    return largest;
}

/* A bound on the resistance or the reactance; see plot_smith.h for the circles. */
static void draw_impedance(struct smith *s, const struct limit *limit, double z0_ohm)
{
    const struct bound_line *const lines[] = {&limit->lower, &limit->upper};
    const bool is_resistance = limit->quantity->formula == quantity_input_resistance_ohm;
    double low, high;

    if (!is_resistance && limit->quantity->formula != quantity_input_reactance_ohm) return;
    for (size_t side = 0; side < 2; side++) {
        double bound;

        if (!line_extremes(lines[side], &low, &high)) continue;
        bound = (side == 0 ? high : low) / z0_ohm; /* the tightest of a mask */
        /* No reactance is a straight line: a circle so large that it looks like one. */
        if (!is_resistance && bound == 0) bound = side == 0 ? 1e-3 : -1e-3;
        if (is_resistance && bound > -1)
            smith_bound(s, bound / (1 + bound), 0, 1 / (1 + bound), side == 0, limit->id);
        else if (!is_resistance)
            smith_bound(s, 1, 1 / bound, 1 / fabs(bound), (side == 0) == (bound > 0), limit->id);
        smith_key(s, "bound", "bound, its forbidden side shaded");
    }
}

void picture_draw_circle(struct smith *s, const struct limits *limits, const struct limit *limit)
{
    double low, high;

    draw_impedance(s, limit, limits->impedance_ohm);
    if (!limit->quantity->is_magnitude_db || !line_extremes(&limit->upper, &low, &high)) return;
    smith_bound(s, 0, 0, pow(10, low / 20), true, limit->id);
    smith_key(s, "bound",
              low < high ? "tightest bound of the mask, its forbidden side shaded"
                         : "bound, its forbidden side shaded");
}

void picture_draw_circles(struct smith *s, const struct limits *limits, const struct view *view)
{
    for (size_t i = 0; i < limits->n_limits; i++)
        if (view_concerns(view, &limits->limits[i]))
            picture_draw_circle(s, limits, &limits->limits[i]);
}

void picture_view_words(struct text *out, const struct limits *limits, const struct view *view)
{
    const struct bias_step *step = &limits->biases[view->step];
    char volts[VALUE_TEXT];

    text_addf(out, "%s at bias %s (%s)", view_words(view), step->id,
              value_words(step->at_v, UNIT_V, volts));
}
