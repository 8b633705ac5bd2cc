/* The spread of a batch: how the units lie at one place. */
#ifndef GAINSIEVE_SPREAD_H
#define GAINSIEVE_SPREAD_H

#include "reports/batch.h"

/* Quantiles of the units at one place; all NaN where none was measured. */
struct spread {
    double lowest, low, quarter, median, three_quarters, high, highest; /* low, high: 1 and 99 % */
};

/* Of `n` values, which it sorts; NaN are left out. */
void spread_of(struct spread *out, float *values, size_t n);

/* At every column of a view, over the units of the batch. The lowest and the highest hold every
 * point of the units' lines too, so that no excursion is lost. Fails on lack of memory only. */
bool spread_of_view(struct spread out[VIEW_COLUMNS], const struct batch *batch, size_t view,
                    struct error *e) MUST_CHECK;

/* Of the gain at traces_centre_hz() at each bias step; `out` has room for CEILING_BIAS_STEPS. */
bool spread_of_bias(struct spread *out, const struct batch *batch, struct error *e) MUST_CHECK;

#endif
