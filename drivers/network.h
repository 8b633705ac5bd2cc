/* Other descriptions of a one- or two-port to S-parameters, and S to another reference impedance.
 *
 * Waves are power waves with real reference resistances, a = (V + R I)/(2 sqrt R),
 * b = (V - R I)/(2 sqrt R) (Touchstone 2.1; K. Kurokawa, IEEE Trans. MTT-13 (1965) 194, from
 * memory). Matrices are row-major: 11, 12, 21, 22. */
#ifndef GAINSIEVE_NETWORK_H
#define GAINSIEVE_NETWORK_H

#include <complex.h>

#include "drivers/base/error.h"
#include "drivers/sweep.h"

enum network_kind { NETWORK_S = 0, NETWORK_Y, NETWORK_Z, NETWORK_G, NETWORK_H };

/* Converts one point in place, `n_ports` 1 (only m[0] is used) or 2, from ohms and siemens (not
 * normalised) to S at `z0_ohm`. False when the network has no S-parameters (singular). */
bool network_to_s(enum network_kind kind, unsigned n_ports, const double z0_ohm[2],
                  double complex m[S_PARAMETERS]) MUST_CHECK;

/* Converts the whole sweep in place to `z0_ohm` at every port. Nothing happens when it is there
 * already. ERROR_INPUT when a two-port lacks parameters, which would have to be guessed (the
 * sweep is then unchanged), or when a point has no S-parameters there (its values are then of no
 * use). */
bool network_renormalise(struct sweep *sweep, double z0_ohm, struct error *e) MUST_CHECK;

#endif
