#include "reports/page_batch.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "limits/limits_words.h"
#include "reports/html.h"
#include "reports/page_parts.h"
#include "reports/page_unit.h"

static void write_count(struct html *h, enum verdict verdict, size_t n)
{
    html_open(h, "li");
    html_attribute(h, "class", page_verdict_class(verdict));
    page_verdict(h, "span", verdict);
    html_open(h, "b");
    html_textf(h, "%zu", n);
    html_close(h);
    html_close(h);
}

static void write_yield(struct html *h, const struct batch_yield *yield)
{
    char digits[3][NUMBER_FIXED_TEXT];

    (void)number_format_fixed(100 * yield->yield, 1, digits[0]);
    (void)number_format_fixed(100 * yield->yield_low, 1, digits[1]);
    (void)number_format_fixed(100 * yield->yield_high, 1, digits[2]);
    html_open(h, "li");
    html_element(h, "span", "word", "Yield");
    if (yield->n_units == 0) {
        html_element(h, "b", NULL, "no units");
        html_close(h);
        return;
    }
    html_open(h, "b");
    html_textf(h, "%s %%", digits[0]);
    html_close(h);
    html_open(h, "span");
    html_attribute(h, "class", "soft");
    html_textf(h, "95 %% interval %s to %s %%; %zu of %zu passed at the first attempt", digits[1],
               digits[2], yield->n_first_pass, yield->n_units);
    html_close(h);
    html_close(h);
}

static void write_head(struct html *h, const struct batch *batch)
{
    const struct limits *limits = batch->limits;

    html_open(h, "header");
    html_attribute(h, "class", "batch");
    html_open(h, "div");
    html_element(h, "h1", NULL, limits->product);
    html_open(h, "p");
    html_textf(h, "Limits %s%s%s, judged by %s", limits->path,
               limits->revision ? ", revision " : "", limits->revision ? limits->revision : "",
               limits->rule == SIMPLE_ACCEPTANCE ? "simple acceptance" : "guarded acceptance");
    html_close(h);
    html_open(h, "p");
    html_attribute(h, "class", "soft");
    html_textf(h, "Sweeps from %s", batch->source);
    html_close(h);
    if (limits->note) html_element(h, "p", "note", limits->note);
    html_close(h);
    html_close(h);
    html_open(h, "ul");
    html_attribute(h, "class", "counts");
    write_count(h, VERDICT_PASS, batch->yield.n_pass);
    write_count(h, VERDICT_FAIL, batch->yield.n_fail);
    write_count(h, VERDICT_INCOMPLETE, batch->yield.n_incomplete);
    write_yield(h, &batch->yield);
    html_close(h);
}

static void write_contents(struct html *h)
{
    static const char *const parts[][2] = {
        {"#pictures", "Pictures"}, {"#units", "Units"}, {"#limits", "Limits"}};

    html_open(h, "nav");
    html_attribute(h, "class", "screen");
    html_attribute(h, "aria-label", "Parts of this page");
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        html_open(h, "a");
        html_attribute(h, "href", parts[i][0]);
        html_text(h, parts[i][1]);
        html_close(h);
        html_text(h, " ");
    }
    html_close(h);
}

static bool write_limits(struct html *h, const struct batch *batch, struct error *e)
{
    static const char *const names[] = {"Limit", "Units that failed it#", "What it asks"};
    bool ok = true;

    page_section(h, "limits", "Limits");
    page_table_open(h, names, sizeof names / sizeof *names);
    for (size_t i = 0; ok && i < batch->limits->n_limits; i++) {
        struct text words = {0};

        limit_words(batch->limits, &batch->limits->limits[i], &words);
        html_open(h, "tr");
        html_element(h, "td", "name", batch->limits->limits[i].id);
        page_count_cell(h, batch->yield.failed_by_limit[i]);
        html_element(h, "td", "words", text_words(&words));
        html_close(h);
        ok = text_ok(&words, "a limit in words", e);
        text_clear(&words);
    }
    page_table_close(h);
    return ok;
}

