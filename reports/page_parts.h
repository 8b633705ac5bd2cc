/* Parts that the batch page and the unit page share. */
#ifndef GAINSIEVE_PAGE_PARTS_H
#define GAINSIEVE_PAGE_PARTS_H

#include "reports/batch.h"
#include "reports/html.h"
#include "reports/page_names.h"

/* "pass", "fail" or "open": the class that gives a verdict or outcome its colour. */
const char *page_verdict_class(enum verdict verdict);
const char *page_outcome_class(const struct finding *finding);

/* A verdict or an outcome as shape and word in an element. */
void page_verdict(struct html *h, const char *element, enum verdict verdict);
void page_outcome(struct html *h, const char *element, const struct finding *finding);

/* "guarded acceptance (guard factor 1)" or "simple acceptance", which belongs to every statement of
 * conformity. */
void page_add_rule(struct text *out, const struct limits *limits);

/* A heading that a link can lead to. */
void page_section(struct html *h, const char *id, const char *words);

/* Opens a table with its head, in a frame that scrolls when there is no room. */
void page_table_open(struct html *h, const char *id, const char *const *names, size_t n);
void page_table_close(struct html *h);

/* A cell with a number in its unit, rounded for people; empty for NaN. */
void page_value_cell(struct html *h, double x, enum unit unit);

/* A cell with a count. */
void page_count_cell(struct html *h, size_t n);

/* A row of head cells; a name that ends in '#' is a column of numbers. */
void page_head_row(struct html *h, const char *const *names, size_t n);

/* The words, or their first 80 letters, an ellipsis and all of them as the title of a span: for
 * places that long words would fill. */
void page_cut(struct html *h, const char *words);
/* How many bytes of the words that leaves. */
size_t page_cut_length(const char *words);

/* Adds an href that leads to the unit's page in `folder` ("units/" or ""), by the page's names:
 * html_use_names(). */
void page_unit_href(struct html *h, const char *folder, const char *serial);

#endif
