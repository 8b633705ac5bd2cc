#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "drivers/touchstone.h"
#include "runner/batch_folder.h"
#include "runner/record_parts.h"

/* A sweep as it will stand in the folder. */
struct stored {
    struct text file, bytes; /* "sweeps/KW000101/1/mid.s2p"; empty when there is no sweep */
    char sha256[DIGEST_HEX];
};

static void free_stored(struct stored *list, size_t n)
{
    for (size_t i = 0; list && i < n; i++) {
        text_clear(&list[i].file);
        text_clear(&list[i].bytes);
    }
    memory_free(list);
}

/* The bias step's name, or the voltage when no step is near or another sweep has the name already.
 */
static void add_bias_name(const struct limits *limits, const struct measurement *m, size_t bias,
                          struct text *out)
{
    const double v = m->biases[bias].bias_v;
    const double near = limits->bias_tolerance_v + SAME_VOLTAGE_V;

    for (size_t i = 0; i < limits->n_biases; i++) {
        const double at = limits->biases[i].at_v;

        if (fabs(at - v) > near || (bias > 0 && fabs(at - m->biases[bias - 1].bias_v) <= near))
            continue;
        batch_add_name(out, limits->biases[i].id);
        return;
    }
    text_add_number(out, v);
    text_add(out, "V");
}

/* A copy in which what was not measured is zero, because the file format has no other way; a trace
 * of one number everywhere is taken for such a placeholder by every reader of this program. */
static bool fill(const struct sweep *sweep, struct sweep *out, struct error *e)
{
    if (!sweep_copy(out, sweep, e)) return false;
    for (size_t i = 0; i < out->n_points; i++)
        for (unsigned p = 0; p < S_PARAMETERS; p++)
            if (!(sweep->measured & (1U << p))) out->s[S_PARAMETERS * i + p] = 0;
    out->measured = S_ALL;
    return true;
}

static void add_comment(const struct record *record, const struct measurement *m,
                        unsigned long attempt, const struct bias_sweep *bias, struct text *out)
{
    const char *before = "; not measured and written as zeros:";

    text_addf(out, "%s, %s, attempt %lu, bias ", record->limits.product, m->serial, attempt);
    text_add_number(out, bias->bias_v);
    text_add(out, " V");
    if (isfinite(bias->bias_current_ma)) {
        text_add(out, ", ");
        text_add_number(out, bias->bias_current_ma);
        text_add(out, " mA");
    }
    for (unsigned p = 0; bias->sweep.n_ports == 2 && p < S_PARAMETERS; p++) {
        if (bias->sweep.measured & (1U << p)) continue;
        text_addf(out, "%s %s", before, s_parameter_name((enum s_parameter)p));
        before = "";
    }
}

/* Renders one sweep in memory; a fault is the measurement's, and nothing has been written yet. */
static bool render(const struct record *record, const struct measurement *m, unsigned long attempt,
                   const char *folder, size_t bias, struct stored *out, struct error *e)
{
    const struct bias_sweep *b = &m->biases[bias];
    struct sweep filled = {0};
    struct text comment = {0};
    struct error inner = {0};
    char at[VALUE_TEXT];
    bool ok;

    if (b->missing.length > 0) return true;
    text_addf(&out->file, "%s/", folder);
    add_bias_name(&record->limits, m, bias, &out->file);
    text_add(&out->file, b->sweep.n_ports == 1 ? ".s1p" : ".s2p");
    add_comment(record, m, attempt, b, &comment);
    ok = text_ok(&out->file, "a file name", e) && text_ok(&comment, "a comment", e) &&
         fill(&b->sweep, &filled, e);
    if (ok &&
        (b->sweep.measured == 0 || !touchstone_write(&filled, comment.data, &out->bytes, &inner))) {
        ok = inner.kind == ERROR_MEMORY
                 ? error_set(e, ERROR_MEMORY, "%s", inner.text)
                 : error_set(e, ERROR_BENCH,
                             "%s, bias %s: the sweep cannot be kept: %s: measure again", m->serial,
                             value_rounded(b->bias_v, UNIT_V, at),
                             *inner.text ? inner.text : "nothing was measured");
    }
    if (ok) digest_hex(out->bytes.data, out->bytes.length, out->sha256);
    sweep_clear(&filled);
    text_clear(&comment);
    return ok;
}

static struct stored *render_all(const struct record *record, const struct measurement *m,
                                 unsigned long attempt, const char *folder, struct error *e)
{
    struct stored *list = memory_make(m->n_biases, sizeof *list, e);

    for (size_t i = 0; list && i < m->n_biases; i++) {
        if (render(record, m, attempt, folder, i, &list[i], e)) continue;
        free_stored(list, m->n_biases);
        return NULL;
    }
    return list;
}

