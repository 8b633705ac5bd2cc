#include "reports/page_unit.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"
#include "reports/html.h"
#include "reports/page_foot.h"
#include "reports/page_parts.h"
#include "reports/unit_pictures.h"

static void write_head(struct html *h, const struct unit_sheet *sheet, const struct judgement *last)
{
    struct text rule = {0};

    html_open(h, "header");
    html_open(h, "div");
    html_element(h, "h1", "serial", last->serial);
    html_open(h, "p");
    html_textf(h, "%s%s%s, attempt %lu", sheet->limits->product,
               sheet->limits->revision ? ", revision " : "",
               sheet->limits->revision ? sheet->limits->revision : "", last->attempt);
    html_close(h);
    html_open(h, "p");
    html_attribute(h, "class", "soft");
    page_add_rule(&rule, sheet->limits);
    html_need(h, &rule);
    html_textf(h, "%s. Limits %s, SHA-256 ", text_words(&rule), sheet->limits->path);
    text_clear(&rule);
    html_element(h, "code", NULL, sheet->limits->sha256);
    html_close(h);
    html_close(h);
    html_open(h, "div");
    html_attributef(h, "class", "verdict %s", page_verdict_class(last->verdict));
    page_verdict(h, "span", last->verdict);
    html_close(h);
    html_close(h);
}

/* What could not be judged for the same reason is one block: nobody looks for six faults where one
 * file is broken. */
static bool is_same_gap(const struct finding *a, const struct finding *b)
{
    return a->outcome == OUTCOME_INCOMPLETE && b->outcome == OUTCOME_INCOMPLETE && !a->accepted &&
           !b->accepted && a->reason && b->reason && strcmp(a->reason, b->reason) == 0;
}

static bool was_told(const struct judgement *last, size_t i)
{
    for (size_t k = 0; k < i; k++)
        if (is_same_gap(&last->findings[k], &last->findings[i])) return true;
    return false;
}

/* The limit's name, and those of the limits behind it that lack the same. */
static void write_limit_names(struct html *h, const struct judgement *last, size_t i)
{
    html_open(h, "strong");
    html_text(h, last->findings[i].limit->id);
    for (size_t k = i + 1; k < last->n_findings; k++)
        if (is_same_gap(&last->findings[i], &last->findings[k]))
            html_textf(h, ", %s", last->findings[k].limit->id);
    html_close(h);
}

/* Why the unit did not pass, a block a limit, with the limits file's advice; where it is no limit
 * (a sweep that none of them needs cannot be used), the judgement's own words. */
static void write_reasons(struct html *h, const struct judgement *last)
{
    bool is_told = last->serial_fault != NULL;

    if (last->serial_fault) html_element(h, "p", "advice open", last->serial_fault);
    for (size_t i = 0; i < last->n_findings; i++) {
        const struct finding *finding = &last->findings[i];
        bool advised = finding->outcome != OUTCOME_INCOMPLETE && finding->limit->when_failed;

        if (finding->accepted || was_told(last, i)) continue;
        html_open(h, "p");
        html_attributef(h, "class", "advice %s", page_outcome_class(finding));
        write_limit_names(h, last, i);
        html_textf(h, ": %s.", finding->reason ? finding->reason : "");
        if (advised) html_textf(h, " %s", finding->limit->when_failed);
        html_close(h);
        is_told = true;
    }
    if (!is_told && last->reason && *last->reason)
        html_element(h, "p", "advice open", last->reason);
}

