/* Parts that the batch page and the unit page share. */
#ifndef GAINSIEVE_PAGE_PARTS_H
#define GAINSIEVE_PAGE_PARTS_H

#include "reports/batch.h"
#include "reports/html.h"

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

/* The file name of a unit's page, "KW000101.html": bytes other than letters, digits, '.', '-' and
 * '_' as %XX, so that any serial number is one name and two never share one. */
#define PAGE_UNIT_NAME (5 * CEILING_SERIAL + 32)
void page_unit_name(const char *serial, char name[PAGE_UNIT_NAME]);

/* Adds an href that leads to the unit's page in `folder` ("units/" or ""). */
void page_unit_href(struct html *h, const char *folder, const char *serial);

#endif
