/* The table of all units on the batch page, with the means to sort, filter and find. */
#ifndef GAINSIEVE_PAGE_UNITS_H
#define GAINSIEVE_PAGE_UNITS_H

#include "reports/batch.h"
#include "reports/html.h"

/* The box that finds a serial number, and the place that tells what was found. */
void page_units_write_find(struct html *h);

/* The table under its heading, a row a unit. */
void page_units_write(struct html *h, const struct batch *batch);

#endif
