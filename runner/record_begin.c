#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/file.h"
#include "runner/batch_folder.h"
#include "runner/record_parts.h"

/* The limits or the bench file: as given, as the batch has it, as the record names it. */
struct kept_file {
    const char *what, *name; /* "limits", "limits.xml" */
    const char *given;       /* path, or NULL */
    struct text bytes;       /* of the given one */
    char given_sha256[DIGEST_HEX];
    const char *recorded_sha256; /* empty when the batch has none */
};

static bool read_given(struct kept_file *file, struct error *e)
{
    if (!file->given) return true;
    if (!file_read(file->given, CEILING_XML_FILE, &file->bytes, e)) return false;
    digest_hex(text_words(&file->bytes), file->bytes.length, file->given_sha256);
    return true;
}

/* The digest of FOLDER/NAME; empty when it is not there. */
static bool digest_of(const char *folder, const char *name, struct text *bytes,
                      char out[DIGEST_HEX], struct error *e)
{
    struct text path = {0};
    bool ok = batch_path(&path, folder, name, e);

    *out = '\0';
    if (ok && batch_has(folder, name)) {
        ok = file_read(path.data, CEILING_XML_FILE, bytes, e);
        if (ok) digest_hex(text_words(bytes), bytes->length, out);
    }
    text_clear(&path);
    return ok;
}

static bool write_kept(const char *folder, const char *name, const struct text *bytes,
                       struct error *e)
{
    struct text path = {0};
    bool ok = batch_path(&path, folder, name, e) &&
              file_write(path.data, text_words(bytes), bytes->length, FILE_DURABLE, e);

    text_clear(&path);
    return ok;
}

static bool earlier_name(struct text *out, const struct kept_file *file, struct error *e)
{
    text_addf(out, BATCH_EARLIER "/%s-%s.xml", file->what, file->recorded_sha256);
    return text_ok(out, "a file name", e);
}

static bool move_kept(const char *folder, const char *from, const char *to, struct error *e)
{
    struct text old = {0}, new = {0};
    bool ok = batch_path(&old, folder, from, e) && batch_path(&new, folder, to, e);

    if (ok && rename(old.data, new.data) != 0)
        ok = error_set(e, ERROR_STORE, "%s: cannot be moved to %s: %s", old.data, new.data,
                       strerror(errno));
    text_clear(&old);
    text_clear(&new);
    return ok;
}

/* The file in the folder must be the recorded one. A change that was interrupted has put the
 * recorded one among the earlier files: it is brought back. */
static bool bring_back(const char *folder, const struct kept_file *file, struct error *e)
{
    struct text bytes = {0}, earlier = {0};
    char found[DIGEST_HEX], kept[DIGEST_HEX];
    bool ok = digest_of(folder, file->name, &bytes, found, e);

    if (!ok || strcmp(found, file->recorded_sha256) == 0) goto done;
    if (!*file->recorded_sha256) {
        ok = batch_make_folder(folder, BATCH_UNFINISHED, e);
        text_addf(&earlier, BATCH_UNFINISHED "/%s", file->name);
        ok = ok && text_ok(&earlier, "a file name", e) &&
             move_kept(folder, file->name, earlier.data, e);
        goto done;
    }
    ok = earlier_name(&earlier, file, e) && digest_of(folder, earlier.data, &bytes, kept, e);
    if (ok && strcmp(kept, file->recorded_sha256) == 0)
        ok = write_kept(folder, file->name, &bytes, e);
    else if (ok)
        ok = error_set(e, ERROR_INPUT,
                       "%s/%s: is not the file that the record names: its SHA-256 is %s, recorded "
                       "is %s: gainsieve audit tells more",
                       folder, file->name, *found ? found : "none, it is missing",
                       file->recorded_sha256);
done:
    text_clear(&bytes);
    text_clear(&earlier);
    return ok;
}

static bool is_changed(const struct kept_file *file)
{
    return strcmp(file->given_sha256, file->recorded_sha256) != 0;
}

