/* The record of a batch: what is stored here is on the disk, and never changed again.
 *
 * A batch is a folder (batch_folder.h) with an SQLite file whose entries form a chain
 * (record_chain.h). docs/record.md tells the tables, the chain and what an audit proves. */
#ifndef GAINSIEVE_RECORD_H
#define GAINSIEVE_RECORD_H

#include "runner/record_read.h"

struct record;

struct record_request {
    const char *folder;        /* made when it is not there */
    const char *limits;        /* the limits file */
    const char *bench;         /* the bench file, or NULL */
    const char *operator_name; /* or NULL */
    const char *reason;        /* why the limits or the bench differ from the batch's, or NULL */
};

/* Begins a batch or goes on with one, and locks it. ERROR_STORE for a network file system, a batch
 * that another process works on, a disk that does not take it. ERROR_INPUT when limits or bench are
 * not those of the batch and no reason is given (both digests are named), when they cannot be used,
 * or when the record is damaged. */
bool record_open(struct record **out, const struct record_request *request,
                 struct error *e) MUST_CHECK;

/* Folds the write-ahead log in, closes and unlocks; NULL is harmless. Everything is freed whatever
 * it returns; ERROR_STORE says that the log could not be folded in, which loses nothing: the next
 * one who opens the batch does it. */
bool record_close(struct record *record, struct error *e) MUST_CHECK;

/* The limits of the batch, as they stand in its folder; borrowed. */
const struct limits *record_limits(const struct record *record);
/* For record_find(), record_count() and the others of record_read.h; borrowed. */
struct record_reader *record_reader_of(struct record *record);

/* One attempt to be stored. */
struct record_entry {
    const struct measurement *measurement;
    const struct judgement *judgement; /* of this measurement by record_limits() */
    const char *instruments;           /* what analyser and supply say of themselves, or NULL */
};

/* Stores the sweeps, then the verdict, its findings and the sweeps' digests in one transaction;
 * true means that all of it is on the disk. `*attempt` is the number that the record gave (what the
 * measurement and the judgement say is not looked at); unchanged on failure. A sweep that no file
 * can hold (nothing measured, a number that is not finite) is ERROR_BENCH and changes nothing.
 * After any other failure the record takes nothing more: what a disk that failed once has kept is
 * only known when the batch is opened again. */
bool record_store(struct record *record, const struct record_entry *entry, unsigned long *attempt,
                  struct error *e) MUST_CHECK;

/* Stores the reference unit's own sweeps, with which limits on phase compare from now on. Does
 * nothing when the record's last ones are the same. */
bool record_store_reference(struct record *record, const struct measurement *m,
                            struct error *e) MUST_CHECK;

enum record_note_kind {
    NOTE_REMARK = 0,        /* the operator's own words */
    NOTE_WRONGLY_CONNECTED, /* the attempt does not count */
    NOTE_SKIPPED,           /* a serial number that was not tested */
    NOTE_REFERENCE_GOOD,    /* the bench measured its reference unit within tolerance */
    NOTE_REFERENCE_BAD,     /* ... or not */
    NOTE_BENCH,             /* what happened to the bench: a lost instrument, a trip, a streak */
};

/* Adds a note, on the disk when this returns. `serial` may be NULL, `attempt` 0. A mark on an
 * attempt that is not recorded is ERROR_USAGE. */
bool record_note(struct record *record, enum record_note_kind kind, const char *serial,
                 unsigned long attempt, const char *words, struct error *e) MUST_CHECK;

#endif
