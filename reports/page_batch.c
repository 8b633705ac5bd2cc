#include "reports/page_batch.h"

#include <string.h>

#include "drivers/base/number.h"
#include "reports/html.h"
#include "reports/page_limits.h"
#include "reports/page_parts.h"
#include "reports/page_pictures.h"
#include "reports/page_units.h"

/* Limits named at the head, and different names of operators and benches. */
#define MOST_COSTLY 3
#define MOST_PEOPLE 4

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

/* To one place; what would round to all or none of the units is said to be near it. */
static void write_share(struct html *h, double share)
{
    char digits[NUMBER_FIXED_TEXT];
    const char *words = digits;

    (void)number_format_fixed(100 * share, 1, digits);
    if (share < 1 && share >= 0.9995) words = "> 99.9";
    if (share > 0 && share < 0.0005) words = "< 0.1";
    html_open(h, "b");
    html_textf(h, "%s %%", words);
    html_close(h);
}

/* "79.2 %" over "57.8 to 92.9 %". */
static void write_yield(struct html *h, const char *name, size_t n_units, double share, double low,
                        double high)
{
    char digits[2][NUMBER_FIXED_TEXT];

    html_open(h, "li");
    html_element(h, "span", "word", name);
    if (n_units > 0) {
        write_share(h, share);
        (void)number_format_fixed(100 * low, 1, digits[0]);
        (void)number_format_fixed(100 * high, 1, digits[1]);
        html_open(h, "span");
        html_attribute(h, "class", "soft");
        html_textf(h, "%s to %s %%", digits[0], digits[1]);
        html_close(h);
    } else {
        html_element(h, "b", NULL, "no units");
    }
    html_close(h);
}

/* The limits that cost most units. */
static void write_costly(struct html *h, const struct batch *batch)
{
    size_t rank[CEILING_LIMITS];

    batch_yield_rank(&batch->yield, rank);
    html_open(h, "li");
    html_attribute(h, "class", "costly");
    html_element(h, "span", "word", "Cost most units");
    html_open(h, "ol");
    for (size_t i = 0; i < batch->limits->n_limits && i < MOST_COSTLY; i++) {
        const size_t failed = batch->yield.failed_by_limit[rank[i]];

        if (failed == 0) break;
        html_open(h, "li");
        html_textf(h, "%s: %zu, %zu of them alone", batch->limits->limits[rank[i]].id, failed,
                   batch->yield.failed_alone[rank[i]]);
        html_close(h);
    }
    if (batch->limits->n_limits == 0 || batch->yield.failed_by_limit[rank[0]] == 0)
        html_element(h, "li", NULL, "no unit failed a limit");
    if (batch->yield.n_incomplete > 0) {
        html_open(h, "li");
        html_textf(h, "not wholly judged: %zu", batch->yield.n_incomplete);
        html_close(h);
    }
    html_close(h);
    html_close(h);
}

static void write_counts(struct html *h, const struct batch *batch)
{
    const struct batch_yield *yield = &batch->yield;

    html_open(h, "ul");
    html_attribute(h, "class", "counts");
    write_count(h, VERDICT_PASS, yield->n_pass);
    write_count(h, VERDICT_FAIL, yield->n_fail);
    write_count(h, VERDICT_INCOMPLETE, yield->n_incomplete);
    write_yield(h, "First-pass yield", yield->n_units, yield->first, yield->first_low,
                yield->first_high);
    write_yield(h, "Final yield", yield->n_units, yield->yield, yield->yield_low,
                yield->yield_high);
    write_costly(h, batch);
    html_close(h);
    html_element(h, "p", "soft",
                 "Yields with their 95 % interval (Clopper-Pearson): the share of units that "
                 "passed at the first attempt, and at the last one.");
}

static void add_unknown(struct text *out, size_t n)
{
    if (n > 0) text_addf(out, " (not recorded of %zu unit%s)", n, n == 1 ? "" : "s");
}

/* A word of some units, such as their operators: each once, in the order of serial numbers. */
static void add_names(struct text *out, const struct batch *batch,
                      const char *(*name_of)(const struct circumstances *))
{
    const char *names[MOST_PEOPLE];
    size_t n = 0, n_unknown = 0;
    bool others = false;

    for (size_t i = 0; i < batch->n_units; i++) {
        const char *name = name_of(batch->units[i].circumstances);
        bool known = false;

        n_unknown += !name;
        for (size_t k = 0; name && !known && k < n; k++)
            known = strcmp(names[k], name) == 0;
        if (!name || known) continue;
        others = others || n == MOST_PEOPLE;
        if (n == MOST_PEOPLE) continue;
        text_addf(out, "%s%s", n ? ", " : "", name);
        names[n++] = name;
    }
    if (others) text_add(out, " and others");
    if (n == 0)
        text_add(out, "not recorded");
    else
        add_unknown(out, n_unknown);
}

