#include "runner/record_index.h"

#include "drivers/base/csv.h"
#include "runner/batch_folder.h"

/* The file of a sweep, or the name that it would have, which no other sweep of the attempt has. */
static void add_file(struct text *out, struct text *name, const struct source_attempt *attempt,
                     double bias_v, const char *file)
{
    text_reset(name);
    if (file) {
        text_add(name, file);
    } else {
        text_add(name, BATCH_SWEEPS "/");
        batch_add_name(name, attempt->serial);
        text_addf(name, "/%lu/", attempt->attempt);
        text_add_number(name, bias_v);
        text_add(name, "V.s2p");
    }
    csv_add_text(out, text_words(name));
}

static void add_cell(struct text *out, const char *words)
{
    text_add(out, ",");
    if (words) csv_add_text(out, words);
}

static bool add_attempt(const struct record_source *rs, size_t i, struct text *name,
                        struct text *out, struct error *e)
{
    const struct source_attempt *attempt = &rs->counted.attempts[i];
    struct record_query q = {0};
    bool row = false;
    bool ok = record_query_open(
        &q, &rs->reader->db,
        "SELECT bias_v, bias_current_ma, file FROM sweep WHERE n = ? ORDER BY place", e);

    if (ok) record_query_whole(&q, record_source_unit(rs, &rs->counted, i)->n);
    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        const double bias_v = record_column_real(&q, 0);

        csv_add_text(out, attempt->serial);
        text_addf(out, ",%lu,", attempt->attempt);
        csv_add_number(out, bias_v);
        text_add(out, ",");
        add_file(out, name, attempt, bias_v, record_column_text(&q, 2));
        text_add(out, ",");
        csv_add_number(out, record_column_real(&q, 1));
        add_cell(out, attempt->circumstances.measured_at);
        add_cell(out, attempt->circumstances.operator_name);
        add_cell(out, attempt->circumstances.bench);
        text_add(out, "\r\n");
    }
    record_query_close(&q);
    return ok && text_ok(name, "a file name", e);
}

bool record_index_add(const struct record_source *rs, struct text *out, struct error *e)
{
    struct text name = {0};
    bool ok = true;

    text_add(out, "serial,attempt,bias,file,bias_current_ma,measured_at,operator,bench\r\n");
    for (size_t i = 0; ok && i < rs->counted.n_attempts; i++)
        ok = add_attempt(rs, i, &name, out, e);
    text_clear(&name);
    return ok && text_ok(out, "the index", e);
}
