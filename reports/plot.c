#include "reports/plot.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"

void plot_range_start(struct plot_range *range)
{
    *range = (struct plot_range){INFINITY, -INFINITY};
}

void plot_range_take(struct plot_range *range, double value)
{
    if (!isfinite(value)) return;
    range->low = fmin(range->low, value);
    range->high = fmax(range->high, value);
}

void plot_range_take_trace(struct plot_range *range, const struct trace *trace, double x_from,
                           double x_to)
{
    for (size_t i = 0; i < trace->n_points; i++)
        if ((double)trace->x[i] >= x_from && (double)trace->x[i] <= x_to)
            plot_range_take(range, (double)trace->y[i]);
}

void plot_range_take_line(struct plot_range *range, const struct bound_line *line)
{
    for (size_t i = 0; i < line->n_points; i++)
        plot_range_take(range, line->value[i]);
}

void plot_range_finish(struct plot_range *range)
{
    double room;

    if (!(range->low <= range->high)) *range = (struct plot_range){0, 1};
    room = 0.06 * (range->high - range->low);
    if (!(room > 0)) room = 0.5;
    range->low -= room;
    range->high += room;
}

double plot_x(const struct plot *p, double x)
{
    return PLOT_LEFT +
           (x - p->x_from) / (p->x_to - p->x_from) * (PLOT_WIDTH - PLOT_LEFT - PLOT_RIGHT);
}

double plot_y(const struct plot *p, double y)
{
    return PLOT_TOP +
           (p->y_to - y) / (p->y_to - p->y_from) * (PLOT_HEIGHT - PLOT_TOP - PLOT_BOTTOM);
}

long plot_whole(double place)
{
    return lround(fmin(fmax(place, -2000), 4000));
}

void plot_path(struct html *h, const struct svg_path *path, const char *class_name,
               const char *title)
{
    html_need(h, &path->d);
    if (title) {
        html_open(h, "g");
        html_element(h, "title", NULL, title);
    }
    html_open(h, "path");
    html_attribute(h, "class", class_name);
    html_attribute(h, "d", text_words(&path->d));
    html_close(h);
    if (title) html_close(h);
}

/* Writes the plot's path and empties it. */
static void end_path(struct plot *p, const char *class_name, const char *title)
{
    if (p->path.d.length > 0 || p->path.d.failed) plot_path(p->html, &p->path, class_name, title);
    svg_path_reset(&p->path);
}

static void move_to(struct plot *p, double x, double y)
{
    svg_path_move(&p->path, plot_x(p, x), plot_y(p, y));
}

static void line_to(struct plot *p, double x, double y)
{
    svg_path_line(&p->path, plot_x(p, x), plot_y(p, y));
}

void plot_words_at(struct html *h, const char *class_name, const char *anchor, double x, double y,
                   const char *words)
{
    html_open(h, "text");
    if (class_name) html_attribute(h, "class", class_name);
    if (anchor) html_attribute(h, "text-anchor", anchor);
    html_attributef(h, "x", "%ld", plot_whole(x));
    html_attributef(h, "y", "%ld", plot_whole(y));
    html_text(h, words);
    html_close(h);
}

/* A step of 1, 2 or 5 times a power of ten that gives four to ten ticks. */
static double tick_step(double range)
{
    double power = pow(10, floor(log10(range / 4)));
    double part = range / 4 / power;

    return (part >= 5 ? 5 : part >= 2 ? 2 : 1) * power;
}

static void write_tick(struct plot *p, bool horizontal, double at, double scale, double step)
{
    char digits[NUMBER_FIXED_TEXT];
    int decimals = (int)fmax(0, fmin(12, -floor(log10(step / scale) + 1e-9)));

    if (horizontal)
        plot_line(p, at, p->y_from, at, p->y_to, "grid");
    else
        plot_line(p, p->x_from, at, p->x_to, at, "grid");
    (void)number_format_fixed(at / scale, decimals, digits);
    if (horizontal)
        plot_words_at(p->html, NULL, "middle", plot_x(p, at), PLOT_HEIGHT - PLOT_BOTTOM + 14,
                      digits);
    else
        plot_words_at(p->html, NULL, "end", PLOT_LEFT - 5, plot_y(p, at) + 4, digits);
}

