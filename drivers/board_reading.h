/* What an analyser and a supply would show of an emulated board: a little noise, and the resolution
 * of an instrument.
 *
 * The noise belongs to seed, board and bias step alone. Rounding keeps the files
 * short. */
#ifndef GAINSIEVE_BOARD_READING_H
#define GAINSIEVE_BOARD_READING_H

#include <stdint.h>

#include "drivers/sweep.h"

/* One standard deviation, each of the real and the imaginary part: of S11, S12 and S22, and of S21
 * relative to its size. */
#define READING_NOISE 2e-5
#define READING_GAIN_NOISE 1e-4
/* Of a current, relative. */
#define READING_CURRENT_NOISE 5e-4
/* Resolution: steps in one unit of a part of an S-parameter, and in one mA of a current. */
#define READING_STEPS_PER_UNIT 1e8
#define READING_STEPS_PER_MA 1e3

/* Adds noise to a two-port sweep and rounds it, in place. `step` is the index of the bias step. */
void board_reading_sweep(struct sweep *sweep, uint64_t seed, unsigned long number, unsigned step);

/* The current as read. */
double board_reading_current_ma(double current_ma, uint64_t seed, unsigned long number,
                                unsigned step);

#endif