/* "0.15 dB", or for a linear one of a reflection what it means in dB on both sides of the value. */
static void write_uncertainty(struct html *h, const struct finding *finding)
{
    const struct limit *limit = finding->limit;
    char words[VALUE_TEXT], up[NUMBER_FIXED_TEXT], down[NUMBER_FIXED_TEXT];
    double magnitude;

    if (!limit->linear_uncertainty || isnan(finding->value)) {
        html_element(h, "td", "number",
                     !limit->has_uncertainty
                         ? ""
                         : value_words(limit->uncertainty,
                                       limit->linear_uncertainty ? UNIT_ONE : limit->quantity->unit,
                                       words));
        return;
    }
    magnitude = pow(10, finding->value / 20);
    (void)number_format_fixed(20 * log10((magnitude + limit->uncertainty) / magnitude), 2, up);
    (void)number_format_fixed(-20 * log10((magnitude - limit->uncertainty) / magnitude), 2, down);
    html_open(h, "td");
    html_attribute(h, "class", "number wraps");
    if (magnitude > limit->uncertainty)
        html_textf(h, "%s linear: +%s, -%s dB", value_words(limit->uncertainty, UNIT_ONE, words),
                   up, down);
    else
        html_textf(h, "%s linear: +%s dB", value_words(limit->uncertainty, UNIT_ONE, words), up);
    html_close(h);
}

/* To four places; what would round to certainty is said to be near it. */
static void write_probability(struct html *h, double probability)
{
    char digits[NUMBER_FIXED_TEXT] = "";

    if (isfinite(probability)) (void)number_format_fixed(probability, 4, digits);
    if (probability > 0.99995)
        (void)snprintf(digits, sizeof digits, "> 0.9999");
    else if (probability < 0.00005)
        (void)snprintf(digits, sizeof digits, "< 0.0001");
    html_element(h, "td", "number", digits);
}

static void write_finding(struct html *h, const struct finding *finding)
{
    enum unit unit = finding->limit->quantity->unit;

    html_open(h, "tr");
    html_element(h, "td", "name", finding->limit->id);
    html_element(h, "td", NULL, finding->limit->quantity->words);
    page_outcome(h, "td", finding);
    page_value_cell(h, finding->value, unit);
    page_value_cell(h, finding->bound, unit);
    page_value_cell(h, finding->margin, unit);
    page_value_cell(h, finding->frequency_hz, UNIT_HZ);
    page_value_cell(h, finding->bias_v, UNIT_V);
    write_uncertainty(h, finding);
    write_probability(h, finding->conformance_probability);
    html_close(h);
}

static void write_findings(struct html *h, const struct judgement *last)
{
    static const char *const names[] = {"Limit",
                                        "Quantity",
                                        "Outcome",
                                        "Value#",
                                        "Bound#",
                                        "Margin#",
                                        "Frequency#",
                                        "Bias#",
                                        "Uncertainty (k = 2)#",
                                        "Conformance probability#"};

    html_element(h, "h2", NULL, "Limits");
    page_table_open(h, "limits-table", names, sizeof names / sizeof *names);
    for (size_t i = 0; i < last->n_findings; i++)
        write_finding(h, &last->findings[i]);
    page_table_close(h);
}

static void write_word(struct html *h, const char *words)
{
    html_open(h, "td");
    html_attribute(h, "class", "words");
    page_cut(h, words ? words : "");
    html_close(h);
}

/* `reason` is why the attempt is not PASS. */
static void write_attempt(struct html *h, const struct judgement *attempt, const char *reason,
                          const struct circumstances *c)
{
    html_open(h, "tr");
    html_open(h, "td");
    html_attribute(h, "class", "number");
    html_textf(h, "%lu", attempt->attempt);
    html_close(h);
    page_verdict(h, "td", attempt->verdict);
    html_element(h, "td", "words", reason ? reason : "");
    html_element(h, "td", "name", c && c->measured_at ? c->measured_at : "");
    write_word(h, c ? c->operator_name : NULL);
    write_word(h, c ? c->bench : NULL);
    html_close(h);
}

