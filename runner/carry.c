#include "runner/carry.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/memory.h"

static bool is_same_number(double a, double b)
{
    return a == b || (isnan(a) && isnan(b));
}

/* Whether both limits said the same of the measurement, to the last digit. */
static bool is_same(const struct finding *a, const struct finding *b)
{
    return strcmp(a->limit->id, b->limit->id) == 0 && a->limit->quantity == b->limit->quantity &&
           a->outcome == b->outcome && a->accepted == b->accepted &&
           a->failed_steps == b->failed_steps && is_same_number(a->value, b->value) &&
           is_same_number(a->bound, b->bound) && is_same_number(a->margin, b->margin) &&
           is_same_number(a->lower_margin, b->lower_margin) &&
           is_same_number(a->upper_margin, b->upper_margin) &&
           is_same_number(a->conformance_probability, b->conformance_probability);
}

static bool is_in(const struct judgement *night, const struct finding *finding)
{
    for (size_t i = 0; i < night->n_findings; i++)
        if (is_same(&night->findings[i], finding)) return true;
    return false;
}

static bool carry_finding(struct finding *out, const struct judgement *night,
                          const struct finding *anew, struct error *e)
{
    const bool kept = is_in(night, anew);
    const char *reason = kept ? anew->reason : "the unit was judged by earlier limits";

    if (kept)
        *out = *anew;
    else
        *out = (struct finding){.limit = anew->limit,
                                .value = NAN,
                                .bound = NAN,
                                .margin = NAN,
                                .frequency_hz = NAN,
                                .bias_v = NAN,
                                .conformance_probability = NAN,
                                .lower_margin = NAN,
                                .upper_margin = NAN,
                                .severity = NAN};
    out->reason = NULL;
    if (reason) out->reason = memory_copy_text(reason, e);
    return !reason || out->reason;
}

bool carry_judgement(struct judgement *out, const struct judgement *night,
                     const struct judgement *anew, struct error *e)
{
    struct judgement made = {.attempt = night->attempt,
                             .verdict = night->verdict,
                             .worst = night->worst,
                             .n_failed = night->n_failed};
    bool ok = true;

    (void)snprintf(made.serial, sizeof made.serial, "%s", night->serial);
    made.findings = memory_make(anew->n_findings, sizeof *made.findings, e);
    if (!made.findings) return false;
    for (; ok && made.n_findings < anew->n_findings; made.n_findings++)
        ok = carry_finding(&made.findings[made.n_findings], night, &anew->findings[made.n_findings],
                           e);
    if (ok && night->reason) ok = (made.reason = memory_copy_text(night->reason, e)) != NULL;
    if (ok && night->serial_fault)
        ok = (made.serial_fault = memory_copy_text(night->serial_fault, e)) != NULL;
    if (ok)
        *out = made;
    else
        judgement_clear(&made);
    return ok;
}
