/* The limits file as plain structs: what a good board is.
 *
 * Read once by limits_read(), const ever after; everything that judges borrows from it. */
#ifndef GAINSIEVE_LIMITS_H
#define GAINSIEVE_LIMITS_H

#include <stddef.h>
#include <stdint.h>

#include "drivers/base/ceilings.h"
#include "drivers/base/digest.h"
#include "drivers/base/error.h"
#include "limits/quantity.h"
#include "limits/serial_number.h"

struct bias_step {
    char *id;
    double at_v;
};

struct band {
    char *id;
    double from_hz, to_hz; /* equal for a spot band */
    double max_step_hz;    /* widest gap between measured points; 0: any */
};

/* A bound over frequency: straight between its points, in the quantity's unit. A `min` or `max`
 * over a band is a line of two points with one value, over a spot band one point. No points: no
 * bound. */
struct bound_line {
    size_t n_points;
    double *frequency_hz; /* strictly rising */
    double *value;
};

enum decision_rule { GUARDED_ACCEPTANCE = 0, SIMPLE_ACCEPTANCE };

enum slope_method { SLOPE_LOCAL = 0, SLOPE_FIT };

struct limit {
    char *id;
    const struct quantity *quantity; /* row of the table in quantity.c */
    uint64_t biases;                 /* set of bias steps: bit 1 << index */
    size_t from, to;                 /* bias steps; of a slope from < to, of a range as written */
    size_t reference;                /* bias step of a reflection shift */
    enum slope_method method;
    char *band_id;           /* for words; NULL for a mask without a band */
    struct bound_line lower; /* the value may not be below */
    struct bound_line upper; /* the value may not be above */
    bool is_mask;            /* has corner points of its own */
    double max_step_hz;      /* of the band or of the mask; 0: any */
    bool has_uncertainty;    /* stated in the file */
    bool linear_uncertainty; /* of a reflection, in linear abs(S) instead of dB */
    double uncertainty;      /* expanded, k = 2; 0 when not stated */
    char *when_failed;       /* advice, or NULL */
};

struct limits {
    char *path, *product, *revision;
    char sha256[DIGEST_HEX]; /* of the file's bytes */
    char *note;              /* or NULL */
    double impedance_ohm;
    struct serial_rule serial;
    double bias_tolerance_v;
    size_t n_biases;
    struct bias_step *biases; /* in rising at_v */
    size_t n_bands;
    struct band *bands;
    enum decision_rule rule;
    double guard_factor;
    size_t n_limits;
    struct limit *limits; /* in the file's order */
};

/* Reads, validates against limits.xsd and checks what a schema cannot say. ERROR_INPUT with file
 * and line. `out` is untouched on failure. */
bool limits_read(struct limits *out, const char *path, struct error *e) MUST_CHECK;
void limits_clear(struct limits *limits);

/* The value of the line at a frequency within it; NaN outside. */
double bound_line_at(const struct bound_line *line, double frequency_hz);

#endif
