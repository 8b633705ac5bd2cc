#include <string.h>

#include "drivers/base/file.h"
#include "drivers/base/stop.h"
#include "runner/audit_parts.h"
#include "runner/batch_folder.h"

/* What stands in a batch's folder besides sweeps. Reports are made from the record and can be made
 * again: they are known here, and not proven. */
static const char *const known_files[] = {
    BATCH_DATABASE, BATCH_DATABASE "-wal", BATCH_DATABASE "-shm", BATCH_LOCK_NAME, BATCH_LIMITS,
    "units.csv",    "results.csv",         "index.csv",           "report.html",
};

struct walk {
    struct audit *audit;
    struct record_reader *r;
    struct text first; /* folder of the first attempt that no entry names */
    size_t n_unfinished, n_put_away, n_halves;
};

/* Whether the statement, which has one '?', finds a row for the text. */
static bool finds(struct record_reader *r, const char *sql, const char *words, bool *found,
                  struct error *e)
{
    struct record_query q = {0};
    bool ok = record_query_open(&q, &r->db, sql, e);

    if (ok) record_query_text(&q, words);
    ok = ok && record_query_step(&q, found, e);
    record_query_close(&q);
    return ok;
}

static bool starts_with(const char *name, const char *folder)
{
    const size_t length = strlen(folder);

    return strncmp(name, folder, length) == 0 && name[length] == '/';
}

static bool is_half(const char *name)
{
    const size_t length = strlen(name);

    return length > 5 && strcmp(name + length - 5, ".part") == 0;
}

/* A file that the record names must be there and have its digest. */
static bool check_file(struct audit *audit, struct record_reader *r, const char *name,
                       const char *sha256, size_t ceiling, struct text *bytes, struct error *e)
{
    struct text path = {0};
    struct error inner = {0};
    char digest[DIGEST_HEX];
    bool ok = batch_path(&path, text_words(&r->folder), name, e);

    if (ok && !batch_has(text_words(&r->folder), name)) {
        audit_fault(audit, "%s: missing", name);
    } else if (ok && !file_read(path.data, ceiling, bytes, &inner)) {
        if (inner.kind == ERROR_MEMORY)
            ok = error_set(e, inner.kind, "%s", inner.text);
        else
            audit_fault(audit, "%s: cannot be read: %s", name, inner.text);
    } else if (ok) {
        digest_hex(text_words(bytes), bytes->length, digest);
        if (!sha256 || strcmp(digest, sha256) != 0)
            audit_fault(audit, "%s: altered: its SHA-256 is %s instead of %s", name, digest,
                        sha256 ? sha256 : "none");
    }
    text_clear(&path);
    return ok;
}

static bool check_sweeps(struct audit *audit, struct record_reader *r, struct text *bytes,
                         struct error *e)
{
    struct record_query q = {0};
    bool row = false;
    bool ok = record_query_open(
        &q, &r->db, "SELECT file, sha256 FROM sweep WHERE file IS NOT NULL ORDER BY n, place", e);

    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        const char *name = record_column_text(&q, 0);

        if (stop_wanted())
            ok = stop_error(e);
        else
            ok = check_file(audit, r, name ? name : "", record_column_text(&q, 1),
                            CEILING_SWEEP_FILE, bytes, e);
        audit->n_sweeps++;
    }
    record_query_close(&q);
    return ok;
}

/* limits.xml and bench.xml as last recorded, and those before them. */
static bool check_settings(struct audit *audit, struct record_reader *r, struct text *bytes,
                           struct error *e)
{
    static const char sql[] =
        "SELECT 'limits.xml', limits_sha256 FROM batch WHERE n = (SELECT max(n) FROM batch) "
        "UNION ALL SELECT 'bench.xml', bench_sha256 FROM batch WHERE n = (SELECT max(n) FROM "
        "batch) AND bench_sha256 IS NOT NULL "
        "UNION SELECT 'earlier/limits-' || limits_sha256 || '.xml', limits_sha256 FROM batch WHERE "
        "limits_sha256 IS NOT (SELECT limits_sha256 FROM batch ORDER BY n DESC LIMIT 1) "
        "UNION SELECT 'earlier/bench-' || bench_sha256 || '.xml', bench_sha256 FROM batch WHERE "
        "bench_sha256 IS NOT NULL AND bench_sha256 IS NOT (SELECT bench_sha256 FROM batch ORDER BY "
        "n DESC LIMIT 1)";
    struct record_query q = {0};
    bool row = false;
    bool ok = record_query_open(&q, &r->db, sql, e);

    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        const char *name = record_column_text(&q, 0);

