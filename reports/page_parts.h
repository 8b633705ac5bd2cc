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

/* A heading that a link can lead to. */
void page_section(struct html *h, const char *id, const char *words);

/* Opens a table with its head, in a frame that scrolls sideways when there is no room. */
void page_table_open(struct html *h, const char *const *names, size_t n);
void page_table_close(struct html *h);

/* A cell with a number in its unit, rounded for people; empty for NaN. */
void page_value_cell(struct html *h, double x, enum unit unit);

/* A cell with a count. */
void page_count_cell(struct html *h, size_t n);

/* A row of head cells; a name that ends in '#' is a column of numbers. */
void page_head_row(struct html *h, const char *const *names, size_t n);

/* One unit of a picture. */
struct drawn_unit {
    const struct judgement *judgement;
    const struct unit_traces *traces;
};

/* Whether the limit has a picture of its own: gain and input reflection over frequency. */
bool page_limit_is_drawn(const struct limit *limit);

/* The lines of the units over the limit's bounds, at those of the limit's bias steps that are in
 * the set `steps`. With one unit its worst place is marked and its lines are named by bias step. */
#define PAGE_ALL_STEPS UINT64_MAX
void page_plot_limit(struct html *h, const struct limits *limits, size_t limit, uint64_t steps,
                     const struct drawn_unit *units, size_t n_units);

/* Gain against bias of the units; nothing when there are fewer than two bias steps. */
void page_plot_bias(struct html *h, const struct limits *limits, const struct drawn_unit *units,
                    size_t n_units);

#endif
