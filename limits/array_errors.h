/* What the spread of a set of boards does to a uniform linear array: gain, pointing, side lobes.
 *
 * The boards feed `n` equal elements in a row, `spacing_wl` wavelengths apart, all meant to be fed
 * alike but for the phase that steers the beam. What a board does otherwise, its complex gain
 * against the mean of the set, is the error of its element. Two answers: what to expect of any set
 * with such a spread and the worst that its limits allow (formulas), and what this very set does in
 * this order (the array factor summed). Elements are isotropic and do not couple.
 *
 * Directions are u = sin(angle from broadside); 0 dB is the array without errors that is fed the
 * same power. Formulas, sources and what they leave out: docs/array.md. */
#ifndef GAINSIEVE_ARRAY_ERRORS_H
#define GAINSIEVE_ARRAY_ERRORS_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

/* More elements than this are refused: the direct sum takes some sixty n squared steps. */
#define ARRAY_ELEMENTS 1024
/* Wider spacings are refused: the array is then mostly grating lobes. */
#define ARRAY_SPACING_WL 16.0

struct linear_array {
    size_t n;          /* elements, 2 to ARRAY_ELEMENTS */
    double spacing_wl; /* in wavelengths, above 0 and up to ARRAY_SPACING_WL */
    double beam_deg;   /* where the beam is steered, between -90 and 90, 0 broadside */
};

/* Spread of the excitations of a set about their complex mean. */
struct excitation_spread {
    double amplitude;       /* standard deviation of abs(a) over their mean; n - 1 below the line */
    double phase_rad;       /* standard deviation of the phase; n - 1 below the line */
    double amplitude_ratio; /* largest over smallest abs(a); infinite when one is zero */
    double half_range_rad;  /* half of the largest difference in phase */
    double mean_error;      /* mean of abs(a over their mean less 1) */
};

/* False, with NaN everywhere, for fewer than two excitations, for values that are not finite and
 * when they cancel: then there is no mean to compare with. */
bool excitation_spread_of(struct excitation_spread *out, const double complex *a, size_t n);

/* What to expect. Losses are positive in dB; angles are on both sides. */
struct array_expectation {
    double gain_loss_db;           /* in the direction of the beam */
    double worst_gain_loss_db;     /* infinite from a half range of 90 degrees */
    double pointing_deviation_deg; /* standard deviation of the beam's direction */
    double worst_pointing_deg;     /* by phases within the half range, in the worst order */
    double pointing_loss_db;       /* the part of the gain loss that is lost by pointing */
    double ideal_side_lobe_db;     /* highest without errors; -infinite where there is none */
    double side_lobe_db;           /* mean power in that direction, against that of the beam */
    double worst_side_lobe_db;     /* none is above it, in any order of this set; up to 0 */
};

/* With A = amplitude, P = phase_rad, N elements, spacing d and v = 1 + A^2 - exp(-P^2):
 *
 *     gain loss        -10 log10 ((exp(-P^2) + v / N) / (1 + A^2))
 *     pointing         P sqrt(12 / (N (N^2 - 1))) / (2 pi d cos(beam))
 *     pointing loss    -10 log10 (1 - P^2 / N)
 *     side lobe        10 log10 ((s^2 N exp(-P^2) + v) / (N exp(-P^2) + v))
 *
 * s the ideal side lobe as an amplitude. The worst, with R = amplitude_ratio, F =
 * half_range_rad, M = mean_error and m = number of elements on one side of the middle:
 *
 *     gain loss        -10 log10 (cos(F)^2 4 R / (1 + R)^2)
 *     pointing         F 12 m (N - m) / (N (N^2 - 1)) / (2 pi d cos(beam))
 *     side lobe        20 log10 (s + M)
 *
 * False, with NaN everywhere, for an array or a spread that is not one. */
bool array_expect(struct array_expectation *out, const struct linear_array *array,
                  const struct excitation_spread *spread);

/* What a set does in the given order. */
struct array_exact {
    double gain_loss_db;   /* in the direction of the beam as steered */
    double peak_loss_db;   /* where the beam really points */
    double pointing_deg;   /* error of the beam's direction: the peak's angle less beam_deg */
    double side_lobe_db;   /* highest, against the peak; -infinite where there is none */
    double side_lobe_deg;  /* its direction; NaN where there is none */
    bool has_grating_lobe; /* a part of a second main beam is visible; no side lobe here */
};

/* The array factor in direction `u`: the sum of a[i] exp(j 2 pi d (i - (N - 1) / 2) (u - u0)). */
double complex array_factor(const struct linear_array *array, const double complex *a, double u);

/* The direct answer for the `array->n` excitations. The peak is sought within 1 / (N d) in u of the
 * steered direction, where the array without errors has its first nulls; side lobes are the maxima
 * of abs(factor) outside these and outside their repetitions, and the ends of what is visible.
 * False, with NaN everywhere, for an array that is not one, for excitations that are not finite or
 * all zero. */
bool array_sum(struct array_exact *out, const struct linear_array *array, const double complex *a);

#endif
