#include "runner/record_chain.h"

#include <stdio.h>
#include <string.h>

static const char *const tables[] = {"batch", "unit", "finding", "reference", "sweep", "note"};
/* The same, with rows in their order. */
static const char *const rows_of[] = {
    "SELECT * FROM batch WHERE n = ?",
    "SELECT * FROM unit WHERE n = ?",
    "SELECT * FROM finding WHERE n = ? ORDER BY place",
    "SELECT * FROM reference WHERE n = ?",
    "SELECT * FROM sweep WHERE n = ? ORDER BY place",
    "SELECT * FROM note WHERE n = ?",
};

const char *record_chain_table(size_t i)
{
    return i < sizeof tables / sizeof *tables ? tables[i] : NULL;
}

bool record_chain_end(struct record_db *db, struct chain_link *out, struct error *e)
{
    struct record_query q = {0};
    bool row = false;
    bool ok = record_query_open(&q, db, "SELECT n, sha256 FROM chain ORDER BY n DESC LIMIT 1", e) &&
              record_query_step(&q, &row, e);

    out->n = 0;
    (void)snprintf(out->sha256, sizeof out->sha256, "%064d", 0);
    if (ok && row) {
        const char *digest = record_column_text(&q, 1);

        out->n = record_column_whole(&q, 0);
        (void)snprintf(out->sha256, sizeof out->sha256, "%s", digest ? digest : "");
    }
    record_query_close(&q);
    return ok;
}

bool record_chain_text(struct record_db *db, int64_t n, const char *kind, const char *before,
                       struct text *out, struct error *e)
{
    text_addf(out, "gainsieve record %d\nentry %lld %s\nbefore %s\n", RECORD_VERSION, (long long)n,
              kind ? kind : "", before ? before : "");
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        struct record_query q = {0};
        bool row = false;
        bool ok = record_query_open(&q, db, rows_of[i], e);

        if (ok) record_query_whole(&q, n);
        while (ok && (ok = record_query_step(&q, &row, e)) && row) {
            text_addf(out, "table %s\n", tables[i]);
            record_columns_add(&q, out);
        }
        record_query_close(&q);
        if (!ok) return false;
    }
    return text_ok(out, "an entry of the record", e);
}

bool record_chain_add(struct record_db *db, const struct chain_link *end, const char *kind,
                      struct error *e)
{
    struct text canonical = {.ceiling = CEILING_CANONICAL};
    struct record_query q = {0};
    char digest[DIGEST_HEX];
    bool ok = record_chain_text(db, end->n + 1, kind, end->sha256, &canonical, e);

    if (ok) {
        digest_hex(canonical.data, canonical.length, digest);
        ok = record_query_open(&q, db, "INSERT INTO chain VALUES (?, ?, ?, ?)", e);
    }
    if (ok) {
        record_query_whole(&q, end->n + 1);
        record_query_text(&q, kind);
        record_query_text(&q, end->sha256);
        record_query_text(&q, digest);
        ok = record_query_run(&q, e);
    }
    record_query_close(&q);
    text_clear(&canonical);
    return ok;
}
