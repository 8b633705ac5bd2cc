/* The pictures of a unit's sheet: all its bias steps in one picture each. */
#ifndef GAINSIEVE_UNIT_PICTURES_H
#define GAINSIEVE_UNIT_PICTURES_H

#include "reports/html.h"
#include "reports/page_unit.h"

/* Gain, input reflection, gain against bias and input impedance, as far as the limits ask for them.
 */
void unit_pictures_write(struct html *h, const struct unit_sheet *sheet);

#endif
