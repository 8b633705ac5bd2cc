/* Charts of one limit over the units of a batch: how its values are distributed, and how they went
 * from unit to unit. */
#ifndef GAINSIEVE_LIMIT_CHARTS_H
#define GAINSIEVE_LIMIT_CHARTS_H

#include "limits/capability.h"
#include "limits/limit_series.h"
#include "reports/html.h"
#include "reports/plot.h"

/* A histogram of the series with its bounds and guard bands; over a band the lowest and the highest
 * values, each against its bound. Fails on lack of memory only. */
bool chart_distribution(struct html *h, const struct limit_series *series,
                        struct error *e) MUST_CHECK;

/* The values against the tighter bound in the order of the series, with the limits of an
 * individuals chart. `order` says in words what the order is. Fails on lack of memory only. */
bool chart_individuals(struct html *h, const struct limit_series *series, const char *order,
                       struct error *e) MUST_CHECK;

/* What the values of a side are, where both are bounded: "lowest value of each unit", for a margin
 * "margin to the lower bound". */
const char *chart_side_words(const struct limit_series *series, bool is_lower);

/* Widens a range by the bounds and the ends of their guard bands. For both charts. */
void chart_take_bounds(struct plot_range *range, const struct limit_series *series);

/* Widens a range by nearly all values of the sides, `n` each, and by the last ones as far as they
 * leave room for the others. For both charts. Fails on lack of memory only. */
bool chart_take_values(struct plot_range *range, const struct limit_side *const *sides,
                       size_t n_sides, size_t n, struct error *e) MUST_CHECK;

#endif
