/* From a margin to an outcome, under uncertainty.
 *
 * Outcomes are the non-binary statement of ILAC-G8:09/2019; the conformance probability is that of
 * JCGM 106:2012 for a normal distribution with u = U / 2 (both from memory; docs/judgement.md). */
#ifndef GAINSIEVE_DECISION_H
#define GAINSIEVE_DECISION_H

#include <stdbool.h>

#include "limits/judge.h"

/* `margin` and the guard band g U in one unit; a NaN margin is incomplete. */
enum outcome decide(double margin, double guard_band);

/* Whether the rule accepts the outcome. */
bool decision_accepts(enum decision_rule rule, enum outcome outcome);

/* The smallest margin that the rule accepts. */
double decision_least_margin(enum decision_rule rule, double guard_band);

/* Probability that the true value lies within the bounds (NaN: no such bound), given a value with
 * expanded uncertainty `uncertainty`. With no uncertainty at all 1 inside and 0 outside. */
double conformance_probability(double value, double lower, double upper, double uncertainty);

#endif
