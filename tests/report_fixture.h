/* A small batch for tests of tables and pages: three bias steps, a gain and a reflection limit,
 * units whose gain is given. */
#ifndef GAINSIEVE_TESTS_REPORT_FIXTURE_H
#define GAINSIEVE_TESTS_REPORT_FIXTURE_H

#include "limits/yield.h"
#include "reports/page_parts.h"
#include "reports/page_unit.h"
#include "tests/fixture.h"

#define REPORT_UNITS 16

struct report_batch {
    struct limits limits;
    struct views views;
    size_t n; /* units added, each with one attempt */
    struct measurement m[REPORT_UNITS];
    struct judgement judgements[REPORT_UNITS];
    struct unit_traces traces[REPORT_UNITS];
    struct batch_unit units[REPORT_UNITS];
    struct batch batch;
};

static double report_gain_db; /* of the unit being added */

static inline void report_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    double mhz = (frequency_hz - 169e6) / 1e6;

    s[S11] = CMPLX(0.1, 0.001 * mhz);
    s[S12] = CMPLX(0.01, 1e-5 * mhz);
    s[S21] = fixture_linear(report_gain_db + 5 * (bias_v - 1.8) - 0.01 * mhz);
    s[S22] = CMPLX(0.2, 0.001 * mhz);
}

/* Adds a unit with `gain_db` at 1.8 V and 169 MHz; without its highest step when `steps` is 2. */
static inline void report_add(struct report_batch *r, const char *serial, unsigned long attempt,
                              double gain_db, size_t steps)
{
    struct error e = {0};
    size_t i = r->n++;

    assert_true(i < REPORT_UNITS);
    report_gain_db = gain_db;
    measurement_reset(&r->m[i], serial, attempt);
    for (size_t step = 0; step < steps; step++)
        text_addf(&fixture_sweep(&r->m[i], report_board, 1.8 + 0.6 * (double)step, 150e6, 1e6, 41)
                       ->source,
                  "%s_%zu.s2p", serial, step);
    assert_done(judge(&r->limits, &r->m[i], NULL, &r->judgements[i], &e), &e);
    assert_done(unit_traces_make(&r->traces[i], &r->limits, &r->views, &r->m[i], true, &e), &e);
    r->units[i] =
        (struct batch_unit){&r->judgements[i], &r->m[i].circumstances, &r->traces[i], 1, NULL};
}

/* Begins a batch with limits of your own. */
static inline void report_start_with(struct report_batch *r, const char *limit_elements)
{
    fixture_limits(&r->limits, "<decision rule=\"guarded-acceptance\"/>", limit_elements);
    views_find(&r->views, &r->limits);
}

static inline void report_start(struct report_batch *r)
{
    report_start_with(
        r, "<gain id=\"gain\" bias=\"all\" band=\"working\" min=\"19 dB\" uncertainty=\"0.2 dB\">"
           "<when-failed>Look at the bias feed.</when-failed></gain>"
           "<input-reflection id=\"match\" bias=\"low\" band=\"working\" max=\"-16 dB\" "
           "uncertainty=\"0.006\"/>");
}

/* Fills `r->batch` from what was added. */
static inline void report_finish(struct report_batch *r)
{
    struct error e = {0};

    r->batch = (struct batch){.limits = &r->limits,
                              .views = &r->views,
                              .source = "archive",
                              .notes = "",
                              .n_units = r->n,
                              .units = r->units};
    assert_done(batch_yield_count(&r->batch.yield, r->judgements, r->n, r->limits.n_limits, &e),
                &e);
}

/* The sheet of the unit with this index. */
static inline struct unit_sheet report_sheet(const struct report_batch *r, size_t unit)
{
    return (struct unit_sheet){.limits = &r->limits,
                               .views = &r->views,
                               .attempts = &r->judgements[unit],
                               .n_attempts = 1,
                               .m = &r->m[unit],
                               .traces = &r->traces[unit]};
}

static inline void report_clear(struct report_batch *r)
{
    for (size_t i = 0; i < r->n; i++) {
        judgement_clear(&r->judgements[i]);
        measurement_clear(&r->m[i]);
        unit_traces_clear(&r->traces[i]);
    }
    batch_yield_clear(&r->batch.yield);
    limits_clear(&r->limits);
}

/* How often `part` stands in `text`. */
static inline size_t report_count(const char *text, const char *part)
{
    size_t n = 0;

    for (; (text = strstr(text, part)) != NULL; text++)
        n++;
    return n;
}

#endif
