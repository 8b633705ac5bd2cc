/* The entries of a record as a chain: each holds the SHA-256 of its canonical text, which includes
 * the digest of the entry before. The text is written in docs/record.md. */
#ifndef GAINSIEVE_RECORD_CHAIN_H
#define GAINSIEVE_RECORD_CHAIN_H

#include "drivers/base/digest.h"
#include "runner/record_db.h"

/* "GAIR", by which SQLite's file says whose it is, and the version of the schema. */
#define RECORD_APPLICATION 1195460946
#define RECORD_VERSION 1

struct chain_link {
    int64_t n; /* from 1; 0 before the first */
    char sha256[DIGEST_HEX];
};

/* The last entry; n is 0 and the digest all zeros in an empty record. */
bool record_chain_end(struct record_db *db, struct chain_link *out, struct error *e) MUST_CHECK;

/* Adds the canonical text of entry `n`, from the rows that the tables hold for it. */
bool record_chain_text(struct record_db *db, int64_t n, const char *kind, const char *before,
                       struct text *out, struct error *e) MUST_CHECK;

/* Closes entry `n`, whose rows were written in the same transaction and which follows `end`. */
bool record_chain_add(struct record_db *db, const struct chain_link *end, const char *kind,
                      struct error *e) MUST_CHECK;

/* The tables that hold an entry's rows, in the order of the canonical text; NULL behind the last.
 */
const char *record_chain_table(size_t i);

#endif
