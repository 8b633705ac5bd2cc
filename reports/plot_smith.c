#include "reports/plot_smith.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"

double smith_reach(double largest)
{
    static const double reaches[] = {0.1, 0.15, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 5};

    for (size_t i = 0; i < sizeof reaches / sizeof *reaches; i++)
        if (largest <= reaches[i]) return reaches[i];
    return 10;
}

double smith_x(const struct smith *s, double re)
{
    return SMITH_X + re / s->reach * SMITH_RADIUS;
}

double smith_y(const struct smith *s, double im)
{
    return SMITH_Y - im / s->reach * SMITH_RADIUS;
}

static void write_circle(struct smith *s, double re, double im, double radius, double more,
                         const char *class_name)
{
    html_open(s->html, "circle");
    html_attribute(s->html, "class", class_name);
    html_attributef(s->html, "cx", "%ld", lround(smith_x(s, re)));
    html_attributef(s->html, "cy", "%ld", lround(smith_y(s, im)));
    html_attributef(s->html, "r", "%ld", lround(fmax(1, radius / s->reach * SMITH_RADIUS + more)));
    html_close(s->html);
}

/* A reactance as an arc from the open end at (1, 0) to the rim of the chart. */
static void write_reactance(struct smith *s, double x)
{
    const double end_re = (x * x - 1) / (x * x + 1), end_im = 2 * x / (x * x + 1);
    const double radius = 1 / fabs(x) / s->reach * SMITH_RADIUS;

    html_open(s->html, "path");
    html_attribute(s->html, "class", "grid");
    /* The lesser arc, that within the chart; upwards it turns with the clock. */
    html_attributef(s->html, "d", "M%ld %ldA%ld %ld 0 0 %d %ld %ld", lround(smith_x(s, 1)),
                    lround(smith_y(s, 0)), lround(radius), lround(radius), x > 0,
                    lround(smith_x(s, end_re)), lround(smith_y(s, end_im)));
    html_close(s->html);
}

/* The ohms of a grid value with as many decimals as it needs, at most one. */
static void write_ohms(struct smith *s, double re, double im, double ohms, const char *sign)
{
    char digits[NUMBER_FIXED_TEXT];
    char words[NUMBER_FIXED_TEXT + 8];

    if (fabs(re) > 0.93 * s->reach || fabs(im) > 0.95 * s->reach) return;
    (void)number_format_fixed(ohms, fabs(ohms - round(ohms)) < 0.05 ? 0 : 1, digits);
    (void)snprintf(words, sizeof words, "%s%s", sign, digits);
    plot_words_at(s->html, "grid-words", "middle", smith_x(s, re), smith_y(s, im) - 3, words);
}

/* Resistances and reactances, relative to Z0, that divide a window well. */
static void write_grid(struct smith *s, double z0_ohm)
{
    static const double fine[] = {0.7, 0.8, 0.9, 1, 1.1, 1.25, 1.4};
    static const double middle[] = {0.4, 0.6, 0.8, 1, 1.25, 1.6, 2.4};
    static const double wide[] = {0.2, 0.5, 1, 2, 5};
    static const double fine_x[] = {0.1, 0.2, 0.3}, middle_x[] = {0.2, 0.5, 1},
                        wide_x[] = {0.2, 0.5, 1, 2, 5};
    const bool is_fine = s->reach <= 0.2, is_wide = s->reach > 0.5;
    const double *r = is_fine ? fine : is_wide ? wide : middle;
    const double *x = is_fine ? fine_x : is_wide ? wide_x : middle_x;
    const size_t n_r = is_wide ? 5 : 7, n_x = is_wide ? 5 : 3;

    write_circle(s, 0, 0, 1, 0, "frame");
    html_open(s->html, "path");
    html_attribute(s->html, "class", "grid");
    html_attributef(s->html, "d", "M%ld %dH%ld", lround(smith_x(s, -1)), SMITH_Y,
                    lround(smith_x(s, 1)));
    html_close(s->html);
    for (size_t i = 0; i < n_r; i++)
        write_circle(s, r[i] / (1 + r[i]), 0, 1 / (1 + r[i]), 0, "grid");
    for (size_t i = 0; i < n_x; i++) {
        write_reactance(s, x[i]);
        write_reactance(s, -x[i]);
    }
    for (size_t i = 0; i < n_r; i++)
        write_ohms(s, (r[i] - 1) / (r[i] + 1), 0, r[i] * z0_ohm, "");
    /* Reactances are named where they cross the circle of Z0: jx / (2 + jx). */
    for (size_t i = 0; i < n_x; i++) {
        const double re = x[i] * x[i] / (4 + x[i] * x[i]), im = 2 * x[i] / (4 + x[i] * x[i]);

        write_ohms(s, re, im, x[i] * z0_ohm, "j");
        write_ohms(s, re, -im, x[i] * z0_ohm, "-j");
    }
}

