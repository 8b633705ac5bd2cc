#include "runner/record_db.h"

#include <math.h>
#include <sqlite3.h>
#include <string.h>

#include "drivers/base/memory.h"

/* Another process may hold the file while it folds the log in: a moment, never longer. */
#define WAIT_MS 5000

static bool fault(const struct record_db *db, int code, struct error *e)
{
    const char *path = text_words(&db->path);
    const char *words = db->handle ? sqlite3_errmsg(db->handle) : sqlite3_errstr(code);

    switch (code & 0xff) {
    case SQLITE_NOMEM: return error_set(e, ERROR_MEMORY, "%s: out of memory", path);
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
    case SQLITE_FORMAT:
    case SQLITE_ERROR:
    case SQLITE_MISMATCH:
        return error_set(e, ERROR_INPUT,
                         "%s: is no batch record or is damaged (%s): gainsieve audit tells more",
                         path, words);
    case SQLITE_FULL:
        return error_set(e, ERROR_STORE,
                         "%s: cannot be written: the disk is full: make room and start again",
                         path);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return error_set(e, ERROR_STORE,
                         "%s: another program holds it: end that program and start again", path);
    default: return error_set(e, ERROR_STORE, "%s: cannot be stored or read: %s", path, words);
    }
}

/* The path as a URI, so that SQLite can be told that nobody writes the file. */
static void add_uri(struct text *out, const char *path)
{
    text_add(out, "file:");
    for (; *path; path++) {
        if (strchr("?#%", *path))
            text_addf(out, "%%%02X", (unsigned)(unsigned char)*path);
        else
            text_add_bytes(out, path, 1);
    }
    text_add(out, "?immutable=1");
}

static bool arrange(struct record_db *db, enum record_db_use use, struct error *e)
{
    static const char *const settings[] = {
        [RECORD_DB_WRITE] = "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
                            "PRAGMA foreign_keys = ON; PRAGMA recursive_triggers = ON;"
                            "PRAGMA trusted_schema = OFF",
        [RECORD_DB_READ] = "PRAGMA query_only = ON; PRAGMA trusted_schema = OFF",
        [RECORD_DB_FROZEN] = "PRAGMA query_only = ON; PRAGMA trusted_schema = OFF",
        [RECORD_DB_MEMORY] = "PRAGMA foreign_keys = ON",
    };
    struct record_query q = {0};
    const char *mode;
    bool row, ok;

    (void)sqlite3_busy_timeout(db->handle, WAIT_MS);
    if (!record_db_run(db, settings[use], e)) return false;
    if (use != RECORD_DB_WRITE) return true;
    ok = record_query_open(&q, db, "PRAGMA journal_mode", e) && record_query_step(&q, &row, e);
    mode = ok && row ? record_column_text(&q, 0) : "";
    if (ok && (!mode || strcmp(mode, "wal") != 0))
        ok = error_set(e, ERROR_STORE,
                       "%s: this disk does not take a write-ahead log: choose a folder on a local "
                       "disk",
                       text_words(&db->path));
    record_query_close(&q);
    return ok;
}

bool record_db_open(struct record_db *out, const char *path, enum record_db_use use,
                    struct error *e)
{
    const int flags = SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_URI |
                      (use == RECORD_DB_WRITE || use == RECORD_DB_MEMORY
                           ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE
                           : SQLITE_OPEN_READONLY);
    struct record_db made = {0};
    struct text name = {0};
    int code;
    bool ok;

    text_add(&made.path, path);
    /* Without a slash in front a path may look like a URI. */
    if (use == RECORD_DB_FROZEN)
        add_uri(&name, path);
    else
        text_addf(&name, "%s%s", use == RECORD_DB_MEMORY || *path == '/' ? "" : "./",
                  use == RECORD_DB_MEMORY ? ":memory:" : path);
    ok = text_ok(&made.path, "a file name", e) && text_ok(&name, "a file name", e);
    if (ok) {
        code = sqlite3_open_v2(name.data, &made.handle, flags, NULL);
        ok = code == SQLITE_OK ? arrange(&made, use, e) : fault(&made, code, e);
    }
    text_clear(&name);
    if (ok)
        *out = made;
    else
        record_db_close(&made);
    return ok;
}

void record_db_close(struct record_db *db)
{
    if (db->handle) (void)sqlite3_close(db->handle);
    text_clear(&db->path);
    *db = (struct record_db){0};
}

bool record_db_run(struct record_db *db, const char *sql, struct error *e)
{
    int code = sqlite3_exec(db->handle, sql, NULL, NULL, NULL);

    return code == SQLITE_OK || fault(db, code, e);
}

