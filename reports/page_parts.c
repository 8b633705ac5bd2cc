#include "reports/page_parts.h"

#include <math.h>
#include <stdio.h>
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

void page_table_open(struct html *h, const char *id, const char *const *names, size_t n)
{
    html_open(h, "div");
    html_attributef(h, "class", "scroll %s", id);
    html_attribute(h, "tabindex", "0"); /* scrolls by keyboard too */
    html_attribute(h, "role", "group");
    html_attributef(h, "aria-label", "table %s", id);
    html_open(h, "table");
    html_attribute(h, "id", id);
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

void page_unit_href(struct html *h, const char *folder, const char *serial)
{
    char name[PAGE_UNIT_NAME];
    struct text link = {0};

    page_unit_name(html_names(h), serial, name);
    text_add(&link, folder);
    /* In a link '%' stands for itself as %25. */
    for (const char *p = name; *p; p++)
        text_add_bytes(&link, *p == '%' ? "%25" : p, *p == '%' ? 3 : 1);
    html_need(h, &link);
    html_attribute(h, "href", text_words(&link));
    text_clear(&link);
}

/* As many letters as a line of the head has room for, and the bytes that they may take. */
#define CUT_LETTERS 80
#define CUT_BYTES (4 * (size_t)CUT_LETTERS)

size_t page_cut_length(const char *words)
{
    size_t length = 0, letters = 0;

    for (; words[length]; length++) {
        if (length < CUT_BYTES && ((unsigned char)words[length] & 0xc0) == 0x80) continue;
        if (letters++ == CUT_LETTERS || length >= CUT_BYTES) break;
    }
    return length;
}

void page_cut(struct html *h, const char *words)
{
    const size_t length = page_cut_length(words);

    if (!words[length]) {
        html_text(h, words);
        return;
    }
    html_open(h, "span");
    html_attribute(h, "title", words);
    html_textf(h, "%.*s\u2026", (int)length, words);
    html_close(h);
}

void page_add_rule(struct text *out, const struct limits *limits)
{
    if (limits->rule == SIMPLE_ACCEPTANCE) {
        text_add(out, "simple acceptance");
        return;
    }
    text_add(out, "guarded acceptance (guard factor ");
    text_add_number(out, limits->guard_factor);
    text_add(out, ")");
}
