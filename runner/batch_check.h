/* Judging the sweeps of a batch record: by its own limits, which must give the verdicts that are
 * recorded, or by others, which change some. For `report` and `check`. */
#ifndef GAINSIEVE_BATCH_CHECK_H
#define GAINSIEVE_BATCH_CHECK_H

#include "drivers/base/error.h"
#include "reports/batch.h"

struct batch_check {
    const char *folder; /* of the batch; nothing is written there but what `out` says, and the
                           write-ahead log is folded in */
    const char *limits; /* NULL: the batch's own, for each attempt those it was judged by */
    const char *out;    /* where reports go, or NULL */
    bool with_index;    /* index.csv too, which names the sweeps of the batch: `out` is `folder` */
    enum unit_pages unit_pages;
    unsigned long jobs;
};

/* Judges, compares, writes the reports and prints the summary. `*all_pass`: there are units, and
 * every unit is PASS. ERROR_INPUT when a sweep is not the one that was recorded, or when a recorded
 * verdict or finding does not follow from its sweeps; the reports are then left as they were. */
bool batch_check_run(const struct batch_check *o, bool *all_pass, struct error *e) MUST_CHECK;

#endif
