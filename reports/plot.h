/* Pictures of lines over an axis, as inline SVG: the one plot module.
 *
 * A plot is opened with its ranges in the data's own units, lines and markers are added in those
 * units, and everything is told in words too (title, description, labels): colour is never alone.
 */
#ifndef GAINSIEVE_PLOT_H
#define GAINSIEVE_PLOT_H

#include "drivers/base/value.h"
#include "limits/limits.h"
#include "reports/html.h"
#include "reports/plot_names.h"
#include "reports/svg_path.h"
#include "reports/traces.h"

/* The drawing area in user units of the SVG. */
#define PLOT_WIDTH 480
#define PLOT_HEIGHT 270
#define PLOT_LEFT 52
#define PLOT_RIGHT 12
#define PLOT_TOP 14
#define PLOT_BOTTOM 34
#define PLOT_STRIP 9 /* along the forbidden side of a bound */

/* A line of the legend: the class that gives the look, and what it stands for. */
struct plot_key {
    const char *class_name, *words;
};
#define PLOT_KEYS 10

struct plot {
    struct html *html;
    double x_from, x_to, y_from, y_to;
    size_t n_keys;
    struct plot_key keys[PLOT_KEYS];
    const char *note; /* a remark below the legend, or NULL; borrowed until plot_close() */
    struct plot_names names;
    struct svg_path path; /* reused */
};

/* The smallest range that holds every value, grown a little; begins empty with plot_range_start().
 */
struct plot_range {
    double low, high;
};
void plot_range_start(struct plot_range *range);
void plot_range_take(struct plot_range *range, double value); /* what is not finite is left out */
void plot_range_take_line(struct plot_range *range, const struct bound_line *line);
/* The values of a trace between two places of its x. */
void plot_range_take_trace(struct plot_range *range, const struct trace *trace, double x_from,
                           double x_to);
void plot_range_finish(struct plot_range *range); /* grows it; an empty one becomes 0 to 1 */

struct plot_words {
    const char *title;       /* above the picture and for those who cannot see it */
    const char *description; /* what is drawn */
    const char *x_label, *y_label;
    double x_scale; /* data are divided by this for the numbers at the ticks: 1e6 for MHz */
};

/* Opens <figure> with axes and ticks. */
void plot_open(struct plot *p, struct html *h, const struct plot_words *words,
               const struct plot_range *x, const struct plot_range *y);
/* Ends the picture, with the legend below it. */
void plot_close(struct plot *p);

/* Adds a line to the legend, once a class. The words are borrowed until plot_close(). */
void plot_key(struct plot *p, const char *class_name, const char *words);

/* A line of data; a NaN breaks it, a point between two is a dot. `title` is shown when one points
 * at it; NULL for none. */
void plot_trace(struct plot *p, const struct trace *trace, const char *class_name,
                const char *title);
/* A straight line between two places. */
void plot_line(struct plot *p, double x1, double y1, double x2, double y2, const char *class_name);

/* The area between `low` and `high` at rising x; where either is NaN there is none. */
void plot_area(struct plot *p, const double *x, const double *low, const double *high, size_t n,
               const char *class_name, const char *title);

/* A bound over x, with a strip along its forbidden side. */
void plot_bound(struct plot *p, const struct bound_line *line, bool is_lower, const char *title);
/* The guard band along such a bound: from its line to where `end` says that it ends for a value of
 * the bound. */
typedef double plot_guard_end(const void *context, double value);
void plot_bound_guard(struct plot *p, const struct bound_line *line, plot_guard_end *end,
                      const void *context);
/* A bound on x: an upright line with such a strip. */
void plot_bound_upright(struct plot *p, double x, bool is_lower, const char *title);

/* A ring, with words beside it. */
void plot_marker(struct plot *p, double x, double y, const char *class_name, const char *words);

/* Words at the right end of a trace within the picture, moved down until they are clear of other
 * names. When that would take them too far from their line they stand at its end with the class
 * "later", and the style sheet shows them when someone points at what they are in. */
void plot_name(struct plot *p, const struct trace *trace, const char *words);

/* Where a trace lies that has points and none of whose lines is in the picture, for plot_arrow();
 * false for any other. */
bool plot_is_outside(const struct plot *p, const struct trace *trace, struct plot_sight *sight);

/* Place in the drawing of a value. */
double plot_x(const struct plot *p, double x);
double plot_y(const struct plot *p, double y);

/* Parts of a picture, for the other kinds of pictures. A place in whole units, brought near the
 * drawing when it is far outside, so that a wild value does not make a wild file. */
long plot_whole(double place);
void plot_figure_open(struct html *h, const char *title, const char *description, int height);
void plot_words_at(struct html *h, const char *class_name, const char *anchor, double x, double y,
                   const char *words);
/* A path; with a title it stands in a group that has it. */
void plot_path(struct html *h, const struct svg_path *path, const char *class_name,
               const char *title);
void plot_keys(struct html *h, const struct plot_key *keys, size_t n);
/* A remark below a picture; nothing for NULL or "". */
void plot_remark(struct html *h, const char *note);

#endif
