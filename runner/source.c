#include "runner/source.h"

#include <string.h>

#include "drivers/base/memory.h"

static bool load_archived(void *data, size_t place, struct text *bytes, struct measurement *out,
                          struct error *e)
{
    const struct archive *archive = data;

    return archive_load(archive, place, bytes, out, e);
}

bool source_of_archive(struct source *out, struct archive *archive, struct error *e)
{
    struct source made = {.load = load_archived, .data = archive};

    made.attempts = memory_make(archive->n_files, sizeof *made.attempts, e);
    if (!made.attempts) return false;
    for (size_t i = 0; i < archive->n_files; i = archive_attempt_end(archive, i))
        made.attempts[made.n_attempts++] = (struct source_attempt){
            .serial = archive->files[i].serial,
            .attempt = archive->files[i].attempt,
            .place = i,
            .circumstances = archive_circumstances(archive, i),
        };
    *out = made;
    return true;
}

bool source_load(const struct source *source, size_t i, struct text *bytes, struct measurement *out,
                 struct error *e)
{
    if (!source->load(source->data, source->attempts[i].place, bytes, out, e)) return false;
    out->circumstances = source->attempts[i].circumstances;
    return true;
}

size_t source_unit_end(const struct source *source, size_t first)
{
    size_t end = first + 1;

    while (end < source->n_attempts &&
           strcmp(source->attempts[end].serial, source->attempts[first].serial) == 0)
        end++;
    return end;
}

void source_clear(struct source *source)
{
    memory_free(source->attempts);
    *source = (struct source){0};
}
