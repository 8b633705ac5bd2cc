/* Whether a bench may be switched on at all: levels and ratings, worked out before anything is
 * sent.
 *
 * The rule (common practice, see docs/safety.md): with P the source, G the highest gain that is
 * assumed, A the pad, Psat what the board gives at most, all in dBm and dB,
 *     driven = P + G - A        oscillating = Psat - A
 *     max(driven, oscillating) <= receiver damage - reserve
 *     driven                   <= receiver linear - 3 dB
 *     Psat                     <= pad rating - 3 dB          (with a pad)
 * and every bias step within the bench's and the supply's maxima, current limit within the
 * supply's, sweep within the analyser's frequencies, points and power. */
#ifndef GAINSIEVE_SAFETY_H
#define GAINSIEVE_SAFETY_H

#include "drivers/bench_file.h"
#include "drivers/profile.h"
#include "limits/limits.h"

/* What was worked out, for the words of a rehearsal. */
struct safety_levels {
    double highest_gain_db; /* assumed, and where it came from */
    bool gain_from_limits;
    double driven_dbm, oscillating_dbm, damage_dbm, linear_dbm;
};

/* ERROR_BENCH with figures and what to change. `analyser` and `supply` are NULL for a folder: and a
 * manual: one, whose ratings then must stand in the bench file (receiver) or are not known
 * (supply). A gain that neither file bounds is an error, not a guess. */
bool safety_check(const struct bench_file *file, const struct limits *limits,
                  const struct profile *analyser, const struct profile *supply,
                  struct safety_levels *out, struct error *e) MUST_CHECK;

/* Whether the correction is still as young as the bench file wants it on the day `today`
 * ("2026-11-25"). ERROR_BENCH, also when it was done after that day: a clock is wrong then. */
bool safety_check_correction(const struct bench_file *file, const char *today,
                             struct error *e) MUST_CHECK;

/* The levels as words, a line each. */
void safety_words(const struct safety_levels *levels, struct text *out);

#endif
