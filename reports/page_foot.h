/* The foot of both pages: what the verdicts rest on beside the unit's own sweeps. */
#ifndef GAINSIEVE_PAGE_FOOT_H
#define GAINSIEVE_PAGE_FOOT_H

#include "drivers/measurement.h"
#include "reports/html.h"

/* Writes the reference unit with the digests of its sweeps (NULL: none) and the program's version.
 */
void page_foot_write(struct html *h, const struct measurement *reference);

#endif
