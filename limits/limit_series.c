#include "limits/limit_series.h"

#include <math.h>

#include "drivers/base/memory.h"

/* Whether the bound is one number, wherever it is looked at. */
static bool is_flat(const struct bound_line *line)
{
    for (size_t i = 1; i < line->n_points; i++)
        if (line->value[i] != line->value[0]) return false;
    return true;
}

double limit_guarded(const struct limits *limits, const struct limit *limit, double bound,
                     bool is_lower)
{
    const double guard = limits->guard_factor * limit->uncertainty * (is_lower ? 1 : -1);

    if (guard == 0) return bound;
    if (!limit->linear_uncertainty) return bound + guard;
    return 20 * log10(fmax(pow(10, bound / 20) + guard, 1e-6));
}

static void start_side(struct limit_side *side, const struct limit_series *series,
                       const struct limits *limits, const struct bound_line *line, bool is_lower)
{
    side->is_bounded = line->n_points > 0;
    side->bound = side->guarded = NAN;
    if (!side->is_bounded) return;
    if (!series->is_margin) {
        side->bound = line->value[0];
        side->guarded = limit_guarded(limits, series->limit, side->bound, is_lower);
        return;
    }
    side->bound = side->guarded = 0;
    /* A linear guard band is another number of dB at every bound. */
    if (!series->limit->linear_uncertainty)
        side->guarded = limits->guard_factor * series->limit->uncertainty;
}

/* On the axis of margins both bounds lie at 0 and inside is above. */
static double on_axis(const struct limit_series *series, const struct limit_side *side,
                      double margin, bool is_lower)
{
    if (series->is_margin) return margin;
    return is_lower ? side->bound + margin : side->bound - margin;
}

bool limit_series_make(struct limit_series *out, const struct limits *limits, size_t limit,
                       const struct judgement *const *judgements, size_t n, struct error *e)
{
    struct limit_series made = {.limit = &limits->limits[limit], .judgements = judgements, .n = n};
    double *rows = memory_make(4 * n, sizeof *rows, e);

    if (!rows) return false;
    made.is_margin = !is_flat(&made.limit->lower) || !is_flat(&made.limit->upper);
    made.lower.margin = rows;
    made.lower.value = rows + n;
    made.upper.margin = rows + 2 * n;
    made.upper.value = rows + 3 * n;
    start_side(&made.lower, &made, limits, &made.limit->lower, true);
    start_side(&made.upper, &made, limits, &made.limit->upper, false);
    for (size_t i = 0; i < n; i++) {
        const struct finding *finding = &judgements[i]->findings[limit];

        made.lower.margin[i] = finding->lower_margin;
        made.upper.margin[i] = finding->upper_margin;
        made.lower.value[i] = on_axis(&made, &made.lower, finding->lower_margin, true);
        made.upper.value[i] = on_axis(&made, &made.upper, finding->upper_margin, false);
    }
    *out = made;
    return true;
}

void limit_series_clear(struct limit_series *series)
{
    memory_free(series->lower.margin);
    *series = (struct limit_series){0};
}
