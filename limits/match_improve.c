#include "limits/match_improve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/random_source.h"

/* Sets that are looked at around one. */
#define NEAR_SETS 8
/* Boards and sets to choose from in a group that is arranged anew: some milliseconds. */
#define GROUP_BOARDS 16
#define GROUP_CHOICES 60000
/* Sets looked at for one group. */
#define GROUP_BUDGET 200000
/* Draws without success for each set, after which the search ends. */
#define IDLE_DRAWS 4
/* A sum of some costs that is smaller by less than this is the same. */
#define SAME_SUM (MATCH_PACK_BOARDS * MATCH_SAME_COST)

struct improving {
    struct match_arrangement *all;
    struct match_group *groups;
    bool *stuck; /* nothing was found from this set since it changed */
    size_t group_sets;
    struct match_pack pack;
};

double match_arrangement_worst(const struct match_arrangement *all)
{
    double worst = 0;

    for (size_t i = 0; i < all->n_sets; i++)
        worst = fmax(worst, all->sets[i].cost);
    return worst;
}

/* True when two sets of these costs, the second perhaps none, may be replaced. */
static bool is_better(const double old[2], const double new[2], double worst)
{
    double highest = fmax(old[0], old[1]), now = fmax(new[0], new[1]);

    if (highest >= worst - MATCH_SAME_COST && now < highest - MATCH_SAME_COST) return true;
    return now <= worst && new[0] + new[1] < old[0] + old[1] - MATCH_SAME_COST;
}

static void group_without(struct improving *s, const struct match_set *set, size_t drop)
{
    size_t size = 0;

    for (size_t i = 0; i < set->k; i++)
        if (i != drop) {
            match_group_add(s->all->gains, &s->groups[size], set->members[i], &s->groups[size + 1]);
            size++;
        }
}

/* Exchanges member `x` of a set with member `y` of the other if that is better. */
static bool exchange_with(struct improving *s, size_t a, size_t x, size_t b, size_t y, double worst)
{
    struct match_arrangement *all = s->all;
    struct match_set *one = &all->sets[a], *other = &all->sets[b];
    const double old[2] = {one->cost, other->cost};
    double most = (double)all->k * fmin(worst, old[0] + old[1]), new[2];
    struct match_set changed = *other, mine = *one;

    all->nodes++;
    new[0] = match_group_weight(all->gains, &s->groups[all->k - 1], other->members[y], most);
    if (new[0] > most) return false;
    new[0] /= (double)all->k;
    all->nodes++;
    changed.members[y] = one->members[x];
    match_set_settle(all->gains, &changed);
    new[1] = changed.cost;
    if (!is_better(old, new, worst)) return false;
    mine.members[x] = other->members[y];
    match_set_settle(all->gains, &mine);
    *one = mine;
    *other = changed;
    s->stuck[a] = s->stuck[b] = false;
    return true;
}

static bool exchange_with_left(struct improving *s, size_t a, size_t x, size_t i)
{
    struct match_arrangement *all = s->all;
    struct match_set *one = &all->sets[a];
    double most = (double)all->k * (one->cost - MATCH_SAME_COST);
    size_t out = one->members[x];

    all->nodes++;
    if (match_group_weight(all->gains, &s->groups[all->k - 1], all->left[i], most) >= most)
        return false;
    one->members[x] = all->left[i];
    match_set_settle(all->gains, one);
    all->left[i] = out;
    s->stuck[a] = false;
    return true;
}

/* The first exchange of a board of a set that is better. */
static bool exchange(struct improving *s, size_t a)
{
    struct match_arrangement *all = s->all;
    double worst = match_arrangement_worst(all);

    for (size_t x = 0; x < all->k; x++) {
        group_without(s, &all->sets[a], x);
        for (size_t i = 0; i < all->n_left; i++)
            if (exchange_with_left(s, a, x, i)) return true;
        for (size_t b = 0; b < all->n_sets; b++)
            for (size_t y = 0; b != a && y < all->k; y++)
                if (exchange_with(s, a, x, b, y, worst)) return true;
        if (all->nodes > all->budget) return false;
    }
    return false;
}

/* The sets whose boards would combine best with those of a set, the nearest first; how many. */
static size_t find_near(struct improving *s, size_t a, size_t *near)
{
    const struct match_arrangement *all = s->all;
    double costs[NEAR_SETS + 1];
    size_t both[2 * MATCH_MOST_SIZE], n = 0;

    memcpy(both, all->sets[a].members, all->k * sizeof *both);
    for (size_t b = 0; b < all->n_sets; b++) {
        size_t at = n;
        double cost;

        if (b == a) continue;
        memcpy(both + all->k, all->sets[b].members, all->k * sizeof *both);
        cost = match_cost(all->gains, both, 2 * all->k);
        if (n == NEAR_SETS && cost >= costs[n - 1]) continue;
        if (n == NEAR_SETS) at = n - 1;
        for (; at > 0 && costs[at - 1] > cost; at--) {
            costs[at] = costs[at - 1];
            near[at] = near[at - 1];
        }
        costs[at] = cost;
        near[at] = b;
        if (n < NEAR_SETS) n++;
    }
    s->all->nodes += 2 * all->n_sets;
    return n;
}

static int rising(const void *a, const void *b)
{
    const size_t *one = a, *other = b;

    return (*one > *other) - (*one < *other);
}

/* What the sets of a group cost now, and the dearest set of the others. */
struct standing {
    double worst, sum, outside;
};

static struct standing stand(const struct match_arrangement *all, const size_t *group, size_t n)
{
    struct standing now = {0};

