#include "limits/match_best.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/memory.h"

/* Boards from which a first set is grown. */
#define MOST_STARTS 256

struct candidate {
    size_t board;
    double weight; /* of the group of the level and this board */
};

/* The boards that may join the group of a level, and the next one to try. */
struct level {
    struct candidate *candidates;
    size_t n, next;
};

struct search {
    const struct match_gains *gains;
    const size_t *allowed;
    size_t n_allowed, n_fixed, k;
    uint64_t budget;
    struct match_group *groups; /* groups[m]: m boards */
    struct level levels[MATCH_MOST_SIZE];
    size_t chosen[MATCH_MOST_SIZE];
    bool in_order; /* the best set was met in the order of indices: a tie cannot replace it */
    struct match_best *out;
};

void match_set_settle(const struct match_gains *gains, struct match_set *set)
{
    for (size_t i = 1; i < set->k; i++) {
        size_t board = set->members[i], at = i;

        for (; at > 0 && set->members[at - 1] > board; at--)
            set->members[at] = set->members[at - 1];
        set->members[at] = board;
    }
    set->cost = match_cost(gains, set->members, set->k);
}

/* Heavier groups cannot become the answer: bound (1) of match_cost.h. A set that was not met in
 * the order of indices yields to one of the same cost, too. */
static double most_weight(const struct search *s)
{
    double same = s->in_order ? -MATCH_SAME_COST : MATCH_SAME_COST;

    return (double)s->k * (s->out->set.cost + same);
}

static double weigh(struct search *s, size_t size, size_t board, double most)
{
    s->out->nodes++;
    return match_group_weight(s->gains, &s->groups[size], board, most);
}

static bool is_chosen(const struct search *s, size_t size, size_t board)
{
    for (size_t i = 0; i < size; i++)
        if (s->chosen[i] == board) return true;
    return false;
}

static void take(struct search *s, size_t size, size_t board)
{
    s->chosen[size] = board;
    match_group_add(s->gains, &s->groups[size], board, &s->groups[size + 1]);
}

/* The chosen boards as a set, kept when it is cheaper than the best one by more than `by`. */
static bool keep(struct search *s, double by)
{
    struct match_set set = {.k = s->k};

    memcpy(set.members, s->chosen, s->k * sizeof *set.members);
    match_set_settle(s->gains, &set);
    if (!(set.cost < s->out->set.cost - by)) return false;
    s->out->set = set;
    return true;
}

/* Adds the lightest board again and again, from `size` boards on; gives up when it gets too heavy.
 */
static void grow(struct search *s, size_t size)
{
    for (; size < s->k; size++) {
        double least = most_weight(s);
        size_t best = SIZE_MAX;

        for (size_t i = 0; i < s->n_allowed; i++) {
            double weight;

            if (is_chosen(s, size, s->allowed[i])) continue;
            weight = weigh(s, size, s->allowed[i], least);
            if (weight > least || (best != SIZE_MAX && weight >= least)) continue;
            least = weight;
            best = s->allowed[i];
        }
        if (best == SIZE_MAX) return;
        take(s, size, best);
    }
    (void)keep(s, 0);
}

/* Exchanges one board of the best set while that helps. */
static void exchange(struct search *s)
{
    for (bool better = true; better;) {
        struct match_set from = s->out->set;

        better = false;
        for (size_t drop = 0; drop < s->k && !better; drop++) {
            size_t size = s->n_fixed;

            if (is_chosen(s, s->n_fixed, from.members[drop])) continue;
            for (size_t i = 0; i < s->k; i++)
                if (i != drop && !is_chosen(s, s->n_fixed, from.members[i]))
                    take(s, size++, from.members[i]);
            for (size_t i = 0; i < s->n_allowed; i++) {
                if (is_chosen(s, size, s->allowed[i])) continue;
                if (weigh(s, size, s->allowed[i], most_weight(s)) > most_weight(s)) continue;
                s->chosen[size] = s->allowed[i];
                if (keep(s, MATCH_SAME_COST)) better = true;
            }
        }
    }
}

/* A first set: the better it is, the more the bound cuts off. */
static void begin(struct search *s)
{
    size_t step = s->n_allowed / MOST_STARTS + 1;

    s->out->set = (struct match_set){.k = s->k, .cost = INFINITY};
    for (size_t i = 0; i < s->n_allowed; i += step) {
        size_t size = s->n_fixed;

        if (size == 0) take(s, size++, s->allowed[i]);
        grow(s, size);
        if (s->n_fixed > 0) break;
    }
    exchange(s);
}

