#include "runner/record_read.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "drivers/sweep_file.h"
#include "runner/batch_folder.h"
#include "runner/record_chain.h"

/* Whether the file is a record of ours, of this version. */
static bool check_kind(struct record_reader *r, struct error *e)
{
    int64_t application, version;

    if (!record_db_whole(&r->db, "PRAGMA application_id", &application, e) ||
        !record_db_whole(&r->db, "PRAGMA user_version", &version, e))
        return false;
    if (application == RECORD_APPLICATION && version == RECORD_VERSION) return true;
    return error_set(e, ERROR_INPUT, "%s: is no batch record of version %d: name another folder",
                     text_words(&r->db.path), RECORD_VERSION);
}

static bool open_database(struct record_reader *r, struct error *e)
{
    struct text path = {0}, who = {0};
    const char *folder = text_words(&r->folder);
    enum record_db_use use = RECORD_DB_WRITE;
    int64_t n_entries;
    bool ok = batch_path(&path, folder, BATCH_DATABASE, e);

    if (ok && !batch_has(folder, BATCH_DATABASE))
        ok = error_set(e, ERROR_INPUT, "%s: is no batch: there is no " BATCH_DATABASE " in it",
                       folder);
    if (ok) {
        switch (batch_lock_try(&r->lock, folder, &who)) {
        case BATCH_LOCK_TAKEN: break;
        case BATCH_LOCK_ELSEWHERE:
            use = RECORD_DB_READ;
            r->is_live = true;
            break;
        case BATCH_LOCK_IMPOSSIBLE:
            use = batch_has(folder, BATCH_DATABASE "-wal") ? RECORD_DB_READ : RECORD_DB_FROZEN;
            break;
        }
        ok = record_db_open(&r->db, path.data, use, e);
    }
    /* One transaction: what is read belongs together, though somebody goes on writing. It begins
     * with its first read. */
    ok = ok && check_kind(r, e) && (use != RECORD_DB_WRITE || record_db_fold(&r->db, e)) &&
         record_db_run(&r->db, "BEGIN", e) &&
         record_db_whole(&r->db, "SELECT count(*) FROM chain", &n_entries, e);
    text_clear(&path);
    text_clear(&who);
    return ok;
}

bool record_reader_open(struct record_reader *out, const char *folder, struct error *e)
{
    struct record_reader made = {0};
    bool ok;

    text_add(&made.folder, folder);
    ok = text_ok(&made.folder, "a folder's name", e) && open_database(&made, e);
    if (ok)
        *out = made;
    else
        record_reader_close(&made);
    return ok;
}

void record_reader_close(struct record_reader *r)
{
    record_db_close(&r->db);
    batch_lock_release(&r->lock);
    text_clear(&r->folder);
    r->is_live = false;
}

static bool damaged(const struct record_reader *r, const char *what, struct error *e)
{
    return error_set(e, ERROR_INPUT, "%s: %s: the record is damaged; gainsieve audit tells more",
                     text_words(&r->db.path), what);
}

static bool find_verdict(const char *name, enum verdict *out)
{
    for (enum verdict v = VERDICT_INCOMPLETE; v <= VERDICT_PASS; v++) {
        if (!name || strcmp(name, verdict_name(v)) != 0) continue;
        *out = v;
        return true;
    }
    return false;
}

static bool find_outcome(const char *name, enum outcome *out)
{
    for (enum outcome o = OUTCOME_INCOMPLETE; o <= OUTCOME_PASS; o++) {
        if (!name || strcmp(name, outcome_name(o)) != 0) continue;
        *out = o;
        return true;
    }
    return false;
}

#define IS_MARKED                                                    \
    "EXISTS (SELECT 1 FROM note WHERE note.serial = unit.serial AND" \
    " note.attempt = unit.attempt AND note.kind = 'wrongly-connected')"

bool record_find(struct record_reader *r, const char *serial, struct record_last *out,
                 struct error *e)
{
    struct record_query q = {0};
    struct record_last found = {0};
    bool row = false;
    bool ok = record_query_open(&q, &r->db,
                                "SELECT attempt, verdict, " IS_MARKED " FROM unit WHERE serial = ? "
                                "ORDER BY attempt DESC LIMIT 1",
                                e);

    if (ok) {
        record_query_text(&q, serial);
        ok = record_query_step(&q, &row, e);
    }
    if (ok && row) {
        found.attempts = (unsigned long)record_column_whole(&q, 0);
        found.wrongly_connected = record_column_whole(&q, 2) != 0;
        if (!find_verdict(record_column_text(&q, 1), &found.verdict))
            ok = damaged(r, "an unknown verdict", e);
    }
    record_query_close(&q);
    if (ok) *out = found;
    return ok;
}

