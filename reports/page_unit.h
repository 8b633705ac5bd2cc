/* `units/SERIAL.html`: one unit on one printable sheet. */
#ifndef GAINSIEVE_PAGE_UNIT_H
#define GAINSIEVE_PAGE_UNIT_H

#include "reports/batch.h"

/* The unit's attempts, oldest first; the sheet shows the last one and lists the others. `m` holds
 * the last attempt's sweeps, `traces` its lines (unit_traces_make() with lines). */
struct unit_sheet {
    const struct limits *limits;
    const struct views *views;
    const struct judgement *attempts;
    size_t n_attempts;
    const struct circumstances *circumstances; /* of the attempts; NULL: nothing is known of them */
    const struct measurement *m;
    const struct unit_traces *traces;
    const struct measurement *reference; /* the unit of the phase limits; NULL without */
};

/* Adds the whole page to `out`. Fails on lack of memory only. */
bool page_unit_write(const struct unit_sheet *sheet, struct text *out, struct error *e) MUST_CHECK;

#endif
