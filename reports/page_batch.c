#include "reports/page_batch.h"

#include <string.h>

#include "drivers/base/number.h"
#include "reports/html.h"
#include "reports/page_foot.h"
#include "reports/page_limits.h"
#include "reports/page_parts.h"
#include "reports/page_pictures.h"
#include "reports/page_units.h"

/* Limits named at the head, and different names of operators and benches. */
#define MOST_COSTLY 3
#define MOST_PEOPLE 4
/* Bytes and lines of a note that the head shows unfolded. */
#define LONGEST_NOTE 300
#define LONGEST_NOTE_LINES 4

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

static void open_fact(struct html *h, const char *name)
{
    html_open(h, "div");
    html_element(h, "dt", NULL, name);
    html_open(h, "dd");
}

static void close_fact(struct html *h)
{
    html_close(h);
    html_close(h);
}

static void write_fact(struct html *h, const char *name, const char *words)
{
    open_fact(h, name);
    html_text(h, words);
    close_fact(h);
}

/* The circumstances of an attempt of the unit, oldest first; NULL when nothing is known of it. */
static const struct circumstances *circumstances_of(const struct batch_unit *unit, size_t attempt)
{
    if (attempt + 1 == unit->n_attempts) return unit->circumstances;
    return unit->earlier ? &unit->earlier[attempt] : NULL;
}

/* A word of some attempts, such as their operators. */
typedef const char *word_function(const struct circumstances *);

static const char *operator_of(const struct circumstances *c)
{
    return c->operator_name;
}

static const char *bench_of(const struct circumstances *c)
{
    return c->bench;
}

static const char *time_of(const struct circumstances *c)
{
    return c->measured_at;
}

/* "; not recorded for 2 of 8 units", or of so many attempts where a unit has several. */
static void write_unknown(struct html *h, const struct batch *batch, word_function *word_of)
{
    size_t n = 0, n_unknown = 0;

    for (size_t i = 0; i < batch->n_units; i++)
        for (size_t k = 0; k < batch->units[i].n_attempts; k++) {
            const struct circumstances *c = circumstances_of(&batch->units[i], k);

            n++;
            n_unknown += !c || !word_of(c);
        }
    if (n_unknown == n)
        html_text(h, "not recorded");
    else if (n_unknown > 0)
        html_textf(h, "; not recorded for %zu of %zu %s", n_unknown, n,
                   n == batch->n_units ? "units" : "attempts");
}

/* The different words of all attempts. */
struct words {
    const char *first[MOST_PEOPLE];
    size_t n;
    bool has_more;
};

static void take_word(struct words *words, const char *word)
{
    for (size_t k = 0; k < words->n; k++)
        if (strcmp(words->first[k], word) == 0) return;
    if (words->n < MOST_PEOPLE)
        words->first[words->n++] = word;
    else
        words->has_more = true;
}

/* Each word once, in the order of serial numbers and attempts. */
static void write_words(struct html *h, const char *name, const struct batch *batch,
                        word_function *word_of)
{
    struct words words = {{NULL}, 0, false};

    for (size_t i = 0; i < batch->n_units; i++)
        for (size_t k = 0; k < batch->units[i].n_attempts; k++) {
            const struct circumstances *c = circumstances_of(&batch->units[i], k);

            if (c && word_of(c)) take_word(&words, word_of(c));
        }
    open_fact(h, name);
    for (size_t k = 0; k < words.n; k++) {
        if (k > 0) html_text(h, ", ");
        page_cut(h, words.first[k]);
    }
    if (words.has_more) html_text(h, " and others");
    write_unknown(h, batch, word_of);
    close_fact(h);
}

/* "2026-11-20 to 2026-11-25", or that it is not known, wholly or of some. */
static void write_dates(struct html *h, const struct batch *batch)
{
    const char *first = NULL, *last = NULL;

    for (size_t i = 0; i < batch->n_units; i++)
        for (size_t k = 0; k < batch->units[i].n_attempts; k++) {
            const struct circumstances *c = circumstances_of(&batch->units[i], k);
            const char *at = c ? c->measured_at : NULL;

            if (!at) continue;
            if (!first || strcmp(at, first) < 0) first = at;
            if (!last || strcmp(at, last) > 0) last = at;
        }
    open_fact(h, "Measured");
    if (first) html_textf(h, "%.10s", first);
    if (first && strncmp(first, last, 10) != 0) html_textf(h, " to %.10s", last);
    write_unknown(h, batch, time_of);
    close_fact(h);
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
    write_dates(h, batch);
    write_words(h, "Operator", batch, operator_of);
    write_words(h, "Bench", batch, bench_of);
    if (batch->reference) {
        text_addf(&words, "%s, attempt %lu (its digests are at the foot)", batch->reference->serial,
                  batch->reference->attempt);
        write_made_fact(h, "Reference unit", &words);
    }
    html_close(h);
    text_clear(&words);
}

static bool is_long(const char *note)
{
    size_t n_lines = 1;

    for (const char *p = note; *p; p++)
        n_lines += *p == '\n';
    return n_lines > LONGEST_NOTE_LINES || strlen(note) > LONGEST_NOTE;
}

/* A long note is folded on a screen, where it would push the table out of sight; on paper, where
 * nothing unfolds, a second one stands in full. */
static void write_note(struct html *h, const char *note)
{
    size_t length = page_cut_length(note);

    if (!is_long(note)) {
        html_element(h, "p", "note", note);
        return;
    }
    if (strcspn(note, "\r\n") < length) length = strcspn(note, "\r\n");
    html_open(h, "details");
    html_attribute(h, "class", "screen");
    html_open(h, "summary");
    html_textf(h, "Note: %.*s\u2026", (int)length, note);
    html_close(h);
    html_element(h, "p", "note", note);
    html_close(h);
    html_element(h, "p", "note paper", note);
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
    if (batch->limits->note) write_note(h, batch->limits->note);
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
    html_use_names(h, batch->names);
    html_open(h, "main");
    write_contents(h, batch);
    write_head(h, batch);
    page_units_write(h, batch);
    ok = page_pictures_write(h, batch, e) && page_limits_write(h, batch, e);
    if (ok) {
        html_close(h);
        page_foot_write(h, batch->reference);
        ok = html_finish(h, out, e);
    }
    html_free(h);
    return ok;
}
