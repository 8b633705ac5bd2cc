/* Reflections on a Smith chart, or on the middle of one: the window reaches as far as the data and
 * the limit do, since a good match is a small cluster around the centre.
 *
 * Geometry: P. H. Smith, Transmission Line Calculator, Electronics, January 1939 (from memory): a
 * resistance r (relative to Z0) is the circle about (r/(1+r), 0) of radius 1/(1+r), a reactance x
 * the circle about (1, 1/x) of radius 1/abs(x). */
#ifndef GAINSIEVE_PLOT_SMITH_H
#define GAINSIEVE_PLOT_SMITH_H

#include "reports/plot.h"

/* The window: a square of the drawing, in its units. */
#define SMITH_HEIGHT 330
#define SMITH_X 280
#define SMITH_Y 165
#define SMITH_RADIUS 155

struct smith {
    struct html *html;
    double reach; /* abs(S) at the window's edge, on the axes */
    size_t n_keys;
    struct plot_key keys[PLOT_KEYS];
    const char *note; /* a remark below the legend, or NULL; borrowed until smith_close() */
    struct plot_names names;
    struct svg_path path; /* reused */
};

/* A round reach that shows abs(S) up to `largest`. */
double smith_reach(double largest);

/* Opens <figure> with the chart's grid, labelled in ohm. */
void smith_open(struct smith *s, struct html *h, const char *title, const char *description,
                double reach, double z0_ohm);
void smith_close(struct smith *s);
void smith_key(struct smith *s, const char *class_name, const char *words);

/* A bound as a circle in the plane of S, with a strip along its forbidden side. */
void smith_bound(struct smith *s, double re, double im, double radius, bool forbidden_outside,
                 const char *title);

/* A locus: imaginary over real part of S; NaN breaks it. */
void smith_trace(struct smith *s, const struct trace *trace, const char *class_name,
                 const char *title);
/* `n` points, real and imaginary part by turns; those that would cover one already drawn are left
 * out, NaN too. Fails on lack of memory only. */
bool smith_dots(struct smith *s, const float *points, size_t n, const char *class_name,
                struct error *e) MUST_CHECK;
/* A ring with words beside it. Words of markers and names move down a little until they are clear
 * of others, or wait for someone to point at them, as in plot.h. */
void smith_marker(struct smith *s, double re, double im, const char *class_name, const char *words);
/* Words beside the last point of a locus. */
void smith_name(struct smith *s, const struct trace *trace, const char *class_name,
                const char *words);

/* As plot_is_outside(). */
bool smith_is_outside(const struct smith *s, const struct trace *trace, struct plot_sight *sight);

/* Place in the drawing. */
double smith_x(const struct smith *s, double re);
double smith_y(const struct smith *s, double im);

#endif
