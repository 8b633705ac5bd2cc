/* A linear network by its node voltages, at one frequency: an admittance matrix of at most twelve
 * nodes and its solution between two ports.
 *
 * Only + - * / on doubles, in a written order, so that an emulated board is the same on every
 * machine. For this reason neither `double complex` products (their helper routines differ between
 * compilers) nor the solver of a numerical library (whose kernels differ between processors and
 * versions) are used here.
 *
 * Source: nodal analysis and Gaussian elimination with partial pivoting, textbook knowledge. */
#ifndef GAINSIEVE_NODAL_H
#define GAINSIEVE_NODAL_H

#include <stdbool.h>

#include "drivers/base/error.h"

#define NODAL_NODES 12
/* Stands for ground wherever a node is asked for. */
#define NODAL_GROUND NODAL_NODES

/* A complex number: impedance in ohms, admittance in siemens, or a ratio. */
struct nodal_value {
    double re, im;
};

struct nodal {
    unsigned n_nodes;
    /* Admittance matrix in siemens. Real and imaginary parts lie apart: from pairs gcc 12 makes
     * fused multiply-adds where the processor has them, even when told not to, and the bits differ.
     */
    double re[NODAL_NODES][NODAL_NODES], im[NODAL_NODES][NODAL_NODES];
};

/* a + b and a b. */
struct nodal_value nodal_add(struct nodal_value a, struct nodal_value b);
struct nodal_value nodal_multiply(struct nodal_value a, struct nodal_value b);
/* 1/a; `a` must not be zero. */
struct nodal_value nodal_invert(struct nodal_value a);

/* Empties the network. `n_nodes` is 2 to NODAL_NODES. */
void nodal_begin(struct nodal *network, unsigned n_nodes);

/* A branch between two nodes, by its admittance in siemens or its impedance in ohms (not zero). */
void nodal_admittance(struct nodal *network, unsigned a, unsigned b, struct nodal_value siemens);
void nodal_impedance(struct nodal *network, unsigned a, unsigned b, struct nodal_value ohm);

/* A controlled current source: `siemens` times the voltage from `plus` to `minus` flows through the
 * source from node `from` to node `to`. */
void nodal_transconductance(struct nodal *network, unsigned from, unsigned to, unsigned plus,
                            unsigned minus, double siemens);

/* S-parameters between the nodes `in` and `out` and ground, both ports at `z0_ohm`, row-major S11,
 * S12, S21, S22. Uses the network up. False when it has no solution. */
bool nodal_two_port(struct nodal *network, unsigned in, unsigned out, double z0_ohm,
                    struct nodal_value s[4]) MUST_CHECK;

#endif