static void write_ticks(struct plot *p, bool horizontal, double scale)
{
    double from = horizontal ? p->x_from : p->y_from, to = horizontal ? p->x_to : p->y_to;
    double step = tick_step(to - from);

    for (double k = ceil(from / step - 1e-9); k * step <= to + 1e-9 * step && k - from / step < 50;
         k++)
        write_tick(p, horizontal, k * step, scale, step);
}

void plot_figure_open(struct html *h, const char *title, const char *description, int height)
{
    html_open(h, "figure");
    html_element(h, "figcaption", NULL, title);
    html_open(h, "svg");
    html_attribute(h, "xmlns", "http://www.w3.org/2000/svg");
    html_attributef(h, "viewBox", "0 0 %d %d", PLOT_WIDTH, height);
    /* A group and no image: it may hold links. */
    html_attribute(h, "role", "group");
    html_attribute(h, "aria-label", title);
    html_element(h, "desc", NULL, description);
}

void plot_open(struct plot *p, struct html *h, const struct plot_words *words,
               const struct plot_range *x, const struct plot_range *y)
{
    *p = (struct plot){
        .html = h, .x_from = x->low, .x_to = x->high, .y_from = y->low, .y_to = y->high};
    plot_figure_open(h, words->title, words->description, PLOT_HEIGHT);
    write_ticks(p, true, words->x_scale);
    write_ticks(p, false, 1);
    plot_words_at(h, "axis", "end", PLOT_WIDTH - PLOT_RIGHT, PLOT_HEIGHT - 4, words->x_label);
    plot_words_at(h, "axis", "start", 2, PLOT_TOP - 4, words->y_label);
    /* The data are drawn in a window of their own, so that nothing leaves the axes. */
    html_open(h, "svg");
    html_attributef(h, "x", "%d", PLOT_LEFT);
    html_attributef(h, "y", "%d", PLOT_TOP);
    html_attributef(h, "width", "%d", PLOT_WIDTH - PLOT_LEFT - PLOT_RIGHT);
    html_attributef(h, "height", "%d", PLOT_HEIGHT - PLOT_TOP - PLOT_BOTTOM);
    html_attributef(h, "viewBox", "%d %d %d %d", PLOT_LEFT, PLOT_TOP,
                    PLOT_WIDTH - PLOT_LEFT - PLOT_RIGHT, PLOT_HEIGHT - PLOT_TOP - PLOT_BOTTOM);
}

/* What stands for a class in the legend: shapes as they are drawn, lines for all else. */
static const char *key_shape(const char *class_name)
{
    static const struct {
        const char *class_name, *d;
    } shapes[] = {{"dot", "M15 5h0"},
                  {"arrow", "M10 9l5-8l5 8Z"},
                  {"arrow-data", "M10 9l5-8l5 8Z"},
                  {"failed-unit", "M11 1l8 8M19 1l-8 8"}};

    for (size_t i = 0; i < sizeof shapes / sizeof *shapes; i++)
        if (strcmp(shapes[i].class_name, class_name) == 0) return shapes[i].d;
    return "M3 5h24";
}

/* The legend is text of the page and not of the drawing, so that it wraps and keeps its size. */
void plot_keys(struct html *h, const struct plot_key *keys, size_t n)
{
    if (n == 0) return;
    html_open(h, "p");
    html_attribute(h, "class", "key");
    for (size_t i = 0; i < n; i++) {
        html_open(h, "span");
        html_open(h, "svg");
        html_attribute(h, "viewBox", "0 0 30 10");
        html_attribute(h, "aria-hidden", "true");
        html_open(h, "path");
        html_attribute(h, "class", keys[i].class_name);
        html_attribute(h, "d", key_shape(keys[i].class_name));
        html_close(h);
        html_close(h);
        html_textf(h, " %s", keys[i].words);
        html_close(h);
        html_text(h, " ");
    }
    html_close(h);
}

void plot_remark(struct html *h, const char *note)
{
    if (note && *note) html_element(h, "p", "key", note);
}

