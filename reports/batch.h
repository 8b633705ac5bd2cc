/* What a batch's pages are made from: the limits, the judgements and, for the pictures, what was
 * kept of every unit's sweeps. Filled by the runner, read by the pages. */
#ifndef GAINSIEVE_BATCH_H
#define GAINSIEVE_BATCH_H

#include <stddef.h>

#include "drivers/measurement.h"
#include "limits/judge.h"
#include "limits/yield.h"
#include "reports/page_names.h"
#include "reports/traces.h"

/* Which units have a page of their own. */
enum unit_pages { UNIT_PAGES_ALL = 0, UNIT_PAGES_FAILED, UNIT_PAGES_NONE };

/* A unit by its last attempt. */
struct batch_unit {
    const struct judgement *judgement;
    const struct circumstances *circumstances;
    const struct unit_traces
        *traces; /* with lines when the unit is not PASS, or in a small batch */
    size_t n_attempts;
    const struct circumstances *earlier; /* of the attempts before the last, oldest first; NULL when
                                            nothing is known of them */
};

struct batch {
    const struct limits *limits;
    const struct views *views;
    const char *source; /* what was checked, in words: paths as the user gave them */
    const char *notes;  /* what was not judged, in words; "" when everything was */
    enum unit_pages unit_pages;
    size_t n_units;
    const struct batch_unit *units;      /* by serial number */
    const struct page_names *names;      /* of the units' pages; NULL: no two differ in case only */
    const struct measurement *reference; /* the unit of the phase limits; NULL without */
    struct batch_yield yield;            /* counts and intervals, from limits/yield.h */
};

/* Fewer units than this have no spread worth the name: each is drawn for itself. */
#define BATCH_SMALL 8

/* Whether the unit has a page of its own. */
static inline bool batch_has_page(enum unit_pages pages, const struct judgement *judgement)
{
    return pages == UNIT_PAGES_ALL ||
           (pages == UNIT_PAGES_FAILED && judgement->verdict != VERDICT_PASS);
}

#endif