/* Puts the given file in the place of the batch's, which is kept among the earlier ones. */
static bool change(const char *folder, const struct kept_file *file, struct error *e)
{
    struct text bytes = {0}, earlier = {0};
    char found[DIGEST_HEX];
    bool ok = true;

    if (!is_changed(file)) return true;
    if (*file->recorded_sha256)
        ok = batch_make_folder(folder, BATCH_EARLIER, e) && earlier_name(&earlier, file, e) &&
             digest_of(folder, file->name, &bytes, found, e) &&
             write_kept(folder, earlier.data, &bytes, e);
    if (ok && file->given)
        ok = write_kept(folder, file->name, &file->bytes, e);
    else if (ok)
        ok = move_kept(folder, file->name, earlier.data, e);
    text_clear(&bytes);
    text_clear(&earlier);
    return ok;
}

static bool refuse_change(const char *folder, const struct kept_file *file, struct error *e)
{
    return error_set(e, ERROR_INPUT,
                     "%s: the batch %s has %s of SHA-256 %s, this one has %s: take the batch's, or "
                     "give a reason for the change with --reason, which is recorded",
                     file->given ? file->given : "no bench file", folder, file->what,
                     *file->recorded_sha256 ? file->recorded_sha256 : "none",
                     *file->given_sha256 ? file->given_sha256 : "none");
}

static bool add_batch_row(struct record *record, const struct record_request *request,
                          struct error *e)
{
    struct record_query q = {0};
    struct chain_link end;
    bool ok;

    if (!record_entry_begin(record, &end, e)) return false;
    ok = record_query_open(&q, &record->reader.db, "INSERT INTO batch VALUES (?, ?, ?, ?, ?, ?, ?)",
                           e);
    if (ok) {
        record_query_whole(&q, end.n + 1);
        record_add_time(&q);
        record_query_text(&q, "gainsieve " GAINSIEVE_VERSION);
        record_add_operator(&q, record);
        record_query_text(&q, record->limits.sha256);
        record_query_text(&q, *record->bench_sha256 ? record->bench_sha256 : NULL);
        record_query_text(&q, request->reason);
        ok = record_query_run(&q, e);
    }
    record_query_close(&q);
    return record_entry_end(record, &end, "batch", ok, e);
}

/* The last entry must be whole: who goes on with a damaged record buries the damage. */
static bool check_end(struct record *record, struct error *e)
{
    struct record_db *db = &record->reader.db;
    struct record_query q = {0};
    struct text canonical = {.ceiling = CEILING_CANONICAL};
    char digest[DIGEST_HEX];
    bool row = false;
    bool ok = record_query_open(
                  &q, db, "SELECT n, kind, before, sha256 FROM chain ORDER BY n DESC LIMIT 1", e) &&
              record_query_step(&q, &row, e);

    if (ok && row) {
        const char *stored = record_column_text(&q, 3);

        ok = record_chain_text(db, record_column_whole(&q, 0), record_column_text(&q, 1),
                               record_column_text(&q, 2), &canonical, e);
        if (ok) digest_hex(canonical.data, canonical.length, digest);
        if (ok && (!stored || strcmp(digest, stored) != 0))
            ok = error_set(e, ERROR_INPUT,
                           "%s: its last entry was altered: gainsieve audit tells more",
                           text_words(&db->path));
    }
    record_query_close(&q);
    text_clear(&canonical);
    return ok;
}

/* Folders of sweeps that no entry names: attempts that were interrupted before their verdict. */
struct leftovers {
    struct record *record;
    struct text first; /* "sweeps/KW000101/2/" */
    size_t n;
};