void smith_open(struct smith *s, struct html *h, const char *title, const char *description,
                double reach, double z0_ohm)
{
    char digits[NUMBER_FIXED_TEXT], words[NUMBER_FIXED_TEXT + 32];

    *s = (struct smith){.html = h, .reach = reach};
    plot_figure_open(h, title, description, SMITH_HEIGHT);
    (void)number_format_fixed(reach, 2, digits);
    plot_words_at(h, "axis", "start", 2, SMITH_HEIGHT - 21, "edge: abs(S11)");
    (void)snprintf(words, sizeof words, "= %s", digits);
    plot_words_at(h, "axis", "start", 2, SMITH_HEIGHT - 5, words);
    plot_words_at(h, "axis", "start", 2, 14, "ohm");
    /* A window of its own, so that nothing leaves it. */
    html_open(h, "svg");
    html_attributef(h, "x", "%d", SMITH_X - SMITH_RADIUS);
    html_attributef(h, "y", "%d", SMITH_Y - SMITH_RADIUS);
    html_attributef(h, "width", "%d", 2 * SMITH_RADIUS);
    html_attributef(h, "height", "%d", 2 * SMITH_RADIUS);
    html_attributef(h, "viewBox", "%d %d %d %d", SMITH_X - SMITH_RADIUS, SMITH_Y - SMITH_RADIUS,
                    2 * SMITH_RADIUS, 2 * SMITH_RADIUS);
    write_grid(s, z0_ohm);
}

void smith_close(struct smith *s)
{
    html_close(s->html);
    html_open(s->html, "rect");
    html_attribute(s->html, "class", "frame");
    html_attributef(s->html, "x", "%d", SMITH_X - SMITH_RADIUS);
    html_attributef(s->html, "y", "%d", SMITH_Y - SMITH_RADIUS);
    html_attributef(s->html, "width", "%d", 2 * SMITH_RADIUS);
    html_attributef(s->html, "height", "%d", 2 * SMITH_RADIUS);
    html_close(s->html);
    html_close(s->html);
    plot_keys(s->html, s->keys, s->n_keys);
    plot_remark(s->html, s->note);
    html_close(s->html);
    svg_path_clear(&s->path);
    plot_names_clear(&s->names);
}

void smith_key(struct smith *s, const char *class_name, const char *words)
{
    for (size_t i = 0; i < s->n_keys; i++)
        if (strcmp(s->keys[i].class_name, class_name) == 0) return;
    if (s->n_keys < PLOT_KEYS) s->keys[s->n_keys++] = (struct plot_key){class_name, words};
}

void smith_bound(struct smith *s, double re, double im, double radius, bool forbidden_outside,
                 const char *title)
{
    html_open(s->html, "g");
    html_element(s->html, "title", NULL, title);
    write_circle(s, re, im, radius, forbidden_outside ? PLOT_STRIP / 2.0 : -PLOT_STRIP / 2.0,
                 "forbidden-rim");
    write_circle(s, re, im, radius, 0, "bound");
    html_close(s->html);
}

static void end_path(struct smith *s, const char *class_name, const char *title)
{
    if (s->path.d.length > 0 || s->path.d.failed) plot_path(s->html, &s->path, class_name, title);
    svg_path_reset(&s->path);
}

/* Either part may be what is missing. */
static bool is_hole(const struct trace *trace, size_t i)
{
    return isnan(trace->x[i]) || isnan(trace->y[i]);
}

