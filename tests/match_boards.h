/* Invented boards for tests of matching: gains over places, from a printed seed. */
#ifndef GAINSIEVE_TESTS_MATCH_BOARDS_H
#define GAINSIEVE_TESTS_MATCH_BOARDS_H

#include <complex.h>
#include <math.h>
#include <stdlib.h>

#include "drivers/random_source.h"
#include "drivers/sweep.h"
#include "limits/match_cost.h"

/* Smooth traces: gain with slope and curvature, phase with delay, slope and curvature, and two
 * ripples; eight numbers a board, a gain of about 10 and a spread of some tenths of a dB and some
 * degrees. Every twentieth board is far from the others. Freed by the caller with free(). */
static inline double complex *match_boards(size_t n_boards, size_t n_places, uint64_t seed)
{
    double complex *gain = malloc(n_boards * n_places * sizeof *gain);
    struct random_source random;

    random_begin(&random, seed, 0, 0x6d61746368);
    for (size_t b = 0; gain && b < n_boards; b++) {
        double far = random_uniform(&random) < 0.05 ? 4 : 1, part[8];

        for (size_t i = 0; i < 8; i++)
            part[i] = far * random_normal(&random);
        for (size_t p = 0; p < n_places; p++) {
            double x = n_places > 1 ? 2.0 * (double)p / (double)(n_places - 1) - 1 : 0;
            double level = 0.04 * part[0] + 0.02 * part[1] * x + 0.01 * part[2] * x * x +
                           0.006 * part[6] * cos(7 * x + part[7]);
            double phase = 0.06 * part[3] + 0.04 * part[4] * x + 0.02 * part[5] * x * x +
                           0.006 * part[6] * sin(7 * x + part[7]);

            gain[b * n_places + p] = 10 * exp(level) * cexp(CMPLX(0, phase - 3 * x));
        }
    }
    return gain;
}

/* No order at all: independent places, amplitudes of any ratio, now and then a silent board. */
static inline double complex *match_noise(size_t n_boards, size_t n_places, uint64_t seed)
{
    double complex *gain = malloc(n_boards * n_places * sizeof *gain);
    struct random_source random;

    random_begin(&random, seed, 0, 0x6e6f697365);
    for (size_t i = 0; gain && i < n_boards * n_places; i++) {
        double size = random_uniform(&random);

        gain[i] = size < 0.02 ? 0 : size * cexp(CMPLX(0, 6.3 * random_uniform(&random)));
    }
    return gain;
}

#endif
