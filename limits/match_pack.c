#include "limits/match_pack.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/memory.h"

#define PRICE_STEPS 120
#define MOST_SEEN_BITS 16

/* A set that the batch may have; bit = position of a board in the order of difficulty. */
struct listed {
    uint32_t boards;
    double cost, reduced, bound; /* cost less prices; the part of the Lagrangian of its boards */
};

/* A remainder that was looked at, and the sum of the sets before it. */
struct seen {
    uint32_t rest;
    double sum;
};

/* A step of the depth-first search: what is still to be arranged, the next set to try. */
struct step {
    uint32_t rest;
    size_t next;
    double sum, bound;
    size_t set;
};

struct pack {
    const struct match_pack_task *task;
    struct match_pack *out;
    struct listed *sets;
    size_t n_sets;
    size_t order[MATCH_PACK_BOARDS]; /* position -> place in task->boards */
    size_t begin[MATCH_PACK_BOARDS + 1];
    double price[MATCH_PACK_BOARDS], part[MATCH_PACK_BOARDS];
    double root_bound;
    struct seen *seen;
    unsigned seen_bits;
    size_t chosen[MATCH_PACK_BOARDS]; /* the best arrangement: indices of sets */
    size_t n_chosen;
};

static unsigned first_of(uint32_t boards)
{
    return (unsigned)__builtin_ctz(boards);
}

static unsigned count_of(uint32_t boards)
{
    return (unsigned)__builtin_popcount(boards);
}

size_t match_pack_choices(size_t n, size_t k)
{
    size_t c = 1;

    for (size_t i = 1; i <= k && c <= MATCH_PACK_SETS * MATCH_PACK_BOARDS; i++)
        c = c * (n - k + i) / i;
    return c;
}

bool match_pack_is_small(size_t n, size_t k)
{
    return k >= 2 && k <= MATCH_MOST_SIZE && n >= k && n <= MATCH_PACK_BOARDS &&
           match_pack_choices(n, k) <= MATCH_PACK_SETS;
}

/* Lists all sets that cost at most `most`, bits by place in task->boards. */
static void list_sets(struct pack *pack, const struct match_gains *gains,
                      struct match_group *groups)
{
    const struct match_pack_task *task = pack->task;
    size_t at[MATCH_MOST_SIZE] = {0}, size = 0;
    double most = (double)task->k * (task->most + MATCH_SAME_COST);
    uint32_t boards = 0;

    for (;;) {
        double weight;

        if (at[size] + task->k - size > task->n) {
            if (size == 0) break;
            boards &= ~((uint32_t)1 << at[--size]);
            at[size]++;
            continue;
        }
        pack->out->nodes++;
        weight = match_group_weight(gains, &groups[size], task->boards[at[size]], most);
        if (weight > most) {
            at[size]++;
        } else if (size + 1 == task->k) {
            pack->sets[pack->n_sets++] = (struct listed){.boards = boards | (uint32_t)1 << at[size],
                                                         .cost = weight / (double)task->k};
            at[size]++;
        } else {
            match_group_add(gains, &groups[size], task->boards[at[size]], &groups[size + 1]);
            boards |= (uint32_t)1 << at[size];
            at[size + 1] = at[size] + 1;
            size++;
        }
    }
}

static int by_first_and_reduced(const void *a, const void *b)
{
    const struct listed *one = a, *other = b;
    unsigned first = first_of(one->boards), second = first_of(other->boards);

    if (first != second) return first < second ? -1 : 1;
    if (one->reduced != other->reduced) return one->reduced < other->reduced ? -1 : 1;
    return (one->boards > other->boards) - (one->boards < other->boards);
}

static void sort_sets(struct pack *pack)
{
    size_t i = 0;

    qsort(pack->sets, pack->n_sets, sizeof *pack->sets, by_first_and_reduced);
    for (unsigned first = 0; first <= MATCH_PACK_BOARDS; first++) {
        while (i < pack->n_sets && first_of(pack->sets[i].boards) < first)
            i++;
        pack->begin[first] = i;
    }
}

/* Puts the boards with the dearest best set first, so that searches fail early. Returns the least
 * that the worst set can cost: of the best sets of all boards, the dearest but n mod k. */
