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

bool analyser_has_old_trace(const struct analyser *a, const struct sweep *now)
{
    const struct sweep *last = &a->last;

    if (last->n_points != now->n_points) return false;
    for (int p = 0; p < S_PARAMETERS; p++) {
        const enum s_parameter parameter = (enum s_parameter)p;
        size_t n_same = 0;

        if (!(a->parameters & now->measured & last->measured & S_BIT(p))) continue;
        while (n_same < now->n_points &&
               sweep_s(last, n_same, parameter) == sweep_s(now, n_same, parameter))
            n_same++;
        if (n_same == now->n_points) return true;
    }
    return false;
}

void analyser_close(struct analyser *a)
{
    if (a->kind) a->kind->close(a);
    profile_clear(&a->profile); /* read by the caller, perhaps, and never opened */
    text_clear(&a->identity);
    sweep_clear(&a->last);
    *a = (struct analyser){0};
}
