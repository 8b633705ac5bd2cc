#include "runner/record.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#include "drivers/base/embedded.h"
#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "runner/batch_folder.h"
#include "runner/record_parts.h"

extern const struct embedded record_schema_sql;

/* Makes the tables in an empty file; another file must be a record of this version. */
static bool make_tables(struct record_db *db, struct error *e)
{
    int64_t n_tables, application, version;

    if (!record_db_whole(db, "SELECT count(*) FROM sqlite_schema", &n_tables, e) ||
        !record_db_whole(db, "PRAGMA application_id", &application, e) ||
        !record_db_whole(db, "PRAGMA user_version", &version, e))
        return false;
    if (application == RECORD_APPLICATION && version == RECORD_VERSION) return true;
    if (n_tables > 0 || application != 0)
        return error_set(e, ERROR_INPUT,
                         "%s: is no batch record of version %d: name another folder",
                         text_words(&db->path), RECORD_VERSION);
    if (record_db_run(db, "BEGIN IMMEDIATE", e) && record_db_run(db, record_schema_sql.bytes, e))
        return record_db_run(db, "COMMIT", e);
    return false;
}

static bool open_parts(struct record *record, const struct record_request *request, struct error *e)
{
    struct record_reader *r = &record->reader;
    struct text path = {0};
    bool is_new, ok;

    text_add(&r->folder, request->folder);
    ok = text_ok(&r->folder, "a folder's name", e) && file_make_folder(request->folder, e) &&
         batch_check_disk(request->folder, e) && batch_lock_take(&r->lock, request->folder, e) &&
         batch_path(&path, request->folder, BATCH_DATABASE, e);
    is_new = ok && !batch_has(request->folder, BATCH_DATABASE);
    /* Sweeps without the record that tells of them: somebody lost it, and a new one would hide
     * that.
     */
    if (is_new && (batch_has(request->folder, BATCH_SWEEPS) ||
                   batch_has(request->folder, BATCH_DATABASE "-wal")))
        ok = error_set(e, ERROR_INPUT,
                       "%s: holds a batch whose " BATCH_DATABASE
                       " is missing: bring it back, or name a new folder",
                       request->folder);
    ok = ok && record_db_open(&r->db, path.data, RECORD_DB_WRITE, e) && make_tables(&r->db, e);
    /* The names of the new files, and of the folder itself, must outlast a power cut too. */
    if (ok && is_new) ok = batch_make_folder(request->folder, BATCH_SWEEPS, e);
    if (ok && request->operator_name) {
        record->operator_name = memory_copy_text(request->operator_name, e);
        ok = record->operator_name != NULL;
    }
    text_clear(&path);
    return ok;
}

static void record_free(struct record *record)
{
    record_reader_close(&record->reader);
    limits_clear(&record->limits);
    memory_free(record->operator_name);
    memory_free(record);
}

bool record_open(struct record **out, const struct record_request *request, struct error *e)
{
    struct record *made = memory_make(1, sizeof *made, e);

    if (!made) return false;
    if (!open_parts(made, request, e) || !record_begin(made, request, e)) {
        record_free(made);
        return false;
    }
    *out = made;
    return true;
}

bool record_close(struct record *record, struct error *e)
{
    bool ok;

    if (!record) return true;
    ok = record_db_fold(&record->reader.db, e);
    record_free(record);
    return ok;
}

const struct limits *record_limits(const struct record *record)
{
    return &record->limits;
}

struct record_reader *record_reader_of(struct record *record)
{
    return &record->reader;
}

bool record_entry_begin(struct record *record, struct chain_link *end, struct error *e)
{
    if (record->broken)
        return error_set(e, ERROR_STORE,
                         "%s: could not be written before: start again, so that what is on the "
                         "disk is known",
                         text_words(&record->reader.db.path));
    if (!record_db_run(&record->reader.db, "BEGIN IMMEDIATE", e)) {
        record->broken = true;
        return false;
    }
    if (record_chain_end(&record->reader.db, end, e)) return true;
    record_db_undo(&record->reader.db);
    record->broken = true;
    return false;
}

bool record_entry_end(struct record *record, const struct chain_link *end, const char *kind,
                      bool ok, struct error *e)
{
    ok = ok && record_chain_add(&record->reader.db, end, kind, e) &&
         record_db_run(&record->reader.db, "COMMIT", e);
    if (ok) return true;
    record_db_undo(&record->reader.db);
    record->broken = true;
    return false;
}

void record_add_time(struct record_query *q)
{
    char words[RECORD_TIME] = "";
    struct timespec now = {0};
    struct tm parts;

    (void)clock_gettime(CLOCK_REALTIME, &now);
    if (gmtime_r(&now.tv_sec, &parts))
        (void)strftime(words, sizeof words, "%Y-%m-%dT%H:%M:%SZ", &parts);
    record_query_text(q, words);
}

void record_add_operator(struct record_query *q, const struct record *record)
{
    record_query_text(q, record->operator_name);
}

/* A mark speaks of an attempt that is there. */
static bool check_attempt(struct record *record, const char *serial, unsigned long attempt,
                          struct error *e)
{
    struct record_last last = {0};

    if (serial && !record_find(&record->reader, serial, &last, e)) return false;
    if (serial && attempt > 0 && attempt <= last.attempts) return true;
    return error_set(e, ERROR_USAGE, "%s, attempt %lu: there is no such attempt to mark",
                     serial ? serial : "no unit", attempt);
}

bool record_note(struct record *record, enum record_note_kind kind, const char *serial,
                 unsigned long attempt, const char *words, struct error *e)
{
    static const char *const names[] = {
        [NOTE_REMARK] = "remark",
        [NOTE_WRONGLY_CONNECTED] = "wrongly-connected",
        [NOTE_SKIPPED] = "skipped",
        [NOTE_REFERENCE_GOOD] = "reference-good",
        [NOTE_REFERENCE_BAD] = "reference-bad",
        [NOTE_BENCH] = "bench",
    };
    struct chain_link end;
    struct record_query q = {0};
    bool ok;

    if (kind == NOTE_WRONGLY_CONNECTED && !check_attempt(record, serial, attempt, e)) return false;
    if (!record_entry_begin(record, &end, e)) return false;
    ok = record_query_open(&q, &record->reader.db, "INSERT INTO note VALUES (?, ?, ?, ?, ?, ?, ?)",
                           e);
    if (ok) {
        record_query_whole(&q, end.n + 1);
        record_query_text(&q, names[kind]);
        record_query_text(&q, serial);
        if (attempt > 0)
            record_query_whole(&q, (int64_t)attempt);
        else
            record_query_text(&q, NULL);
        record_add_time(&q);
        record_add_operator(&q, record);
        record_query_text(&q, words);
        ok = record_query_run(&q, e);
    }
    record_query_close(&q);
    return record_entry_end(record, &end, "note", ok, e);
}