bool record_count(struct record_reader *r, struct record_counts *out, struct error *e)
{
    /* Without an aggregate of its own beside max(), verdict is that of the row with max(attempt):
     * SQLite promises it. */
    static const char counts_of_units[] =
        "SELECT verdict, count(*) FROM (SELECT verdict, max(attempt) FROM unit WHERE "
        "NOT " IS_MARKED " GROUP BY serial) GROUP BY verdict";
    struct record_counts found = {0};
    struct record_query q = {0};
    int64_t n_attempts = 0, n_marked = 0;
    bool row = false;
    bool ok = record_db_whole(&r->db, "SELECT count(*) FROM unit", &n_attempts, e) &&
              record_db_whole(&r->db, "SELECT count(*) FROM unit WHERE " IS_MARKED, &n_marked, e) &&
              record_query_open(&q, &r->db, counts_of_units, e);

    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        const size_t n = (size_t)record_column_whole(&q, 1);
        enum verdict verdict;

        if (!find_verdict(record_column_text(&q, 0), &verdict)) {
            ok = damaged(r, "an unknown verdict", e);
            break;
        }
        found.n_units += n;
        if (verdict == VERDICT_PASS) found.n_pass = n;
        if (verdict == VERDICT_FAIL) found.n_fail = n;
        if (verdict == VERDICT_INCOMPLETE) found.n_incomplete = n;
    }
    record_query_close(&q);
    found.n_attempts = (size_t)n_attempts;
    found.n_marked = (size_t)n_marked;
    if (ok) *out = found;
    return ok;
}

static void copy_column(struct record_query *q, int column, char *out, size_t room)
{
    const char *words = record_column_text(q, column);

    (void)snprintf(out, room, "%s", words ? words : "");
}

bool record_head_read(struct record_reader *r, struct record_head *out, struct error *e)
{
    struct record_query q = {0};
    struct record_head head = {0};
    bool row = false;
    bool ok = record_query_open(&q, &r->db,
                                "SELECT (SELECT at_utc FROM batch ORDER BY n LIMIT 1), "
                                "limits_sha256, bench_sha256 FROM batch ORDER BY n DESC LIMIT 1",
                                e) &&
              record_query_step(&q, &row, e);

    if (ok && !row) ok = damaged(r, "nothing tells how the batch began", e);
    if (ok) {
        copy_column(&q, 0, head.begun_at_utc, sizeof head.begun_at_utc);
        copy_column(&q, 1, head.limits_sha256, sizeof head.limits_sha256);
        copy_column(&q, 2, head.bench_sha256, sizeof head.bench_sha256);
        *out = head;
    }
    record_query_close(&q);
    return ok;
}

bool record_limits_path(struct record_reader *r, const char *sha256, struct text *path,
                        struct error *e)
{
    struct record_head head;
    struct text name = {0};
    bool ok = record_head_read(r, &head, e);

    if (ok) {
        if (strcmp(head.limits_sha256, sha256) == 0)
            text_add(&name, BATCH_LIMITS);
        else
            text_addf(&name, BATCH_EARLIER "/limits-%s.xml", sha256);
        ok = text_ok(&name, "a file name", e) &&
             batch_path(path, text_words(&r->folder), name.data, e);
    }
    text_clear(&name);
    return ok;
}

bool record_units_begin(struct record_units *units, struct record_reader *r, struct error *e)
{
    return record_query_open(&units->query, &r->db,
                             "SELECT n, serial, attempt, at_utc, operator, reason, instruments, "
                             "verdict, limits_sha256, bench_sha256, " IS_MARKED
                             " FROM unit ORDER BY serial, attempt",
                             e);
}

void record_unit_clear(struct record_unit *unit)
{
    memory_free(unit->operator_name);
    memory_free(unit->reason);
    memory_free(unit->instruments);
    *unit = (struct record_unit){0};
}

bool record_units_next(struct record_units *units, struct record_unit *out, bool *more,
                       struct error *e)
{
    struct record_query *q = &units->query;
    struct record_unit made = {0};
    bool ok;

    ok = record_query_step(q, more, e);
    if (!ok || !*more) return ok;
    made.n = record_column_whole(q, 0);
    copy_column(q, 1, made.serial, sizeof made.serial);
    made.attempt = (unsigned long)record_column_whole(q, 2);
    copy_column(q, 3, made.at_utc, sizeof made.at_utc);
    copy_column(q, 8, made.limits_sha256, sizeof made.limits_sha256);
    copy_column(q, 9, made.bench_sha256, sizeof made.bench_sha256);
    made.wrongly_connected = record_column_whole(q, 10) != 0;
    ok = record_column_copy(q, 4, &made.operator_name, e) &&
         record_column_copy(q, 5, &made.reason, e) &&
         record_column_copy(q, 6, &made.instruments, e);
    if (ok && !find_verdict(record_column_text(q, 7), &made.verdict))
        ok = error_set(e, ERROR_INPUT, "%s: an unknown verdict: the record is damaged",
                       text_words(&q->db->path));
    if (ok)
        *out = made;
    else
        record_unit_clear(&made);
    return ok;
}

void record_units_end(struct record_units *units)
{
    record_query_close(&units->query);
}

