#include "reports/page_limits.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "limits/limits_words.h"
#include "reports/limit_charts.h"
#include "reports/page_parts.h"

/* Limits in the table of what fails together. */
#define MOST_TOGETHER 12

/* The units in the order of the charts, and the limits in the order of their cost. */
struct review {
    struct html *html;
    const struct batch *batch;
    size_t rank[CEILING_LIMITS];
    const struct judgement **judgements;
    const char *order; /* of the units, in words */
};

static int by_time(const void *a, const void *b)
{
    const struct batch_unit *const *left = a, *const *right = b;
    int order = strcmp((*left)->circumstances->measured_at, (*right)->circumstances->measured_at);

    if (order == 0) order = strcmp((*left)->judgement->serial, (*right)->judgement->serial);
    return order;
}

/* In order of time when every unit has one, else by serial number. */
static bool put_in_order(struct review *r, struct error *e)
{
    const size_t n = r->batch->n_units;
    const struct batch_unit **units = memory_make(n, sizeof *units, e);
    bool timed = n > 0;

    if (!units) return false;
    r->judgements = memory_make(n, sizeof *r->judgements, e);
    for (size_t i = 0; i < n; i++) {
        units[i] = &r->batch->units[i];
        timed = timed && units[i]->circumstances->measured_at;
    }
    if (timed) qsort(units, n, sizeof *units, by_time);
    r->order = timed ? "units by time" : "units by serial number";
    for (size_t i = 0; r->judgements && i < n; i++)
        r->judgements[i] = units[i]->judgement;
    memory_free(units);
    return r->judgements != NULL;
}

/* Units that failed one of the first `n_ranked` limits. */
static size_t count_reached(const struct review *r, size_t n_ranked)
{
    size_t reached = 0;

    for (size_t i = 0; i < r->batch->n_units; i++) {
        const struct judgement *judgement = r->judgements[i];
        bool failed = false;

        for (size_t k = 0; judgement->n_failed > 0 && k < n_ranked && !failed; k++)
            failed = finding_has_failed(&judgement->findings[r->rank[k]]);
        reached += failed;
    }
    return reached;
}

/* Units of which nothing was seen outside the limit, but not everything that it asks for was there.
 */
static size_t count_not_judged(const struct review *r, size_t limit)
{
    size_t n = 0;

    for (size_t i = 0; i < r->batch->n_units; i++)
        n += r->judgements[i]->findings[limit].outcome == OUTCOME_INCOMPLETE;
    return n;
}

/* A bar of the units that failed the limit, its full part those that failed no other. */
static void write_cost(struct html *h, size_t failed, size_t alone, size_t most)
{
    const double scale = most ? 100.0 / (double)most : 0;

    html_open(h, "td");
    html_attribute(h, "class", "cost");
    html_open(h, "svg");
    html_attribute(h, "class", "cost-bar");
    html_attribute(h, "viewBox", "0 0 100 10");
    html_attribute(h, "preserveAspectRatio", "none");
    html_attribute(h, "aria-hidden", "true");
    html_open(h, "path");
    html_attribute(h, "class", "shared");
    html_attributef(h, "d", "M0 1h%ldv8H0z", lround(scale * (double)failed));
    html_close(h);
    html_open(h, "path");
    html_attribute(h, "class", "alone");
    html_attributef(h, "d", "M0 1h%ldv8H0z", lround(scale * (double)alone));
    html_close(h);
    html_close(h);
    html_close(h);
    page_count_cell(h, failed);
    page_count_cell(h, alone);
}

/* "1.42" with its interval "1.10 to 1.74", or nothing. */
static void write_index(struct html *h, double index, double low, double high)
{
    char digits[3][NUMBER_FIXED_TEXT];

    html_open(h, "td");
    html_attribute(h, "class", "number");
    if (isfinite(index)) {
        (void)number_format_fixed(index, 2, digits[0]);
        (void)number_format_fixed(low, 2, digits[1]);
        (void)number_format_fixed(high, 2, digits[2]);
        html_textf(h, "%s (%s to %s)", digits[0], digits[1], digits[2]);
    }
    html_close(h);
}

/* What must be minded about the indices. */
static void write_note(struct html *h, const struct capability *c, bool lacks_width)
{
    html_open(h, "td");
    html_attribute(h, "class", "words");
    if (isnan(c->cpk)) {
        html_text(h, "no index: fewer than two values, or all the same");
    } else {
        const char *between = "";

        if (c->is_small) html_textf(h, "few units (%zu)", c->n);
        if (c->is_small) between = ", ";
        if (c->is_not_normal) html_textf(h, "%snot a normal distribution", between);
        if (c->is_not_normal) between = ", ";
        if (lacks_width) html_textf(h, "%sno Cp: a bound is not one value", between);
    }
    html_close(h);
}

static bool write_capability(const struct review *r, size_t limit, struct error *e)
{
    struct limit_series series = {0};
    struct capability c;
    bool ok =
        limit_series_make(&series, r->batch->limits, limit, r->judgements, r->batch->n_units, e) &&
        capability_of(&c, series.lower.is_bounded ? series.lower.margin : NULL,
                      series.upper.is_bounded ? series.upper.margin : NULL, series.n, e);

    if (ok) {
        /* Bounds that are not one value each have no distance that a spread could be held against.
         */
        const bool lacks_width =
            series.is_margin && series.lower.is_bounded && series.upper.is_bounded;

        page_count_cell(r->html, c.n);
        write_index(r->html, lacks_width ? NAN : c.cp, c.cp_low, c.cp_high);
        write_index(r->html, c.cpk, c.cpk_low, c.cpk_high);
        write_note(r->html, &c, lacks_width);
    }
    limit_series_clear(&series);
    return ok;
}