static double order_boards(struct pack *pack)
{
    size_t n = pack->task->n, position[MATCH_PACK_BOARDS] = {0};
    double best[MATCH_PACK_BOARDS];

    for (size_t i = 0; i < n; i++)
        best[i] = INFINITY;
    for (size_t s = 0; s < pack->n_sets; s++)
        for (uint32_t left = pack->sets[s].boards; left; left &= left - 1)
            best[first_of(left)] = fmin(best[first_of(left)], pack->sets[s].cost);
    for (size_t i = 0; i < n; i++) {
        size_t at = i;

        for (; at > 0 && best[pack->order[at - 1]] < best[i]; at--)
            pack->order[at] = pack->order[at - 1];
        pack->order[at] = i;
    }
    for (size_t i = 0; i < n; i++)
        position[pack->order[i]] = i;
    for (size_t s = 0; s < pack->n_sets; s++) {
        uint32_t turned = 0;

        for (uint32_t left = pack->sets[s].boards; left; left &= left - 1)
            turned |= (uint32_t)1 << position[first_of(left)];
        pack->sets[s].boards = turned;
        pack->sets[s].reduced = pack->sets[s].cost;
    }
    sort_sets(pack);
    return best[pack->order[n % pack->task->k]];
}

/* Less the highest prices of the boards that will be left over. */
static double price_of_left(const struct pack *pack, uint32_t rest)
{
    size_t n = count_of(rest) % pack->task->k;
    double sum = 0;
    uint32_t free = rest;

    for (; n > 0; n--) {
        unsigned dearest = first_of(free);

        for (uint32_t left = free; left; left &= left - 1)
            if (pack->price[first_of(left)] > pack->price[dearest]) dearest = first_of(left);
        sum += pack->price[dearest];
        free &= ~((uint32_t)1 << dearest);
    }
    return sum;
}

/* What the arrangement costs at least after this step. */
static double bound_of(const struct pack *pack, const struct step *step)
{
    return step->sum + step->bound - price_of_left(pack, step->rest);
}

/* True when this remainder was met before with a sum no larger: nothing better can follow. */
static bool was_seen(struct pack *pack, uint32_t rest, double sum)
{
    uint32_t at = (uint32_t)(rest * 2654435761u) >> (32 - pack->seen_bits);
    struct seen *seen = &pack->seen[at];

    if (seen->rest == rest && seen->sum <= sum) return true;
    *seen = (struct seen){rest, sum};
    return false;
}

/* Keeps the arrangement on the way to step `depth`. */
static void take_chosen(struct pack *pack, const struct step *steps, size_t depth)
{
    pack->n_chosen = 0;
    for (size_t i = 1; i <= depth; i++)
        if (steps[i].set != SIZE_MAX) pack->chosen[pack->n_chosen++] = steps[i].set;
}

/* The next step below `from`: the next set that fits or, when all were tried, the first board left
 * over. False when nothing is left. */
static bool next_step(struct pack *pack, struct step *from, double most, double below, bool sum,
                      struct step *to)
{
    unsigned first = first_of(from->rest);

    for (; from->next < pack->begin[first + 1]; from->next++) {
        const struct listed *set = &pack->sets[from->next];

        if ((set->boards & ~from->rest) || set->cost > most) continue;
        *to = (struct step){.rest = from->rest & ~set->boards, .set = from->next};
        if (sum) to->sum = from->sum + set->cost;
        to->bound = from->bound - set->bound;
        if (sum && bound_of(pack, to) >= below) continue;
        from->next++;
        return true;
    }
    if (from->next > pack->begin[first + 1] || count_of(from->rest) % pack->task->k == 0)
        return false;
    from->next = pack->begin[first + 1] + 1;
    *to = (struct step){.rest = from->rest & (from->rest - 1), .set = SIZE_MAX, .sum = from->sum};
    to->bound = from->bound - pack->part[first];
    return !sum || bound_of(pack, to) < below;
}

/* Arranges sets that cost at most `most`. `sum` false: any arrangement; true: the one of least sum,
 * if below `*best`, which it then replaces. False when the budget ran out. */