bool record_findings(struct record_reader *r, int64_t n, struct record_finding **out,
                     size_t *n_findings, struct error *e)
{
    struct record_query q = {0};
    struct record_finding *list = NULL;
    size_t capacity = 0, count = 0;
    bool row = false;
    bool ok = record_query_open(&q, &r->db,
                                "SELECT limit_id, outcome, accepted, value, bound, margin, "
                                "frequency_hz, bias_v FROM finding WHERE n = ? ORDER BY place",
                                e);

    if (ok) record_query_whole(&q, n);
    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        struct record_finding *bigger =
            memory_grow(list, &capacity, count + 1, sizeof *list, CEILING_LIMITS, "findings", e);
        struct record_finding *f;

        ok = bigger != NULL;
        if (!ok) break;
        list = bigger;
        f = &list[count++];
        copy_column(&q, 0, f->limit, sizeof f->limit);
        ok = find_outcome(record_column_text(&q, 1), &f->outcome) ||
             damaged(r, "an unknown outcome", e);
        f->accepted = record_column_whole(&q, 2) != 0;
        f->value = record_column_real(&q, 3);
        f->bound = record_column_real(&q, 4);
        f->margin = record_column_real(&q, 5);
        f->frequency_hz = record_column_real(&q, 6);
        f->bias_v = record_column_real(&q, 7);
    }
    record_query_close(&q);
    if (ok) {
        *out = list;
        *n_findings = count;
    } else {
        memory_free(list);
    }
    return ok;
}

/* What was not measured stands in the file as zeros; here it is again what it was. */
static void forget_unmeasured(struct sweep *sweep, unsigned measured)
{
    sweep->measured &= measured;
    for (size_t i = 0; i < sweep->n_points; i++)
        for (unsigned p = 0; p < S_PARAMETERS; p++)
            if (!(sweep->measured & (1U << p))) sweep->s[S_PARAMETERS * i + p] = CMPLX(NAN, NAN);
}

static bool load_sweep(struct record_reader *r, struct record_query *q, struct text *bytes,
                       struct bias_sweep *bias, struct error *e)
{
    const char *file = record_column_text(q, 3), *missing = record_column_text(q, 5);
    const char *digest = record_column_text(q, 4);

    bias->bias_current_ma = record_column_real(q, 1);
    if (!file) {
        text_add(&bias->missing, missing ? missing : "not recorded");
        return text_ok(&bias->missing, "a reason", e);
    }
    text_addf(&bias->source, "%s/%s", text_words(&r->folder), file);
    if (!text_ok(&bias->source, "a file name", e) ||
        !sweep_file_read(bias->source.data, bytes, &bias->sweep, e))
        return false;
    digest_hex(text_words(bytes), bytes->length, bias->sha256);
    if (!digest || strcmp(digest, bias->sha256) != 0)
        return error_set(e, ERROR_INPUT,
                         "%s: is not the file that was recorded, its SHA-256 is %s instead of %s: "
                         "gainsieve audit tells more",
                         bias->source.data, bias->sha256, digest ? digest : "none");
    forget_unmeasured(&bias->sweep, (unsigned)record_column_whole(q, 2));
    return true;
}

static bool load_entry(struct record_reader *r, int64_t n, struct text *bytes,
                       struct measurement *out, struct error *e)
{
    struct record_query q = {0};
    bool row = false;
    bool ok = record_query_open(&q, &r->db,
                                "SELECT bias_v, bias_current_ma, measured, file, sha256, missing "
                                "FROM sweep WHERE n = ? ORDER BY place",
                                e);

    if (ok) record_query_whole(&q, n);
    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        struct bias_sweep *bias = measurement_add(out, record_column_real(&q, 0), e);

        ok = bias && load_sweep(r, &q, bytes, bias, e);
    }
    record_query_close(&q);
    return ok;
}

bool record_load(struct record_reader *r, const struct record_unit *unit, struct text *bytes,
                 struct measurement *out, struct error *e)
{
    measurement_reset(out, unit->serial, unit->attempt);
    return load_entry(r, unit->n, bytes, out, e);
}

bool record_load_reference(struct record_reader *r, int64_t n, struct text *bytes,
                           struct measurement *out, bool *found, struct error *e)
{
    struct record_query q = {0};
    bool row = false;
    bool ok = record_query_open(&q, &r->db,
                                "SELECT n, serial FROM reference WHERE n < ? "
                                "ORDER BY n DESC LIMIT 1",
                                e);
    int64_t entry = 0;

    if (ok) {
        record_query_whole(&q, n);
        ok = record_query_step(&q, &row, e);
    }
    *found = ok && row;
    if (*found) {
        const char *serial = record_column_text(&q, 1);

        measurement_reset(out, serial ? serial : "", 1);
        entry = record_column_whole(&q, 0);
    }
    record_query_close(&q);
    return ok && (!*found || load_entry(r, entry, bytes, out, e));
}
