/* A batch record read back: for reports, for the audit, and for `run` that goes on.
 *
 * Errors are ERROR_INPUT for a record that is damaged, ERROR_STORE for a disk that fails
 * (record_db.h). Nothing here changes the record but for folding the write-ahead log in, so that
 * the folder is whole when it is copied. */
#ifndef GAINSIEVE_RECORD_READ_H
#define GAINSIEVE_RECORD_READ_H

#include "drivers/measurement.h"
#include "limits/judge.h"
#include "runner/batch_lock.h"
#include "runner/record_db.h"

/* "2026-11-25T14:05:00Z". */
#define RECORD_TIME 24

struct record_reader {
    struct text folder;
    struct record_db db;
    struct batch_lock lock;
    bool is_live; /* another process is working on the batch: this is how it stood when opened */
};

/* Opens a batch for reading. ERROR_INPUT when the folder is no batch or its record is damaged.
 * A batch that nobody works on is locked meanwhile; one that somebody works on is read as it
 * stands; one on a medium that cannot be written is read as it is. */
bool record_reader_open(struct record_reader *out, const char *folder, struct error *e) MUST_CHECK;
/* Harmless on zero and twice. */
void record_reader_close(struct record_reader *r);

/* The last attempt of a serial number; `attempts` is 0 when it was never tested. */
struct record_last {
    unsigned long attempts;
    enum verdict verdict;
    bool wrongly_connected; /* the operator said so afterwards: the verdict does not count */
};
bool record_find(struct record_reader *r, const char *serial, struct record_last *out,
                 struct error *e) MUST_CHECK;

/* Units by the verdict of their last attempt that was not marked as wrongly connected; a unit with
 * marked attempts only is not counted among `n_units`. */
struct record_counts {
    size_t n_units, n_pass, n_fail, n_incomplete;
    size_t n_attempts; /* all of them */
    size_t n_marked;   /* of these, marked as wrongly connected */
};
bool record_count(struct record_reader *r, struct record_counts *out, struct error *e) MUST_CHECK;

/* The limits and bench file now in use; `bench_sha256` is empty without a bench file. */
struct record_head {
    char begun_at_utc[RECORD_TIME];
    char limits_sha256[DIGEST_HEX], bench_sha256[DIGEST_HEX];
};
bool record_head_read(struct record_reader *r, struct record_head *out, struct error *e) MUST_CHECK;

/* Replaces `path` by the file in the batch that has this digest: limits.xml, or an earlier one. */
bool record_limits_path(struct record_reader *r, const char *sha256, struct text *path,
                        struct error *e) MUST_CHECK;

/* One attempt as it was recorded. Owned texts, NULL where nothing was told. */
struct record_unit {
    int64_t n; /* its entry */
    char serial[CEILING_SERIAL + 1];
    unsigned long attempt;
    char at_utc[RECORD_TIME];
    char *operator_name, *reason, *instruments;
    enum verdict verdict;
    bool wrongly_connected;
    char limits_sha256[DIGEST_HEX], bench_sha256[DIGEST_HEX];
};
void record_unit_clear(struct record_unit *unit);

/* Every attempt by serial number (bytewise) and attempt. Born `= {0}`. */
struct record_units {
    struct record_query query;
};
bool record_units_begin(struct record_units *units, struct record_reader *r,
                        struct error *e) MUST_CHECK;
/* The next one into `out`, which must be zero or cleared; `*more` is false behind the last. */
bool record_units_next(struct record_units *units, struct record_unit *out, bool *more,
                       struct error *e) MUST_CHECK;
void record_units_end(struct record_units *units);

/* One limit as it was recorded; numbers that did not apply are NaN. */
struct record_finding {
    char limit[CEILING_ID + 1];
    enum outcome outcome;
    bool accepted;
    double value, bound, margin, frequency_hz, bias_v;
};
/* The findings of entry `n`, in the file's order; `*out` is freed with memory_free(). */
bool record_findings(struct record_reader *r, int64_t n, struct record_finding **out,
                     size_t *n_findings, struct error *e) MUST_CHECK;

/* Reads the sweeps of entry `n` into `out`, whose memory is reused, as they were measured. A file
 * that is missing or whose digest is another is ERROR_INPUT: such a record proves nothing.
 * `bytes` is a reused buffer. Circumstances are not filled. */
bool record_load(struct record_reader *r, const struct record_unit *unit, struct text *bytes,
                 struct measurement *out, struct error *e) MUST_CHECK;
/* The reference unit's sweeps that held when entry `n` was judged; `*found` is false without. */
bool record_load_reference(struct record_reader *r, int64_t n, struct text *bytes,
                           struct measurement *out, bool *found, struct error *e) MUST_CHECK;

#endif
