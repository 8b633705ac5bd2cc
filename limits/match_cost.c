#include "limits/match_cost.h"

#include <math.h>

#include "drivers/base/memory.h"

static size_t common_divisor(size_t a, size_t b)
{
    while (b > 0) {
        size_t rest = a % b;

        a = b;
        b = rest;
    }
    return a;
}

bool match_gains_wrap(struct match_gains *gains, const double complex *gain, size_t n_boards,
                      size_t n_places, struct error *e)
{
    size_t stride = (size_t)((double)n_places * 0.381966) + 1;

    if (n_boards == 0 || n_places == 0)
        return error_set(e, ERROR_INPUT, "matching: no boards or no places: give some");
    if (n_boards > MATCH_MOST_BOARDS)
        return error_set(e, ERROR_INPUT,
                         "matching: %zu boards, at most %zu: match a part of the batch", n_boards,
                         MATCH_MOST_BOARDS);
    for (size_t i = 0; i < n_boards * n_places; i++)
        if (!isfinite(creal(gain[i])) || !isfinite(cimag(gain[i])))
            return error_set(e, ERROR_INPUT,
                             "matching: board %zu has no gain at place %zu: leave the board out",
                             i / n_places, i % n_places);
    while (common_divisor(stride, n_places) != 1)
        stride++;
    *gains = (struct match_gains){n_boards, n_places, gain, stride};
    return true;
}

static double power_of(double complex a)
{
    return creal(a) * creal(a) + cimag(a) * cimag(a);
}

double match_cost(const struct match_gains *gains, const size_t *members, size_t k)
{
    double least = 1;

    for (size_t p = 0; p < gains->n_places; p++) {
        double complex sum = 0;
        double power = 0, part;

        for (size_t i = 0; i < k; i++) {
            double complex a = gains->gain[members[i] * gains->n_places + p];

            sum += a;
            power += power_of(a);
        }
        if (!(power > 0)) return 1;
        part = power_of(sum) / ((double)k * power);
        if (part < least) least = part;
    }
    return 1 - least;
}

double match_loss_db(double cost)
{
    return cost > 0 ? -10 * log10(1 - cost) : 0;
}

struct match_group *match_groups_make(const struct match_gains *gains, size_t n, struct error *e)
{
    size_t places = gains->n_places;
    struct match_group *groups = memory_make(n, sizeof *groups, e);
    double complex *sums;
    double *powers;

    if (!groups) return NULL;
    sums = memory_make(n * places, sizeof *sums, e);
    powers = sums ? memory_make(n * places, sizeof *powers, e) : NULL;
    if (!powers) {
        memory_free(sums);
        memory_free(groups);
        return NULL;
    }
    for (size_t i = 0; i < n; i++)
        groups[i] = (struct match_group){0, sums + i * places, powers + i * places};
    return groups;
}

void match_groups_free(struct match_group *groups)
{
    if (!groups) return;
    memory_free(groups[0].sum);
    memory_free(groups[0].power);
    memory_free(groups);
}

void match_group_add(const struct match_gains *gains, const struct match_group *group, size_t board,
                     struct match_group *out)
{
    const double complex *gain = gains->gain + board * gains->n_places;

    out->size = group->size + 1;
    for (size_t p = 0; p < gains->n_places; p++) {
        out->sum[p] = group->sum[p] + gain[p];
        out->power[p] = group->power[p] + power_of(gain[p]);
    }
}

double match_group_weight(const struct match_gains *gains, const struct match_group *group,
                          size_t board, double most)
{
    const double complex *gain = gains->gain + board * gains->n_places;
    const double size = (double)(group->size + 1), enough = size - most;
    double least = size;
    size_t p = 0;

    for (size_t i = 0; i < gains->n_places; i++) {
        double complex sum = group->sum[p] + gain[p];
        double power = group->power[p] + power_of(gain[p]);
        double part = power_of(sum) / power;

        if (!(power > 0)) return size;
        if (part < least) least = part;
        if (least < enough) break;
        p += gains->stride;
        if (p >= gains->n_places) p -= gains->n_places;
    }
    return size - least;
}

double match_pair_bound(const struct match_gains *gains, size_t one, size_t other, size_t k)
{
    return match_cost(gains, (const size_t[]){one, other}, 2) * 2 / (double)k;
}
