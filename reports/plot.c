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

void plot_range_take_trace(struct plot_range *range, const struct trace *trace)
{
    for (size_t i = 0; i < trace->n_points; i++)
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

/* A coordinate, kept near the drawing so that a wild value does not make a wild file. */
static double near_drawing(double coordinate)
{
    return fmin(fmax(coordinate, -2000), 4000);
}

/* A tenth of a unit in at most eight characters; printf would take most of the time of a page. */
static size_t write_tenths(double coordinate, char *out)
{
    long tenths = lround(10 * near_drawing(coordinate));
    unsigned long size = (unsigned long)(tenths < 0 ? -tenths : tenths), whole = size / 10;
    char digits[8];
    size_t n = 0, length = 0;

    if (tenths < 0) out[length++] = '-';
    do {
        digits[n++] = (char)('0' + whole % 10);
        whole /= 10;
    } while (whole > 0);
    while (n > 0)
        out[length++] = digits[--n];
    if (size % 10 == 0) return length;
    out[length++] = '.';
    out[length++] = (char)('0' + size % 10);
    return length;
}

/* Adds "Mx y" or "Lx y". */
static void add_point(struct text *path, const struct plot *p, char command, double x, double y)
{
    char words[24];
    size_t length = 0;

    words[length++] = command;
    length += write_tenths(plot_x(p, x), words + length);
    words[length++] = ' ';
    length += write_tenths(plot_y(p, y), words + length);
    text_add_bytes(path, words, length);
}

static void write_title(struct html *h, const char *title)
{
    if (title) html_element(h, "title", NULL, title);
}

/* A group with a title holding one path. */
static void write_path(struct plot *p, const struct text *path, const char *class_name,
                       const char *title)
{
    html_open(p->html, "g");
    write_title(p->html, title);
    html_open(p->html, "path");
    html_attribute(p->html, "class", class_name);
    html_attribute(p->html, "d", text_words(path));
    html_close(p->html);
    html_close(p->html);
}

static void write_text(struct html *h, const char *class_name, const char *anchor, double x,
                       double y, const char *words)
{
    html_open(h, "text");
    if (class_name) html_attribute(h, "class", class_name);
    html_attribute(h, "text-anchor", anchor);
    html_attributef(h, "x", "%ld", lround(near_drawing(x)));
    html_attributef(h, "y", "%ld", lround(near_drawing(y)));
    html_text(h, words);
    html_close(h);
}

/* A step of 1, 2 or 5 times a power of ten that gives four to eight ticks. */
static double tick_step(double range)
{
    double power = pow(10, floor(log10(range / 4)));
    double part = range / 4 / power;

    return (part >= 5 ? 5 : part >= 2 ? 2 : 1) * power;
}

static void write_tick(struct plot *p, bool horizontal, double at, double scale, double step)
{
    struct text path = {0};
    char digits[NUMBER_FIXED_TEXT];
    int decimals = (int)fmax(0, fmin(12, -floor(log10(step / scale) + 1e-9)));

    if (horizontal) {
        add_point(&path, p, 'M', at, p->y_from);
        add_point(&path, p, 'L', at, p->y_to);
    } else {
        add_point(&path, p, 'M', p->x_from, at);
        add_point(&path, p, 'L', p->x_to, at);
    }
    write_path(p, &path, "grid", NULL);
    text_clear(&path);
    (void)number_format_fixed(at / scale, decimals, digits);
    if (horizontal)
        write_text(p->html, NULL, "middle", plot_x(p, at), PLOT_HEIGHT - PLOT_BOTTOM + 14, digits);
    else
        write_text(p->html, NULL, "end", PLOT_LEFT - 5, plot_y(p, at) + 4, digits);
}

static void write_ticks(struct plot *p, bool horizontal, double scale)
{
    double from = horizontal ? p->x_from : p->y_from, to = horizontal ? p->x_to : p->y_to;
    double step = tick_step(to - from);

    for (double k = ceil(from / step - 1e-9); k * step <= to + 1e-9 * step && k - from / step < 50;
         k++)
        write_tick(p, horizontal, k * step, scale, step);
}

void plot_open(struct plot *p, struct html *h, const struct plot_words *words,
               const struct plot_range *x, const struct plot_range *y)
{
    *p = (struct plot){
        .html = h, .x_from = x->low, .x_to = x->high, .y_from = y->low, .y_to = y->high};
    html_open(h, "figure");
    html_element(h, "figcaption", NULL, words->title);
    html_open(h, "svg");
    html_attribute(h, "xmlns", "http://www.w3.org/2000/svg");
    html_attributef(h, "viewBox", "0 0 %d %d", PLOT_WIDTH, PLOT_HEIGHT);
    html_attribute(h, "role", "img");
    write_title(h, words->title);
    html_element(h, "desc", NULL, words->description);
    write_ticks(p, true, words->x_scale);
    write_ticks(p, false, 1);
    write_text(h, "axis", "end", PLOT_WIDTH - PLOT_RIGHT, PLOT_HEIGHT - 4, words->x_label);
    write_text(h, "axis", "start", 2, PLOT_TOP - 4, words->y_label);
    /* The data are drawn in a window of their own, so that nothing leaves the axes. */
    html_open(h, "svg");
    html_attributef(h, "x", "%d", PLOT_LEFT);
    html_attributef(h, "y", "%d", PLOT_TOP);
    html_attributef(h, "width", "%d", PLOT_WIDTH - PLOT_LEFT - PLOT_RIGHT);
    html_attributef(h, "height", "%d", PLOT_HEIGHT - PLOT_TOP - PLOT_BOTTOM);
    html_attributef(h, "viewBox", "%d %d %d %d", PLOT_LEFT, PLOT_TOP,
                    PLOT_WIDTH - PLOT_LEFT - PLOT_RIGHT, PLOT_HEIGHT - PLOT_TOP - PLOT_BOTTOM);
}

/* The legend is text of the page and not of the drawing, so that it wraps and keeps its size. */
static void write_keys(const struct plot *p)
{
    if (p->n_keys == 0) return;
    html_open(p->html, "p");
    html_attribute(p->html, "class", "key");
    for (size_t i = 0; i < p->n_keys; i++) {
        html_open(p->html, "span");
        html_open(p->html, "svg");
        html_attribute(p->html, "viewBox", "0 0 30 8");
        html_attribute(p->html, "aria-hidden", "true");
        html_open(p->html, "line");
        html_attribute(p->html, "class", p->keys[i].class_name);
        html_attribute(p->html, "x1", "2");
        html_attribute(p->html, "x2", "28");
        html_attribute(p->html, "y1", "4");
        html_attribute(p->html, "y2", "4");
        html_close(p->html);
        html_close(p->html);
        html_textf(p->html, " %s", p->keys[i].words);
        html_close(p->html);
        html_text(p->html, " ");
    }
    html_close(p->html);
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
    write_keys(p);
    html_close(p->html);
}

void plot_key(struct plot *p, const char *class_name, const char *words)
{
    for (size_t i = 0; i < p->n_keys; i++)
        if (strcmp(p->keys[i].class_name, class_name) == 0) return;
    if (p->n_keys < PLOT_KEYS) p->keys[p->n_keys++] = (struct plot_key){class_name, words};
}

void plot_trace(struct plot *p, const struct trace *trace, const char *class_name,
                const char *title)
{
    struct text path = {0};

    for (size_t i = 0; i < trace->n_points; i++) {
        bool begins = i == 0 || isnan(trace->y[i - 1]);
        bool ends = i + 1 == trace->n_points || isnan(trace->y[i + 1]);

        if (isnan(trace->y[i])) continue;
        add_point(&path, p, begins ? 'M' : 'L', (double)trace->x[i], (double)trace->y[i]);
        /* A line without length, which its round ends make a dot. */
        if (begins && ends) add_point(&path, p, 'L', (double)trace->x[i], (double)trace->y[i]);
    }
    if (path.length > 0) write_path(p, &path, class_name, title);
    text_clear(&path);
}

void plot_bound(struct plot *p, const struct bound_line *line, bool is_lower, const char *title)
{
    struct text edge = {0}, area = {0};
    double away = is_lower ? p->y_from : p->y_to;
    /* A spot is a short line, so that it can be seen. */
    double half = line->n_points == 1 ? (p->x_to - p->x_from) / 40 : 0;
    size_t n = line->n_points == 1 ? 2 : line->n_points;

    if (line->n_points == 0) return;
    for (size_t i = 0; i < n; i++) {
        size_t corner = line->n_points == 1 ? 0 : i;
        double x = line->frequency_hz[corner] + (i == 0 ? -half : half);

        add_point(&edge, p, i == 0 ? 'M' : 'L', x, line->value[corner]);
    }
    text_add(&area, text_words(&edge));
    add_point(&area, p, 'L', line->frequency_hz[line->n_points - 1] + half, away);
    add_point(&area, p, 'L', line->frequency_hz[0] - half, away);
    text_add(&area, "Z");
    write_path(p, &area, "forbidden", title);
    write_path(p, &edge, "bound", title);
    text_clear(&edge);
    text_clear(&area);
}

void plot_marker(struct plot *p, double x, double y, const char *class_name, const char *words)
{
    double at_x = plot_x(p, x), at_y = plot_y(p, y);
    bool right_half = at_x > PLOT_WIDTH * 0.6;

    if (!isfinite(at_x) || !isfinite(at_y)) return;
    html_open(p->html, "circle");
    html_attribute(p->html, "class", class_name);
    html_attributef(p->html, "cx", "%ld", lround(near_drawing(at_x)));
    html_attributef(p->html, "cy", "%ld", lround(near_drawing(at_y)));
    html_attribute(p->html, "r", "5");
    html_close(p->html);
    if (words && *words)
        write_text(p->html, "mark", right_half ? "end" : "start", at_x + (right_half ? -8 : 8),
                   fmin(fmax(at_y - 6, PLOT_TOP + 10), PLOT_HEIGHT - PLOT_BOTTOM - 4), words);
}

void plot_label(struct plot *p, double x, double y, const char *words)
{
    if (isfinite(x) && isfinite(y))
        write_text(p->html, "mark", "end", plot_x(p, x) - 3, plot_y(p, y) - 3, words);
}
