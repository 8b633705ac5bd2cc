#include "limits/suggest_bound.h"

#include <math.h>
#include <stdlib.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "limits/statistics.h"

/* Below this many values anderson_darling() says nothing. */
#define LEAST_FOR_NORMALITY 8

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

static bool check_wish(const struct bound_wish *wish, struct error *e)
{
    char words[NUMBER_TEXT];

    if (!wish->lower && !wish->upper)
        return error_set(e, ERROR_USAGE, "suggested bound: no side: ask for a lower or upper one");
    if (wish->target_yield == 0 || (wish->target_yield >= 0.5 && wish->target_yield <= 1))
        return true;
    (void)number_format(wish->target_yield, words);
    return error_set(e, ERROR_USAGE,
                     "suggested bound: a target yield of %s: give one from 0.5 to 1, as 0.95",
                     words);
}

static bool set_normal(struct bound_suggestion *s, struct error *e)
{
    const struct bound_wish *wish = &s->wish;
    const bool two_sided = wish->lower && wish->upper;

    /* What only rounding spreads has no bound, as it has no capability. */
    s->is_flat = s->deviation <= 1e-9 * fabs(s->mean);
    if (s->is_flat || !isfinite(s->deviation)) return true;
    if (!(two_sided ? tolerance_factor_two_sided : tolerance_factor_one_sided)(
            &s->normal.factor, s->n, wish->coverage, wish->confidence, e))
        return false;
    if (wish->lower) s->normal.lower = s->mean - s->normal.factor * s->deviation;
    if (wish->upper) s->normal.upper = s->mean + s->normal.factor * s->deviation;
    return true;
}

static bool set_order(struct bound_suggestion *s, const double *sorted, struct error *e)
{
    const struct bound_wish *wish = &s->wish;
    const bool two_sided = wish->lower && wish->upper;
    struct tolerance_rank found;

    if (!tolerance_least_units(&s->order.n_needed, two_sided, wish->coverage, wish->confidence, e))
        return false;
    if (s->n < s->order.n_needed) return true;
    if (!(two_sided ? tolerance_order_two_sided
                    : tolerance_order_one_sided)(&found, s->n, wish->coverage, wish->confidence, e))
        return false;
    s->order.rank = found.rank;
    s->order.confidence = found.confidence;
    if (wish->lower) s->order.lower = sorted[found.rank - 1];
    if (wish->upper) s->order.upper = sorted[s->n - found.rank];
    return true;
}

/* Both ends from the ranks of the lower one: the upper end is the sample turned over. */
static bool set_target(struct bound_suggestion *s, const double *sorted, struct error *e)
{
    const struct bound_wish *wish = &s->wish;
    const double tail = (1 - wish->target_yield) / (wish->lower && wish->upper ? 2 : 1);
    /* 1 - 0.95 of 20 units is one unit, though a double says a little less. */
    const size_t n = s->n, outside = (size_t)floor(tail * (double)n * (1 + 1e-12) + 1e-9);
    struct quantile_ranks ranks;

    if (wish->target_yield == 0 || n == 0) return true;
    if (!tolerance_quantile_ranks(&ranks, n, tail, wish->confidence, e)) return false;
    s->target_confidence = ranks.confidence;
    if (wish->lower) {
        s->target_lower.at = sorted[outside];
        if (ranks.low > 0) s->target_lower.low = sorted[ranks.low - 1];
        if (ranks.high <= n) s->target_lower.high = sorted[ranks.high - 1];
    }
    if (wish->upper) {
        s->target_upper.at = sorted[n - 1 - outside];
        if (ranks.low > 0) s->target_upper.high = sorted[n - ranks.low];
        if (ranks.high <= n) s->target_upper.low = sorted[n - ranks.high];
    }
    return true;
}

/* From the values that are there, which it sorts. */
static bool suggest(struct bound_suggestion *s, double *kept, struct error *e)
{
    struct capability normality = {0};

    s->mean = sample_mean(kept, s->n);
    s->deviation = sample_deviation(kept, s->n);
    if (!capability_of(&normality, kept, NULL, s->n, e)) return false;
    s->is_small = normality.is_small;
    s->is_not_normal = normality.is_not_normal;
    qsort(kept, s->n, sizeof *kept, ascending);
    return set_normal(s, e) && set_order(s, kept, e) && set_target(s, kept, e);
}

