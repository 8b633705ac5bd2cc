#include "reports/page_units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"
#include "reports/page_parts.h"

/* Rows that a page with scripting shows at first; without it all are shown. */
#define FIRST_ROWS 200
/* Half the width of a margin bar, and the part of it that stands for one guard band. */
#define BAR_HALF 40
#define BAR_GUARD 10
/* A reason longer than this is told on the unit's page. */
#define LONGEST_REASON 200

void page_units_write_find(struct html *h)
{
    html_open(h, "div");
    html_attribute(h, "class", "find scripted-only");
    html_open(h, "label");
    html_attribute(h, "for", "find");
    html_text(h, "Find a serial number");
    html_close(h);
    html_open(h, "input");
    html_attribute(h, "id", "find");
    html_attribute(h, "type", "search");
    html_attribute(h, "autocomplete", "off");
    html_attribute(h, "spellcheck", "false");
    html_close(h);
    html_open(h, "output");
    html_attribute(h, "id", "found");
    html_attribute(h, "for", "find");
    html_close(h);
    html_close(h);
}

static void open_select(struct html *h, const char *id, const char *label)
{
    html_open(h, "label");
    html_attribute(h, "for", id);
    html_text(h, label);
    html_close(h);
    html_open(h, "select");
    html_attribute(h, "id", id);
}

static void write_option(struct html *h, const char *value, const char *words)
{
    html_open(h, "option");
    html_attribute(h, "value", value);
    html_text(h, words);
    html_close(h);
}

static void write_tools(struct html *h, const struct batch *batch)
{
    html_open(h, "div");
    html_attribute(h, "class", "tools scripted-only");
    open_select(h, "by-verdict", "Verdict");
    write_option(h, "", "all");
    for (int v = VERDICT_PASS; v >= VERDICT_INCOMPLETE; v--)
        write_option(h, page_verdict_class((enum verdict)v), verdict_name((enum verdict)v));
    html_close(h);
    open_select(h, "by-limit", "Failed or unjudged limit");
    write_option(h, "", "any or none");
    for (size_t i = 0; i < batch->limits->n_limits; i++) {
        char number[24];

        (void)snprintf(number, sizeof number, "%zu", i);
        write_option(h, number, batch->limits->limits[i].id);
    }
    html_close(h);
    html_open(h, "output");
    html_attribute(h, "id", "shown");
    html_close(h);
    html_open(h, "button");
    html_attribute(h, "id", "more");
    html_attribute(h, "type", "button");
    html_text(h, "Show all");
    html_close(h);
    html_close(h);
}

/* The margin against its guard band: a bar from zero, a band of BAR_GUARD beside it in the style
 * sheet. Without an uncertainty the bar is relative to the span of the bound. */
static void write_bar(struct html *h, const struct finding *worst, double guard_factor)
{
    const bool has_guard = guard_factor > 0 && worst->limit->uncertainty > 0;
    const double length = worst->severity * (has_guard ? BAR_GUARD : BAR_HALF);
    const double end = fmin(fmax(length, -BAR_HALF), BAR_HALF);

    html_open(h, "svg");
    html_attribute(h, "class", has_guard ? "bar guarded" : "bar");
    html_attribute(h, "viewBox", "-40 0 80 10");
    html_attribute(h, "aria-hidden", "true");
    html_open(h, "path");
    html_attributef(h, "d", "M0 0v10M0 5h%ld", lround(end));
    html_close(h);
    html_close(h);
}

/* An INCOMPLETE unit has none: what was judged of it is inside, and a bar to the right would make
 * it look good. */
static void write_margin(struct html *h, const struct judgement *judgement, double guard_factor)
{
    const struct finding *worst =
        judgement->verdict == VERDICT_INCOMPLETE ? NULL : judgement->worst;
    char words[VALUE_TEXT];

    html_open(h, "td");
    html_attribute(h, "class", "number");
    if (worst) {
        html_textf(h, "%s ", value_rounded(worst->margin, worst->limit->quantity->unit, words));
        write_bar(h, worst, guard_factor);
    }
    html_close(h);
}

/* The text up to a character's beginning, with dots behind when it was cut. */
static void write_cut(struct html *h, const char *words)
{
    size_t length = strlen(words);

    if (length <= LONGEST_REASON) {
        html_text(h, words);
        return;
    }
    length = LONGEST_REASON;
    while (length > 0 && ((unsigned char)words[length] & 0xc0) == 0x80)
        length--;
    html_textf(h, "%.*s...", (int)length, words);
}