void smith_trace(struct smith *s, const struct trace *trace, const char *class_name,
                 const char *title)
{
    for (size_t i = 0; i < trace->n_points; i++) {
        const double x = smith_x(s, (double)trace->x[i]), y = smith_y(s, (double)trace->y[i]);
        const bool begins = i == 0 || is_hole(trace, i - 1);
        const bool ends = i + 1 == trace->n_points || is_hole(trace, i + 1);

        if (is_hole(trace, i)) continue;
        if (begins && ends)
            svg_path_dot(&s->path, x, y);
        else if (begins)
            svg_path_move(&s->path, x, y);
        else
            svg_path_line(&s->path, x, y);
    }
    end_path(s, class_name, title);
}

bool smith_dots(struct smith *s, const float *points, size_t n, const char *class_name,
                struct error *e)
{
    const int across = 4 * SMITH_RADIUS; /* cells of half a unit */
    bool *taken = memory_make((size_t)(across + 1) * (size_t)(across + 1), sizeof *taken, e);

    if (!taken) return false;
    for (size_t i = 0; i < n; i++) {
        const double x = smith_x(s, (double)points[2 * i]);
        const double y = smith_y(s, (double)points[2 * i + 1]);
        const double column = floor(2 * (x - (SMITH_X - SMITH_RADIUS)));
        const double row = floor(2 * (y - (SMITH_Y - SMITH_RADIUS)));
        bool *cell;

        /* The edge itself is within: an open input lies on it. */
        if (!(column >= 0 && column <= across && row >= 0 && row <= across)) continue;
        cell = &taken[(size_t)row * (size_t)(across + 1) + (size_t)column];
        if (!*cell) svg_path_dot(&s->path, x, y);
        *cell = true;
    }
    memory_free(taken);
    end_path(s, class_name, NULL);
    return true;
}

static void write_name(struct smith *s, const char *class_name, bool to_the_left, double x,
                       double y, const char *words)
{
    const double middle = x + (to_the_left ? -35 : 35), bottom = SMITH_Y + SMITH_RADIUS - 4;
    const bool is_asked = strcmp(class_name, "mark") == 0;

    y = fmin(fmax(y, SMITH_Y - SMITH_RADIUS + 11), bottom);
    if (!is_asked || !plot_names_take(&s->names, middle, &y, 13, fmin(y + 3 * 13, bottom))) {
        class_name = "mark later";
        if (is_asked) plot_names_put_off(s->html, &s->names, words);
    }
    plot_words_at(s->html, class_name, to_the_left ? "end" : "start", x, y, words);
}

void smith_marker(struct smith *s, double re, double im, const char *class_name, const char *words)
{
    if (!isfinite(re) || !isfinite(im)) return;
    html_open(s->html, "circle");
    html_attribute(s->html, "class", class_name);
    html_attributef(s->html, "cx", "%ld", plot_whole(smith_x(s, re)));
    html_attributef(s->html, "cy", "%ld", plot_whole(smith_y(s, im)));
    html_attribute(s->html, "r", "5");
    html_close(s->html);
    if (*words)
        write_name(s, "mark", re > 0, smith_x(s, re) + (re > 0 ? -8 : 8), smith_y(s, im) - 6,
                   words);
}

void smith_name(struct smith *s, const struct trace *trace, const char *class_name,
                const char *words)
{
    for (size_t k = trace->n_points; k-- > 0;) {
        const double re = (double)trace->x[k], im = (double)trace->y[k];

        if (isnan(re) || isnan(im)) continue;
        write_name(s, class_name, re > 0.5 * s->reach, smith_x(s, re), smith_y(s, im) - 4, words);
        return;
    }
}

bool smith_is_outside(const struct smith *s, const struct trace *trace, struct plot_sight *sight)
{
    plot_sight_start(sight, &(struct plot_window){SMITH_X - SMITH_RADIUS, SMITH_Y - SMITH_RADIUS,
                                                  SMITH_X + SMITH_RADIUS, SMITH_Y + SMITH_RADIUS});
    for (size_t i = 0; i < trace->n_points; i++)
        plot_sight_take(sight, smith_x(s, (double)trace->x[i]), smith_y(s, (double)trace->y[i]));
    return plot_sight_is_outside(sight);
}
