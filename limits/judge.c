#include "limits/judge.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/network.h"
#include "limits/coverage.h"
#include "limits/decision.h"
#include "limits/judging.h"

static void (*const judge_shape[])(struct judging *) = {
    [OVER_POINTS] = judge_over_points, [OVER_BAND] = judge_over_band,
    [OVER_SLOPE] = judge_over_slope,   [OVER_RANGE] = judge_over_range,
    [OVER_SHIFT] = judge_over_shift,   [OVER_PHASE] = judge_over_phase,
    [OVER_DELAY] = judge_over_delay,   [OVER_CURRENT] = judge_over_current,
};

const char *outcome_name(enum outcome outcome)
{
    static const char *const names[] = {
        [OUTCOME_INCOMPLETE] = "incomplete",
        [OUTCOME_FAIL] = "fail",
        [OUTCOME_CONDITIONAL_FAIL] = "conditional-fail",
        [OUTCOME_CONDITIONAL_PASS] = "conditional-pass",
        [OUTCOME_PASS] = "pass",
    };

    return names[outcome];
}

const char *verdict_name(enum verdict verdict)
{
    static const char *const names[] = {
        [VERDICT_INCOMPLETE] = "INCOMPLETE",
        [VERDICT_FAIL] = "FAIL",
        [VERDICT_PASS] = "PASS",
    };

    return names[verdict];
}

void judging_note_not_finite(struct judging *j, double frequency_hz, double bias_v)
{
    char at_hz[VALUE_TEXT], at_v[VALUE_TEXT];

    /* Once: a trace of nothing else would fill the reason. */
    if (strstr(text_words(&j->missing), "is not a finite number")) return;
    reason_add(&j->missing, "the value at %s, bias %s is not a finite number",
               value_rounded(frequency_hz, UNIT_HZ, at_hz), value_rounded(bias_v, UNIT_V, at_v));
}

const struct bias_sweep *judging_step(struct judging *j, size_t step)
{
    const struct bias_sweep *bias = coverage_find_step(j->limits, j->m, step);

    j->steps = UINT64_C(1) << step;
    if (!coverage_usable(j->limits, bias, step, j->limit->quantity->needs, &j->missing))
        return NULL;
    (void)coverage_spans(j->limits, j->limit, bias, step, &j->missing);
    return bias;
}

/* A bound in dB as linear abs(S). */
static double linear(double bound_db)
{
    return pow(10, bound_db / 20);
}

bool judging_take(struct judging *j, double frequency_hz, double bias_v, double value,
                  double magnitude)
{
    const bool linear_domain = j->limit->linear_uncertainty;
    const double bounds[2] = {
        isnan(frequency_hz) ? (j->limit->lower.n_points ? j->limit->lower.value[0] : NAN)
                            : bound_line_at(&j->limit->lower, frequency_hz),
        isnan(frequency_hz) ? (j->limit->upper.n_points ? j->limit->upper.value[0] : NAN)
                            : bound_line_at(&j->limit->upper, frequency_hz),
    };
    bool kept = false;

    if (isnan(bounds[0]) && isnan(bounds[1])) return false;
    if (!isfinite(value)) {
        judging_note_not_finite(j, frequency_hz, bias_v);
        return false;
    }
    for (int side = 0; side < 2; side++) {
        double sign = side == 0 ? 1 : -1;
        double margin = sign * (value - bounds[side]);
        double decision = linear_domain ? sign * (magnitude - linear(bounds[side])) : margin;

        if (isnan(bounds[side])) continue;
        j->side_margin[side] = fmin(j->side_margin[side], margin);
        if (decision < j->least_margin) j->failed_steps |= j->steps;
        if (j->seen && !(decision < j->decision_margin)) continue;
        j->decision_margin = decision;
        j->value = value;
        j->bound = bounds[side];
        j->margin = margin;
        j->frequency_hz = frequency_hz;
        j->bias_v = bias_v;
        j->lower = bounds[0];
        j->upper = bounds[1];
        j->magnitude = magnitude;
        j->seen = kept = true;
    }
    return kept;
}

static double severity_of(const struct judging *j)
{
    double guard = j->limits->guard_factor * j->limit->uncertainty;
    double span = isnan(j->lower) || isnan(j->upper) ? fabs(j->bound) : j->upper - j->lower;

    if (guard > 0) return j->decision_margin / guard;
    return j->margin / (span > 0 ? span : 1);
}

