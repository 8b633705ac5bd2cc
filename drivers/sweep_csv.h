/* A sweep as CSV: a header `frequency_hz` and for each parameter `s21_re,s21_im`, `s21_db,s21_deg`
 * or `s21_mag,s21_deg`, in any order, then a row a point. CSV sweeps refer to 50 ohm. */
#ifndef GAINSIEVE_SWEEP_CSV_H
#define GAINSIEVE_SWEEP_CSV_H

#include "drivers/base/error.h"
#include "drivers/base/text.h"
#include "drivers/sweep.h"

#define SWEEP_CSV_Z0_OHM 50.0

/* Reads `bytes` of the file `path` into `out`, whose memory is reused and which is empty on
 * failure. ERROR_INPUT "FILE:LINE: ..." for an unknown, doubled or half-given column, a frequency
 * that does not rise, a cell that is not a number, a row of another length, no rows. */
bool sweep_csv_read(const char *path, const char *bytes, size_t length, struct sweep *out,
                    struct error *e) MUST_CHECK;

/* Adds the measured parameters in the order S11, S21, S12, S22 as real and imaginary parts with the
 * shortest digits that read back the same. The sweep must refer to 50 ohm (assertion). */
void sweep_csv_write(const struct sweep *sweep, struct text *out);

#endif