/* What may join the group of `size` boards: of the level before, what comes after its last one. */
static void open_level(struct search *s, size_t size)
{
    struct level *level = &s->levels[size];
    bool first = size == s->n_fixed;
    const struct level *before = first ? NULL : &s->levels[size - 1];
    size_t n = first ? s->n_allowed : before->n;

    level->n = level->next = 0;
    for (size_t i = first ? 0 : before->next; i < n; i++) {
        size_t board = first ? s->allowed[i] : before->candidates[i].board;
        double most = most_weight(s), weight;

        if (!first && before->candidates[i].weight > most) continue;
        weight = weigh(s, size, board, most);
        if (weight <= most) level->candidates[level->n++] = (struct candidate){board, weight};
    }
}

/* Depth first, in the order of indices. */
static void branch(struct search *s)
{
    size_t size = s->n_fixed;

    open_level(s, size);
    for (;;) {
        struct level *level = &s->levels[size];
        struct candidate *now = &level->candidates[level->next];

        if (s->out->nodes > s->budget) return;
        if (level->n - level->next < s->k - size) {
            if (size == s->n_fixed) break;
            size--;
            continue;
        }
        level->next++;
        if (now->weight > most_weight(s)) continue;
        s->chosen[size] = now->board;
        if (size + 1 == s->k) {
            if (keep(s, s->in_order ? MATCH_SAME_COST : -MATCH_SAME_COST)) s->in_order = true;
            continue;
        }
        take(s, size, now->board);
        open_level(s, ++size);
    }
    s->out->proven = true;
}

static int by_weight(const void *a, const void *b)
{
    const double *one = a, *other = b;

    return (*one > *other) - (*one < *other);
}

/* What no set with the fixed boards goes below: k - n_fixed boards must join, and the heaviest of
 * them alone with the fixed ones weighs at least as the (k - n_fixed)-th lightest of all. */
static bool weak_bound(struct search *s, struct error *e)
{
    double *weights;

    s->out->bound = 0;
    if (s->n_fixed == 0) return true;
    weights = memory_make(s->n_allowed, sizeof *weights, e);
    if (!weights) return false;
    for (size_t i = 0; i < s->n_allowed; i++)
        weights[i] = weigh(s, s->n_fixed, s->allowed[i], INFINITY);
    qsort(weights, s->n_allowed, sizeof *weights, by_weight);
    s->out->bound = fmax(0, weights[s->k - s->n_fixed - 1] / (double)s->k - MATCH_SAME_COST);
    memory_free(weights);
    return true;
}

static bool run(struct search *s, const size_t *fixed, struct candidate *room, struct error *e)
{
    for (size_t i = 0; i < s->k; i++)
        s->levels[i].candidates = room + i * s->n_allowed;
    for (size_t i = 0; i < s->n_fixed; i++)
        take(s, i, fixed[i]);
    begin(s);
    branch(s);
    if (!s->out->proven) return weak_bound(s, e);
    s->out->bound = fmax(0, s->out->set.cost - MATCH_SAME_COST);
    return true;
}

bool match_best_find(const struct match_gains *gains, const size_t *allowed, size_t n_allowed,
                     const size_t *fixed, size_t n_fixed, size_t k, uint64_t budget,
                     struct match_best *out, struct error *e)
{
    struct search s = {.gains = gains, .allowed = allowed, .n_allowed = n_allowed};
    struct candidate *room;
    bool ok;

    *out = (struct match_best){0};
    if (k < 2 || k > MATCH_MOST_SIZE)
        return error_set(e, ERROR_INPUT, "matching: sets of %zu: give a size from 2 to %zu", k,
                         MATCH_MOST_SIZE);
    if (n_fixed >= k || n_fixed + n_allowed < k)
        return error_set(e, ERROR_INPUT,
                         "matching: %zu boards given and %zu to choose from make no set of %zu: "
                         "give more boards or a smaller set",
                         n_fixed, n_allowed, k);
    s.n_fixed = n_fixed;
    s.k = k;
    s.budget = budget;
    s.out = out;
    s.groups = match_groups_make(gains, k + 1, e);
    if (!s.groups) return false;
    room = memory_make(k * n_allowed, sizeof *room, e);
    ok = room && run(&s, fixed, room, e);
    memory_free(room);
    match_groups_free(s.groups);
    return ok;
}
