#include "runner/audit.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/embedded.h"
#include "drivers/base/stop.h"
#include "runner/audit_parts.h"
#include "runner/batch_folder.h"

extern const struct embedded record_schema_sql;

void audit_fault(struct audit *audit, const char *format, ...)
{
    char line[CEILING_ERROR_TEXT];
    va_list arguments;

    audit->n_faults++;
    if (audit->n_faults > CEILING_AUDIT_LINES) return;
    va_start(arguments, format);
    (void)vsnprintf(line, sizeof line, format, arguments);
    va_end(arguments);
    for (char *p = line; *p; p++)
        if (*p == '\n' || *p == '\r') *p = ' ';
    text_addf(&audit->faults, "%s\n", line);
}

void audit_clear(struct audit *audit)
{
    text_clear(&audit->faults);
    text_clear(&audit->remarks);
    *audit = (struct audit){0};
}

/* What SQLite itself finds in its file. */
static bool check_file(struct audit *audit, struct record_db *db, struct error *e)
{
    static const char *const checks[] = {"PRAGMA integrity_check(20)",
                                         "SELECT 'a row of ' || \"table\" || ' refers to nothing' "
                                         "FROM pragma_foreign_key_check LIMIT 20"};
    bool ok = true;

    for (size_t i = 0; ok && i < sizeof checks / sizeof *checks; i++) {
        struct record_query q = {0};
        bool row = false;

        ok = record_query_open(&q, db, checks[i], e);
        while (ok && (ok = record_query_step(&q, &row, e)) && row) {
            const char *words = record_column_text(&q, 0);

            if (!words || strcmp(words, "ok") != 0)
                audit_fault(audit, BATCH_DATABASE ": damaged: %s", words ? words : "no words");
        }
        record_query_close(&q);
    }
    return ok;
}

/* Tells of every table, index and trigger of `a` that `b` lacks or has otherwise. */
static bool compare_schema(struct audit *audit, struct record_db *a, struct record_db *b,
                           const char *lacking, const char *differing, struct error *e)
{
    struct record_query q = {0};
    bool row = false;
    bool ok = record_query_open(
        &q, a, "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name", e);

    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        struct record_query other = {0};
        bool there = false;

        ok = record_query_open(&other, b,
                               "SELECT sql IS ? AND tbl_name IS ? FROM sqlite_schema WHERE type IS "
                               "? AND name IS ?",
                               e);
        if (ok) {
            record_query_text(&other, record_column_text(&q, 3));
            record_query_text(&other, record_column_text(&q, 2));
            record_query_text(&other, record_column_text(&q, 0));
            record_query_text(&other, record_column_text(&q, 1));
            ok = record_query_step(&other, &there, e);
        }
        if (ok && !there)
            audit_fault(audit, BATCH_DATABASE ": %s %s: %s", record_column_text(&q, 0),
                        record_column_text(&q, 1), lacking);
        else if (ok && differing && record_column_whole(&other, 0) == 0)
            audit_fault(audit, BATCH_DATABASE ": %s %s: %s", record_column_text(&q, 0),
                        record_column_text(&q, 1), differing);
        record_query_close(&other);
    }
    record_query_close(&q);
    return ok;
}

/* Tables and triggers are those of the schema: whoever took a trigger off could change rows. */
static bool check_schema(struct audit *audit, struct record_db *db, struct error *e)
{
    struct record_db ours = {0};
    bool ok = record_db_open(&ours, "the schema", RECORD_DB_MEMORY, e) &&
              record_db_run(&ours, record_schema_sql.bytes, e) &&
              compare_schema(audit, &ours, db, "missing", "altered", e) &&
              compare_schema(audit, db, &ours, "added", NULL, e);

    record_db_close(&ours);
    return ok;
}

/* Rows that no entry of the chain closes. */
static bool check_loose_rows(struct audit *audit, struct record_db *db, struct error *e)
{
    const char *table;
    bool ok = true;

    for (size_t i = 0; ok && (table = record_chain_table(i)) != NULL; i++) {
        struct record_query q = {0};
        char sql[160];
        bool row = false;

        (void)snprintf(sql, sizeof sql,
                       "SELECT n, count(*) FROM %s WHERE n NOT IN (SELECT n FROM chain) GROUP BY n",
                       table);
        ok = record_query_open(&q, db, sql, e);
        while (ok && (ok = record_query_step(&q, &row, e)) && row)
            audit_fault(audit,
                        BATCH_DATABASE ": table %s: %lld rows of entry %lld, which is not in the "
                                       "chain: added, or their entry was removed",
                        table, (long long)record_column_whole(&q, 1),
                        (long long)record_column_whole(&q, 0));
        record_query_close(&q);
    }
    return ok;
}

