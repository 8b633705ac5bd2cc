/* What was seen on one unit in one attempt: its sweeps by bias, readings, and in words what could
 * not be had. Filled by the archive or the bench, read by the judgement. */
#ifndef GAINSIEVE_MEASUREMENT_H
#define GAINSIEVE_MEASUREMENT_H

#include <stddef.h>

#include "drivers/base/ceilings.h"
#include "drivers/base/digest.h"
#include "drivers/base/error.h"
#include "drivers/base/text.h"
#include "drivers/sweep.h"

/* A voltage this close to a tolerance is within it: 2.41 V is 10 mV from 2.40 V, which binary
 * numbers cannot say exactly. */
#define SAME_VOLTAGE_V 1e-9

/* When, by whom and on which bench an attempt was measured, as far as it is known: NULL where not.
 * Owned by where it came from, the archive or the record. */
struct circumstances {
    char *measured_at; /* "2026-11-25" or "2026-11-25T14:05:00Z": order of text is order of time */
    char *operator_name;
    char *bench;
};

/* One bias setting. When `missing` holds words, the sweep could not be had (and why) and is empty.
 */
struct bias_sweep {
    double bias_v;           /* as measured; the nominal voltage when the archive names a step */
    double bias_current_ma;  /* supply reading; NaN when not read */
    struct sweep sweep;      /* points 0 when missing */
    struct text source;      /* file or instrument, for messages */
    char sha256[DIGEST_HEX]; /* of the file as it was read; empty when nobody asked for it */
    struct text comments;    /* what the file says of itself; empty when nobody asked for it */
    struct text missing;     /* why there is no sweep; empty when there is one */
};

struct measurement {
    char serial[CEILING_SERIAL + 1];
    unsigned long attempt;              /* from 1 */
    size_t n_biases;                    /* in use */
    size_t capacity;                    /* allocated, kept between units */
    struct bias_sweep *biases;          /* in rising bias_v, no voltage twice */
    struct circumstances circumstances; /* borrowed */
    struct text remarks;                /* files that were found but fit no bias step, in words */
};

/* Empties it for the next unit but keeps the sweeps' memory. `serial` is cut at the ceiling. */
void measurement_reset(struct measurement *m, const char *serial, unsigned long attempt);

/* Adds an empty bias setting at the end; NULL with `e` set when there is no room. */
struct bias_sweep *measurement_add(struct measurement *m, double bias_v,
                                   struct error *e) MUST_CHECK;

/* Frees and zeroes; harmless on zero and twice. */
void measurement_clear(struct measurement *m);

#endif