static double probability_of(const struct judging *j)
{
    if (!j->limit->has_uncertainty) return NAN;
    if (j->limit->linear_uncertainty)
        return conformance_probability(j->magnitude, linear(j->lower), linear(j->upper),
                                       j->limit->uncertainty);
    return conformance_probability(j->value, j->lower, j->upper, j->limit->uncertainty);
}

/* Whether a bound stands so in the file: at a corner of its line. */
static bool is_written(const struct limit *limit, double bound)
{
    const struct bound_line *const lines[] = {&limit->lower, &limit->upper};

    for (size_t k = 0; k < 2; k++)
        for (size_t i = 0; i < lines[k]->n_points; i++)
            if (lines[k]->value[i] == bound) return true;
    return false;
}

/* Whether the words tell a value and its bound in the order that they have. */
static bool reads_right(const struct judging *j, const char *value, const char *bound)
{
    const enum unit unit = j->limit->quantity->unit;
    double told_value, told_bound;

    if (!value_parse(value, unit, &told_value) || !value_parse(bound, unit, &told_bound))
        return true;
    return (told_value < told_bound) == (j->value < j->bound) &&
           (told_value > told_bound) == (j->value > j->bound);
}

/* A value and its bound in words. A bound stands as in the file; one between mask corners, which
 * has as many digits as a double, is rounded like the value. Where a value outside would then read
 * as on the bound or inside, both have more digits. */
static void write_value_and_bound(const struct judging *j, char value[VALUE_TEXT],
                                  char bound[VALUE_TEXT])
{
    const enum unit unit = j->limit->quantity->unit;
    const bool exact = is_written(j->limit, j->bound);

    (void)value_rounded(j->value, unit, value);
    (void)(exact ? value_words(j->bound, unit, bound) : value_rounded(j->bound, unit, bound));
    if (reads_right(j, value, bound)) return;
    (void)value_words(round(j->value * 1e4) / 1e4, unit, value);
    if (!exact) (void)value_words(round(j->bound * 1e4) / 1e4, unit, bound);
    if (reads_right(j, value, bound)) return;
    (void)value_words(j->value, unit, value);
    (void)value_words(j->bound, unit, bound);
}

/* "gain 21.32 dB at 160 MHz, bias 3 V: below 22 dB by 0.68 dB". */
static void add_worst_words(const struct judging *j, enum outcome outcome, struct text *out)
{
    enum unit unit = j->limit->quantity->unit;
    char value[VALUE_TEXT], at[VALUE_TEXT], bound[VALUE_TEXT], off[VALUE_TEXT];
    bool is_lower = j->bound == j->lower && j->margin == j->value - j->lower;

    write_value_and_bound(j, value, bound);
    text_addf(out, "%s %s", j->limit->quantity->words, value);
    if (!isnan(j->frequency_hz))
        text_addf(out, " at %s,", value_rounded(j->frequency_hz, UNIT_HZ, at));
    else
        text_add(out, " at");
    text_addf(out, " bias %s", value_rounded(j->bias_v, UNIT_V, at));
    if (j->detail.length > 0) text_addf(out, " (%s)", j->detail.data);
    (void)value_rounded(fabs(j->margin), unit, off);
    /* A failure by less than the usual digits show is still one by something. */
    if (j->margin != 0 && !strpbrk(off, "123456789")) (void)value_words(fabs(j->margin), unit, off);
    if (outcome == OUTCOME_CONDITIONAL_PASS)
        text_addf(out, ": within %s by %s, but inside the guard band", bound, off);
    else
        text_addf(out, ": %s %s by %s%s", is_lower ? "below" : "above", bound, off,
                  outcome == OUTCOME_CONDITIONAL_FAIL ? ", less than the guard band" : "");
}

static bool make_reason(const struct judging *j, struct finding *out, struct error *e)
{
    struct text reason = {0};
    bool ok;

    if (out->outcome != OUTCOME_INCOMPLETE) {
        add_worst_words(j, out->outcome, &reason);
        if (j->missing.length > 0) text_addf(&reason, "; missing too: %s", j->missing.data);
    } else {
        text_add(&reason, j->missing.length > 0 ? j->missing.data : "no measured value applies");
    }
    ok = text_ok(&reason, "a reason", e) && text_ok(&j->missing, "a reason", e) &&
         text_ok(&j->detail, "a reason", e);
    if (ok) {
        out->reason = memory_copy_text(text_words(&reason), e);
        ok = out->reason != NULL;
    }
    text_clear(&reason);
    return ok;
}

