/* The table of quantities: name, unit, what it needs, how it is judged and its formula.
 *
 * To add one: a function in quantity_formulas.c, a row in quantity.c, an element in limits.xsd, its
 * source in docs/physics.md. */
#ifndef GAINSIEVE_QUANTITY_H
#define GAINSIEVE_QUANTITY_H

#include <complex.h>
#include <stddef.h>

#include "drivers/base/value.h"
#include "drivers/sweep.h"

/* Over what the quantity is taken. */
enum quantity_shape {
    OVER_POINTS = 0, /* a value at each frequency and bias step */
    OVER_BAND,       /* one value for each bias step: flatness */
    OVER_SLOPE,      /* a value at each frequency over several bias steps */
    OVER_RANGE,      /* a value at each frequency from one bias step to another */
    OVER_SHIFT,      /* a value at each frequency and bias step against a reference step */
    OVER_PHASE,      /* a value at each frequency and bias step against the reference unit */
    OVER_DELAY,      /* a value at each frequency from neighbouring points */
    OVER_CURRENT,    /* one reading for each bias step, no frequency */
};

struct quantity {
    const char *name;  /* the element in the limits file, the column `quantity` */
    const char *words; /* "gain", for sentences */
    enum unit unit;    /* of value, bound and margin */
    unsigned needs;    /* set of S_BIT() */
    enum quantity_shape shape;
    /* For OVER_POINTS whose value is 20 log10 abs(S): the one parameter, so that bounds can be
     * compared without a logarithm. */
    bool is_magnitude_db;
    enum s_parameter parameter;
    /* For OVER_POINTS: the value of the four parameters at one point, at impedance `z0_ohm`. */
    double (*formula)(const double complex s[S_PARAMETERS], double z0_ohm);
};

/* The row with this name, or NULL. */
const struct quantity *quantity_find(const char *name);

/* The whole table, for documents and tests. */
const struct quantity *quantity_table(size_t *n);

/* Formulas, each with its source in quantity_formulas.c. */
double quantity_power_db(double power);         /* 10 log10 of abs(s)^2; -400 for zero */
double quantity_magnitude_db(double complex s); /* 20 log10 abs(s), by way of its square */
double quantity_gain_db(const double complex s[S_PARAMETERS], double z0_ohm);
double quantity_input_reflection_db(const double complex s[S_PARAMETERS], double z0_ohm);
double quantity_output_reflection_db(const double complex s[S_PARAMETERS], double z0_ohm);
double quantity_reverse_isolation_db(const double complex s[S_PARAMETERS], double z0_ohm);
double quantity_input_resistance_ohm(const double complex s[S_PARAMETERS], double z0_ohm);
double quantity_input_reactance_ohm(const double complex s[S_PARAMETERS], double z0_ohm);
double quantity_stability_mu(const double complex s[S_PARAMETERS], double z0_ohm);
double quantity_wrap_deg(double angle_deg); /* to above -180 and up to 180 */

#endif
