#include <string.h>

#include "drivers/archive.h"
#include "drivers/sweep_file.h"
#include "drivers/touchstone.h"

size_t archive_attempt_end(const struct archive *archive, size_t first)
{
    size_t end = first + 1;

    while (end < archive->n_files &&
           strcmp(archive->files[end].serial, archive->files[first].serial) == 0 &&
           archive->files[end].attempt == archive->files[first].attempt)
        end++;
    return end;
}

struct circumstances archive_circumstances(const struct archive *archive, size_t first)
{
    const size_t end = archive_attempt_end(archive, first);
    struct circumstances all = {0};

    for (size_t i = first; i < end; i++) {
        const struct circumstances *told = &archive->files[i].told;

        if (told->measured_at &&
            (!all.measured_at || strcmp(told->measured_at, all.measured_at) < 0))
            all.measured_at = told->measured_at;
        if (told->operator_name) all.operator_name = told->operator_name;
        if (told->bench) all.bench = told->bench;
    }
    return all;
}

/* By which the file is known again, and what it says of itself. */
static void note_origin(const struct text *bytes, struct bias_sweep *bias)
{
    digest_hex(text_words(bytes), bytes->length, bias->sha256);
    touchstone_add_comments(text_words(bytes), bytes->length, &bias->comments);
}

static bool load_file(const struct archive_file *file, bool with_origin, struct text *bytes,
                      struct measurement *out, struct error *e)
{
    struct error inner = {0};
    struct bias_sweep *bias = measurement_add(out, file->bias_v, e);

    if (!bias) return false;
    bias->bias_current_ma = file->bias_current_ma;
    text_add(&bias->source, file->path);
    if (!sweep_file_read(file->path, bytes, &bias->sweep, &inner)) {
        if (inner.kind != ERROR_INPUT) return error_set(e, inner.kind, "%s", inner.text);
        text_add(&bias->missing, inner.text);
    } else if (with_origin) {
        note_origin(bytes, bias);
    }
    return text_ok(&bias->comments, file->path, e) && text_ok(&bias->source, file->path, e) &&
           text_ok(&bias->missing, file->path, e);
}

bool archive_load(const struct archive *archive, size_t first, struct text *bytes,
                  struct measurement *out, struct error *e)
{
    size_t end = archive_attempt_end(archive, first);

    measurement_reset(out, archive->files[first].serial, archive->files[first].attempt);
    out->circumstances = archive_circumstances(archive, first);
    for (size_t i = first; i < end; i++) {
        const struct archive_file *file = &archive->files[i];

        if (file->has_bias) {
            if (!load_file(file, archive->with_origin, bytes, out, e)) return false;
            continue;
        }
        if (out->remarks.length > 400) continue;
        text_addf(&out->remarks, "%s%s: %s%s%s", out->remarks.length ? "; " : "", file->path,
                  *file->bias_text ? "\"" : "", file->bias_text,
                  *file->bias_text ? "\" is no bias step of the limits"
                                   : "the name holds no bias step");
    }
    return text_ok(&out->remarks, "a remark", e);
}