static bool finish_finding(const struct judging *j, struct finding *out, struct error *e)
{
    const double guard = j->limits->guard_factor * j->limit->uncertainty;
    enum outcome seen = j->seen ? decide(j->decision_margin, guard) : OUTCOME_INCOMPLETE;
    bool complete = j->missing.length == 0 && !j->missing.failed;

    *out = (struct finding){.limit = j->limit,
                            .value = NAN,
                            .bound = NAN,
                            .margin = NAN,
                            .frequency_hz = NAN,
                            .bias_v = NAN,
                            .lower_margin = NAN,
                            .upper_margin = NAN,
                            .failed_steps = j->failed_steps,
                            .severity = NAN,
                            .conformance_probability = NAN};
    out->accepted = complete && decision_accepts(j->limits->rule, seen);
    /* A failure that is seen outweighs data that are missing; an acceptance does not. */
    if (complete || (j->seen && !decision_accepts(j->limits->rule, seen))) out->outcome = seen;
    if (out->outcome != OUTCOME_INCOMPLETE) {
        out->value = j->value;
        out->bound = j->bound;
        out->margin = j->margin;
        out->frequency_hz = j->frequency_hz;
        out->bias_v = j->bias_v;
        if (isfinite(j->side_margin[0])) out->lower_margin = j->side_margin[0];
        if (isfinite(j->side_margin[1])) out->upper_margin = j->side_margin[1];
        out->severity = severity_of(j);
        out->conformance_probability = probability_of(j);
    }
    return out->accepted || make_reason(j, out, e);
}

static bool judge_limit(const struct limits *limits, const struct limit *limit,
                        const struct measurement *m, const struct measurement *reference,
                        struct finding *out, struct error *e)
{
    struct judging j = {
        .limits = limits,
        .limit = limit,
        .m = m,
        .reference = reference,
        .least_margin =
            decision_least_margin(limits->rule, limits->guard_factor * limit->uncertainty),
        .side_margin = {INFINITY, INFINITY},
    };
    bool ok;

    judge_shape[limit->quantity->shape](&j);
    ok = finish_finding(&j, out, e);
    text_clear(&j.missing);
    text_clear(&j.detail);
    return ok;
}

static bool is_failed(const struct finding *finding)
{
    return !finding->accepted && finding->outcome != OUTCOME_INCOMPLETE;
}

/* Ranks what is not accepted before what is, then by severity. */
static bool is_worse(const struct finding *a, const struct finding *b)
{
    if (a->accepted != b->accepted) return !a->accepted;
    return a->severity < b->severity;
}

static bool same_reason(const struct finding *a, const struct finding *b)
{
    return a->reason && b->reason && is_failed(a) == is_failed(b) &&
           strcmp(a->reason, b->reason) == 0;
}

/* "gain-high, match: no sweep at bias high (3 V)": one entry for all limits with the same reason,
 * what failed first. */
static void add_reasons(const struct judgement *judgement, bool failed, struct text *out)
{
    const struct finding *f = judgement->findings;

    for (size_t i = 0; i < judgement->n_findings; i++) {
        bool told = false;
        struct text entry = {0};

        if (f[i].accepted || is_failed(&f[i]) != failed) continue;
        for (size_t k = 0; k < i && !told; k++)
            told = same_reason(&f[k], &f[i]);
        if (told) continue;
        text_add(&entry, f[i].limit->id);
        for (size_t k = i + 1; k < judgement->n_findings; k++)
            if (same_reason(&f[i], &f[k])) text_addf(&entry, ", %s", f[k].limit->id);
        reason_add(out, "%s: %s", text_words(&entry), f[i].reason);
        if (entry.failed) out->failed = out->no_memory = true;
        text_clear(&entry);
    }
}

/* Whether every sweep that is there can be used. */
static bool all_usable(const struct measurement *m)
{
    for (size_t i = 0; i < m->n_biases; i++)
        if (m->biases[i].missing.length > 0) return false;
    return true;
}

/* Why the unit is not PASS, in words: what failed, what is missing, what could not be used. */
static bool describe(struct judgement *out, const struct measurement *m, struct error *e)
{
    struct text reason = {0};
    bool ok;

    if (out->serial_fault) reason_add(&reason, "%s", out->serial_fault);
    add_reasons(out, true, &reason);
    add_reasons(out, false, &reason);
    for (size_t i = 0; i < m->n_biases; i++)
        if (m->biases[i].missing.length > 0) reason_add(&reason, "%s", m->biases[i].missing.data);
    if (m->remarks.length > 0) reason_add(&reason, "%s", m->remarks.data);
    ok = text_ok(&reason, "a reason", e);
    if (ok) {
        out->reason = memory_copy_text(text_words(&reason), e);
        ok = out->reason != NULL;
    }
    text_clear(&reason);
    return ok;
}

