/* `report.html`: the batch on one page, which opens from disk with no network. */
#ifndef GAINSIEVE_PAGE_BATCH_H
#define GAINSIEVE_PAGE_BATCH_H

#include "reports/batch.h"

/* Adds the whole page to `out`. Fails on lack of memory only. */
bool page_batch_write(const struct batch *batch, struct text *out, struct error *e) MUST_CHECK;

#endif
