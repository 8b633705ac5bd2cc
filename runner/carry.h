/* A judgement by earlier limits on a page of later ones.
 *
 * When the limits of a batch change, units that were judged before keep their verdicts; the page of
 * the batch has one list of limits. A verdict is never made anew for it. */
#ifndef GAINSIEVE_CARRY_H
#define GAINSIEVE_CARRY_H

#include "limits/judge.h"

/* Fills `out` with verdict, reason, worst limit and number of failed limits of `night`, and with
 * findings in the order of `anew`, which is the same measurement by the later limits: those in
 * which both agree wholly are kept; any other is incomplete and says why, because its figures
 * belong to a bound that the page does not show. Borrows from both; `out` must be zero or cleared.
 * Fails on lack of memory only. */
bool carry_judgement(struct judgement *out, const struct judgement *night,
                     const struct judgement *anew, struct error *e) MUST_CHECK;

#endif