/* "gain-high: gain 21.32 dB at 160 MHz, bias 3 V: below 22 dB by 0.68 dB". */
static void write_worst(struct html *h, const struct judgement *judgement)
{
    const struct finding *worst = judgement->worst;
    char value[VALUE_TEXT], at[VALUE_TEXT];

    html_open(h, "td");
    html_attribute(h, "class", "words");
    if (judgement->verdict == VERDICT_INCOMPLETE && judgement->reason) {
        write_cut(h, judgement->reason);
    } else if (worst && worst->reason) {
        html_textf(h, "%s: ", worst->limit->id);
        write_cut(h, worst->reason);
    } else if (worst) {
        html_textf(h, "%s: %s %s", worst->limit->id, worst->limit->quantity->words,
                   value_rounded(worst->value, worst->limit->quantity->unit, value));
        if (isfinite(worst->frequency_hz))
            html_textf(h, " at %s", value_rounded(worst->frequency_hz, UNIT_HZ, at));
        html_textf(h, ", bias %s", value_rounded(worst->bias_v, UNIT_V, at));
    }
    html_close(h);
}

/* What the columns of the worst limit and of the margin sort by: the limit's number in the file,
 * and the severity. An INCOMPLETE unit shows neither and stands behind. */
static void write_sort_keys(struct html *h, const struct judgement *judgement)
{
    char digits[NUMBER_FIXED_TEXT];

    if (!judgement->worst || judgement->verdict == VERDICT_INCOMPLETE) return;
    html_attributef(h, "data-w", "%td", judgement->worst - judgement->findings);
    (void)number_format_fixed(judgement->worst->severity, 3, digits);
    html_attribute(h, "data-m", digits);
}

/* The limits that are not accepted, by their numbers, for the filter. */
static void write_failed_list(struct html *h, const struct judgement *judgement)
{
    struct text list = {0};

    for (size_t i = 0; i < judgement->n_findings; i++)
        if (!judgement->findings[i].accepted) text_addf(&list, "%s%zu", list.length ? " " : "", i);
    html_need(h, &list);
    if (list.length > 0) html_attribute(h, "data-l", list.data);
    text_clear(&list);
}

static void write_serial(struct html *h, const struct batch *batch,
                         const struct judgement *judgement)
{
    html_open(h, "th");
    html_attribute(h, "scope", "row");
    if (batch_has_page(batch->unit_pages, judgement)) {
        html_open(h, "a");
        page_unit_href(h, "units/", judgement->serial);
        html_text(h, judgement->serial);
        html_close(h);
    } else {
        html_text(h, judgement->serial);
    }
    html_close(h);
}

static void write_unit(struct html *h, const struct batch *batch, const struct batch_unit *unit,
                       bool is_later)
{
    const struct judgement *judgement = unit->judgement;

    html_open(h, "tr");
    if (is_later) html_attribute(h, "class", "later");
    write_failed_list(h, judgement);
    write_sort_keys(h, judgement);
    write_serial(h, batch, judgement);
    page_verdict(h, "td", judgement->verdict);
    write_worst(h, judgement);
    write_margin(h, judgement, batch->limits->guard_factor);
    page_count_cell(h, unit->n_attempts);
    html_close(h);
}

/* What needs somebody's hands comes first, on paper and without scripts too. */
static void write_rows(struct html *h, const struct batch *batch)
{
    static const enum verdict order[] = {VERDICT_FAIL, VERDICT_INCOMPLETE, VERDICT_PASS};
    size_t n_written = 0;

    for (size_t i = 0; i < sizeof order / sizeof *order; i++)
        for (size_t k = 0; k < batch->n_units; k++)
            if (batch->units[k].judgement->verdict == order[i])
                write_unit(h, batch, &batch->units[k], n_written++ >= FIRST_ROWS);
}

void page_units_write(struct html *h, const struct batch *batch)
{
    static const char *const names[] = {"Serial", "Verdict", "Worst limit", "Margin#", "Attempts#"};

    page_section(h, "units", "Units");
    write_tools(h, batch);
    html_element(h, "p", "soft",
                 "Units that FAIL come first, then those INCOMPLETE, then those that PASS, each by "
                 "serial number. The bar begins at the bound: to the right inside, to the left "
                 "outside. The shaded part is the guard band; where no uncertainty is stated there "
                 "is none, and the bar is relative to the span of the bound.");
    html_element(h, "p", "soft scripted-only",
                 "Sorting by margin goes by the bar, that is by how many guard bands the unit is "
                 "away from the bound, not by the number beside it: numbers in different units "
                 "cannot be compared. Worst limits sort in the order of the limits file.");
    page_table_open(h, "units-table", names, sizeof names / sizeof *names);
    write_rows(h, batch);
    page_table_close(h);
}