static bool note_leftover(void *context, const char *name, struct error *e)
{
    struct leftovers *left = context;
    struct record_query q = {0};
    const char *slash = strrchr(name, '/');
    struct text folder = {0};
    bool row = false, ok;

    text_add_bytes(&folder, name, (size_t)(slash - name) + 1);
    ok = text_ok(&folder, "a file name", e);
    if (ok && (left->n == 0 || strcmp(left->first.data, folder.data) != 0)) {
        ok = record_query_open(&q, &left->record->reader.db,
                               "SELECT 1 FROM sweep WHERE file > ?1 AND file < ?1 || '~' LIMIT 1",
                               e);
        if (ok) record_query_text(&q, folder.data);
        ok = ok && record_query_step(&q, &row, e);
        record_query_close(&q);
        if (ok && !row && left->n++ == 0) {
            text_add(&left->first, folder.data);
            ok = text_ok(&left->first, "a file name", e);
        }
    }
    text_clear(&folder);
    return ok;
}

/* Moves what one interruption left out of the way of the next attempt. More than one was not left
 * by us: then everything stays where the audit finds it. */
static bool put_away(struct record *record, const char *below, struct error *e)
{
    struct leftovers left = {.record = record};
    const char *folder = text_words(&record->reader.folder);
    struct text to = {0};
    bool ok = batch_each_file(folder, below, note_leftover, &left, e);

    if (ok && left.n == 1) {
        size_t number = 0;

        ok = batch_make_folder(folder, BATCH_UNFINISHED, e);
        left.first.data[left.first.length - 1] = '\0';
        do {
            text_reset(&to);
            text_addf(&to, BATCH_UNFINISHED "/%zu", ++number);
            ok = ok && text_ok(&to, "a file name", e);
        } while (ok && batch_has(folder, to.data));
        ok = ok && move_kept(folder, left.first.data, to.data, e);
    }
    text_clear(&left.first);
    text_clear(&to);
    return ok;
}

static bool begin_batch(struct record *record, const struct record_request *request,
                        const struct kept_file *limits, const struct kept_file *bench,
                        struct error *e)
{
    const char *folder = text_words(&record->reader.folder);

    return write_kept(folder, BATCH_LIMITS, &limits->bytes, e) &&
           (!bench->given || write_kept(folder, BATCH_BENCH, &bench->bytes, e)) &&
           add_batch_row(record, request, e);
}

static bool go_on(struct record *record, const struct record_request *request,
                  struct kept_file *limits, struct kept_file *bench, struct error *e)
{
    const char *folder = text_words(&record->reader.folder);
    struct record_head head;

    if (!check_end(record, e) || !record_head_read(&record->reader, &head, e)) return false;
    limits->recorded_sha256 = head.limits_sha256;
    bench->recorded_sha256 = head.bench_sha256;
    if (!bring_back(folder, limits, e) || !bring_back(folder, bench, e)) return false;
    if (is_changed(limits) || is_changed(bench)) {
        if (!request->reason || !*request->reason)
            return refuse_change(folder, is_changed(limits) ? limits : bench, e);
        if (!change(folder, limits, e) || !change(folder, bench, e) ||
            !add_batch_row(record, request, e))
            return false;
    }
    return put_away(record, BATCH_SWEEPS, e) && put_away(record, BATCH_REFERENCE, e);
}

bool record_begin(struct record *record, const struct record_request *request, struct error *e)
{
    struct kept_file limits = {
        .what = "limits", .name = BATCH_LIMITS, .given = request->limits, .recorded_sha256 = ""};
    struct kept_file bench = {
        .what = "bench", .name = BATCH_BENCH, .given = request->bench, .recorded_sha256 = ""};
    struct chain_link end;
    bool ok = read_given(&limits, e) && read_given(&bench, e) &&
              limits_read(&record->limits, request->limits, e);

    if (ok && strcmp(record->limits.sha256, limits.given_sha256) != 0)
        ok = error_set(e, ERROR_INPUT, "%s: was changed while it was read: start again",
                       request->limits);
    (void)snprintf(record->bench_sha256, sizeof record->bench_sha256, "%s", bench.given_sha256);
    ok = ok && record_chain_end(&record->reader.db, &end, e);
    if (ok)
        ok = end.n == 0 ? begin_batch(record, request, &limits, &bench, e)
                        : go_on(record, request, &limits, &bench, e);
    text_clear(&limits.bytes);
    text_clear(&bench.bytes);
    return ok;
}
