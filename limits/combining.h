/* How well boards work together: K complex gains added in an ideal in-phase combiner.
 *
 * Efficiency = |sum a|^2 / (K sum |a|^2): the power that comes out against the power that goes in
 * (Gupta, IEEE T-MTT 40 (1992) 1031, from memory; the formula is elementary). 1 for equal gains, 0
 * when they cancel, and 0 when all are silent, because nothing comes out. */
#ifndef GAINSIEVE_COMBINING_H
#define GAINSIEVE_COMBINING_H

#include <complex.h>
#include <stddef.h>

#include "drivers/base/error.h"

/* A set at one place, that is at one frequency and one bias setting. */
struct combining {
    double efficiency;       /* 0..1 */
    double loss_db;          /* -10 log10(efficiency), not negative; infinite for 0 */
    double gain_spread_db;   /* largest over smallest |a|; infinite when some are silent */
    double phase_spread_deg; /* the shortest arc that holds the phases of all that are not silent */
};

/* The worst of each over all places, and the first place where it stands. */
struct combining_worst {
    struct combining worst;
    size_t loss_place, gain_place, phase_place;
};

/* The gains of `n` boards (one or more) at one place. */
void combining_at(const double complex *gains, size_t n, struct combining *out);

/* `n_boards` rows of `n_places` gains each, borrowed; the places in the same order in all rows. No
 * ceiling on either: the work grows with n_boards^2 x n_places. False without memory. */
bool combining_over(const double complex *const *boards, size_t n_boards, size_t n_places,
                    struct combining_worst *out, struct error *e) MUST_CHECK;

/* The constant phase of each board, to be taken off where a phase shifter in its channel will trim
 * it: out[i] in radians, -pi..pi, that of the first board 0.
 *
 * With the phases only, u = a / |a|, the phases t of the boards and a common course r over the
 * places (|r| = 1) are those that maximise sum over boards and places of Re(u conj(r) exp(-j t)),
 * that is: each board's t is its mean phase against the common course, and the course is the mean
 * of the boards so turned. Found from r = the first board by turns, at most 50; each turn can only
 * raise the sum. Amplitudes do not weigh in, so a bias setting of low gain counts as much as
 * others.
 *
 * This is the best constant phase in the least-squares sense over all places, not the one that is
 * best for the worst place alone; a trimmer set for that place can do a little better than what is
 * told here, never worse. A batch and a set taken from it give courses that differ a little; the
 * phases then differ by a constant for all, which does no harm, and by terms of second order. */
bool combining_free_phases(const double complex *const *boards, size_t n_boards, size_t n_places,
                           double *out_rad, struct error *e) MUST_CHECK;

/* Takes a constant phase off one board's gains, in place. */
void combining_turn(double complex *gains, size_t n_places, double phase_rad);

#endif