/* "entry 12 (unit KW000101, attempt 2)". */
static void name_entry(struct record_db *db, int64_t n, const char *kind, char out[256])
{
    struct record_query q = {0};
    struct error ignored = {0};
    bool row = false;

    (void)snprintf(out, 256, "entry %lld (%s)", (long long)n, kind ? kind : "no kind");
    if (record_query_open(&q, db, "SELECT serial, attempt FROM unit WHERE n = ?", &ignored)) {
        record_query_whole(&q, n);
        if (record_query_step(&q, &row, &ignored) && row) {
            const char *serial = record_column_text(&q, 0);

            (void)snprintf(out, 256, "entry %lld (unit %s, attempt %lld)", (long long)n,
                           serial ? serial : "", (long long)record_column_whole(&q, 1));
        }
    }
    record_query_close(&q);
}

/* One row of the chain, which should follow `audit->end`. */
static bool check_entry(struct audit *audit, struct record_db *db, struct record_query *q,
                        struct text *canonical, struct error *e)
{
    const int64_t n = record_column_whole(q, 0);
    const char *kind = record_column_text(q, 1), *before = record_column_text(q, 2);
    const char *stored = record_column_text(q, 3);
    char digest[DIGEST_HEX], name[256];

    name_entry(db, n, kind, name);
    text_reset(canonical);
    if (!record_chain_text(db, n, kind, before, canonical, e)) return false;
    digest_hex(canonical->data, canonical->length, digest);
    if (n != audit->end.n + 1)
        audit_fault(audit, BATCH_DATABASE ": entries %lld to %lld are missing",
                    (long long)audit->end.n + 1, (long long)n - 1);
    if (!before || strcmp(before, audit->end.sha256) != 0)
        audit_fault(audit,
                    BATCH_DATABASE ": %s: does not follow the entry before it: one was altered, "
                                   "added or removed",
                    name);
    if (!stored || strcmp(stored, digest) != 0)
        audit_fault(audit, BATCH_DATABASE ": %s: altered: its digest is %s, its rows give %s", name,
                    stored ? stored : "none", digest);
    audit->n_entries++;
    audit->end.n = n;
    (void)snprintf(audit->end.sha256, sizeof audit->end.sha256, "%s", stored ? stored : "");
    return true;
}

static bool check_chain(struct audit *audit, struct record_db *db, const char *known,
                        struct error *e)
{
    struct text canonical = {.ceiling = CEILING_CANONICAL};
    struct record_query q = {0};
    bool row = false, is_known = !known;
    int64_t n_attempts = 0;
    bool ok = record_query_open(&q, db, "SELECT n, kind, before, sha256 FROM chain ORDER BY n", e);

    (void)snprintf(audit->end.sha256, sizeof audit->end.sha256, "%064d", 0);
    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        ok = stop_wanted() ? stop_error(e) : check_entry(audit, db, &q, &canonical, e);
        is_known = is_known || strcmp(audit->end.sha256, known) == 0;
    }
    record_query_close(&q);
    text_clear(&canonical);
    if (ok && audit->n_entries == 0 && !audit->is_unborn)
        audit_fault(audit, BATCH_DATABASE ": holds no entry");
    if (ok && !is_known)
        audit_fault(audit,
                    BATCH_DATABASE ": no entry has the digest %s: entries were removed or the "
                                   "record was written anew",
                    known);
    ok = ok && record_db_whole(db, "SELECT count(*) FROM unit", &n_attempts, e);
    audit->n_attempts = (size_t)n_attempts;
    return ok;
}

/* A damaged record is what an audit is for: its words are a fault of the batch, not an error. */
static bool taken_as_fault(struct audit *audit, const struct error *inner, struct error *e)
{
    if (inner->kind != ERROR_INPUT) return error_set(e, inner->kind, "%s", inner->text);
    audit_fault(audit, "%s", inner->text);
    return true;
}

