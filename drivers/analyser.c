#include "drivers/analyser.h"

/* By the scheme of the port; the last row takes every port that is a link. */
static const struct analyser_kind *const kinds[] = {&analyser_folder, &analyser_profile};
#define N_KINDS (sizeof kinds / sizeof *kinds)

static const struct analyser_kind *find_kind(const struct bench_file *file)
{
    for (size_t k = 0; k + 1 < N_KINDS; k++)
        if (bench_port_is(&file->analyser, kinds[k]->name)) return kinds[k];
    return kinds[N_KINDS - 1];
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
