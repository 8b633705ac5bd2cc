#include "runner/record_source.h"

#include <string.h>

#include "drivers/base/memory.h"
#include "runner/batch_folder.h"

static bool load_recorded(void *data, size_t place, struct text *bytes, struct measurement *out,
                          struct error *e)
{
    struct record_source *rs = data;
    bool ok;

    (void)pthread_mutex_lock(&rs->lock);
    ok = record_load(rs->reader, &rs->kept[place].unit, bytes, out, e);
    (void)pthread_mutex_unlock(&rs->lock);
    return ok;
}

/* Reads the file if it has the digest; `*is_it` is false when it has another or is not there. */
static bool read_limits_if(struct limits *out, const char *path, const char *sha256, bool *is_it,
                           struct error *e)
{
    struct limits read = {0};
    struct error inner = {0};

    *is_it = false;
    if (!limits_read(&read, path, &inner))
        return inner.kind == ERROR_INPUT || error_set(e, inner.kind, "%s", inner.text);
    *is_it = strcmp(read.sha256, sha256) == 0;
    if (*is_it)
        *out = read;
    else
        limits_clear(&read);
    return true;
}

/* Reads the limits of that digest. Another process may have moved them since the batch was opened:
 * then they are among the earlier ones. */
static bool read_limits(struct record_source *rs, const char *sha256, struct limits *out,
                        struct error *e)
{
    struct text path = {0}, name = {0};
    bool is_it = false;
    bool ok = record_limits_path(rs->reader, sha256, &path, e) &&
              read_limits_if(out, path.data, sha256, &is_it, e);

    if (ok && !is_it && rs->reader->is_live) {
        struct text earlier = {0};

        text_addf(&name, BATCH_EARLIER "/limits-%s.xml", sha256);
        ok = text_ok(&name, "a file name", e) &&
             batch_path(&earlier, text_words(&rs->reader->folder), name.data, e) &&
             read_limits_if(out, earlier.data, sha256, &is_it, e);
        text_clear(&earlier);
    }
    if (ok && !is_it)
        ok = error_set(
            e, ERROR_INPUT,
            "%s: is missing or not the file that was recorded, with SHA-256 %s: gainsieve "
            "audit tells more",
            path.data, sha256);
    text_clear(&path);
    text_clear(&name);
    return ok;
}

/* The limits of that digest, read once; NULL with `e` set. */
static const struct limits *find_limits(struct record_source *rs, const char *sha256,
                                        struct error *e)
{
    struct limits **bigger;

    for (size_t i = 0; i < rs->n_limits; i++)
        if (strcmp(rs->limits[i]->sha256, sha256) == 0) return rs->limits[i];
    bigger = memory_grow(rs->limits, &rs->limits_capacity, rs->n_limits + 1, sizeof *rs->limits,
                         CEILING_BATCH_CHANGES, "limits files", e);
    if (!bigger) return NULL;
    rs->limits = bigger;
    rs->limits[rs->n_limits] = memory_make(1, sizeof **rs->limits, e);
    if (!rs->limits[rs->n_limits]) return NULL;
    rs->n_limits++;
    if (!read_limits(rs, sha256, rs->limits[rs->n_limits - 1], e)) return NULL;
    return rs->limits[rs->n_limits - 1];
}

/* The sweeps of the reference entry for these limits, read once; NULL with `e` set. */
static const struct measurement *find_reference(struct record_source *rs, int64_t n,
                                                const struct limits *limits, struct error *e)
{
    struct record_reference **bigger, *made;
    struct text bytes = {0};
    bool found = false, ok;

    for (size_t i = 0; i < rs->n_references; i++)
        if (rs->references[i]->n == n && rs->references[i]->limits == limits)
            return &rs->references[i]->m;
    bigger = memory_grow(rs->references, &rs->references_capacity, rs->n_references + 1,
                         sizeof *rs->references, CEILING_BATCH_CHANGES, "reference sweeps", e);
    if (!bigger) return NULL;
    rs->references = bigger;
    made = memory_make(1, sizeof *made, e);
    if (!made) return NULL;
    rs->references[rs->n_references++] = made;
    made->n = n;
    made->limits = limits;
    /* The last before the next entry: this one. */
    ok = record_load_reference(rs->reader, n + 1, &bytes, &made->m, &found, e) && found &&
         measurement_prepare(&made->m, limits->impedance_ohm, e);
    text_clear(&bytes);
    return ok ? &made->m : NULL;
}

/* Finds the label of the bench file with that digest, as it stands in the batch's folder or among
 * the earlier ones. One that cannot be read has none: the digest names it. */
static void find_bench(struct record_source *rs, const char *sha256)
{
    struct text name = {0}, path = {0};

    if (strcmp(rs->bench_sha256, sha256) == 0) return;
    memcpy(rs->bench_sha256, sha256, sizeof rs->bench_sha256);
    bench_file_clear(&rs->bench);
    text_addf(&name, BATCH_EARLIER "/bench-%s.xml", sha256);
    for (int k = 0; k < 2 && !rs->bench.label; k++) {
        struct error ignored = {0};

        if (batch_path(&path, text_words(&rs->reader->folder),
                       k == 0 ? BATCH_BENCH : text_words(&name), &ignored) &&
            bench_file_read(&rs->bench, path.data, &ignored) &&
            strcmp(rs->bench.sha256, sha256) != 0)
            bench_file_clear(&rs->bench);
    }
    text_clear(&name);
    text_clear(&path);
}

