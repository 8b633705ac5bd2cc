/* Which pictures over frequency a limits file asks for: gain and input reflection, one for each
 * bias step at which a limit judges them. Both pages draw these and no others. */
#ifndef GAINSIEVE_VIEWS_H
#define GAINSIEVE_VIEWS_H

#include "limits/limits.h"

/* One quantity at one bias step. */
struct view {
    enum s_parameter parameter; /* S21: gain; S11: input reflection */
    size_t step;
    double from_hz, to_hz;    /* the range of its limits */
    double left_hz, right_hz; /* the range drawn: somewhat wider */
    double max_step_hz; /* the narrowest of its limits: a wider gap is drawn as one; 0: none */
};

struct views {
    size_t n;
    struct view view[2 * CEILING_BIAS_STEPS]; /* gain by rising bias, then input reflection */
};

/* Fills `out`, whatever it held. */
void views_find(struct views *out, const struct limits *limits);

/* Whether a unit that fails the limit lies outside something in the view: the limit judges its
 * parameter alone, at its bias step. */
bool view_concerns(const struct view *view, const struct limit *limit);

/* Whether the limit's bounds can be drawn over frequency: they are in dB of the view's parameter.
 */
bool view_has_bounds(const struct view *view, const struct limit *limit);

/* "gain" or "input reflection". */
const char *view_words(const struct view *view);

/* Where the spread of a batch is taken: evenly over the range drawn. More than there can be bias
 * steps, so that gain against bias fits too. */
#define VIEW_COLUMNS 65
_Static_assert(VIEW_COLUMNS >= CEILING_BIAS_STEPS, "a spread over bias has room");
double view_column_hz(const struct view *view, size_t column);

#endif
