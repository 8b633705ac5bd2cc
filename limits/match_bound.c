#include "limits/match_bound.h"

#include <math.h>
#include <stdlib.h>

#include "drivers/base/memory.h"

/* The least of the weights for one search. */
#define LEAST_BUDGET 2000

/* Boards that are searched again with a larger part of the budget, each with this part of it. */
#define AGAIN_PART 16

/* A board, what its sets cost at least, and its cheapest set met. */
struct isolation {
    size_t board;
    double least, met;
};

struct bounding {
    const struct match_gains *gains;
    size_t k;
    uint64_t each; /* weights of one search */
    size_t *allowed;
    struct match_bound *out;
};

static int dearest_first(const void *a, const void *b)
{
    const struct isolation *one = a, *other = b;

    if (one->least != other->least) return one->least > other->least ? -1 : 1;
    return (one->board > other->board) - (one->board < other->board);
}

static int dearest_met_first(const void *a, const void *b)
{
    const struct isolation *one = a, *other = b;

    if (one->met != other->met) return one->met > other->met ? -1 : 1;
    return (one->board > other->board) - (one->board < other->board);
}

/* What a set costs at least, and the cheapest met, that holds the boards `fixed` and none of
 * `barred`. */
static bool least_with(struct bounding *s, const size_t *fixed, size_t n_fixed,
                       const size_t *barred, size_t n_barred, double *least, double *met,
                       struct error *e)
{
    struct match_best best;
    size_t n = 0;

    *met = *least = n_fixed == s->k ? match_cost(s->gains, fixed, n_fixed) : INFINITY;
    if (n_fixed >= s->k) return true;
    for (size_t i = 0; i < s->gains->n_boards; i++) {
        bool taken = false;

        for (size_t j = 0; j < n_fixed; j++)
            taken |= fixed[j] == i;
        for (size_t j = 0; j < n_barred; j++)
            taken |= barred[j] == i;
        if (!taken) s->allowed[n++] = i;
    }
    if (n + n_fixed < s->k) return true;
    if (!match_best_find(s->gains, s->allowed, n, fixed, n_fixed, s->k, s->each, &best, e))
        return false;
    s->out->nodes += best.nodes;
    *least = best.bound;
    *met = best.set.cost;
    return true;
}

/* The least, over all ways to cut the first `h` boards into blocks with at most `left` left over,
 * of the dearest block. value[l][rest]: with `rest` to be cut and l still to be left over. */
static double cut(const double *blocks, size_t h, size_t left)
{
    double value[MATCH_QUARREL_BOARDS + 1][(size_t)1 << MATCH_QUARREL_BOARDS];
    unsigned all = (1u << h) - 1;

    if (left >= h) return 0;
    for (size_t l = 0; l <= left; l++) {
        value[l][0] = 0;
        for (unsigned rest = 1; rest <= all; rest++) {
            unsigned low = rest & (~rest + 1), others = rest & ~low, part = others;
            double best = l > 0 ? value[l - 1][others] : INFINITY;

            for (bool more = true; more; part = (part - 1) & others) {
                best = fmin(best, fmax(blocks[part | low], value[l][others & ~part]));
                more = part != 0;
            }
            value[l][rest] = best;
        }
    }
    return value[left][all];
}

/* Raises the bound by the quarrel of the `h` dearest boards. */
static bool quarrel(struct bounding *s, const struct isolation *boards, size_t h, size_t left,
                    struct error *e)
{
    double blocks[(size_t)1 << MATCH_QUARREL_BOARDS] = {0};

    for (unsigned block = 1; block < 1u << h; block++) {
        double met;
        size_t in[MATCH_QUARREL_BOARDS], out[MATCH_QUARREL_BOARDS], n_in = 0, n_out = 0;

        for (size_t i = 0; i < h; i++) {
            if (block >> i & 1)
                in[n_in++] = boards[i].board;
            else
                out[n_out++] = boards[i].board;
        }
        if (!least_with(s, in, n_in, out, n_out, &blocks[block], &met, e)) return false;
    }
    s->out->worst = fmax(s->out->worst, cut(blocks, h, left));
    return true;
}

/* Searches for each board, then longer for the dearest of those without a proof. */
static bool search_boards(struct bounding *s, struct isolation *boards, uint64_t nodes,
                          struct error *e)
{
    size_t n = s->gains->n_boards;

    s->each = nodes / 2 / n > LEAST_BUDGET ? nodes / 2 / n : LEAST_BUDGET;
    for (size_t i = 0; i < n; i++) {
        boards[i].board = i;
        if (!least_with(s, &i, 1, NULL, 0, &boards[i].least, &boards[i].met, e)) return false;
    }
    qsort(boards, n, sizeof *boards, dearest_met_first);
    if (s->each < nodes / AGAIN_PART) s->each = nodes / AGAIN_PART;
    for (size_t i = 0; i < n && s->out->nodes < nodes; i++) {
        struct isolation *board = &boards[i];

        if (board->met <= board->least + 2 * MATCH_SAME_COST) continue;
        if (!least_with(s, &board->board, 1, NULL, 0, &board->least, &board->met, e)) return false;
    }
    qsort(boards, n, sizeof *boards, dearest_first);
    return true;
}

static bool find(struct bounding *s, struct isolation *boards, double *least, uint64_t nodes,
                 struct error *e)
{
    size_t n = s->gains->n_boards, left = n % s->k;

    if (!search_boards(s, boards, nodes / 4 * 3, e)) return false;
    for (size_t i = 0; i < n; i++)
        least[boards[i].board] = boards[i].least;
    s->out->worst = boards[left].least;
    for (size_t i = left; i < n; i++)
        s->out->sum += boards[i].least / (double)s->k;
    s->each = nodes / 4 >> (MATCH_QUARREL_BOARDS + 1);
    if (s->each < LEAST_BUDGET) s->each = LEAST_BUDGET;
    for (size_t h = left + 2; h <= MATCH_QUARREL_BOARDS && h <= n; h++)
        if (!quarrel(s, boards, h, left, e)) return false;
    return true;
}

bool match_bound_find(const struct match_gains *gains, size_t k, uint64_t nodes, double *least,
                      struct match_bound *out, struct error *e)
{
    struct bounding s = {.gains = gains, .k = k, .out = out};
    struct isolation *boards;
    bool ok;

    *out = (struct match_bound){0};
    if (k < 2 || k > MATCH_MOST_SIZE || k > gains->n_boards)
        return error_set(e, ERROR_INPUT,
                         "matching: %zu boards in sets of %zu: give a size from 2 to %zu and as "
                         "many boards",
                         gains->n_boards, k, MATCH_MOST_SIZE);
    s.allowed = memory_make(gains->n_boards, sizeof *s.allowed, e);
    boards = s.allowed ? memory_make(gains->n_boards, sizeof *boards, e) : NULL;
    ok = boards && find(&s, boards, least, nodes, e);
    memory_free(boards);
    memory_free(s.allowed);
    return ok;
}
