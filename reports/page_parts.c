#include "reports/page_parts.h"

#include <math.h>
#include <string.h>

static const char *const shapes[] = {"\u25B2 ", "\u25A0 ", "\u25CF "}; /* open, fail, pass */

const char *page_verdict_class(enum verdict verdict)
{
    static const char *const classes[] = {
        [VERDICT_INCOMPLETE] = "open", [VERDICT_FAIL] = "fail", [VERDICT_PASS] = "pass"};

    return classes[verdict];
}

/* An outcome's colour tells whether it was accepted, as the verdict's does. */
static enum verdict weight_of(const struct finding *finding)
{
    if (finding->accepted) return VERDICT_PASS;
    return finding->outcome == OUTCOME_INCOMPLETE ? VERDICT_INCOMPLETE : VERDICT_FAIL;
}

const char *page_outcome_class(const struct finding *finding)
{
    return page_verdict_class(weight_of(finding));
}

static void write_word(struct html *h, const char *element, enum verdict weight, const char *word)
{
    html_open(h, element);
    html_attributef(h, "class", "word %s", page_verdict_class(weight));
    html_textf(h, "%s%s", shapes[weight], word);
    html_close(h);
}

void page_verdict(struct html *h, const char *element, enum verdict verdict)
{
    write_word(h, element, verdict, verdict_name(verdict));
}

void page_outcome(struct html *h, const char *element, const struct finding *finding)
{
    write_word(h, element, weight_of(finding), outcome_name(finding->outcome));
}

void page_value_cell(struct html *h, double x, enum unit unit)
{
    char words[VALUE_TEXT];

    html_element(h, "td", "number", isfinite(x) ? value_rounded(x, unit, words) : "");
}

void page_section(struct html *h, const char *id, const char *words)
{
    html_open(h, "h2");
    html_attribute(h, "id", id);
    html_text(h, words);
    html_close(h);
}

void page_count_cell(struct html *h, size_t n)
{
    html_open(h, "td");
    html_attribute(h, "class", "number");
    html_textf(h, "%zu", n);
    html_close(h);
}

void page_table_open(struct html *h, const char *const *names, size_t n)
{
    html_open(h, "div");
    html_attribute(h, "class", "scroll");
    html_attribute(h, "tabindex", "0"); /* scrolls by keyboard too */
    html_open(h, "table");
    page_head_row(h, names, n);
    html_open(h, "tbody");
}

void page_table_close(struct html *h)
{
    html_close(h);
    html_close(h);
    html_close(h);
}

void page_head_row(struct html *h, const char *const *names, size_t n)
{
    html_open(h, "thead");
    html_open(h, "tr");
    for (size_t i = 0; i < n; i++) {
        size_t length = strlen(names[i]);
        bool number = length > 0 && names[i][length - 1] == '#';

        html_open(h, "th");
        html_attribute(h, "scope", "col");
        if (number) html_attribute(h, "class", "number");
        html_textf(h, "%.*s", (int)(length - number), names[i]);
        html_close(h);
    }
    html_close(h);
    html_close(h);
}
