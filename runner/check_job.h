/* Judging a whole archive: the units in parallel, the results in the archive's order. */
#ifndef GAINSIEVE_CHECK_JOB_H
#define GAINSIEVE_CHECK_JOB_H

#include "drivers/archive.h"
#include "limits/judge.h"
#include "reports/batch.h"
#include "runner/progress.h"

struct check_job {
    /* Set by the caller, borrowed. */
    const struct limits *limits;
    const struct archive *archive;
    const char *reference_serial; /* or NULL */
    const char *units_folder;     /* where unit pages go; NULL for none */
    unsigned long jobs;
    struct progress *progress;
    /* Filled by check_job_run(), owned. */
    size_t n_units;
    size_t *unit_file;      /* for each unit, and one more: its first file */
    size_t *unit_judgement; /* for each unit, and one more: its first judgement */
    size_t n_judgements;    /* one an attempt */
    struct judgement *judgements;
    size_t n_traces; /* of the first units, their last attempts */
    struct unit_traces *traces;
    size_t *trace_owner;
    struct measurement reference;
};

/* Judges every attempt of every unit; writes the unit pages as it goes. */
bool check_job_run(struct check_job *job, struct error *e) MUST_CHECK;
/* Frees and zeroes what was filled; harmless on zero and twice. */
void check_job_clear(struct check_job *job);

#endif
