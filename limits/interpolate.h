/* Complex values between measured points, and the frequencies at which a limit looks at sweeps. */
#ifndef GAINSIEVE_INTERPOLATE_H
#define GAINSIEVE_INTERPOLATE_H

#include "drivers/sweep.h"
#include "limits/limits.h"

/* Two frequencies this close, relative to the higher, are the same: a sweep whose last point was
 * computed in binary as 177999999.99999997 Hz does reach 178 MHz. */
#define SAME_FREQUENCY 1e-9

/* True when the gap between two neighbouring points is wider than `max_step_hz` (0: never). */
bool gap_too_wide(double from_hz, double to_hz, double max_step_hz);

/* A place in a sweep: at point `low`, or the part `part` of the way to the next one. */
struct place {
    size_t low;
    double part; /* 0: exactly at `low` */
};

/* Finds the place of a frequency. `*cursor` is kept by the caller from call to call with rising
 * frequencies, 0 at first. False outside the sweep and inside a gap wider than `max_step_hz`, where
 * nothing between the points may be trusted. */
bool place_find(const struct sweep *sweep, size_t *cursor, double frequency_hz, double max_step_hz,
                struct place *out);

/* The parameter there: linear in the real and in the imaginary part. */
double complex place_value(const struct sweep *sweep, const struct place *place,
                           enum s_parameter parameter);

/* The frequencies at which a limit is judged, rising, none twice: the measured points of some
 * sweeps within the range of the limit's bounds, both ends of that range, and every mask corner. */
struct sample_walk {
    size_t n_sweeps;
    const struct sweep *sweeps[CEILING_BIAS_STEPS];
    size_t next_point[CEILING_BIAS_STEPS];
    const struct bound_line *lines[2];
    size_t next_corner[2];
    double from_hz, to_hz; /* range of both bounds together */
};

/* Starts a walk over one sweep; more may be added with sample_walk_add(). */
void sample_walk_start(struct sample_walk *walk, const struct limit *limit);
void sample_walk_add(struct sample_walk *walk, const struct sweep *sweep);
bool sample_walk_next(struct sample_walk *walk, double *frequency_hz);

/* Index of the first point at or above the frequency; n_points when there is none. */
size_t sweep_lower_point(const struct sweep *sweep, double frequency_hz);

#endif
