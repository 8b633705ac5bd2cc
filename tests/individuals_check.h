/* A series for tests of the individuals chart, and the chart read back. */
#ifndef GAINSIEVE_TESTS_INDIVIDUALS_CHECK_H
#define GAINSIEVE_TESTS_INDIVIDUALS_CHECK_H

#include "reports/limit_charts.h"
#include "tests/picture_check.h"

#define MOST ((size_t)1500)

/* A series of gains above 19 dB; a value and a margin a unit and side. */
struct sample {
    char id[8];
    struct limit limit;
    struct limit_series series;
    double value[2][MOST], margin[2][MOST];
};

/* Tells a value to both sides of a unit. */
static inline void set_value(struct sample *s, size_t i, double value)
{
    s->value[0][i] = s->value[1][i] = value;
    s->margin[0][i] = value - 19;
    s->margin[1][i] = 25 - value;
}

static inline void start(struct sample *s, size_t n)
{
    *s = (struct sample){.id = "gain"};
    s->limit.id = s->id;
    s->limit.quantity = quantity_find("gain");
    s->series = (struct limit_series){.limit = &s->limit,
                                      .n = n,
                                      .lower = {.is_bounded = true, .bound = 19, .guarded = 19},
                                      .upper = {.bound = NAN, .guarded = NAN}};
    s->series.lower.value = s->value[0];
    s->series.upper.value = s->value[1];
    s->series.lower.margin = s->margin[0];
    s->series.upper.margin = s->margin[1];
    assert_true(n <= MOST);
    for (size_t i = 0; i < n; i++)
        set_value(s, i, 20.5 + 0.01 * (double)(i * 37 % 101));
}

static inline char *draw(const struct sample *s)
{
    struct html *h = picture_start();
    struct error e = {0};

    assert_done(chart_individuals(h, &s->series, "units by time", &e), &e);
    return picture_finish(h);
}

/* The scale of the chart of `n` units: over x it is known, one unit a step. */
static inline struct plot scale_of(const char *page, size_t n)
{
    struct plot plot = picture_scale(page, 1);

    assert_close(plot.x_from, 0.5, 0.01 * (double)n);
    assert_close(plot.x_to, (double)n + 0.5, 0.01 * (double)n);
    plot.x_from = 0.5;
    plot.x_to = (double)n + 0.5;
    return plot;
}

#endif