static bool arrange(struct pack *pack, double most, bool sum, double *best, bool *found)
{
    struct step steps[MATCH_PACK_BOARDS + 1];
    size_t depth = 0, n = pack->task->n;
    double same = (double)n * MATCH_SAME_COST / 4;

    memset(pack->seen, 0, sizeof *pack->seen << pack->seen_bits);
    steps[0] = (struct step){.rest = (uint32_t)(((uint64_t)1 << n) - 1), .set = SIZE_MAX};
    for (size_t i = 0; i < n; i++)
        steps[0].bound += pack->part[i];
    steps[0].next = pack->begin[0];
    *found = false;
    for (;;) {
        struct step *to = &steps[depth + 1];

        if (++pack->out->nodes > pack->task->budget) return false;
        if (!next_step(pack, &steps[depth], most, sum ? *best - same : 0, sum, to)) {
            if (depth-- == 0) return true;
            continue;
        }
        if (count_of(to->rest) < pack->task->k) {
            if (sum && to->sum >= *best - same) continue;
            take_chosen(pack, steps, depth + 1);
            *found = true;
            if (!sum) return true;
            *best = to->sum;
            continue;
        }
        if (was_seen(pack, to->rest, to->sum)) continue;
        to->next = pack->begin[first_of(to->rest)];
        depth++;
    }
}

static int ascending(const void *a, const void *b)
{
    const double *one = a, *other = b;

    return (*one > *other) - (*one < *other);
}

/* The least worst set by binary search over the costs from `least` up. */
static bool find_worst(struct pack *pack, double least, struct error *e)
{
    struct match_pack *out = pack->out;
    double *costs = memory_make(pack->n_sets, sizeof *costs, e), unused = 0;
    size_t low = 0, high = pack->n_sets, try;

    if (!costs) return false;
    for (size_t s = 0; s < pack->n_sets; s++)
        costs[s] = pack->sets[s].cost;
    qsort(costs, pack->n_sets, sizeof *costs, ascending);
    least = fmax(least, pack->task->enough);
    while (low < pack->n_sets && costs[low] < least)
        low++;
    if (low > 0 && costs[low - 1] <= least && (low == high || costs[low] > least)) low--;
    out->worst_proven = true;
    /* Below `low` nothing will do; at `high` it does, or no cost is left. The low end first: it
     * often does, and the bound is proved then. */
    for (try = low; low < high; try = low + (high - low) / 2) {
        bool found;

        if (!arrange(pack, costs[try], false, &unused, &found)) {
            out->worst_proven = false;
            break;
        }
        if (!found) {
            low = try + 1;
            continue;
        }
        out->found = true;
        out->worst = 0;
        for (size_t i = 0; i < pack->n_chosen; i++)
            out->worst = fmax(out->worst, pack->sets[pack->chosen[i]].cost);
        high = try;
        while (high > low && costs[high] > out->worst)
            high--;
    }
    out->worst_bound = low < pack->n_sets ? costs[low] : INFINITY;
    memory_free(costs);
    return true;
}

/* The Lagrangian at some prices; `slope[i]`: how it changes with the price of board i. Leaves the
 * part of each board in pack->part. */
static double lagrangian(struct pack *pack, double *slope)
{
    size_t n = pack->task->n;
    double value = 0;

    for (size_t i = 0; i < n; i++) {
        slope[i] = 1;
        value += pack->price[i];
    }
    for (size_t i = 0; i < n; i++) {
        double least = 0;
        uint32_t best = 0;

        for (size_t s = pack->begin[i]; s < pack->begin[i + 1]; s++) {
            double reduced = pack->sets[s].cost;

            for (uint32_t left = pack->sets[s].boards; left; left &= left - 1)
                reduced -= pack->price[first_of(left)];
            if (reduced >= least) continue;
            least = reduced;
            best = pack->sets[s].boards;
        }
        pack->part[i] = pack->price[i] + least;
        value += least;
        for (; best; best &= best - 1)
            slope[first_of(best)] -= 1;
    }
    return value - price_of_left(pack, (uint32_t)(((uint64_t)1 << n) - 1));
}

/* Raises the Lagrangian by subgradient steps towards the sum `reached`; keeps the best prices. */
static void find_prices(struct pack *pack, double reached)
{
    size_t n = pack->task->n, idle = 0;
    double slope[MATCH_PACK_BOARDS], kept[MATCH_PACK_BOARDS], best = -INFINITY, pace = 1.5;

    for (size_t i = 0; i < n; i++)
        pack->price[i] = kept[i] = reached / (double)n;
    for (int turn = 0; turn < PRICE_STEPS; turn++) {
        double value = lagrangian(pack, slope), square = 0;

        if (value > best) {
            best = value;
            idle = 0;
            memcpy(kept, pack->price, sizeof kept);
        } else if (++idle == 8) {
            idle = 0;
            pace /= 2;
        }
        for (size_t i = 0; i < n; i++)
            square += slope[i] * slope[i];
        if (square == 0 || value >= reached) break;
        for (size_t i = 0; i < n; i++)
            pack->price[i] += pace * (reached - value) * slope[i] / square;
    }
    memcpy(pack->price, kept, sizeof kept);
    pack->root_bound = lagrangian(pack, slope);
}