static bool conclude(struct judgement *out, const struct limits *limits,
                     const struct measurement *m, struct error *e)
{
    char why[CEILING_ERROR_TEXT / 2];
    size_t n_incomplete = 0;

    for (size_t i = 0; i < out->n_findings; i++) {
        const struct finding *finding = &out->findings[i];

        if (finding->outcome == OUTCOME_INCOMPLETE) n_incomplete++;
        if (is_failed(finding)) out->n_failed++;
        if (isnan(finding->severity)) continue;
        if (!out->worst || is_worse(finding, out->worst)) out->worst = finding;
    }
    if (!serial_rule_fits(&limits->serial, m->serial, why, sizeof why)) {
        out->serial_fault = memory_copy_text(why, e);
        if (!out->serial_fault) return false;
    }
    /* A sweep that cannot be used counts even when no limit needs it: the measurement is damaged.
     */
    if (out->n_failed > 0)
        out->verdict = VERDICT_FAIL;
    else if (n_incomplete == 0 && out->n_findings > 0 && !out->serial_fault && all_usable(m))
        out->verdict = VERDICT_PASS;
    return out->verdict == VERDICT_PASS || describe(out, m, e);
}

bool judge(const struct limits *limits, const struct measurement *m,
           const struct measurement *reference, struct judgement *out, struct error *e)
{
    struct judgement made = {0};

    made.attempt = m->attempt;
    (void)snprintf(made.serial, sizeof made.serial, "%s", m->serial);
    made.findings = memory_make(limits->n_limits, sizeof *made.findings, e);
    if (!made.findings) return false;
    for (size_t i = 0; i < limits->n_limits; i++) {
        if (!judge_limit(limits, &limits->limits[i], m, reference, &made.findings[i], e))
            goto failed;
        made.n_findings = i + 1;
    }
    if (!conclude(&made, limits, m, e)) goto failed;
    *out = made;
    return true;
failed:
    made.n_findings = limits->n_limits;
    judgement_clear(&made);
    return false;
}

void judgement_clear(struct judgement *judgement)
{
    for (size_t i = 0; i < judgement->n_findings; i++)
        memory_free(judgement->findings[i].reason);
    memory_free(judgement->findings);
    memory_free(judgement->reason);
    memory_free(judgement->serial_fault);
    *judgement = (struct judgement){0};
}

/* Placeholders are looked for before the impedance is changed: afterwards they are mixed with what
 * was measured and look like a trace. Words for `missing`, or an empty text. */
static void note_placeholders(const struct sweep *sweep, struct text *words)
{
    for (enum s_parameter p = S11; p < S_PARAMETERS; p++)
        if ((sweep->measured & S_BIT(p)) && coverage_is_placeholder(sweep, p))
            reason_add(words, "%s is a placeholder", s_parameter_name(p));
}

/* Brings one sweep to the impedance; what stands in the way goes to `missing`, and the sweep away.
 */
static bool prepare_sweep(struct bias_sweep *bias, double z0_ohm, struct error *e)
{
    const struct sweep *sweep = &bias->sweep;
    struct error inner = {0};
    struct text found = {0};
    bool there = sweep->z0_ohm[0] == z0_ohm && sweep->z0_ohm[1] == z0_ohm;
    bool ok;

    if (!there) note_placeholders(sweep, &found);
    if (found.length == 0 && network_renormalise(&bias->sweep, z0_ohm, &inner)) {
        ok = text_ok(&found, "a reason", e);
    } else if (inner.kind != ERROR_NONE && inner.kind != ERROR_INPUT) {
        ok = error_set(e, inner.kind, "%s", inner.text);
    } else {
        text_addf(&bias->missing, "%s: %s", text_words(&bias->source), inner.text);
        if (found.length > 0)
            text_addf(&bias->missing,
                      "%s, and taking the sweep from %g to %g ohm needs what was measured",
                      found.data, sweep->z0_ohm[0], z0_ohm);
        sweep_reset(&bias->sweep);
        ok = text_ok(&found, "a reason", e) && text_ok(&bias->missing, "a reason", e);
    }
    text_clear(&found);
    return ok;
}

bool measurement_prepare(struct measurement *m, double z0_ohm, struct error *e)
{
    for (size_t i = 0; i < m->n_biases; i++) {
        struct bias_sweep *bias = &m->biases[i];

        if (bias->missing.length > 0 || bias->sweep.n_points == 0) continue;
        if (!prepare_sweep(bias, z0_ohm, e)) return false;
    }
    return true;
}
