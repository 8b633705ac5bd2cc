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

static void count_last(struct batch_yield *yield, const struct judgement *judgement)
{
    yield->n_units++;
    switch (judgement->verdict) {
    case VERDICT_PASS: yield->n_pass++; break;
    case VERDICT_FAIL: yield->n_fail++; break;
    case VERDICT_INCOMPLETE: yield->n_incomplete++; break;
    }
    for (size_t i = 0; i < judgement->n_findings; i++) {
        const struct finding *finding = &judgement->findings[i];

        if (!finding->accepted && finding->outcome != OUTCOME_INCOMPLETE)
            yield->failed_by_limit[i]++;
    }
}

bool batch_yield_count(struct batch_yield *out, const struct judgement *judgements, size_t n,
                       size_t n_limits, struct error *e)
{
    struct batch_yield made = {0};

    made.failed_by_limit = memory_make(n_limits, sizeof *made.failed_by_limit, e);
    if (!made.failed_by_limit) return false;
    for (size_t i = 0; i < n; i++) {
        if (is_first(judgements, i) && judgements[i].verdict == VERDICT_PASS) made.n_first_pass++;
        if (judgement_is_last(judgements, n, i)) count_last(&made, &judgements[i]);
    }
    made.yield = made.n_units ? (double)made.n_pass / (double)made.n_units : NAN;
    proportion_interval(made.n_pass, made.n_units, 0.95, &made.yield_low, &made.yield_high);
    *out = made;
    return true;
}

void batch_yield_clear(struct batch_yield *yield)
{
    memory_free(yield->failed_by_limit);
    *yield = (struct batch_yield){0};
}
