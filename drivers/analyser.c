#include "drivers/analyser.h"

static const struct analyser_kind *find_kind(const struct bench_file *file)
{
    return bench_port_is(&file->analyser, "folder") ? &analyser_folder : &analyser_profile;
}

bool analyser_open(struct analyser *out, const struct bench_file *file, unsigned parameters,
                   struct error *e)
{
    out->kind = find_kind(file);
    out->file = file;
    out->parameters = parameters;
    return out->kind->open(out, e);
}

void analyser_close(struct analyser *a)
{
    if (a->kind) a->kind->close(a);
    profile_clear(&a->profile); /* read by the caller, perhaps, and never opened */
    text_clear(&a->identity);
    sweep_clear(&a->last);
    *a = (struct analyser){0};
}
