/* Makes one board of a production: every component within its tolerance, now and then a fault.
 *
 * Board `number` of `seed` depends on these two only, so that any part of a production can be made.
 * docs/board-model.md lists values, tolerances and faults. */
#ifndef GAINSIEVE_BOARD_BUILD_H
#define GAINSIEVE_BOARD_BUILD_H

#include <stdint.h>

#include "drivers/board_model.h"

/* Boards are built in batches of this size; each batch has one board of every fault. */
#define BOARD_BATCH 24

enum board_fault {
    FAULT_NONE = 0,
    FAULT_WRONG_RESISTOR,   /* first stage's feedback resistor */
    FAULT_COLD_JOINT,       /* at the output capacitor */
    FAULT_LEAKY_CAPACITOR,  /* decoupling of the bias feed */
    FAULT_MISSING_RESISTOR, /* lower resistor of the second stage's divider */
    BOARD_FAULTS
};

/* What a random sequence is drawn for (see random_begin()), so that no two share numbers. */
enum board_purpose {
    PURPOSE_COMPONENTS = 1,
    PURPOSE_FAULTS = 5,
    PURPOSE_READINGS = 16, /* and above: two for each bias step */
};

/* Every component at its nominal value, no fault. */
void board_nominal(struct board *out);

/* Puts a fault on a board, and its words. FAULT_NONE changes nothing. */
void board_add_fault(struct board *board, enum board_fault fault);

/* Which fault board `number` (from 0) of this seed has. */
enum board_fault board_fault_of(uint64_t seed, unsigned long number);

/* Board `number`, counted from 0, of the production with this seed. */
void board_build(struct board *out, uint64_t seed, unsigned long number);

#endif
