#include "limits/yield.h"

#include <math.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "limits/statistics.h"

bool judgement_is_last(const struct judgement *judgements, size_t n, size_t i)
{
    return i + 1 == n || strcmp(judgements[i].serial, judgements[i + 1].serial) != 0;
}

static bool is_first(const struct judgement *judgements, size_t i)
{
    return i == 0 || strcmp(judgements[i].serial, judgements[i - 1].serial) != 0;
}

bool finding_has_failed(const struct finding *finding)
{
    return !finding->accepted && finding->outcome != OUTCOME_INCOMPLETE;
}

/* Adds a unit to the limits that it failed, alone and in pairs. */
static void count_failed(struct batch_yield *yield, const struct judgement *judgement)
{
    for (size_t i = 0; i < judgement->n_findings; i++) {
        if (!finding_has_failed(&judgement->findings[i])) continue;
        yield->failed_by_limit[i]++;
        if (judgement->n_failed == 1) yield->failed_alone[i]++;
        for (size_t k = 0; k < judgement->n_findings; k++)
            if (finding_has_failed(&judgement->findings[k]))
                yield->failed_together[i * yield->n_limits + k]++;
    }
}

static void count_last(struct batch_yield *yield, const struct judgement *judgement)
{
    yield->n_units++;
    switch (judgement->verdict) {
    case VERDICT_PASS: yield->n_pass++; break;
    case VERDICT_FAIL: yield->n_fail++; break;
    case VERDICT_INCOMPLETE: yield->n_incomplete++; break;
    }
    count_failed(yield, judgement);
}

bool batch_yield_count(struct batch_yield *out, const struct judgement *judgements, size_t n,
                       size_t n_limits, struct error *e)
{
    struct batch_yield made = {.n_limits = n_limits};

    made.failed_by_limit = memory_make(n_limits * (2 + n_limits), sizeof *made.failed_by_limit, e);
    if (!made.failed_by_limit) return false;
    made.failed_alone = made.failed_by_limit + n_limits;
    made.failed_together = made.failed_alone + n_limits;
    for (size_t i = 0; i < n; i++) {
        if (is_first(judgements, i) && judgements[i].attempt == 1 &&
            judgements[i].verdict == VERDICT_PASS)
            made.n_first_pass++;
        if (judgement_is_last(judgements, n, i)) count_last(&made, &judgements[i]);
    }
    made.yield = made.n_units ? (double)made.n_pass / (double)made.n_units : NAN;
    made.first = made.n_units ? (double)made.n_first_pass / (double)made.n_units : NAN;
    proportion_interval(made.n_pass, made.n_units, 0.95, &made.yield_low, &made.yield_high);
    proportion_interval(made.n_first_pass, made.n_units, 0.95, &made.first_low, &made.first_high);
    *out = made;
    return true;
}

void batch_yield_rank(const struct batch_yield *yield, size_t *out)
{
    for (size_t i = 0; i < yield->n_limits; i++) {
        size_t place = i;

        for (; place > 0 && yield->failed_by_limit[out[place - 1]] < yield->failed_by_limit[i];
             place--)
            out[place] = out[place - 1];
        out[place] = i;
    }
}

void batch_yield_clear(struct batch_yield *yield)
{
    memory_free(yield->failed_by_limit);
    *yield = (struct batch_yield){0};
}