static bool write_all(struct record *record, const struct stored *list, size_t n,
                      const char *folder, struct error *e)
{
    const char *top = text_words(&record->reader.folder);
    struct text path = {0};
    bool ok = batch_make_folder(top, folder, e);

    for (size_t i = 0; ok && i < n; i++) {
        if (list[i].file.length == 0) continue;
        ok = batch_path(&path, top, list[i].file.data, e) &&
             file_write(path.data, list[i].bytes.data, list[i].bytes.length, FILE_DURABLE, e);
    }
    text_clear(&path);
    if (!ok) record->broken = true;
    return ok;
}

static bool add_sweep_rows(struct record *record, int64_t n, const struct measurement *m,
                           const struct stored *list, struct error *e)
{
    for (size_t i = 0; i < m->n_biases; i++) {
        const struct bias_sweep *bias = &m->biases[i];
        const bool is_there = list[i].file.length > 0;
        struct record_query q = {0};
        bool ok = record_query_open(&q, &record->reader.db,
                                    "INSERT INTO sweep VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", e);

        if (ok) {
            record_query_whole(&q, n);
            record_query_whole(&q, (int64_t)i);
            record_query_real(&q, bias->bias_v);
            record_query_real(&q, bias->bias_current_ma);
            record_query_whole(&q, is_there ? bias->sweep.measured : 0);
            record_query_whole(&q, is_there ? (int64_t)bias->sweep.n_points : 0);
            record_query_text(&q, is_there ? list[i].file.data : NULL);
            record_query_text(&q, is_there ? list[i].sha256 : NULL);
            record_query_text(&q, is_there ? NULL : bias->missing.data);
            ok = record_query_run(&q, e);
        }
        record_query_close(&q);
        if (!ok) return false;
    }
    return true;
}

static bool add_finding_rows(struct record *record, int64_t n, const struct judgement *judgement,
                             struct error *e)
{
    for (size_t i = 0; i < judgement->n_findings; i++) {
        const struct finding *f = &judgement->findings[i];
        struct record_query q = {0};
        bool ok = record_query_open(
            &q, &record->reader.db,
            "INSERT INTO finding VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", e);

        if (ok) {
            record_query_whole(&q, n);
            record_query_whole(&q, (int64_t)i);
            record_query_text(&q, f->limit->id);
            record_query_text(&q, f->limit->quantity->name);
            record_query_text(&q, outcome_name(f->outcome));
            record_query_whole(&q, f->accepted);
            record_query_real(&q, f->value);
            record_query_real(&q, f->bound);
            record_query_real(&q, f->margin);
            record_query_text(&q, unit_name(f->limit->quantity->unit));
            record_query_real(&q, f->frequency_hz);
            record_query_real(&q, f->bias_v);
            record_query_real(&q, f->conformance_probability);
            record_query_text(&q, f->reason);
            ok = record_query_run(&q, e);
        }
        record_query_close(&q);
        if (!ok) return false;
    }
    return true;
}

static bool add_unit_row(struct record *record, int64_t n, const struct record_entry *entry,
                         unsigned long attempt, struct error *e)
{
    struct record_query q = {0};
    bool ok = record_query_open(&q, &record->reader.db,
                                "INSERT INTO unit VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", e);

    if (ok) {
        record_query_whole(&q, n);
        record_query_text(&q, entry->measurement->serial);
        record_query_whole(&q, (int64_t)attempt);
        record_add_time(&q);
        record_add_operator(&q, record);
        record_query_text(&q, verdict_name(entry->judgement->verdict));
        record_query_text(&q, entry->judgement->reason);
        record_query_text(&q, entry->instruments);
        record_query_text(&q, record->limits.sha256);
        record_query_text(&q, *record->bench_sha256 ? record->bench_sha256 : NULL);
        ok = record_query_run(&q, e);
    }
    record_query_close(&q);
    return ok;
}

static bool add_unit(struct record *record, const struct record_entry *entry, unsigned long attempt,
                     const struct stored *list, struct error *e)
{
    struct chain_link end;
    int64_t n;
    bool ok;

    if (!record_entry_begin(record, &end, e)) return false;
    n = end.n + 1;
    ok = add_unit_row(record, n, entry, attempt, e) &&
         add_finding_rows(record, n, entry->judgement, e) &&
         add_sweep_rows(record, n, entry->measurement, list, e);
    return record_entry_end(record, &end, "unit", ok, e);
}

