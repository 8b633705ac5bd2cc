#include "limits/capability.h"

#include <math.h>
#include <stdlib.h>

#include "drivers/base/memory.h"
#include "limits/statistics.h"

/* The 1 % point of the statistic that anderson_darling() gives. */
static const double not_normal = 1.035;

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

/* Copies `side` without the units that lack a margin on it or on the other side. */
static size_t keep_known(double *kept, const double *side, const double *other, size_t n)
{
    size_t n_kept = 0;

    for (size_t i = 0; i < n; i++) {
        if (isnan(side[i]) || (other && isnan(other[i]))) continue;
        kept[n_kept++] = side[i];
    }
    return n_kept;
}

/* The index of one side, NaN where it has none, and whether its margins are not normal. Sorts them.
 */
static double side_index(double *margins, size_t n, bool *is_not_normal)
{
    const double mean = sample_mean(margins, n), deviation = sample_deviation(margins, n);
    /* What only rounding spreads has no index. */
    const double index = deviation > 1e-9 * fabs(mean) ? mean / (3 * deviation) : NAN;

    qsort(margins, n, sizeof *margins, ascending);
    if (anderson_darling(margins, n) > not_normal) *is_not_normal = true;
    return isfinite(index) ? index : NAN;
}

static void set_cp(struct capability *out, double cp)
{
    const double degrees = (double)out->n - 1;

    out->cp = cp;
    out->cp_low = cp * sqrt(chi_square_quantile(0.025, degrees) / degrees);
    out->cp_high = cp * sqrt(chi_square_quantile(0.975, degrees) / degrees);
}

static void set_cpk(struct capability *out, double cpk)
{
    const double count = (double)out->n;
    const double spread =
        normal_quantile(0.975) * sqrt(1 / (9 * count) + cpk * cpk / (2 * (count - 1)));

    out->cpk = cpk;
    out->cpk_low = cpk - spread;
    out->cpk_high = cpk + spread;
}

bool capability_of(struct capability *out, const double *lower_margin, const double *upper_margin,
                   size_t n, struct error *e)
{
    struct capability made = {
        .cp = NAN, .cp_low = NAN, .cp_high = NAN, .cpk = NAN, .cpk_low = NAN, .cpk_high = NAN};
    double *kept = memory_make(n, sizeof *kept, e);
    double cpl = NAN, cpu = NAN;

    if (!kept) return false;
    if (lower_margin) {
        made.n = keep_known(kept, lower_margin, upper_margin, n);
        cpl = side_index(kept, made.n, &made.is_not_normal);
    }
    if (upper_margin) {
        made.n = keep_known(kept, upper_margin, lower_margin, n);
        cpu = side_index(kept, made.n, &made.is_not_normal);
    }
    memory_free(kept);
    made.is_small = made.n < CAPABILITY_SMALL;
    if (lower_margin && upper_margin) {
        /* A side without an index leaves none for both: the other one could look better than the
         * process is. */
        if (!isnan(cpl) && !isnan(cpu)) {
            set_cp(&made, (cpl + cpu) / 2);
            set_cpk(&made, cpl < cpu ? cpl : cpu);
        }
    } else {
        const double index = lower_margin ? cpl : cpu;

        if (!isnan(index)) set_cpk(&made, index);
    }
    *out = made;
    return true;
}

void individuals_of(struct individuals *out, const double *x, size_t n)
{
    double first = NAN, last = NAN, sum = 0, ranges = 0;
    size_t n_known = 0;

    for (size_t i = 0; i < n; i++) {
        if (isnan(x[i])) continue;
        if (n_known++ == 0)
            first = x[i];
        else
            ranges += fabs(x[i] - last);
        sum += x[i] - first;
        last = x[i];
    }
    *out =
        (struct individuals){.n = n_known, .mean = NAN, .mean_range = NAN, .low = NAN, .high = NAN};
    if (n_known < 2) return;
    out->mean = first + sum / (double)n_known;
    out->mean_range = ranges / (double)(n_known - 1);
    out->low = out->mean - 3 * out->mean_range / INDIVIDUALS_D2;
    out->high = out->mean + 3 * out->mean_range / INDIVIDUALS_D2;
}
