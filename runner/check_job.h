/* Judging a whole archive or batch: the units in parallel, the results in the source's order. */
#ifndef GAINSIEVE_CHECK_JOB_H
#define GAINSIEVE_CHECK_JOB_H

#include "limits/judge.h"
#include "limits/yield.h"
#include "reports/batch.h"
#include "runner/progress.h"
#include "runner/source.h"

struct check_job {
    /* Set by the caller, borrowed. */
    const struct limits *limits; /* an attempt of the source may have its own; the report's pages
                                    are made for these */
    const struct source *source;
    const char *reference_serial; /* a unit of the source, or NULL */
    const struct views *views;    /* keep what the report's pictures need; NULL for no report */
    enum unit_pages unit_pages;
    const char *units_folder; /* where unit pages go, a folder that is there; needed unless they
                                 are UNIT_PAGES_NONE */
    unsigned long jobs;
    struct progress *progress;
    /* Filled by check_job_run(), owned. */
    size_t n_units;
    size_t *unit_judgement;       /* for each unit, and one more: its first judgement */
    size_t n_judgements;          /* one an attempt */
    struct judgement *judgements; /* in the order of the source's attempts */
    struct judgement *carried; /* for each unit: its last one as `limits` allow when it was judged
                                  by others (carry.h), else zero */
    /* For a report. */
    struct unit_traces *traces;          /* of each unit's last attempt */
    struct circumstances *circumstances; /* of each attempt; borrowed from the source */
    struct page_names names;
    struct measurement reference; /* of reference_serial; the serial number is empty without one */
};

/* Judges every attempt of every unit; writes the unit pages as it goes. */
bool check_job_run(struct check_job *job, struct error *e) MUST_CHECK;
/* The units for a report, as many as n_units; freed with memory_free(). NULL with `e` set. Borrows
 * from the job. */
struct batch_unit *check_job_units(const struct check_job *job, struct error *e) MUST_CHECK;
/* Counts the units, by their last attempts. */
bool check_job_yield(const struct check_job *job, struct batch_yield *out,
                     struct error *e) MUST_CHECK;
/* What the last attempt was compared with, for limits on phase; NULL for nothing. */
const struct measurement *check_job_reference(const struct check_job *job);
/* Frees and zeroes what was filled; harmless on zero and twice. */
void check_job_clear(struct check_job *job);

#endif