/* Ends the walk at the first file that is there only after the first entry. */
static bool look_for_more(void *context, const char *name, struct error *e)
{
    static const char *const before[] = {BATCH_DATABASE,
                                         BATCH_DATABASE "-wal",
                                         BATCH_DATABASE "-shm",
                                         BATCH_DATABASE "-journal",
                                         BATCH_LOCK_NAME,
                                         BATCH_LIMITS,
                                         BATCH_BENCH};
    static const char *const aside[] = {BATCH_LIMITS ".", BATCH_BENCH "."};
    const size_t length = strlen(name);
    const bool is_half = length > 5 && strcmp(name + length - 5, ".part") == 0;
    bool *is_more = context;
    bool known = false;

    (void)e;
    for (size_t i = 0; i < sizeof before / sizeof *before; i++)
        known = known || strcmp(name, before[i]) == 0;
    for (size_t i = 0; is_half && i < sizeof aside / sizeof *aside; i++)
        known = known || strncmp(name, aside[i], strlen(aside[i])) == 0;
    *is_more = *is_more || !known;
    return true;
}

/* A batch that was interrupted while it was made has no entry, perhaps not even tables, and no file
 * but those that are written before the first entry. Whatever cannot be told here is left to the
 * audit proper. */
static bool find_unborn(struct audit *audit, const char *folder, bool *is_empty, struct error *e)
{
    struct record_db db = {0};
    struct text path = {0};
    struct error inner = {0};
    int64_t n_tables = 0, n_entries = 0, application = 0;
    bool is_more = false;
    bool ok = batch_path(&path, folder, BATCH_DATABASE, e);

    if (ok && record_db_open(&db, path.data, RECORD_DB_READ, &inner) &&
        record_db_whole(&db, "SELECT count(*) FROM sqlite_schema", &n_tables, &inner) &&
        record_db_whole(&db, "PRAGMA application_id", &application, &inner) &&
        (n_tables == 0 || record_db_whole(&db, "SELECT count(*) FROM chain", &n_entries, &inner))) {
        *is_empty = n_tables == 0;
        audit->is_unborn = n_entries == 0 && (!*is_empty || application == 0);
    }
    if (inner.kind == ERROR_MEMORY) ok = error_set(e, inner.kind, "%s", inner.text);
    if (ok && audit->is_unborn) {
        ok = batch_each_file(folder, "", look_for_more, &is_more, e);
        audit->is_unborn = !is_more;
    }
    if (audit->is_unborn)
        text_add(&audit->remarks, "the batch was interrupted while it was made: nothing was tested "
                                  "yet, and gainsieve run begins it\n");
    record_db_close(&db);
    text_clear(&path);
    return ok;
}

typedef bool audit_part(struct audit *audit, struct record_reader *r, struct error *e);

static bool part_file(struct audit *audit, struct record_reader *r, struct error *e)
{
    return check_file(audit, &r->db, e);
}

static bool part_rows(struct audit *audit, struct record_reader *r, struct error *e)
{
    return check_schema(audit, &r->db, e) && check_loose_rows(audit, &r->db, e);
}

static bool part_files(struct audit *audit, struct record_reader *r, struct error *e)
{
    /* The bench file of an unborn batch is named by no entry. */
    return audit->is_unborn || audit_files(audit, r, e);
}

bool audit_batch(const char *folder, const char *known, struct audit *out, struct error *e)
{
    static audit_part *const parts[] = {part_file, part_rows, part_files};
    struct record_reader r = {0};
    struct error inner = {0}, closed = {0};
    bool ok = true, is_empty = false;

    if (!batch_has(folder, BATCH_DATABASE))
        return error_set(e, ERROR_INPUT, "%s: is no batch: there is no " BATCH_DATABASE " in it",
                         folder);
    /* The reader first: it takes back what a journal says was interrupted. */
    (void)!record_reader_open(&r, folder, &closed);
    /* Who knows the digest of an entry knows that there was one. */
    if (!known && closed.kind != ERROR_MEMORY) ok = find_unborn(out, folder, &is_empty, e);
    if (!ok || (out->is_unborn && is_empty)) {
        record_reader_close(&r);
        return ok && text_ok(&out->remarks, "the audit", e);
    }
    if (closed.kind != ERROR_NONE) return taken_as_fault(out, &closed, e);
    if (!check_chain(out, &r.db, known, &inner)) ok = taken_as_fault(out, &inner, e);
    for (size_t i = 0; ok && i < sizeof parts / sizeof *parts; i++) {
        inner = (struct error){0};
        if (!parts[i](out, &r, &inner)) ok = taken_as_fault(out, &inner, e);
    }
    if (r.is_live)
        text_add(&out->remarks, "somebody works on the batch: looked at as it stood when the audit "
                                "began\n");
    record_reader_close(&r);
    return ok && text_ok(&out->faults, "the audit", e) && text_ok(&out->remarks, "the audit", e);
}
