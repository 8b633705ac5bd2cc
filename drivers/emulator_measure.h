/* What the emulated analyser and supply see of the board in the fixture: the board model with the
 * errors of a real bench on top.
 *
 * Sizes are common practice for a bench corrected at its connectors, but for the drift, which is
 * slower and smaller than a real one so that a demo ends:
 * - directivity: what is left of it after correction, a reflection of 0.003 that turns once in
 *   400 MHz; without correction 0.05, and S21 is 9 % low
 * - each connection of a board its own: up to 0.002 of reflection, 0.1 % of gain
 * - drift from sweep to sweep, a walk that is pulled back
 * - noise anew for each point of each sweep, less with a narrow bandwidth and with averages */
#ifndef GAINSIEVE_EMULATOR_MEASURE_H
#define GAINSIEVE_EMULATOR_MEASURE_H

#include "drivers/emulator.h"

#define EMULATOR_DIRECTIVITY 0.003
#define EMULATOR_RAW_DIRECTIVITY 0.05
#define EMULATOR_RAW_TRACKING 0.91
#define EMULATOR_CONNECTOR_REFLECTION 0.002
#define EMULATOR_CONNECTOR_GAIN 0.001
/* One standard deviation, at 1 kHz and no averages, of real and imaginary part: of reflections, and
 * of S21 and S12 relative to their size. */
#define EMULATOR_NOISE 2e-5
#define EMULATOR_GAIN_NOISE 1e-4
/* One step of the drift, and what a step leaves of what was there. */
#define EMULATOR_DRIFT_STEP 1e-5
#define EMULATOR_DRIFT_KEPT 0.995

/* The frequencies of the settings, evenly spaced, into an array of ANALYSER_POINTS. */
void emulator_axis(const struct emulator *bench, size_t n, double *frequency_hz);

/* One sweep into bench->a.last, the one before into bench->a.before; the board is biased as the
 * supply does now. With the RF off there is noise alone. No board: both ports are open. */
bool emulator_sweep(struct emulator *bench, size_t n_points, struct error *e) MUST_CHECK;

/* Voltage in V or current in A at the supply's output as it reads them: a little noise, 0.1 mV and
 * 1 uA of resolution. */
double emulator_read_v(struct emulator *bench);
double emulator_read_a(struct emulator *bench);

#endif