/* The least sum among the arrangements of sets up to the worst cost allowed. */
static void find_sum(struct pack *pack)
{
    struct match_pack *out = pack->out;
    double allowed = fmax(out->worst, pack->task->enough), sum = 0;
    struct listed taken[MATCH_PACK_BOARDS];
    size_t n = 0, n_taken = pack->n_chosen;
    bool better;

    for (size_t i = 0; i < n_taken; i++) {
        taken[i] = pack->sets[pack->chosen[i]];
        sum += taken[i].cost;
    }
    for (size_t s = 0; s < pack->n_sets; s++)
        if (pack->sets[s].cost <= allowed) pack->sets[n++] = pack->sets[s];
    pack->n_sets = n;
    sort_sets(pack);
    find_prices(pack, sum);
    for (size_t s = 0; s < n; s++) {
        struct listed *set = &pack->sets[s];

        set->reduced = set->cost;
        set->bound = 0;
        for (uint32_t left = set->boards; left; left &= left - 1) {
            set->reduced -= pack->price[first_of(left)];
            set->bound += pack->part[first_of(left)];
        }
    }
    sort_sets(pack);
    out->sum_proven = arrange(pack, allowed, true, &sum, &better);
    out->sum_bound = out->sum_proven ? sum : fmin(sum, pack->root_bound);
    /* The sets of the first arrangement moved; put them where the last one's indices point. */
    for (size_t i = 0; i < pack->n_chosen; i++)
        if (better) taken[i] = pack->sets[pack->chosen[i]];
    for (size_t i = 0; i < pack->n_chosen; i++)
        pack->sets[i] = taken[i];
}

/* Writes the arrangement in the first sets of the list down in boards. */
static void tell(struct pack *pack, const struct match_gains *gains)
{
    struct match_pack *out = pack->out;
    bool used[MATCH_PACK_BOARDS] = {false};

    out->worst = out->sum = 0;
    out->n_sets = pack->n_chosen;
    for (size_t i = 0; i < out->n_sets; i++) {
        struct match_set set = {0};
        size_t at = i;

        for (uint32_t left = pack->sets[i].boards; left; left &= left - 1) {
            used[pack->order[first_of(left)]] = true;
            set.members[set.k++] = pack->task->boards[pack->order[first_of(left)]];
        }
        match_set_settle(gains, &set);
        out->worst = fmax(out->worst, set.cost);
        out->sum += set.cost;
        for (; at > 0 && out->sets[at - 1].members[0] > set.members[0]; at--)
            out->sets[at] = out->sets[at - 1];
        out->sets[at] = set;
    }
    for (size_t i = 0; i < pack->task->n; i++)
        if (!used[i]) out->left[out->n_left++] = pack->task->boards[i];
}

static bool solve(struct pack *pack, const struct match_gains *gains, struct match_group *groups,
                  struct error *e)
{
    list_sets(pack, gains, groups);
    if (pack->n_sets == 0) {
        pack->out->worst_bound = INFINITY;
        pack->out->worst_proven = true;
        return true;
    }
    if (!find_worst(pack, order_boards(pack), e)) return false;
    if (!pack->out->found) return true;
    find_sum(pack);
    tell(pack, gains);
    return true;
}

bool match_pack_solve(const struct match_gains *gains, const struct match_pack_task *task,
                      struct match_pack *out, struct error *e)
{
    struct pack pack = {.task = task, .out = out};
    struct match_group *groups;
    bool ok;

    *out = (struct match_pack){0};
    if (!match_pack_is_small(task->n, task->k))
        return error_set(e, ERROR_INPUT, "matching: %zu boards in sets of %zu are no small batch",
                         task->n, task->k);
    pack.seen_bits = task->n < MOST_SEEN_BITS ? (unsigned)task->n : MOST_SEEN_BITS;
    groups = match_groups_make(gains, task->k + 1, e);
    if (!groups) return false;
    pack.sets = memory_make(match_pack_choices(task->n, task->k), sizeof *pack.sets, e);
    pack.seen = pack.sets ? memory_make((size_t)1 << pack.seen_bits, sizeof *pack.seen, e) : NULL;
    ok = pack.seen && solve(&pack, gains, groups, e);
    memory_free(pack.seen);
    memory_free(pack.sets);
    match_groups_free(groups);
    return ok;
}