void record_db_undo(struct record_db *db)
{
    /* What cannot be taken back was not made durable either; there is nothing to add to the error
     * that led here. */
    if (!sqlite3_get_autocommit(db->handle))
        (void)sqlite3_exec(db->handle, "ROLLBACK", NULL, NULL, NULL);
}

bool record_db_whole(struct record_db *db, const char *sql, int64_t *out, struct error *e)
{
    struct record_query q = {0};
    bool row = false;
    bool ok = record_query_open(&q, db, sql, e) && record_query_step(&q, &row, e);

    if (ok) *out = row ? record_column_whole(&q, 0) : 0;
    record_query_close(&q);
    return ok;
}

bool record_db_fold(struct record_db *db, struct error *e)
{
    int code = sqlite3_wal_checkpoint_v2(db->handle, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);

    return code == SQLITE_OK || fault(db, code, e);
}

bool record_query_open(struct record_query *q, struct record_db *db, const char *sql,
                       struct error *e)
{
    int code = sqlite3_prepare_v2(db->handle, sql, -1, &q->statement, NULL);

    q->db = db;
    q->n_bound = 0;
    q->code = SQLITE_OK;
    return code == SQLITE_OK || fault(db, code, e);
}

static void note_code(struct record_query *q, int code)
{
    if (q->code == SQLITE_OK) q->code = code;
}

void record_query_text(struct record_query *q, const char *words)
{
    const int place = ++q->n_bound;

    note_code(q, words ? sqlite3_bind_text(q->statement, place, words, -1, SQLITE_TRANSIENT)
                       : sqlite3_bind_null(q->statement, place));
}

void record_query_real(struct record_query *q, double x)
{
    const int place = ++q->n_bound;

    note_code(q, isfinite(x) ? sqlite3_bind_double(q->statement, place, x)
                             : sqlite3_bind_null(q->statement, place));
}

void record_query_whole(struct record_query *q, int64_t n)
{
    note_code(q, sqlite3_bind_int64(q->statement, ++q->n_bound, n));
}

bool record_query_step(struct record_query *q, bool *row, struct error *e)
{
    int code = q->code == SQLITE_OK ? sqlite3_step(q->statement) : q->code;

    *row = code == SQLITE_ROW;
    return code == SQLITE_ROW || code == SQLITE_DONE || fault(q->db, code, e);
}

bool record_query_run(struct record_query *q, struct error *e)
{
    bool row;
    bool ok = record_query_step(q, &row, e);

    record_query_close(q);
    return ok;
}

void record_query_close(struct record_query *q)
{
    (void)sqlite3_finalize(q->statement);
    *q = (struct record_query){0};
}

const char *record_column_text(struct record_query *q, int column)
{
    return (const char *)sqlite3_column_text(q->statement, column);
}

double record_column_real(struct record_query *q, int column)
{
    return sqlite3_column_type(q->statement, column) == SQLITE_NULL
               ? NAN
               : sqlite3_column_double(q->statement, column);
}

int64_t record_column_whole(struct record_query *q, int column)
{
    return sqlite3_column_int64(q->statement, column);
}

bool record_column_copy(struct record_query *q, int column, char **out, struct error *e)
{
    const char *words = record_column_text(q, column);

    *out = NULL;
    if (!words && sqlite3_column_type(q->statement, column) != SQLITE_NULL)
        return fault(q->db, SQLITE_NOMEM, e);
    if (!words) return true;
    *out = memory_copy_text(words, e);
    return *out != NULL;
}

/* A text is told with its length, so that no text can look like the lines behind it. */
static void add_value(struct record_query *q, int column, struct text *out)
{
    const void *bytes;

    switch (sqlite3_column_type(q->statement, column)) {
    case SQLITE_NULL: text_add(out, "null"); return;
    case SQLITE_INTEGER:
        text_addf(out, "integer %lld", (long long)sqlite3_column_int64(q->statement, column));
        return;
    case SQLITE_FLOAT:
        text_add(out, "real ");
        text_add_number(out, sqlite3_column_double(q->statement, column));
        return;
    default:
        bytes = sqlite3_column_blob(q->statement, column);
        text_addf(out, "text %d:", sqlite3_column_bytes(q->statement, column));
        if (bytes) text_add_bytes(out, bytes, (size_t)sqlite3_column_bytes(q->statement, column));
    }
}

void record_columns_add(struct record_query *q, struct text *out)
{
    for (int i = 0; i < sqlite3_column_count(q->statement); i++) {
        const char *name = sqlite3_column_name(q->statement, i);

        if (!name) out->failed = out->no_memory = true;
        text_addf(out, "%s ", name ? name : "");
        add_value(q, i, out);
        text_add(out, "\n");
    }
}