        ok = check_file(audit, r, name ? name : "", record_column_text(&q, 1), CEILING_XML_FILE,
                        bytes, e);
    }
    record_query_close(&q);
    return ok;
}

/* A file below sweeps/ or reference/. One folder that no entry names is what an interrupted attempt
 * leaves; more of them, or a file more in a recorded one, came otherwise. */
static bool look_at_sweep(struct walk *w, const char *name, struct error *e)
{
    struct text folder = {0};
    bool known = false, recorded = false;
    bool ok = finds(w->r, "SELECT 1 FROM sweep WHERE file = ?", name, &known, e);

    if (!ok || known) return ok;
    text_add_bytes(&folder, name, (size_t)(strrchr(name, '/') - name) + 1);
    ok = text_ok(&folder, "a file name", e) &&
         finds(w->r, "SELECT 1 FROM sweep WHERE file > ?1 AND file < ?1 || '~' LIMIT 1",
               folder.data, &recorded, e);
    if (ok && !recorded && w->n_unfinished == 0) text_add(&w->first, folder.data);
    ok = ok && text_ok(&w->first, "a file name", e);
    if (ok && !recorded && (w->r->is_live || strcmp(w->first.data, folder.data) == 0))
        w->n_unfinished++;
    else if (ok)
        audit_fault(w->audit, "%s: added: no entry names it", name);
    text_clear(&folder);
    return ok;
}

static bool look_at(void *context, const char *name, struct error *e)
{
    struct walk *w = context;
    bool known = false;

    if (stop_wanted()) return stop_error(e);
    if (starts_with(name, BATCH_SWEEPS) || starts_with(name, BATCH_REFERENCE))
        return look_at_sweep(w, name, e);
    if (is_half(name)) {
        w->n_halves++;
        return true;
    }
    if (starts_with(name, BATCH_UNFINISHED)) {
        w->n_put_away++;
        return true;
    }
    if (starts_with(name, "units")) return true;
    for (size_t i = 0; i < sizeof known_files / sizeof *known_files; i++)
        if (strcmp(name, known_files[i]) == 0) return true;
    if (!finds(w->r,
               "SELECT 1 FROM batch WHERE ?1 = 'earlier/limits-' || limits_sha256 || '.xml' OR "
               "bench_sha256 IS NOT NULL AND (?1 = 'bench.xml' OR ?1 = 'earlier/bench-' || "
               "bench_sha256 || '.xml')",
               name, &known, e))
        return false;
    if (!known) audit_fault(w->audit, "%s: added: is no file of a batch", name);
    return true;
}

bool audit_files(struct audit *audit, struct record_reader *r, struct error *e)
{
    struct walk w = {.audit = audit, .r = r};
    struct text bytes = {0};
    bool ok = check_settings(audit, r, &bytes, e) && check_sweeps(audit, r, &bytes, e) &&
              batch_each_file(text_words(&r->folder), "", look_at, &w, e);

    if (w.n_unfinished > 0)
        text_addf(&audit->remarks,
                  "%s: %zu files of an attempt that was interrupted before its verdict\n",
                  w.first.data, w.n_unfinished);
    if (w.n_put_away > 0)
        text_addf(&audit->remarks,
                  BATCH_UNFINISHED "/: %zu files that interruptions left, kept, not part of the "
                                   "record\n",
                  w.n_put_away);
    if (w.n_halves > 0)
        text_addf(&audit->remarks, "%zu half-written files (.part), which nobody reads\n",
                  w.n_halves);
    text_clear(&w.first);
    text_clear(&bytes);
    return ok;
}
