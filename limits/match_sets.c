#include "limits/match_sets.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "limits/match_bound.h"
#include "limits/match_improve.h"

/* A board and how dear its sets are. */
struct isolation {
    size_t board;
    double least;
};

struct match_effort match_effort_usual(const struct match_gains *gains)
{
    double n = (double)gains->n_boards;
    /* A search looks at every place of most sets, a bound only at the first that tells. */
    double part = 150 / (50 + (double)gains->n_places);

    return (struct match_effort){(uint64_t)(2e7 + n * 3e4), (uint64_t)(part * (1e7 + n * 1e4)), 1};
}

static int dearest_first(const void *a, const void *b)
{
    const struct isolation *one = a, *other = b;

    if (one->least != other->least) return one->least > other->least ? -1 : 1;
    return (one->board > other->board) - (one->board < other->board);
}

static int cheapest_first(const void *a, const void *b)
{
    const struct match_set *one = a, *other = b;

    if (one->cost != other->cost) return one->cost < other->cost ? -1 : 1;
    return (one->members[0] > other->members[0]) - (one->members[0] < other->members[0]);
}

/* Takes the board that weighs least with the group out of `free`. */
static size_t lightest(const struct match_gains *gains, const struct match_group *group,
                       size_t *free, size_t *n_free)
{
    size_t best = 0, board;
    double least = INFINITY;

    for (size_t i = 0; i < *n_free; i++) {
        double weight = match_group_weight(gains, group, free[i], least);

        if (weight >= least) continue;
        least = weight;
        best = i;
    }
    board = free[best];
    --*n_free;
    memmove(free + best, free + best + 1, (*n_free - best) * sizeof *free);
    return board;
}

/* The most isolated boards aside, then the most isolated one takes its nearest. */
static bool begin(const struct match_gains *gains, const struct isolation *boards,
                  struct match_sets *out, struct error *e)
{
    struct match_group *groups = match_groups_make(gains, out->k + 1, e);
    size_t *free = groups ? memory_make(out->n_boards, sizeof *free, e) : NULL;
    size_t n_free = 0;

    if (!free) {
        match_groups_free(groups);
        return false;
    }
    for (size_t i = 0; i < out->n_left; i++)
        out->left[i] = boards[i].board;
    for (size_t i = out->n_left; i < out->n_boards; i++)
        free[n_free++] = boards[i].board;
    for (size_t i = 0; i < out->n_sets; i++) {
        struct match_set *set = &out->sets[i];

        set->k = out->k;
        set->members[0] = free[0];
        memmove(free, free + 1, --n_free * sizeof *free);
        for (size_t j = 0; j + 1 < out->k; j++) {
            match_group_add(gains, &groups[j], set->members[j], &groups[j + 1]);
            set->members[j + 1] = lightest(gains, &groups[j + 1], free, &n_free);
        }
        out->nodes += n_free * (out->k - 1);
        match_set_settle(gains, set);
    }
    memory_free(free);
    match_groups_free(groups);
    return true;
}

static int rising(const void *a, const void *b)
{
    const size_t *one = a, *other = b;

    return (*one > *other) - (*one < *other);
}

/* Puts sets and boards left over in order and adds up. */
static void settle(struct match_sets *out)
{
    qsort(out->sets, out->n_sets, sizeof *out->sets, cheapest_first);
    qsort(out->left, out->n_left, sizeof *out->left, rising);
    out->worst = out->sum = 0;
    for (size_t i = 0; i < out->n_sets; i++) {
        out->worst = fmax(out->worst, out->sets[i].cost);
        out->sum += out->sets[i].cost;
    }
}

static bool search(const struct match_gains *gains, const struct match_effort *effort,
                   struct match_sets *out, struct error *e)
{
    struct match_arrangement all = {.gains = gains, .k = out->k, .n_sets = out->n_sets};
    struct isolation *boards = memory_make(out->n_boards, sizeof *boards, e);
    bool ok;

