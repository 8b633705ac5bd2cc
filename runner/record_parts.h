/* Between record.c, record_begin.c and record_store.c only. */
#ifndef GAINSIEVE_RECORD_PARTS_H
#define GAINSIEVE_RECORD_PARTS_H

#include "limits/limits.h"
#include "runner/record.h"
#include "runner/record_chain.h"

struct record {
    struct record_reader reader; /* folder, database, lock */
    struct limits limits;
    char bench_sha256[DIGEST_HEX]; /* empty without a bench file */
    char *operator_name;           /* or NULL */
    bool broken;                   /* something could not be stored: nothing more is taken */
};

/* Begins an entry: a transaction in which `end` is the last entry. */
bool record_entry_begin(struct record *record, struct chain_link *end, struct error *e) MUST_CHECK;
/* Ends it: closes the entry and makes it durable when `ok`, else takes everything back. */
bool record_entry_end(struct record *record, const struct chain_link *end, const char *kind,
                      bool ok, struct error *e) MUST_CHECK;

/* Adds the time, now in UTC, and the operator to a statement. */
void record_add_time(struct record_query *q);
void record_add_operator(struct record_query *q, const struct record *record);

/* Reads the limits, begins the batch or compares with what it began with, and puts away what an
 * interruption left. The database is open and has its tables. */
bool record_begin(struct record *record, const struct record_request *request,
                  struct error *e) MUST_CHECK;

#endif