static bool write_limit(const struct review *r, size_t place, struct error *e)
{
    const struct batch_yield *yield = &r->batch->yield;
    const size_t limit = r->rank[place];
    struct text words = {0};
    bool ok;

    limit_words(r->batch->limits, &r->batch->limits->limits[limit], &words);
    ok = text_ok(&words, "a limit in words", e);
    html_open(r->html, "tr");
    html_open(r->html, "th");
    html_attribute(r->html, "scope", "row");
    html_text(r->html, r->batch->limits->limits[limit].id);
    html_element(r->html, "div", "asks", text_words(&words));
    html_close(r->html);
    write_cost(r->html, yield->failed_by_limit[limit], yield->failed_alone[limit],
               yield->failed_by_limit[r->rank[0]]);
    page_count_cell(r->html, count_reached(r, place + 1));
    page_count_cell(r->html, count_not_judged(r, limit));
    ok = ok && write_capability(r, limit, e);
    html_close(r->html);
    text_clear(&words);
    return ok;
}

static bool write_table(const struct review *r, struct error *e)
{
    static const char *const names[] = {"Limit, and what it asks",
                                        "Cost",
                                        "Failed it#",
                                        "Only it#",
                                        "Added up#",
                                        "Not judged#",
                                        "n#",
                                        "Cp (95 %)#",
                                        "Cpk (95 %)#",
                                        "Note"};
    bool ok = true;

    html_open(r->html, "p");
    html_attribute(r->html, "class", "soft");
    html_text(r->html,
              "Limits that cost most units come first. The full part of a bar are units that "
              "failed only this limit; added up are the units that failed it or one above it. Not "
              "judged are the units of which something that the limit asks for is missing and "
              "nothing failed it. Cp and Cpk are those of the smallest margin of each unit, failed "
              "units included; n are the units that have one. They mean little where few units or "
              "a distribution that is not normal is noted.");
    html_close(r->html);
    page_table_open(r->html, "limits-table", names, sizeof names / sizeof *names);
    for (size_t place = 0; ok && place < r->batch->limits->n_limits; place++)
        ok = write_limit(r, place, e);
    page_table_close(r->html);
    return ok;
}

/* How many limits failed any unit at all, at most MOST_TOGETHER. */
static size_t count_costly(const struct review *r)
{
    size_t n = 0;

    while (n < r->batch->limits->n_limits && n < MOST_TOGETHER &&
           r->batch->yield.failed_by_limit[r->rank[n]] > 0)
        n++;
    return n;
}

static void write_together(const struct review *r)
{
    const struct batch_yield *yield = &r->batch->yield;
    const size_t n = count_costly(r);
    const char *names[MOST_TOGETHER + 1] = {"Limit"};

    if (n < 2) return;
    html_element(r->html, "h3", NULL, "Which limits fail together");
    html_element(r->html, "p", "soft",
                 "Units that failed both; on the diagonal all that failed it.");
    for (size_t i = 0; i < n; i++)
        names[i + 1] = r->batch->limits->limits[r->rank[i]].id;
    page_table_open(r->html, "together-table", names, n + 1);
    for (size_t i = 0; i < n; i++) {
        html_open(r->html, "tr");
        html_open(r->html, "th");
        html_attribute(r->html, "scope", "row");
        html_text(r->html, names[i + 1]);
        html_close(r->html);
        for (size_t k = 0; k < n; k++) {
            html_open(r->html, "td");
            if (i == k) html_attribute(r->html, "class", "diagonal");
            html_textf(r->html, "%zu",
                       yield->failed_together[r->rank[i] * yield->n_limits + r->rank[k]]);
            html_close(r->html);
        }
        html_close(r->html);
    }
    page_table_close(r->html);
}

static bool write_charts(const struct review *r, struct error *e)
{
    bool ok = true;

    html_element(r->html, "h3", NULL, "Values of each limit");
    html_open(r->html, "div");
    html_attribute(r->html, "class", "plots");
    for (size_t place = 0; ok && place < r->batch->limits->n_limits; place++) {
        struct limit_series series = {0};

        ok = limit_series_make(&series, r->batch->limits, r->rank[place], r->judgements,
                               r->batch->n_units, e) &&
             chart_distribution(r->html, &series, e) &&
             chart_individuals(r->html, &series, r->order, e);
        limit_series_clear(&series);
    }
    html_close(r->html);
    return ok;
}

bool page_limits_write(struct html *h, const struct batch *batch, struct error *e)
{
    struct review review = {.html = h, .batch = batch};
    bool ok;

    if (!put_in_order(&review, e)) return false;
    batch_yield_rank(&batch->yield, review.rank);
    page_section(h, "limits", "Limits");
    ok = write_table(&review, e);
    write_together(&review);
    ok = ok && write_charts(&review, e);
    memory_free(review.judgements);
    return ok;
}