void plot_close(struct plot *p)
{
    html_close(p->html);
    html_open(p->html, "rect");
    html_attribute(p->html, "class", "frame");
    html_attributef(p->html, "x", "%d", PLOT_LEFT);
    html_attributef(p->html, "y", "%d", PLOT_TOP);
    html_attributef(p->html, "width", "%d", PLOT_WIDTH - PLOT_LEFT - PLOT_RIGHT);
    html_attributef(p->html, "height", "%d", PLOT_HEIGHT - PLOT_TOP - PLOT_BOTTOM);
    html_close(p->html);
    html_close(p->html);
    plot_keys(p->html, p->keys, p->n_keys);
    plot_remark(p->html, p->note);
    html_close(p->html);
    svg_path_clear(&p->path);
    plot_names_clear(&p->names);
}

void plot_key(struct plot *p, const char *class_name, const char *words)
{
    for (size_t i = 0; i < p->n_keys; i++)
        if (strcmp(p->keys[i].class_name, class_name) == 0) return;
    if (p->n_keys < PLOT_KEYS) p->keys[p->n_keys++] = (struct plot_key){class_name, words};
}

void plot_line(struct plot *p, double x1, double y1, double x2, double y2, const char *class_name)
{
    move_to(p, x1, y1);
    line_to(p, x2, y2);
    end_path(p, class_name, NULL);
}

void plot_trace(struct plot *p, const struct trace *trace, const char *class_name,
                const char *title)
{
    for (size_t i = 0; i < trace->n_points; i++) {
        const double x = (double)trace->x[i], y = (double)trace->y[i];
        bool begins = i == 0 || isnan(trace->y[i - 1]);
        bool ends = i + 1 == trace->n_points || isnan(trace->y[i + 1]);

        if (isnan(y)) continue;
        if (begins && ends)
            svg_path_dot(&p->path, plot_x(p, x), plot_y(p, y));
        else if (begins)
            move_to(p, x, y);
        else
            line_to(p, x, y);
    }
    end_path(p, class_name, title);
}

void plot_area(struct plot *p, const double *x, const double *low, const double *high, size_t n,
               const char *class_name, const char *title)
{
    for (size_t from = 0; from < n;) {
        size_t to = from;

        while (to < n && !isnan(low[to]) && !isnan(high[to]))
            to++;
        for (size_t i = from; i < to; i++) {
            if (i == from)
                move_to(p, x[i], high[i]);
            else
                line_to(p, x[i], high[i]);
        }
        for (size_t i = to; i-- > from;)
            line_to(p, x[i], low[i]);
        if (to > from) svg_path_close(&p->path);
        from = to > from ? to : from + 1;
    }
    end_path(p, class_name, title);
}

/* A spot is a short line, so that it can be seen: half its length. */
static double spot_half(const struct plot *p, const struct bound_line *line)
{
    return line->n_points == 1 ? (p->x_to - p->x_from) / 40 : 0;
}

/* A stretch of a guard band's end, from just before corner `to` back to corner `to - 1`. In dB a
 * band of linear width is no straight line along a slope. */
static void guard_back(struct plot *p, const struct bound_line *line, size_t to,
                       plot_guard_end *end, const void *context)
{
    const double x = line->frequency_hz[to - 1], value = line->value[to - 1];
    const double by_x = line->frequency_hz[to] - x, by = line->value[to] - value;
    const double middle = (end(context, value) + end(context, value + by)) / 2;
    const int steps = fabs(end(context, value + by / 2) - middle) < 1e-3 ? 1 : 8;

    for (int k = steps - 1; k >= 0; k--)
        line_to(p, x + by_x * k / steps, end(context, value + by * k / steps));
}

void plot_bound_guard(struct plot *p, const struct bound_line *line, plot_guard_end *end,
                      const void *context)
{
    const double half = spot_half(p, line);
    const size_t last = line->n_points - 1;

    if (line->n_points == 0) return;
    move_to(p, line->frequency_hz[0] - half, line->value[0]);
    for (size_t i = 1; i <= last; i++)
        line_to(p, line->frequency_hz[i], line->value[i]);
    if (half > 0) line_to(p, line->frequency_hz[0] + half, line->value[0]);
    line_to(p, line->frequency_hz[last] + half, end(context, line->value[last]));
    for (size_t i = last; i > 0; i--)
        guard_back(p, line, i, end, context);
    if (half > 0) line_to(p, line->frequency_hz[0] - half, end(context, line->value[0]));
    svg_path_close(&p->path);
    end_path(p, "guard", "guard band");
}