    if (!boards) return false;
    for (size_t i = 0; i < out->n_boards; i++)
        boards[i] = (struct isolation){i, out->least[i]};
    qsort(boards, out->n_boards, sizeof *boards, dearest_first);
    ok = begin(gains, boards, out, e);
    memory_free(boards);
    if (!ok) return false;
    all.sets = out->sets;
    all.left = out->left;
    all.n_left = out->n_left;
    all.budget = effort->search_nodes;
    if (!match_improve(&all, effort->seed, e)) return false;
    out->nodes += all.nodes;
    settle(out);
    out->worst_proven = out->worst <= out->worst_bound + 2 * MATCH_SAME_COST;
    out->sum_proven = out->sum <= out->sum_bound + 2 * (double)out->n_boards * MATCH_SAME_COST;
    return true;
}

/* The small batch, exactly. `*done` is false when the budget ran out before the proof: the search
 * then has a turn, and may do better. */
static bool solve_small(const struct match_gains *gains, const struct match_effort *effort,
                        struct match_sets *out, bool *done, struct error *e)
{
    size_t boards[MATCH_PACK_BOARDS];
    struct match_pack_task task = {.boards = boards, .n = out->n_boards, .k = out->k};
    struct match_pack *pack = memory_make(1, sizeof *pack, e);
    bool ok;

    if (!pack) return false;
    for (size_t i = 0; i < out->n_boards; i++)
        boards[i] = i;
    task.most = INFINITY;
    task.budget = effort->search_nodes;
    ok = match_pack_solve(gains, &task, pack, e);
    out->nodes += pack->nodes;
    *done = ok && pack->found && pack->worst_proven && pack->sum_proven;
    if (*done) {
        memcpy(out->sets, pack->sets, out->n_sets * sizeof *out->sets);
        memcpy(out->left, pack->left, out->n_left * sizeof *out->left);
        settle(out);
        out->worst_bound = fmin(pack->worst_bound, out->worst);
        out->sum_bound = fmin(pack->sum_bound, out->sum);
        out->worst_proven = out->sum_proven = true;
    }
    memory_free(pack);
    return ok;
}

bool match_sets_find(const struct match_gains *gains, size_t k, const struct match_effort *effort,
                     struct match_sets *out, struct error *e)
{
    size_t n = gains->n_boards;
    struct match_bound bound;
    bool done = false;

    *out = (struct match_sets){.k = k, .n_boards = n};
    if (k < 2 || k > MATCH_MOST_SIZE || k > n)
        return error_set(e, ERROR_INPUT,
                         "matching: %zu boards in sets of %zu: give a size from 2 to %zu and as "
                         "many boards",
                         n, k, MATCH_MOST_SIZE);
    out->n_sets = n / k;
    out->n_left = n % k;
    out->sets = memory_make(out->n_sets, sizeof *out->sets, e);
    out->left = out->sets ? memory_make(out->n_left, sizeof *out->left, e) : NULL;
    out->least = out->left ? memory_make(n, sizeof *out->least, e) : NULL;
    if (!out->least || !match_bound_find(gains, k, effort->bound_nodes, out->least, &bound, e))
        return false;
    out->worst_bound = bound.worst;
    out->sum_bound = bound.sum;
    out->nodes = bound.nodes;
    if (match_pack_is_small(n, k) && !solve_small(gains, effort, out, &done, e)) return false;
    return done || search(gains, effort, out, e);
}

bool match_substitute(const struct match_gains *gains, const struct match_set *set, size_t dead,
                      const size_t *spare, size_t n_spare, struct match_best *out, struct error *e)
{
    size_t kept[MATCH_MOST_SIZE], n = 0;

    for (size_t i = 0; i < set->k; i++)
        if (set->members[i] != dead) kept[n++] = set->members[i];
    if (n == set->k || n_spare == 0)
        return error_set(e, ERROR_INPUT,
                         n_spare == 0 ? "matching: board %zu has no spare to replace it"
                                      : "matching: board %zu is not in the set",
                         dead);
    return match_best_find(gains, spare, n_spare, kept, n, set->k, UINT64_MAX, out, e);
}

void match_sets_clear(struct match_sets *sets)
{
    memory_free(sets->sets);
    memory_free(sets->left);
    memory_free(sets->least);
    *sets = (struct match_sets){0};
}