    for (size_t i = 0; i < all->n_sets; i++) {
        bool inside = false;

        for (size_t j = 0; j < n; j++)
            inside |= group[j] == i;
        if (inside) {
            now.worst = fmax(now.worst, all->sets[i].cost);
            now.sum += all->sets[i].cost;
        } else {
            now.outside = fmax(now.outside, all->sets[i].cost);
        }
    }
    return now;
}

/* Arranges `n` sets and the boards left over anew; `*better` when that gave something. */
static bool regroup(struct improving *s, const size_t *group, size_t n, bool *better,
                    struct error *e)
{
    struct match_arrangement *all = s->all;
    struct standing now = stand(all, group, n);
    double high = fmax(now.worst, now.outside), reached;
    size_t boards[MATCH_PACK_BOARDS], n_boards = 0;
    struct match_pack_task task = {.boards = boards, .k = all->k, .enough = now.outside};

    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < all->k; j++)
            boards[n_boards++] = all->sets[group[i]].members[j];
    for (size_t i = 0; i < all->n_left; i++)
        boards[n_boards++] = all->left[i];
    qsort(boards, n_boards, sizeof *boards, rising);
    task.n = n_boards;
    task.budget = GROUP_BUDGET;
    /* A set dearer than the group is now cannot make the sum less. */
    task.most = now.worst > now.outside ? now.worst : fmin(high, now.sum);
    if (!match_pack_solve(all->gains, &task, &s->pack, e)) return false;
    all->nodes += s->pack.nodes;
    reached = fmax(s->pack.worst, now.outside);
    *better = s->pack.found && (reached < high - MATCH_SAME_COST ||
                                (reached <= high && s->pack.sum < now.sum - SAME_SUM));
    if (!*better) return true;
    for (size_t i = 0; i < n; i++) {
        all->sets[group[i]] = s->pack.sets[i];
        s->stuck[group[i]] = false;
    }
    memcpy(all->left, s->pack.left, all->n_left * sizeof *all->left);
    return true;
}

/* Groups of a set with those near to it, as windows over the near ones. */
static bool regroup_around(struct improving *s, size_t a, bool *better, struct error *e)
{
    size_t near[NEAR_SETS + 1], group[MATCH_PACK_BOARDS], n = find_near(s, a, near);

    *better = false;
    for (size_t from = 0; from + s->group_sets - 1 <= n; from++) {
        group[0] = a;
        memcpy(group + 1, near + from, (s->group_sets - 1) * sizeof *group);
        if (!regroup(s, group, s->group_sets, better, e)) return false;
        if (*better || s->all->nodes > s->all->budget) return true;
    }
    return true;
}

/* The dearest set from which something may still be found; n_sets for none. */
static size_t dearest(const struct improving *s)
{
    size_t best = s->all->n_sets;

    for (size_t i = 0; i < s->all->n_sets; i++)
        if (!s->stuck[i] &&
            (best == s->all->n_sets || s->all->sets[i].cost > s->all->sets[best].cost))
            best = i;
    return best;
}

/* From the dearest set down, again from the top whenever one changed. */
static bool descend(struct improving *s, struct error *e)
{
    for (size_t a = dearest(s); a < s->all->n_sets; a = dearest(s)) {
        bool better = exchange(s, a);

        if (s->all->nodes > s->all->budget) return true;
        if (!better && s->group_sets > 1 && !regroup_around(s, a, &better, e)) return false;
        if (!better) s->stuck[a] = true;
    }
    return true;
}

/* Groups drawn at random: every fourth one around the dearest set. */
static bool draw(struct improving *s, uint64_t seed, struct error *e)
{
    struct match_arrangement *all = s->all;
    struct random_source random;
    size_t idle = 0;

    random_begin(&random, seed, all->n_sets, 0x6d61746368);
    while (idle < IDLE_DRAWS * all->n_sets && all->nodes <= all->budget) {
        size_t near[NEAR_SETS + 1], group[MATCH_PACK_BOARDS], n, n_group = 1;
        bool better;

        group[0] = random_bits(&random) % all->n_sets;
        for (size_t i = 0; idle % 4 == 0 && i < all->n_sets; i++)
            if (all->sets[i].cost > all->sets[group[0]].cost) group[0] = i;
        n = find_near(s, group[0], near);
        while (n_group < s->group_sets && n > 0) {
            size_t at = random_bits(&random) % n;

            group[n_group++] = near[at];
            near[at] = near[--n];
        }
        if (!regroup(s, group, n_group, &better, e)) return false;
        idle = better ? 0 : idle + 1;
        if (better && !descend(s, e)) return false;
    }
    return true;
}

/* Sets of a group: as many as are quickly arranged, none where two are too many. */
static size_t sets_of_group(const struct match_arrangement *all)
{
    size_t n = GROUP_BOARDS / all->k > 2 ? GROUP_BOARDS / all->k : 2;

    if (n > all->n_sets) n = all->n_sets;
    for (; n > 1; n--)
        if (match_pack_choices(n * all->k + all->n_left, all->k) <= GROUP_CHOICES &&
            match_pack_is_small(n * all->k + all->n_left, all->k))
            return n;
    return 0;
}

bool match_improve(struct match_arrangement *all, uint64_t seed, struct error *e)
{
    struct improving *s = memory_make(1, sizeof *s, e);
    bool ok = false;

    if (!s) return false;
    s->all = all;
    s->group_sets = sets_of_group(all);
    s->stuck = memory_make(all->n_sets, sizeof *s->stuck, e);
    s->groups = s->stuck ? match_groups_make(all->gains, all->k + 1, e) : NULL;
    if (s->groups) ok = descend(s, e) && (s->group_sets < 2 || draw(s, seed, e));
    match_groups_free(s->groups);
    memory_free(s->stuck);
    memory_free(s);
    return ok;
}
