/* SQLite in the words of this program: a connection, a query, one sentence for what goes wrong.
 *
 * The only file that includes SQLite's header. What the caller can do something about decides the
 * kind of error: a full disk, a shut folder and a failing device are ERROR_STORE, a damaged file is
 * ERROR_INPUT. */
#ifndef GAINSIEVE_RECORD_DB_H
#define GAINSIEVE_RECORD_DB_H

#include <stddef.h>
#include <stdint.h>

#include "drivers/base/error.h"
#include "drivers/base/text.h"

struct sqlite3;
struct sqlite3_stmt;

struct record_db {
    struct sqlite3 *handle;
    struct text path; /* for messages */
};

enum record_db_use {
    RECORD_DB_WRITE = 0, /* made if it is not there; WAL, every commit on the disk */
    RECORD_DB_READ,      /* beside another process that may be writing */
    RECORD_DB_FROZEN,    /* on a medium that cannot be written, nobody writing */
    RECORD_DB_MEMORY,    /* empty and in memory; the path is for messages */
};

/* Opens the file; `out` must be zero. */
bool record_db_open(struct record_db *out, const char *path, enum record_db_use use,
                    struct error *e) MUST_CHECK;
/* Harmless on zero and twice. */
void record_db_close(struct record_db *db);

/* Runs statements that give no rows. */
bool record_db_run(struct record_db *db, const char *sql, struct error *e) MUST_CHECK;

/* Takes the open transaction back, if there is one. */
void record_db_undo(struct record_db *db);

/* The one whole number that the statement gives; 0 when it gives none. */
bool record_db_whole(struct record_db *db, const char *sql, int64_t *out,
                     struct error *e) MUST_CHECK;

/* Moves what is in the write-ahead log into the file itself and empties the log. */
bool record_db_fold(struct record_db *db, struct error *e) MUST_CHECK;

/* A statement with its values, born `= {0}`. */
struct record_query {
    struct record_db *db;
    struct sqlite3_stmt *statement;
    int n_bound, code;
};

/* Begins a statement; its '?' are filled in order by the functions below, whose failure is told by
 * the next step. NULL and what is not finite become NULL. */
bool record_query_open(struct record_query *q, struct record_db *db, const char *sql,
                       struct error *e) MUST_CHECK;
void record_query_text(struct record_query *q, const char *words);
void record_query_real(struct record_query *q, double x);
void record_query_whole(struct record_query *q, int64_t n);

/* Goes to the next row; `*row` is false behind the last one. */
bool record_query_step(struct record_query *q, bool *row, struct error *e) MUST_CHECK;
/* Runs a statement that gives no rows, and ends it, whatever comes of it. */
bool record_query_run(struct record_query *q, struct error *e) MUST_CHECK;
/* Ends it; harmless on zero and twice. */
void record_query_close(struct record_query *q);

/* What stands in a column (from 0) of the present row: text borrowed until the next step, NULL for
 * NULL; a number, NaN for NULL; a whole number, 0 for NULL. */
const char *record_column_text(struct record_query *q, int column);
double record_column_real(struct record_query *q, int column);
int64_t record_column_whole(struct record_query *q, int column);
/* The text of a column, copied; NULL stays NULL. Freed with memory_free(). */
bool record_column_copy(struct record_query *q, int column, char **out, struct error *e) MUST_CHECK;
/* Adds all columns of the present row, "NAME KIND VALUE" and a line end each: see docs/record.md.
 */
void record_columns_add(struct record_query *q, struct text *out);

#endif
