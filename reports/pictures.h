/* What the pictures of both pages share: bounds, wedges, circles and their ranges. */
#ifndef GAINSIEVE_PICTURES_H
#define GAINSIEVE_PICTURES_H

#include "reports/batch.h"
#include "reports/plot.h"
#include "reports/plot_smith.h"

/* The bounds of every limit that can be drawn in the view. */
void picture_take_bounds(struct plot_range *y, const struct limits *limits,
                         const struct view *view);
void picture_draw_bounds(struct plot *p, const struct limits *limits, const struct view *view);
/* The bounds of one limit with their guard bands, and its name where they begin. */
void picture_draw_bound(struct plot *p, const struct limits *limits, const struct limit *limit);

/* Ends a range of values of a view: a needle of a reflection to -80 dB would press everything else
 * together, so that what lies far below is cut. `keep` is always shown. */
void picture_finish_range(struct plot_range *y, const struct view *view,
                          const struct plot_range *keep);

/* Where limits let the gain go, at traces_centre_hz(): a local slope from each step to the next as
 * a wedge, a range as a bar at its end. One does not fill what the other forbids. Takes the wedges'
 * ends into a range, or draws them. NaN where there is no gain. */
void picture_take_wedges(struct plot_range *y, const struct limits *limits, const double *bias_v,
                         const double *gain_db);
void picture_draw_wedges(struct plot *p, const struct limits *limits, const double *bias_v,
                         const double *gain_db);

/* Whether the limit is judged on gain against bias. */
bool picture_is_of_bias(const struct limit *limit);

/* Whether gain against bias can be drawn: two steps, and a limit that says at which frequency. */
bool picture_has_bias(const struct limits *limits);
/* Gain over bias as a line in `x` and `y`, with room for CEILING_BIAS_STEPS; a step without a
 * gain breaks it. */
struct trace picture_bias_trace(const struct unit_traces *traces, float *x, float *y);
/* Those parts of it that a slope or range limit found outside, in `x` and `y` with room for twice
 * CEILING_BIAS_STEPS: from step to step, with a gap between two parts. */
struct trace picture_failed_parts(const struct limits *limits, const struct judgement *judgement,
                                  const struct unit_traces *traces, float *x, float *y);
#define PICTURE_FAILED_PART "where it failed a slope or range limit"
/* "gain against bias at 169 MHz". */
void picture_bias_words(struct text *out, const struct limits *limits);

/* The largest abs(S11) that a limit of the view lets pass; 0 without one. */
double picture_circle(const struct limits *limits, const struct view *view);
/* The limits of the view on a Smith chart: circles of reflection, resistance and reactance. */
void picture_draw_circles(struct smith *s, const struct limits *limits, const struct view *view);
/* The circles of one limit that concerns S11. */
void picture_draw_circle(struct smith *s, const struct limits *limits, const struct limit *limit);

/* "gain at bias high (3 V)". */
void picture_view_words(struct text *out, const struct limits *limits, const struct view *view);

#endif
