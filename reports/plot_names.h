/* Names in a picture that keep clear of each other, and arrows at its frame for lines that lie
 * wholly outside it. Places are in units of the drawing, y downwards. */
#ifndef GAINSIEVE_PLOT_NAMES_H
#define GAINSIEVE_PLOT_NAMES_H

#include "reports/html.h"

/* More names than this on one picture cover each other. */
#define PLOT_NAMES 12
/* More names than these in one remark nobody reads. */
#define PLOT_NAMES_BEYOND 12

/* The names written so far. Born `= {0}`, ended with plot_names_clear(). */
struct plot_names {
    size_t n; /* visible ones, and the middle of each, so that the next keeps clear */
    struct {
        double x, y;
    } at[PLOT_NAMES];
    size_t n_later;    /* those that found no room at their lines */
    struct text later; /* the first of them, with commas between */
    size_t n_beyond;   /* arrows, and how many of them found no room for their name */
    size_t n_nameless;
    struct text beyond; /* names of the first arrows, with commas between */
};

/* Finds a place for a name about `middle`, some 70 units long: at `*y`, or in steps of `step` from
 * there to `last`. False when there is none. */
bool plot_names_take(struct plot_names *names, double middle, double *y, double step, double last);
/* Counts a name that found none. */
void plot_names_put_off(struct html *h, struct plot_names *names, const char *words);
void plot_names_clear(struct plot_names *names);

struct plot_window {
    double left, top, right, bottom;
};

/* What a window shows of a line that is walked point by point. */
struct plot_sight {
    struct plot_window window;
    bool is_seen;          /* something of the line lies in the window */
    double distance;       /* of the point nearest to the window; infinite before there is one */
    double x, y;           /* that point */
    double last_x, last_y; /* the point before; NaN behind a gap */
};

/* Begins a line. */
void plot_sight_start(struct plot_sight *sight, const struct plot_window *window);
/* The next point; NaN is a gap. */
void plot_sight_take(struct plot_sight *sight, double x, double y);
/* Whether there is a line and nothing of it in the window. */
bool plot_sight_is_outside(const struct plot_sight *sight);

/* A small triangle at the frame where a line outside comes nearest to it, pointing outwards, with
 * words beside it: where there is no room they have the class "later", as in plot.h. */
void plot_arrow(struct html *h, struct plot_names *names, const struct plot_sight *sight,
                const char *class_name, const char *words);
/* For below the picture, in print too: who the arrows are, when one of them has no name beside it.
 */
void plot_names_add_beyond(const struct plot_names *names, struct text *out);

#endif
