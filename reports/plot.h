/* Pictures of lines over an axis, as inline SVG: the one plot module.
 *
 * A plot is opened with its ranges in the data's own units, lines and markers are added in those
 * units, and everything is told in words too (title, description, labels): colour is never alone.
 */
#ifndef GAINSIEVE_PLOT_H
#define GAINSIEVE_PLOT_H

#include "drivers/base/value.h"
#include "limits/limits.h"
#include "reports/batch.h"
#include "reports/html.h"

/* The drawing area in user units of the SVG. */
#define PLOT_WIDTH 480
#define PLOT_HEIGHT 270
#define PLOT_LEFT 52
#define PLOT_RIGHT 12
#define PLOT_TOP 14
#define PLOT_BOTTOM 34

/* A line of the legend: the class that gives the look, and what it stands for. */
struct plot_key {
    const char *class_name, *words;
};
#define PLOT_KEYS 4

struct plot {
    struct html *html;
    double x_from, x_to, y_from, y_to;
    size_t n_keys;
    struct plot_key keys[PLOT_KEYS];
};

/* The smallest range that holds every y, grown a little; begins empty with plot_range_start(). */
struct plot_range {
    double low, high;
};
void plot_range_start(struct plot_range *range);
void plot_range_take(struct plot_range *range, double value); /* what is not finite is left out */
void plot_range_take_trace(struct plot_range *range, const struct trace *trace);
void plot_range_take_line(struct plot_range *range, const struct bound_line *line);
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
 * at it. */
void plot_trace(struct plot *p, const struct trace *trace, const char *class_name,
                const char *title);

/* A bound with its forbidden side shaded. */
void plot_bound(struct plot *p, const struct bound_line *line, bool is_lower, const char *title);

/* A ring, with words beside it. */
void plot_marker(struct plot *p, double x, double y, const char *class_name, const char *words);

/* Words at a place, with their right end there. */
void plot_label(struct plot *p, double x, double y, const char *words);

/* Place in the drawing of a value; for tests. */
double plot_x(const struct plot *p, double x);
double plot_y(const struct plot *p, double y);

#endif
