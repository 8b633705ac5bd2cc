/* What the limits cost, on the batch page: units that failed each, alone and together, capability,
 * and for each limit its distribution and its values from unit to unit. */
#ifndef GAINSIEVE_PAGE_LIMITS_H
#define GAINSIEVE_PAGE_LIMITS_H

#include "reports/batch.h"
#include "reports/html.h"

/* Fails on lack of memory only. */
bool page_limits_write(struct html *h, const struct batch *batch, struct error *e) MUST_CHECK;

#endif