static const char *operator_of(const struct circumstances *c)
{
    return c->operator_name;
}

static const char *bench_of(const struct circumstances *c)
{
    return c->bench;
}

/* "2026-11-20 to 2026-11-25", or that it is not known, wholly or of some. */
static void add_dates(struct text *out, const struct batch *batch)
{
    const char *first = NULL, *last = NULL;
    size_t n_unknown = 0;

    for (size_t i = 0; i < batch->n_units; i++) {
        const char *at = batch->units[i].circumstances->measured_at;

        if (!at) {
            n_unknown++;
            continue;
        }
        if (!first || strcmp(at, first) < 0) first = at;
        if (!last || strcmp(at, last) > 0) last = at;
    }
    if (!first) {
        text_add(out, "not recorded");
        return;
    }
    text_addf(out, "%.10s", first);
    if (strncmp(first, last, 10) != 0) text_addf(out, " to %.10s", last);
    add_unknown(out, n_unknown);
}

static void write_fact(struct html *h, const char *name, const char *words)
{
    html_open(h, "div");
    html_element(h, "dt", NULL, name);
    html_element(h, "dd", NULL, words);
    html_close(h);
}

/* A fact that was put together; empties it for the next. */
static void write_made_fact(struct html *h, const char *name, struct text *words)
{
    html_need(h, words);
    write_fact(h, name, text_words(words));
    text_reset(words);
}

static void write_facts(struct html *h, const struct batch *batch)
{
    const struct limits *limits = batch->limits;
    struct text words = {0};

    html_open(h, "dl");
    html_attribute(h, "class", "facts");
    text_addf(&words, "%s%s%s, ", limits->path, limits->revision ? ", revision " : "",
              limits->revision ? limits->revision : "");
    page_add_rule(&words, limits);
    write_made_fact(h, "Limits", &words);
    write_fact(h, "SHA-256 of the limits file", limits->sha256);
    write_fact(h, "Sweeps", batch->source);
    add_dates(&words, batch);
    write_made_fact(h, "Measured", &words);
    add_names(&words, batch, operator_of);
    write_made_fact(h, "Operator", &words);
    add_names(&words, batch, bench_of);
    write_made_fact(h, "Bench", &words);
    html_close(h);
    text_clear(&words);
}

static void write_head(struct html *h, const struct batch *batch)
{
    html_open(h, "header");
    html_attribute(h, "class", "batch");
    html_element(h, "h1", NULL, batch->limits->product);
    page_units_write_find(h);
    html_close(h);
    write_counts(h, batch);
    write_facts(h, batch);
    if (*batch->notes) html_element(h, "p", "advice open", batch->notes);
    if (batch->limits->note) html_element(h, "p", "note", batch->limits->note);
}

static void write_link(struct html *h, const char *href, const char *words)
{
    html_open(h, "a");
    html_attribute(h, "href", href);
    html_text(h, words);
    html_close(h);
    html_text(h, " ");
}

static void write_contents(struct html *h, const struct batch *batch)
{
    html_open(h, "nav");
    html_attribute(h, "class", "screen");
    html_attribute(h, "aria-label", "Parts of this page");
    write_link(h, "#units", "Units");
    if (page_has_pictures(batch)) write_link(h, "#pictures", "Pictures");
    write_link(h, "#limits", "Limits");
    html_close(h);
}

/* The page with its title, which a product's name of any length may not push the counts out of. */
static struct html *start_page(const struct batch *batch, struct error *e)
{
    struct text title = {0};
    struct html *h = NULL;

    text_addf(&title, "%s: %zu PASS, %zu FAIL, %zu INCOMPLETE", batch->limits->product,
              batch->yield.n_pass, batch->yield.n_fail, batch->yield.n_incomplete);
    if (text_ok(&title, "a page's title", e)) h = html_start(title.data, true, e);
    text_clear(&title);
    return h;
}

bool page_batch_write(const struct batch *batch, struct text *out, struct error *e)
{
    struct html *h = start_page(batch, e);
    bool ok;

    if (!h) return false;
    html_open(h, "main");
    write_contents(h, batch);
    write_head(h, batch);
    page_units_write(h, batch);
    ok = page_pictures_write(h, batch, e) && page_limits_write(h, batch, e) &&
         html_finish(h, out, e);
    html_free(h);
    return ok;
}
