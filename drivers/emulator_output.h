/* What an emulated instrument has on its way out, and the faults that sit there. */
#ifndef GAINSIEVE_EMULATOR_OUTPUT_H
#define GAINSIEVE_EMULATOR_OUTPUT_H

#include "drivers/emulator.h"

/* Puts bytes in the queue, due at `due_s`, or nothing but a hang-up when `n` is 0 and `gone` set.
 * ERROR_MEMORY; ERROR_BENCH when a controller asks on and on and never reads. */
bool emulator_output_add(struct emulator_instrument *instrument, const char *bytes, size_t n,
                         double due_s, double gap_s, bool gone, struct error *e) MUST_CHECK;

/* The echo, if there is one, and the answer with its terminator; as the faults of now have it. An
 * empty answer is none. `message` is what was asked, without its terminator. */
bool emulator_output_answer(struct emulator_instrument *instrument, const char *message,
                            struct text *answer, struct error *e) MUST_CHECK;

/* What an instrument says unasked when a controller opens it: only with faults. */
bool emulator_output_opening(struct emulator_instrument *instrument, struct error *e) MUST_CHECK;

/* Throws away what is on its way. */
void emulator_output_clear(struct emulator_instrument *instrument);

#endif
