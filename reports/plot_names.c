#include "reports/plot_names.h"

#include <math.h>

#include "reports/plot.h"

/* Names about as long as a serial number. */
#define NAME_WIDTH 70
#define LINE_HEIGHT 14
#define ARROW_LENGTH 9
#define ARROW_HALF 5

static bool is_clear(const struct plot_names *names, double x, double y, double height)
{
    for (size_t i = 0; i < names->n; i++)
        if (fabs(names->at[i].x - x) < NAME_WIDTH && fabs(names->at[i].y - y) < height)
            return false;
    return true;
}

bool plot_names_take(struct plot_names *names, double middle, double *y, double step, double last)
{
    double at = *y;

    if (names->n == PLOT_NAMES) return false;
    while ((last - at) * step >= 0 && !is_clear(names, middle, at, fabs(step)))
        at += step;
    if ((last - at) * step < 0) return false;
    *y = at;
    names->at[names->n].x = middle;
    names->at[names->n++].y = at;
    return true;
}

/* Adds the nth name to a list, counted from 0. */
static void add_name(struct html *h, struct text *list, size_t nth, const char *words)
{
    if (nth < PLOT_NAMES_BEYOND) text_addf(list, "%s%s", nth > 0 ? ", " : "", words);
    html_need(h, list);
}

void plot_names_put_off(struct html *h, struct plot_names *names, const char *words)
{
    add_name(h, &names->later, names->n_later++, words);
}

void plot_names_clear(struct plot_names *names)
{
    text_clear(&names->later);
    text_clear(&names->beyond);
    *names = (struct plot_names){0};
}

void plot_sight_start(struct plot_sight *sight, const struct plot_window *window)
{
    *sight = (struct plot_sight){
        .window = *window, .distance = INFINITY, .x = NAN, .y = NAN, .last_x = NAN, .last_y = NAN};
}

/* The part of a step from `from` by `by` that keeps between two sides, narrowed by each axis in
 * turn. Y.-D. Liang, B. A. Barsky, ACM Transactions on Graphics 3 (1984) 1 (from memory). */
static void narrow(double from, double by, double low, double high, double *first, double *last)
{
    const double a = (low - from) / by, b = (high - from) / by;

    if (by == 0) {
        if (from < low || from > high) *last = -1;
        return;
    }
    *first = fmax(*first, fmin(a, b));
    *last = fmin(*last, fmax(a, b));
}

static bool crosses(const struct plot_window *w, double x1, double y1, double x2, double y2)
{
    double first = 0, last = 1;

    narrow(x1, x2 - x1, w->left, w->right, &first, &last);
    narrow(y1, y2 - y1, w->top, w->bottom, &first, &last);
    return first <= last;
}

void plot_sight_take(struct plot_sight *sight, double x, double y)
{
    const struct plot_window *w = &sight->window;
    double off;

    if (isnan(x) || isnan(y)) {
        sight->last_x = sight->last_y = NAN;
        return;
    }
    /* What is infinitely far away is far enough away here. */
    x = fmin(fmax(x, -1e6), 1e6);
    y = fmin(fmax(y, -1e6), 1e6);
    off = hypot(x - fmin(fmax(x, w->left), w->right), y - fmin(fmax(y, w->top), w->bottom));
    sight->is_seen = sight->is_seen || off == 0 ||
                     (!isnan(sight->last_x) && crosses(w, sight->last_x, sight->last_y, x, y));
    if (off < sight->distance) {
        sight->distance = off;
        sight->x = x;
        sight->y = y;
    }
    sight->last_x = x;
    sight->last_y = y;
}

bool plot_sight_is_outside(const struct plot_sight *sight)
{
    return !sight->is_seen && sight->distance < INFINITY;
}

/* Where an arrow stands on the frame, and which way it points: along one axis. */
struct arrow {
    double x, y, out_x, out_y;
};

static struct arrow find_arrow(const struct plot_sight *sight)
{
    const struct plot_window *w = &sight->window;
    struct arrow a = {fmin(fmax(sight->x, w->left), w->right),
                      fmin(fmax(sight->y, w->top), w->bottom), 0, 0};

    if (fabs(sight->y - a.y) >= fabs(sight->x - a.x)) {
        a.out_y = sight->y > a.y ? 1 : -1;
        a.x = fmin(fmax(a.x, w->left + ARROW_HALF), w->right - ARROW_HALF);
    } else {
        a.out_x = sight->x > a.x ? 1 : -1;
        a.y = fmin(fmax(a.y, w->top + ARROW_HALF), w->bottom - ARROW_HALF);
    }
    return a;
}

static void draw_arrow(struct html *h, const struct arrow *a, const char *class_name)
{
    const double x = a->x - ARROW_LENGTH * a->out_x, y = a->y - ARROW_LENGTH * a->out_y;
    struct svg_path path = {0};

    svg_path_move(&path, a->x, a->y);
    svg_path_line(&path, x - ARROW_HALF * a->out_y, y + ARROW_HALF * a->out_x);
    svg_path_line(&path, x + ARROW_HALF * a->out_y, y - ARROW_HALF * a->out_x);
    svg_path_close(&path);
    plot_path(h, &path, class_name, NULL);
    svg_path_clear(&path);
}

void plot_arrow(struct html *h, struct plot_names *names, const struct plot_sight *sight,
                const char *class_name, const char *words)
{
    const struct plot_window *w = &sight->window;
    const struct arrow arrow = find_arrow(sight);
    const bool to_the_left = arrow.x > w->left + 0.6 * (w->right - w->left);
    const double x = arrow.x + (to_the_left ? -12 : 12);
    const double middle = x + (to_the_left ? -NAME_WIDTH : NAME_WIDTH) / 2.0;
    const double step = arrow.y > (w->top + w->bottom) / 2 ? -LINE_HEIGHT : LINE_HEIGHT;
    double y = fmin(fmax(arrow.y + 4, w->top + 11), w->bottom - 4);
    const bool is_named = plot_names_take(names, middle, &y, step, y + 2 * step);

    draw_arrow(h, &arrow, class_name);
    plot_words_at(h, is_named ? "mark" : "mark later", to_the_left ? "end" : "start", x, y, words);
    names->n_nameless += !is_named;
    add_name(h, &names->beyond, names->n_beyond++, words);
}

void plot_names_add_beyond(const struct plot_names *names, struct text *out)
{
    if (names->n_nameless > 0)
        text_addf(out, "%zu units outside this picture: %s%s. ", names->n_beyond,
                  text_words(&names->beyond),
                  names->n_beyond > PLOT_NAMES_BEYOND ? " and others, in the table of units" : "");
}
