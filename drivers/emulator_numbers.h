/* Numbers as an emulated instrument writes them: IEEE 488.2 response data (from memory). */
#ifndef GAINSIEVE_EMULATOR_NUMBERS_H
#define GAINSIEVE_EMULATOR_NUMBERS_H

#include "drivers/base/text.h"
#include "drivers/emulator_fault.h"

enum emulator_format { EMULATOR_ASCII = 0, EMULATOR_REAL32, EMULATOR_REAL64 };

/* NR3 with sign, one digit before the point, and as many behind as read back the same:
 * +1.69E+08. What is not finite is written as SCPI-1999 (volume 1, 7.2.1.4) has it: 9.91E+37 for
 * not a number, 9.9E+37 for infinity. */
void emulator_add_nr3(struct text *out, double x);

/* A list: NR3 with commas, or a definite block "#LNNN" of IEEE 754 reals, the most significant byte
 * first unless `swapped` (SCPI-1999 FORMat:BORDer NORMal). The faults that hold now change it. */
void emulator_add_numbers(struct text *out, const double *x, size_t n, enum emulator_format format,
                          bool swapped, const struct emulator_faults *faults);

#endif