bool bound_suggest(struct bound_suggestion *out, const double *x, size_t n,
                   const struct bound_wish *wish, struct error *e)
{
    static const struct target_bound no_target = {NAN, NAN, NAN};
    struct bound_suggestion made = {.wish = *wish,
                                    .normal = {NAN, NAN, NAN},
                                    .order = {.confidence = NAN, .lower = NAN, .upper = NAN},
                                    .target_lower = no_target,
                                    .target_upper = no_target,
                                    .target_confidence = NAN};
    double *kept;
    bool done;

    if (!check_wish(wish, e)) return false;
    kept = memory_make(n, sizeof *kept, e);
    if (!kept) return false;
    for (size_t i = 0; i < n; i++)
        if (!isnan(x[i])) kept[made.n++] = x[i];
    made.n_left_out = n - made.n;
    done = suggest(&made, kept, e);
    memory_free(kept);
    if (done) *out = made;
    return done;
}

static void add_sentence(struct text *out, const char *words)
{
    if (out->length > 0) text_add(out, " ");
    text_add(out, words);
}

static const char *units(size_t n)
{
    return n == 1 ? "unit" : "units";
}

/* Why there is no bound by the normal factor, or what is against it. */
static void add_normal_words(const struct bound_suggestion *s, struct text *out)
{
    if (s->n < 2)
        add_sentence(out, "One unit has no spread: there is no bound by a normal factor.");
    else if (s->is_flat)
        add_sentence(out, "All values are the same: there is no bound by a normal factor.");
    else if (!isfinite(s->deviation))
        add_sentence(out, "A value is infinite: there is no bound by a normal factor.");
    else if (s->n < LEAST_FOR_NORMALITY)
        add_sentence(out, "So few units do not show whether the values are normal, which the bound "
                          "by the normal factor takes for granted.");
    else if (s->is_not_normal)
        add_sentence(out, s->order.rank > 0
                              ? "The values are visibly not normal: the bound by the normal factor "
                                "need not hold its coverage; take the order statistics."
                              : "The values are visibly not normal: the bound by the normal factor "
                                "need not hold its coverage, and for order statistics there are "
                                "too few units.");
}

static void add_order_words(const struct bound_suggestion *s, struct text *out)
{
    if (s->order.rank > 0) return;
    add_sentence(out, "Order statistics have no bound here: a coverage of ");
    text_add_number(out, s->wish.coverage);
    text_add(out, " with confidence ");
    text_add_number(out, s->wish.confidence);
    text_addf(out, " needs %zu units.", s->order.n_needed);
}

static bool is_open(const struct target_bound *target)
{
    return !isnan(target->at) && (isnan(target->low) || isnan(target->high));
}

static void add_target_words(const struct bound_suggestion *s, struct text *out)
{
    if (!is_open(&s->target_lower) && !is_open(&s->target_upper)) return;
    add_sentence(out, "How far the bound for a yield of ");
    text_add_number(out, s->wish.target_yield);
    text_add(out, " may lie from here is open at one end or both: too few units lie beyond it.");
}

void bound_suggestion_words(const struct bound_suggestion *s, struct text *out)
{
    if (s->n_left_out > 0) {
        add_sentence(out, "");
        text_addf(out, "%zu %s without a value %s left out.", s->n_left_out, units(s->n_left_out),
                  s->n_left_out == 1 ? "is" : "are");
    }
    if (s->n == 0) {
        add_sentence(out, "No unit has a value: there is nothing to suggest a bound from.");
        return;
    }
    if (s->is_small) {
        add_sentence(out, "");
        text_addf(out,
                  "Only %zu %s: the bounds are far out because so few tell little, and another "
                  "batch may suggest others.",
                  s->n, units(s->n));
    }
    add_normal_words(s, out);
    add_order_words(s, out);
    add_target_words(s, out);
}
