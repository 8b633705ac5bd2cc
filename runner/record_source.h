/* The sweeps of a batch record as sources of a job, each attempt with the limits and the reference
 * unit that held when it was judged. */
#ifndef GAINSIEVE_RECORD_SOURCE_H
#define GAINSIEVE_RECORD_SOURCE_H

#include <pthread.h>

#include "drivers/bench_file.h"
#include "runner/record_read.h"
#include "runner/source.h"

/* An attempt of the record. */
struct record_kept {
    struct record_unit unit;
    char *bench; /* "LABEL, bench.xml 3f5a12ab09cd", the beginning of its digest; NULL without a
                    bench; without the label when the file is not there any more */
};

/* A reference unit's sweeps at the impedance of the limits that compare with them. */
struct record_reference {
    int64_t n; /* its entry */
    const struct limits *limits;
    struct measurement m;
};

struct record_source {
    struct source counted; /* what counts; the last of a unit is its verdict */
    struct source marked;  /* attempts that were marked as wrongly connected: they do not count */
    /* Owned; what the sources borrow. A source's place is an index into `kept`. */
    size_t n_kept, kept_capacity;
    struct record_kept *kept; /* every attempt, by serial number and attempt */
    size_t n_limits, limits_capacity;
    struct limits **limits; /* one a digest; the first are those now in use */
    size_t n_references, references_capacity;
    struct record_reference **references;
    struct bench_file bench; /* the last one that was asked for, and its digest */
    char bench_sha256[DIGEST_HEX];
    struct record_reader *reader; /* borrowed */
    pthread_mutex_t lock;         /* one thread at a time asks the reader */
    bool is_open;
};

/* Lists the attempts. With `by` they are judged by these limits, which are borrowed, else each by
 * its own. ERROR_INPUT when limits or reference sweeps are not those that were recorded. `out` must
 * stay where it is. */
bool record_source_open(struct record_source *out, struct record_reader *reader,
                        const struct limits *by, struct error *e) MUST_CHECK;
/* The recorded attempt behind attempt `i` of one of the sources. */
const struct record_unit *record_source_unit(const struct record_source *rs,
                                             const struct source *source, size_t i);
/* Harmless on zero and twice. */
void record_source_close(struct record_source *rs);

#endif
