/* The pictures of the batch page: how all units lie, and every unit outside a limit for itself. */
#ifndef GAINSIEVE_PAGE_PICTURES_H
#define GAINSIEVE_PAGE_PICTURES_H

#include "reports/batch.h"
#include "reports/html.h"

/* Whether the limits ask for any picture. */
bool page_has_pictures(const struct batch *batch);

/* Gain, input reflection and input impedance at each bias step, and gain against bias; each kind
 * under its own heading; nothing when there are none. Fails on lack of memory only. */
bool page_pictures_write(struct html *h, const struct batch *batch, struct error *e) MUST_CHECK;

#endif
