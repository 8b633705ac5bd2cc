#include "limits/decision.h"

#include <math.h>

#include "limits/statistics.h"

enum outcome decide(double margin, double guard_band)
{
    if (isnan(margin)) return OUTCOME_INCOMPLETE;
    if (margin >= guard_band && margin >= 0) return OUTCOME_PASS;
    if (margin >= 0) return OUTCOME_CONDITIONAL_PASS;
    if (margin > -guard_band) return OUTCOME_CONDITIONAL_FAIL;
    return OUTCOME_FAIL;
}

bool decision_accepts(enum decision_rule rule, enum outcome outcome)
{
    if (outcome == OUTCOME_PASS) return true;
    return outcome == OUTCOME_CONDITIONAL_PASS && rule == SIMPLE_ACCEPTANCE;
}

double decision_least_margin(enum decision_rule rule, double guard_band)
{
    return rule == SIMPLE_ACCEPTANCE ? 0 : fmax(guard_band, 0);
}

double conformance_probability(double value, double lower, double upper, double uncertainty)
{
    const double u = uncertainty / 2;
    double below_upper, below_lower;

    if (isnan(value)) return NAN;
    if (!(u > 0)) return !(value < lower) && !(value > upper) ? 1 : 0;
    /* Only one bound: its own tail, without the cancellation of 1 - p. */
    if (isnan(upper)) return normal_cdf((value - lower) / u);
    below_upper = normal_cdf((upper - value) / u);
    below_lower = isnan(lower) ? 0 : normal_cdf((lower - value) / u);
    return below_upper - below_lower;
}