static void write_attempts(struct html *h, const struct unit_sheet *sheet)
{
    static const char *const names[] = {"Attempt#", "Verdict",  "Why not PASS",
                                        "Measured", "Operator", "Bench"};

    if (sheet->n_attempts < 2) return;
    html_element(h, "h2", NULL, "Attempts");
    page_table_open(h, "attempts-table", names, sizeof names / sizeof *names);
    for (size_t i = 0; i < sheet->n_attempts; i++) {
        const struct judgement *attempt = &sheet->attempts[i];
        const bool is_told = i + 1 == sheet->n_attempts && attempt->reason; /* at the head */

        write_attempt(h, attempt, is_told ? "as told above" : attempt->reason,
                      sheet->circumstances ? &sheet->circumstances[i] : NULL);
    }
    page_table_close(h);
}

/* What is known of the last attempt's measurement, in a line. */
static void write_circumstances(struct html *h, const struct circumstances *c)
{
    html_open(h, "p");
    html_textf(h, "Measured: %s. Operator: %s. Bench: %s.",
               c->measured_at ? c->measured_at : "time not recorded",
               c->operator_name ? c->operator_name : "not recorded",
               c->bench ? c->bench : "not recorded");
    html_close(h);
}

/* The file, its digest, and below them what it says of itself. */
static void write_file(struct html *h, const struct bias_sweep *bias)
{
    html_open(h, "td");
    html_attribute(h, "class", "words");
    html_text(h, text_words(&bias->source));
    if (bias->missing.length > 0) {
        html_text(h, " - ");
        html_text(h, bias->missing.data);
    }
    html_text(h, " ");
    if (bias->comments.length > 0) html_element(h, "div", "says", bias->comments.data);
    html_close(h);
    html_open(h, "td");
    html_element(h, "code", NULL, bias->sha256);
    html_close(h);
}

static void write_sources(struct html *h, const struct unit_sheet *sheet)
{
    static const char *const names[] = {"Bias#", "Supply#",
                                        "Sweep, and what the file says of itself", "SHA-256"};

    html_element(h, "h2", NULL, "Sweeps");
    write_circumstances(h, &sheet->m->circumstances);
    page_table_open(h, "sweeps-table", names, sizeof names / sizeof *names);
    for (size_t i = 0; i < sheet->m->n_biases; i++) {
        html_open(h, "tr");
        page_value_cell(h, sheet->m->biases[i].bias_v, UNIT_V);
        page_value_cell(h, sheet->m->biases[i].bias_current_ma, UNIT_MA);
        write_file(h, &sheet->m->biases[i]);
        html_close(h);
    }
    page_table_close(h);
    if (sheet->m->n_biases == 0) html_element(h, "p", NULL, "No sweep.");
    if (sheet->m->remarks.length > 0) html_element(h, "p", NULL, sheet->m->remarks.data);
}

static void write_signature(struct html *h)
{
    html_open(h, "p");
    html_attribute(h, "class", "sign");
    html_element(h, "span", NULL, "Date");
    html_element(h, "span", NULL, "Name");
    html_element(h, "span", NULL, "Signature");
    html_close(h);
}

bool page_unit_write(const struct unit_sheet *sheet, struct text *out, struct error *e)
{
    const struct judgement *last = &sheet->attempts[sheet->n_attempts - 1];
    char title[256];
    struct html *h;
    bool ok;

    (void)snprintf(title, sizeof title, "%s %s", last->serial, verdict_name(last->verdict));
    h = html_start(title, false, e);
    if (!h) return false;
    html_open(h, "main");
    html_attribute(h, "class", "sheet");
    html_open(h, "p");
    html_attribute(h, "class", "screen");
    html_open(h, "a");
    html_attribute(h, "href", "../report.html");
    html_text(h, "The whole batch");
    html_close(h);
    html_close(h);
    write_head(h, sheet, last);
    write_reasons(h, last);
    write_findings(h, last);
    unit_pictures_write(h, sheet);
    write_attempts(h, sheet);
    write_sources(h, sheet);
    write_signature(h);
    html_close(h);
    page_foot_write(h, sheet->reference);
    ok = html_finish(h, out, e);
    html_free(h);
    return ok;
}
