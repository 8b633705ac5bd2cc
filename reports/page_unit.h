/* `units/SERIAL.html`: one unit on one printable sheet. */
#ifndef GAINSIEVE_PAGE_UNIT_H
#define GAINSIEVE_PAGE_UNIT_H

#include "reports/batch.h"

/* The unit's attempts, oldest first; the sheet shows the last one and lists the others. `m` holds
 * the last attempt's sweeps, `traces` its lines. */
struct unit_sheet {
    const struct limits *limits;
    const struct judgement *attempts;
    size_t n_attempts;
    const struct measurement *m;
    const struct unit_traces *traces;
};

/* Adds the whole page to `out`. Fails on lack of memory only. */
bool page_unit_write(const struct unit_sheet *sheet, struct text *out, struct error *e) MUST_CHECK;

/* The file name of a unit's page, "KW000101.html": bytes other than letters, digits, '.', '-' and
 * '_' as %XX, so that any serial number is one name and two never share one. `link` is the same for
 * an href, where '%' itself is escaped. */
#define PAGE_UNIT_NAME (5 * CEILING_SERIAL + 32)
void page_unit_name(const char *serial, char name[PAGE_UNIT_NAME], char link[PAGE_UNIT_NAME]);

#endif
