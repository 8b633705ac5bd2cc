/* What is kept of a unit's sweeps for the pictures: values at the columns of each view for the
 * spread of the batch, and lines that keep every excursion for units that are drawn one by one. */
#ifndef GAINSIEVE_TRACES_H
#define GAINSIEVE_TRACES_H

#include "drivers/measurement.h"
#include "reports/views.h"

/* A line for drawing. A NaN in `y` breaks it. */
struct trace {
    size_t n_points;
    float *x, *y; /* one allocation, `x` owns it; a float is a hundredth of a pixel */
};

struct unit_traces {
    size_t n_views, n_biases;
    float *columns; /* VIEW_COLUMNS for each view: dB at view_column_hz(); NaN where not measured */
    float *worst;   /* for each view of S11: real and imaginary part where abs(S11) is largest
                       within the range of its limits; NaN where not measured */
    double *bias_v; /* for each bias step, as measured; NaN where there is no sweep */
    double *gain_db; /* at traces_centre_hz(), for gain against bias; `bias_v` owns it */
    struct trace
        *lines;         /* for each view: dB over Hz, at most CEILING_PLOT_POINTS points, the lowest
                           and the highest of every stretch; NULL when only the spread was wanted */
    struct trace *loci; /* for each view of S11: imaginary over real part within the range of its
                           limits, the extremes of abs(S11), resistance and reactance of every
                           stretch; NULL like `lines` */
};

/* Fills `out` from a measurement; steps without a sweep give NaN and empty lines. */
bool unit_traces_make(struct unit_traces *out, const struct limits *limits,
                      const struct views *views, const struct measurement *m, bool with_lines,
                      struct error *e) MUST_CHECK;
/* Frees the lines and keeps what the spread needs. */
void unit_traces_drop_lines(struct unit_traces *traces);
/* Frees and zeroes; harmless on zero and twice. */
void unit_traces_clear(struct unit_traces *traces);

/* The frequency at which gain against bias is drawn: the middle of the first gain slope or range
 * limit, else of the first gain limit; NaN when there is none. */
double traces_centre_hz(const struct limits *limits);

#endif