static bool next_attempt(struct record *record, const char *serial, unsigned long *out,
                         struct error *e)
{
    struct record_last last;

    if (record->broken)
        return error_set(e, ERROR_STORE,
                         "%s: could not be written before: start again, so that what is on the "
                         "disk is known",
                         text_words(&record->reader.db.path));
    if (!*serial) return error_set(e, ERROR_USAGE, "a unit without a serial number is not stored");
    if (!record_find(&record->reader, serial, &last, e)) return false;
    if (last.attempts >= CEILING_ATTEMPTS)
        return error_set(e, ERROR_USAGE, "%s: has %lu attempts, more are not recorded", serial,
                         last.attempts);
    *out = last.attempts + 1;
    return true;
}

bool record_store(struct record *record, const struct record_entry *entry, unsigned long *attempt,
                  struct error *e)
{
    const struct measurement *m = entry->measurement;
    struct stored *list = NULL;
    struct text folder = {0};
    unsigned long number = 0;
    bool ok = false;

    if (strcmp(m->serial, entry->judgement->serial) != 0)
        return error_set(e, ERROR_STORE, "the sweeps of %s with the judgement of %s: not stored",
                         m->serial, entry->judgement->serial);
    if (!next_attempt(record, m->serial, &number, e)) return false;
    text_add(&folder, BATCH_SWEEPS "/");
    batch_add_name(&folder, m->serial);
    text_addf(&folder, "/%lu", number);
    if (!text_ok(&folder, "a file name", e)) goto done;
    list = render_all(record, m, number, folder.data, e);
    if (!list || !write_all(record, list, m->n_biases, folder.data, e)) goto done;
    if (!add_unit(record, entry, number, list, e)) goto done;
    *attempt = number;
    ok = true;
done:
    free_stored(list, m->n_biases);
    text_clear(&folder);
    return ok;
}

/* Whether the last reference row names the same sweeps. */
static bool is_same_reference(struct record *record, const struct measurement *m,
                              const struct stored *list, bool *same, struct error *e)
{
    struct record_query q = {0};
    size_t n_same = 0, n_rows = 0;
    bool row = false;
    bool ok = record_query_open(&q, &record->reader.db,
                                "SELECT bias_v, bias_current_ma, sha256 FROM sweep WHERE n = "
                                "(SELECT max(n) FROM reference WHERE serial = ?) ORDER BY place",
                                e);

    if (ok) record_query_text(&q, m->serial);
    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        const char *digest = record_column_text(&q, 2);
        const size_t i = n_rows++;

        if (i < m->n_biases && digest && strcmp(digest, list[i].sha256) == 0 &&
            record_column_real(&q, 0) == m->biases[i].bias_v)
            n_same++;
    }
    record_query_close(&q);
    *same = n_rows > 0 && n_same == n_rows && n_rows == m->n_biases;
    return ok;
}

static bool add_reference(struct record *record, const struct measurement *m,
                          const struct stored *list, struct error *e)
{
    struct record_query q = {0};
    struct chain_link end;
    bool ok;

    if (!record_entry_begin(record, &end, e)) return false;
    ok = record_query_open(&q, &record->reader.db, "INSERT INTO reference VALUES (?, ?, ?, ?)", e);
    if (ok) {
        record_query_whole(&q, end.n + 1);
        record_query_text(&q, m->serial);
        record_add_time(&q);
        record_add_operator(&q, record);
        ok = record_query_run(&q, e);
    }
    record_query_close(&q);
    ok = ok && add_sweep_rows(record, end.n + 1, m, list, e);
    return record_entry_end(record, &end, "reference", ok, e);
}

bool record_store_reference(struct record *record, const struct measurement *m, struct error *e)
{
    struct stored *list = NULL;
    struct text folder = {0};
    int64_t n_before = 0;
    bool same = false, ok = false;

    if (!record_db_whole(&record->reader.db, "SELECT count(*) FROM reference", &n_before, e))
        return false;
    text_addf(&folder, BATCH_REFERENCE "/%lld", (long long)n_before + 1);
    if (!text_ok(&folder, "a file name", e)) goto done;
    list = render_all(record, m, 1, folder.data, e);
    if (!list || !is_same_reference(record, m, list, &same, e)) goto done;
    ok = same || (write_all(record, list, m->n_biases, folder.data, e) &&
                  add_reference(record, m, list, e));
done:
    free_stored(list, m->n_biases);
    text_clear(&folder);
    return ok;
}
