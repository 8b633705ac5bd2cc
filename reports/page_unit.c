#include "reports/page_unit.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"
#include "limits/coverage.h"
#include "reports/html.h"
#include "reports/page_parts.h"

void page_unit_name(const char *serial, char name[PAGE_UNIT_NAME], char link[PAGE_UNIT_NAME])
{
    size_t n = 0, l = 0;

    for (const char *p = serial; *p && n + 16 < PAGE_UNIT_NAME && l + 16 < PAGE_UNIT_NAME; p++) {
        bool plain = (*p >= '0' && *p <= '9') || (*p >= 'A' && *p <= 'Z') ||
                     (*p >= 'a' && *p <= 'z') || *p == '-' || *p == '_' ||
                     (*p == '.' && p > serial);

        if (plain) {
            name[n++] = link[l++] = *p;
            continue;
        }
        n += (size_t)snprintf(name + n, 4, "%%%02X", (unsigned)(unsigned char)*p);
        l += (size_t)snprintf(link + l, 6, "%%25%02X", (unsigned)(unsigned char)*p);
    }
    (void)snprintf(name + n, PAGE_UNIT_NAME - n, ".html");
    (void)snprintf(link + l, PAGE_UNIT_NAME - l, ".html");
}

static void write_head(struct html *h, const struct unit_sheet *sheet, const struct judgement *last)
{
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
    html_textf(h, "Limits %s", sheet->limits->path);
    html_close(h);
    html_close(h);
    html_open(h, "div");
    html_attributef(h, "class", "verdict %s", page_verdict_class(last->verdict));
    page_verdict(h, "span", last->verdict);
    html_close(h);
    html_close(h);
}

/* Why the unit did not pass, a block a limit, with the limits file's advice. */
static void write_reasons(struct html *h, const struct judgement *last)
{
    if (last->serial_fault) html_element(h, "p", "advice open", last->serial_fault);
    for (size_t i = 0; i < last->n_findings; i++) {
        const struct finding *finding = &last->findings[i];
        bool advised = finding->outcome != OUTCOME_INCOMPLETE && finding->limit->when_failed;

        if (finding->accepted) continue;
        html_open(h, "p");
        html_attributef(h, "class", "advice %s", page_outcome_class(finding));
        html_element(h, "strong", NULL, finding->limit->id);
        html_textf(h, ": %s.", finding->reason ? finding->reason : "");
        if (advised) html_textf(h, " %s", finding->limit->when_failed);
        html_close(h);
    }
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
    page_table_open(h, names, sizeof names / sizeof *names);
    for (size_t i = 0; i < last->n_findings; i++)
        write_finding(h, &last->findings[i]);
    page_table_close(h);
}

static void write_plots(struct html *h, const struct unit_sheet *sheet,
                        const struct judgement *last)
{
    const struct drawn_unit unit = {last, sheet->traces};

    html_open(h, "div");
    html_attribute(h, "class", "plots");
    for (size_t i = 0; i < sheet->limits->n_limits; i++)
        if (page_limit_is_drawn(&sheet->limits->limits[i]))
            page_plot_limit(h, sheet->limits, i, PAGE_ALL_STEPS, &unit, 1);
    page_plot_bias(h, sheet->limits, &unit, 1);
    html_close(h);
}

static void write_attempts(struct html *h, const struct unit_sheet *sheet)
{
    if (sheet->n_attempts < 2) return;
    html_element(h, "h2", NULL, "Attempts");
    html_open(h, "ul");
    for (size_t i = 0; i < sheet->n_attempts; i++) {
        const struct judgement *attempt = &sheet->attempts[i];

        html_open(h, "li");
        html_textf(h, "%lu: ", attempt->attempt);
        page_verdict(h, "span", attempt->verdict);
        if (attempt->reason) html_textf(h, " %s", attempt->reason);
        html_close(h);
    }
    html_close(h);
}

static void write_sources(struct html *h, const struct unit_sheet *sheet)
{
    html_element(h, "h2", NULL, "Sweeps");
    html_open(h, "ul");
    for (size_t i = 0; i < sheet->m->n_biases; i++) {
        const struct bias_sweep *bias = &sheet->m->biases[i];
        char volts[VALUE_TEXT], current[VALUE_TEXT];

        html_open(h, "li");
        html_textf(h, "%s: %s", value_rounded(bias->bias_v, UNIT_V, volts),
                   text_words(&bias->source));
        if (isfinite(bias->bias_current_ma))
            html_textf(h, ", %s", value_rounded(bias->bias_current_ma, UNIT_MA, current));
        if (bias->missing.length > 0) html_textf(h, " - %s", bias->missing.data);
        html_close(h);
    }
    if (sheet->m->n_biases == 0) html_element(h, "li", NULL, "none");
    if (sheet->m->remarks.length > 0) html_element(h, "li", NULL, sheet->m->remarks.data);
    html_close(h);
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
    h = html_start(title, e);
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
    write_plots(h, sheet, last);
    write_attempts(h, sheet);
    write_sources(h, sheet);
    write_signature(h);
    ok = html_finish(h, out, e);
    html_free(h);
    return ok;
}
