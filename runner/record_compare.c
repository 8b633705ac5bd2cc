#include "runner/record_compare.h"

#include <math.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"

/* Logarithms and roots of another C library may differ in their last digit, which a phase or a
 * slope makes a few digits; far below what any figure of a limits file means. */
#define SAME_NUMBER 1e-9

static bool is_near(double recorded, double anew)
{
    if (isnan(recorded) || isnan(anew)) return isnan(recorded) && isnan(anew);
    return fabs(recorded - anew) <= SAME_NUMBER * fmax(1, fabs(recorded));
}

static bool differs(const struct record_unit *unit, const char *limit, const char *recorded,
                    const char *anew, struct error *e)
{
    return error_set(
        e, ERROR_INPUT,
        "%s, attempt %lu%s%s: recorded is %s, judged anew it is %s: the record and its "
        "sweeps do not belong together; gainsieve audit tells more",
        unit->serial, unit->attempt, *limit ? ", limit " : "", limit, recorded, anew);
}

static bool number_differs(const struct record_unit *unit, const char *limit, const char *name,
                           double recorded, double anew, struct error *e)
{
    struct text words[2] = {0};
    bool ok;

    for (int i = 0; i < 2; i++) {
        text_addf(&words[i], "a %s of ", name);
        if (isnan(i ? anew : recorded))
            text_add(&words[i], "nothing");
        else
            text_add_number(&words[i], i ? anew : recorded);
    }
    ok = text_ok(&words[0], "a number", e) && text_ok(&words[1], "a number", e) &&
         differs(unit, limit, words[0].data, words[1].data, e);
    text_clear(&words[0]);
    text_clear(&words[1]);
    return ok;
}

/* The place of the worst value is not compared: of two equal ones either may be named. */
static bool compare_finding(const struct record_unit *unit, const struct record_finding *recorded,
                            const struct finding *anew, struct error *e)
{
    const char *limit = anew->limit->id;

    if (strcmp(recorded->limit, limit) != 0) return differs(unit, limit, recorded->limit, limit, e);
    if (recorded->outcome != anew->outcome)
        return differs(unit, limit, outcome_name(recorded->outcome), outcome_name(anew->outcome),
                       e);
    if (recorded->accepted != anew->accepted)
        return differs(unit, limit, recorded->accepted ? "accepted" : "not accepted",
                       anew->accepted ? "accepted" : "not accepted", e);
    if (!is_near(recorded->value, anew->value))
        return number_differs(unit, limit, "value", recorded->value, anew->value, e);
    if (!is_near(recorded->bound, anew->bound))
        return number_differs(unit, limit, "bound", recorded->bound, anew->bound, e);
    return is_near(recorded->margin, anew->margin) ||
           number_differs(unit, limit, "margin", recorded->margin, anew->margin, e);
}

static bool compare_unit(const struct record_source *rs, const struct record_unit *unit,
                         const struct judgement *anew, struct error *e)
{
    struct record_finding *recorded = NULL;
    size_t n = 0;
    bool ok = record_findings(rs->reader, unit->n, &recorded, &n, e);

    if (ok && n != anew->n_findings)
        ok = error_set(e, ERROR_INPUT,
                       "%s, attempt %lu: %zu limits are recorded, its limits file has %zu: the "
                       "record is damaged; gainsieve audit tells more",
                       unit->serial, unit->attempt, n, anew->n_findings);
    for (size_t i = 0; ok && i < n; i++)
        ok = compare_finding(unit, &recorded[i], &anew->findings[i], e);
    if (ok && unit->verdict != anew->verdict)
        ok = differs(unit, "", verdict_name(unit->verdict), verdict_name(anew->verdict), e);
    memory_free(recorded);
    return ok;
}

bool record_compare(const struct record_source *rs, const struct source *source,
                    const struct judgement *judgements, struct error *e)
{
    for (size_t i = 0; i < source->n_attempts; i++)
        if (!compare_unit(rs, record_source_unit(rs, source, i), &judgements[i], e)) return false;
    return true;
}

/* The limits that do not accept the unit now, with their reasons. */
static void add_failed_now(struct text *out, const struct judgement *anew)
{
    const char *before = "";

    for (size_t i = 0; i < anew->n_findings; i++) {
        const struct finding *finding = &anew->findings[i];

        if (finding->accepted) continue;
        text_addf(out, "%s%s: %s", before, finding->limit->id,
                  finding->reason ? finding->reason : outcome_name(finding->outcome));
        before = "; ";
    }
    if (!*before && anew->reason) text_add(out, anew->reason);
}

/* The limits that did not accept it that night. */
static bool add_failed_then(const struct record_source *rs, const struct record_unit *unit,
                            struct text *out, struct error *e)
{
    struct record_finding *recorded = NULL;
    const char *before = "recorded as not accepted: ";
    size_t n = 0;

    if (!record_findings(rs->reader, unit->n, &recorded, &n, e)) return false;
    for (size_t i = 0; i < n; i++) {
        if (recorded[i].accepted) continue;
        text_addf(out, "%s%s", before, recorded[i].limit);
        before = ", ";
    }
    memory_free(recorded);
    return true;
}

static bool add_change(struct record_changes *made, const struct record_source *rs,
                       const struct record_unit *unit, const struct judgement *anew,
                       struct error *e)
{
    made->n_changed++;
    text_addf(&made->lines, "%s: %s -> %s: ", unit->serial, verdict_name(unit->verdict),
              verdict_name(anew->verdict));
    if (anew->verdict != VERDICT_PASS)
        add_failed_now(&made->lines, anew);
    else if (!add_failed_then(rs, unit, &made->lines, e))
        return false;
    text_add(&made->lines, "\n");
    return true;
}

bool record_changes_find(struct record_changes *out, const struct record_source *rs,
                         const struct judgement *judgements, struct error *e)
{
    struct record_changes made = {0};
    const size_t n = rs->counted.n_attempts;
    bool ok = true;

    for (size_t i = 0; ok && i < n; i = source_unit_end(&rs->counted, i)) {
        const size_t last = source_unit_end(&rs->counted, i) - 1;
        const struct record_unit *unit = record_source_unit(rs, &rs->counted, last);
        const struct judgement *anew = &judgements[last];

        made.n_units++;
        made.from_to[unit->verdict][anew->verdict]++;
        if (unit->verdict != anew->verdict) ok = add_change(&made, rs, unit, anew, e);
    }
    ok = ok && text_ok(&made.lines, "the changes", e);
    if (ok)
        *out = made;
    else
        record_changes_clear(&made);
    return ok;
}

void record_changes_clear(struct record_changes *changes)
{
    text_clear(&changes->lines);
    *changes = (struct record_changes){0};
}