static bool keep_unit(struct record_source *rs, struct record_unit *unit, struct error *e)
{
    struct record_kept *bigger =
        memory_grow(rs->kept, &rs->kept_capacity, rs->n_kept + 1, sizeof *rs->kept,
                    CEILING_BATCH_ATTEMPTS, "attempts", e);
    struct record_kept *kept;
    struct text bench = {0};
    bool ok = true;

    if (!bigger) return false;
    rs->kept = bigger;
    kept = &rs->kept[rs->n_kept++];
    kept->unit = *unit;
    *unit = (struct record_unit){0};
    if (!*kept->unit.bench_sha256) return true;
    find_bench(rs, kept->unit.bench_sha256);
    if (rs->bench.label) text_addf(&bench, "%s, ", rs->bench.label);
    text_addf(&bench, BATCH_BENCH " %.12s", kept->unit.bench_sha256);
    ok = text_ok(&bench, "a name", e) && (kept->bench = memory_copy_text(bench.data, e)) != NULL;
    text_clear(&bench);
    return ok;
}

static bool keep_units(struct record_source *rs, struct error *e)
{
    struct record_units units = {0};
    struct record_unit unit = {0};
    bool more = true;
    bool ok = record_units_begin(&units, rs->reader, e);

    while (ok && more) {
        ok = record_units_next(&units, &unit, &more, e) && (!more || keep_unit(rs, &unit, e));
        record_unit_clear(&unit);
    }
    record_units_end(&units);
    return ok;
}

/* The entries of the reference unit's sweeps, in rising order. */
static bool list_references(struct record_source *rs, int64_t **out, size_t *n, struct error *e)
{
    struct record_query q = {0};
    int64_t *list = NULL;
    size_t capacity = 0;
    bool row = false;
    bool ok = record_query_open(&q, &rs->reader->db, "SELECT n FROM reference ORDER BY n", e);

    *n = 0;
    while (ok && (ok = record_query_step(&q, &row, e)) && row) {
        int64_t *bigger = memory_grow(list, &capacity, *n + 1, sizeof *list, CEILING_BATCH_CHANGES,
                                      "reference sweeps", e);

        ok = bigger != NULL;
        if (!ok) break;
        list = bigger;
        list[(*n)++] = record_column_whole(&q, 0);
    }
    record_query_close(&q);
    *out = list;
    return ok;
}

/* Adds the attempt to its source, with what it is judged by. */
static bool add_attempt(struct record_source *rs, size_t place, const struct limits *by,
                        const int64_t *entries, size_t n_entries, struct error *e)
{
    const struct record_unit *unit = &rs->kept[place].unit;
    struct source *source = unit->wrongly_connected ? &rs->marked : &rs->counted;
    struct source_attempt *attempt = &source->attempts[source->n_attempts];
    int64_t entry = 0;

    *attempt = (struct source_attempt){
        .serial = unit->serial,
        .attempt = unit->attempt,
        .place = place,
        .circumstances = {rs->kept[place].unit.at_utc, unit->operator_name, rs->kept[place].bench},
        .limits = by ? by : find_limits(rs, unit->limits_sha256, e),
    };
    if (!attempt->limits) return false;
    for (size_t i = 0; i < n_entries && entries[i] < unit->n; i++)
        entry = entries[i];
    if (entry > 0) attempt->reference = find_reference(rs, entry, attempt->limits, e);
    source->n_attempts++;
    return entry == 0 || attempt->reference;
}

static bool fill_sources(struct record_source *rs, const struct limits *by, struct error *e)
{
    struct record_head head;
    int64_t *entries = NULL;
    size_t n_entries = 0;
    bool ok = record_head_read(rs->reader, &head, e) &&
              (by || find_limits(rs, head.limits_sha256, e)) && keep_units(rs, e) &&
              list_references(rs, &entries, &n_entries, e);

    if (ok) {
        rs->counted.attempts = memory_make(rs->n_kept, sizeof *rs->counted.attempts, e);
        rs->marked.attempts = memory_make(rs->n_kept, sizeof *rs->marked.attempts, e);
        ok = rs->counted.attempts && rs->marked.attempts;
    }
    for (size_t i = 0; ok && i < rs->n_kept; i++)
        ok = add_attempt(rs, i, by, entries, n_entries, e);
    memory_free(entries);
    return ok;
}

bool record_source_open(struct record_source *out, struct record_reader *reader,
                        const struct limits *by, struct error *e)
{
    *out = (struct record_source){.reader = reader, .is_open = true};
    (void)pthread_mutex_init(&out->lock, NULL);
    out->counted.load = out->marked.load = load_recorded;
    out->counted.data = out->marked.data = out;
    if (fill_sources(out, by, e)) return true;
    record_source_close(out);
    return false;
}

const struct record_unit *record_source_unit(const struct record_source *rs,
                                             const struct source *source, size_t i)
{
    return &rs->kept[source->attempts[i].place].unit;
}

void record_source_close(struct record_source *rs)
{
    if (!rs->is_open) return;
    source_clear(&rs->counted);
    source_clear(&rs->marked);
    for (size_t i = 0; i < rs->n_kept; i++) {
        record_unit_clear(&rs->kept[i].unit);
        memory_free(rs->kept[i].bench);
    }
    for (size_t i = 0; i < rs->n_limits; i++) {
        limits_clear(rs->limits[i]);
        memory_free(rs->limits[i]);
    }
    for (size_t i = 0; i < rs->n_references; i++) {
        measurement_clear(&rs->references[i]->m);
        memory_free(rs->references[i]);
    }
    bench_file_clear(&rs->bench);
    memory_free(rs->kept);
    memory_free(rs->limits);
    memory_free(rs->references);
    (void)pthread_mutex_destroy(&rs->lock);
    *rs = (struct record_source){0};
}