static void write_worst(struct html *h, const struct finding *worst)
{
    html_element(h, "td", "name", worst ? worst->limit->id : "");
    page_value_cell(h, worst ? worst->margin : NAN,
                    worst ? worst->limit->quantity->unit : UNIT_ONE);
    page_value_cell(h, worst ? worst->frequency_hz : NAN, UNIT_HZ);
    page_value_cell(h, worst ? worst->bias_v : NAN, UNIT_V);
}

static void write_unit(struct html *h, const struct judgement *judgement, size_t n_attempts)
{
    char name[PAGE_UNIT_NAME], link[PAGE_UNIT_NAME];

    page_unit_name(judgement->serial, name, link);
    html_open(h, "tr");
    html_open(h, "td");
    html_attribute(h, "class", "name");
    html_open(h, "a");
    html_attributef(h, "href", "units/%s", link);
    html_text(h, judgement->serial);
    html_close(h);
    html_close(h);
    page_verdict(h, "td", judgement->verdict);
    page_count_cell(h, judgement->n_failed);
    write_worst(h, judgement->worst);
    page_count_cell(h, n_attempts);
    html_element(h, "td", "words", judgement->reason ? judgement->reason : "");
    html_close(h);
}

static void write_units(struct html *h, const struct batch *batch)
{
    static const char *const names[] = {"Serial",      "Verdict",   "Limits failed#",
                                        "Worst limit", "Margin#",   "Frequency#",
                                        "Bias#",       "Attempts#", "Reason"};
    size_t attempts = 0;

    page_section(h, "units", "Units");
    page_table_open(h, names, sizeof names / sizeof *names);
    for (size_t i = 0; i < batch->n_judgements; i++) {
        attempts++;
        if (!judgement_is_last(batch->judgements, batch->n_judgements, i)) continue;
        write_unit(h, &batch->judgements[i], attempts);
        attempts = 0;
    }
    page_table_close(h);
}

/* A picture a bias step: lines of several steps in one would cover each other. */
static void plot_limit_by_step(struct html *h, const struct limits *limits, size_t limit,
                               const struct drawn_unit *units, size_t n_units)
{
    if (!page_limit_is_drawn(&limits->limits[limit])) return;
    for (size_t step = 0; step < limits->n_biases; step++)
        if (limits->limits[limit].biases >> step & 1)
            page_plot_limit(h, limits, limit, UINT64_C(1) << step, units, n_units);
}

static bool write_plots(struct html *h, const struct batch *batch, struct error *e)
{
    struct drawn_unit *units = memory_make(batch->n_traces, sizeof *units, e);

    if (!units) return false;
    for (size_t i = 0; i < batch->n_traces; i++)
        units[i] =
            (struct drawn_unit){&batch->judgements[batch->trace_owner[i]], &batch->traces[i]};
    page_section(h, "pictures", "Pictures");
    html_open(h, "p");
    html_attribute(h, "class", "soft");
    if (batch->n_traces < batch->yield.n_units)
        html_textf(h, "The first %zu of %zu units are drawn. ", batch->n_traces,
                   batch->yield.n_units);
    html_text(
        h, "A line a unit. Dashed: the unit failed the limit, at the bias step of the picture or "
           "at another one.");
    html_close(h);
    html_open(h, "div");
    html_attribute(h, "class", "plots");
    for (size_t i = 0; i < batch->limits->n_limits; i++)
        plot_limit_by_step(h, batch->limits, i, units, batch->n_traces);
    page_plot_bias(h, batch->limits, units, batch->n_traces);
    html_close(h);
    memory_free(units);
    return true;
}

bool page_batch_write(const struct batch *batch, struct text *out, struct error *e)
{
    char title[256];
    struct html *h;
    bool ok;

    (void)snprintf(title, sizeof title, "%s: %zu PASS, %zu FAIL, %zu INCOMPLETE",
                   batch->limits->product, batch->yield.n_pass, batch->yield.n_fail,
                   batch->yield.n_incomplete);
    h = html_start(title, e);
    if (!h) return false;
    html_open(h, "main");
    write_head(h, batch);
    write_contents(h);
    ok = write_plots(h, batch, e);
    write_units(h, batch);
    ok = ok && write_limits(h, batch, e) && html_finish(h, out, e);
    html_free(h);
    return ok;
}