void plot_bound(struct plot *p, const struct bound_line *line, bool is_lower, const char *title)
{
    const double strip = is_lower ? PLOT_STRIP : -PLOT_STRIP;
    const double half = spot_half(p, line);
    size_t n = line->n_points == 1 ? 2 : line->n_points;

    if (line->n_points == 0) return;
    for (int pass = 0; pass < 2; pass++) {
        /* First the strip: along the bound and back beside it; then the bound itself. */
        for (size_t i = 0; i < n; i++) {
            size_t corner = line->n_points == 1 ? 0 : i;
            double x = line->frequency_hz[corner] + (i == 0 ? -half : half);

            if (i == 0)
                move_to(p, x, line->value[corner]);
            else
                line_to(p, x, line->value[corner]);
        }
        for (size_t i = n; pass == 0 && i-- > 0;) {
            size_t corner = line->n_points == 1 ? 0 : i;
            double x = line->frequency_hz[corner] + (i == 0 ? -half : half);

            svg_path_line(&p->path, plot_x(p, x), plot_y(p, line->value[corner]) + strip);
        }
        if (pass == 0) svg_path_close(&p->path);
        end_path(p, pass == 0 ? "forbidden" : "bound", pass == 0 ? NULL : title);
    }
}

void plot_bound_upright(struct plot *p, double x, bool is_lower, const char *title)
{
    const double strip = is_lower ? -PLOT_STRIP : PLOT_STRIP;
    const double at = plot_x(p, x), bottom = PLOT_HEIGHT - PLOT_BOTTOM;

    svg_path_move(&p->path, at, PLOT_TOP);
    svg_path_line(&p->path, at + strip, PLOT_TOP);
    svg_path_line(&p->path, at + strip, bottom);
    svg_path_line(&p->path, at, bottom);
    svg_path_close(&p->path);
    end_path(p, "forbidden", NULL);
    svg_path_move(&p->path, at, PLOT_TOP);
    svg_path_line(&p->path, at, bottom);
    end_path(p, "bound", title);
}

void plot_marker(struct plot *p, double x, double y, const char *class_name, const char *words)
{
    double at_x = plot_x(p, x), at_y = plot_y(p, y);
    bool right_half = at_x > PLOT_WIDTH * 0.6;

    if (!isfinite(at_x) || !isfinite(at_y)) return;
    html_open(p->html, "circle");
    html_attribute(p->html, "class", class_name);
    html_attributef(p->html, "cx", "%ld", plot_whole(at_x));
    html_attributef(p->html, "cy", "%ld", plot_whole(at_y));
    html_attribute(p->html, "r", "5");
    html_close(p->html);
    if (words && *words)
        plot_words_at(p->html, "mark", right_half ? "end" : "start",
                      fmin(fmax(at_x + (right_half ? -8 : 8), 0), PLOT_WIDTH),
                      fmin(fmax(at_y - 6, PLOT_TOP + 10), PLOT_HEIGHT - PLOT_BOTTOM - 4), words);
}

void plot_name(struct plot *p, const struct trace *trace, const char *words)
{
    for (size_t k = trace->n_points; k > 0; k--) {
        const double x = (double)trace->x[k - 1];
        double height = plot_y(p, (double)trace->y[k - 1]) - 3;
        bool has_room;

        if (x > p->x_to || isnan(height)) continue;
        height = fmin(fmax(height, PLOT_TOP + 11), PLOT_HEIGHT - PLOT_BOTTOM - 4);
        /* Further down a name would seem to belong to another line. */
        has_room = plot_names_take(&p->names, plot_x(p, x) - 38, &height, 14,
                                   fmin(height + 2 * 14, PLOT_HEIGHT - PLOT_BOTTOM));
        if (!has_room) plot_names_put_off(p->html, &p->names, words);
        plot_words_at(p->html, has_room ? "mark" : "mark later", "end", plot_x(p, x) - 3, height,
                      words);
        return;
    }
}

bool plot_is_outside(const struct plot *p, const struct trace *trace, struct plot_sight *sight)
{
    plot_sight_start(sight, &(struct plot_window){PLOT_LEFT, PLOT_TOP, PLOT_WIDTH - PLOT_RIGHT,
                                                  PLOT_HEIGHT - PLOT_BOTTOM});
    for (size_t i = 0; i < trace->n_points; i++)
        plot_sight_take(sight, plot_x(p, (double)trace->x[i]), plot_y(p, (double)trace->y[i]));
    return plot_sight_is_outside(sight);
}
