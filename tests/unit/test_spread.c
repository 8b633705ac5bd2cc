/* The spread of a batch: quantiles of the units, and the extremes of everything drawn. */
#include "reports/spread.h"

#include "drivers/base/memory.h"
#include "limits/statistics.h"
#include "tests/report_fixture.h"

static int by_size(const void *a, const void *b)
{
    const float left = *(const float *)a, right = *(const float *)b;

    return (left > right) - (left < right);
}

/* Checks the middle of a spread against `n` values in any order. */
static void check_quantiles(const struct spread *spread, const float *values, size_t n)
{
    float sorted[64];

    assert_true(n <= 64);
    memcpy(sorted, values, n * sizeof *values);
    qsort(sorted, n, sizeof *sorted, by_size);
    assert_close(spread->low, sorted_quantile(sorted, n, 0.01), 0);
    assert_close(spread->quarter, sorted_quantile(sorted, n, 0.25), 0);
    assert_close(spread->median, sorted_quantile(sorted, n, 0.5), 0);
    assert_close(spread->three_quarters, sorted_quantile(sorted, n, 0.75), 0);
    assert_close(spread->high, sorted_quantile(sorted, n, 0.99), 0);
}

static void check_unknown(const struct spread *spread)
{
    assert_true(isnan(spread->lowest) && isnan(spread->low) && isnan(spread->quarter));
    assert_true(isnan(spread->median) && isnan(spread->three_quarters));
    assert_true(isnan(spread->high) && isnan(spread->highest));
}

/* By hand, from NIST/SEMATECH e-Handbook 7.2.6.2: of 1 to 7 the quarter is the 2nd value, the
 * middle the 4th; 1 % and 99 % of so few are the ends. Holes do not count. */
static void test_by_hand(void **state)
{
    float values[] = {5, NAN, 7, 1, 3, NAN, 2, 6, 4};
    struct spread spread;

    (void)state;
    spread_of(&spread, values, 9);
    assert_close(spread.lowest, 1, 0);
    assert_close(spread.low, 1, 0);
    assert_close(spread.quarter, 2, 0);
    assert_close(spread.median, 4, 0);
    assert_close(spread.three_quarters, 6, 0);
    assert_close(spread.high, 7, 0);
    assert_close(spread.highest, 7, 0);
    for (size_t i = 1; i < 7; i++)
        assert_true(values[i] > values[i - 1]); /* sorted, as promised */
}

/* Of two hundred the ends lie beyond 1 and 99 %. */
static void test_many(void **state)
{
    float values[200], sorted[200];
    struct spread spread;

    (void)state;
    for (size_t i = 0; i < 200; i++) {
        values[i] = (float)(i * 77 % 200);
        sorted[i] = (float)i;
    }
    spread_of(&spread, values, 200);
    assert_close(spread.lowest, 0, 0);
    assert_close(spread.low, sorted_quantile(sorted, 200, 0.01), 0);
    assert_close(spread.median, 99.5, 1e-9);
    assert_close(spread.high, sorted_quantile(sorted, 200, 0.99), 0);
    assert_close(spread.highest, 199, 0);
    assert_true(spread.lowest < spread.low && spread.high < spread.highest);
}

/* Nothing measured is no spread; one unit is its own. */
static void test_none_and_one(void **state)
{
    float values[] = {NAN, NAN}, one[] = {NAN, -7.5f};
    struct spread spread;

    (void)state;
    spread_of(&spread, values, 0);
    check_unknown(&spread);
    spread_of(&spread, values, 2);
    check_unknown(&spread);
    spread_of(&spread, one, 2);
    assert_close(spread.lowest, -7.5, 0);
    assert_close(spread.median, -7.5, 0);
    assert_close(spread.highest, -7.5, 0);
}

/* Twelve units of rising gain. */
static void start(struct report_batch *r)
{
    char serial[16];

    *r = (struct report_batch){0};
    report_start(r);
    for (size_t i = 0; i < 12; i++) {
        (void)snprintf(serial, sizeof serial, "A%02zu", i);
        report_add(r, serial, 1, 20 + 0.1 * (double)(i * 5 % 12), i == 3 ? 2 : 3);
    }
    report_finish(r);
}

/* At every column of every view the quantiles are those of the units that were measured there. */
static void test_of_view(void **state)
{
    struct report_batch r;
    struct error e = {0};

    (void)state;
    start(&r);
    assert_true(r.views.n >= 4);
    for (size_t v = 0; v < r.views.n; v++) {
        struct spread spread[VIEW_COLUMNS];

        assert_done(spread_of_view(spread, &r.batch, v, &e), &e);
        for (size_t c = 0; c < VIEW_COLUMNS; c++) {
            float values[REPORT_UNITS];
            size_t n = 0;

            for (size_t i = 0; i < r.n; i++)
                if (!isnan(r.traces[i].columns[v * VIEW_COLUMNS + c]))
                    values[n++] = r.traces[i].columns[v * VIEW_COLUMNS + c];
            assert_int_equal(n, r.views.view[v].step == 2 ? 11 : 12); /* one has no highest step */
            check_quantiles(&spread[c], values, n);
            assert_true(spread[c].lowest <= spread[c].low && spread[c].high <= spread[c].highest);
        }
    }
    report_clear(&r);
}

/* The index of the column that is nearest to a frequency. */
static size_t nearest_column(const struct view *view, double frequency_hz)
{
    size_t best = 0;

    for (size_t c = 1; c < VIEW_COLUMNS; c++)
        if (fabs(view_column_hz(view, c) - frequency_hz) <
            fabs(view_column_hz(view, best) - frequency_hz))
            best = c;
    return best;
}

/* Narrow excursions of single units between two columns are in the extremes of the nearest column,
 * at their frequency, and change nothing else; holes do not either. */
static void test_excursions_widen(void **state)
{
    struct report_batch r;
    struct error e = {0};
    struct spread before[VIEW_COLUMNS], after[VIEW_COLUMNS];
    struct trace *high, *low;
    size_t at_high, at_low;

    (void)state;
    start(&r);
    assert_done(spread_of_view(before, &r.batch, 0, &e), &e);
    high = &r.traces[4].lines[0];
    low = &r.traces[7].lines[0];
    high->y[9] = 33;
    low->y[15] = -12;
    low->y[20] = NAN;
    assert_done(spread_of_view(after, &r.batch, 0, &e), &e);
    at_high = nearest_column(&r.views.view[0], (double)high->x[9]);
    at_low = nearest_column(&r.views.view[0], (double)low->x[15]);
    assert_close(after[at_high].highest, 33, 0);
    assert_close(after[at_low].lowest, -12, 0);
    for (size_t c = 0; c < VIEW_COLUMNS; c++) {
        if (c != at_high) assert_close(after[c].highest, before[c].highest, 0.02);
        if (c != at_low) assert_close(after[c].lowest, before[c].lowest, 0.02);
        assert_close(after[c].median, before[c].median, 0);
        assert_close(after[c].low, before[c].low, 0);
        assert_close(after[c].high, before[c].high, 0);
    }
    report_clear(&r);
}

/* Every point of every line that the picture shows lies within the spread, and points beyond its
 * edges do not widen it. */
static void test_holds_every_line(void **state)
{
    struct report_batch r;
    struct error e = {0};
    struct spread spread[VIEW_COLUMNS];

    (void)state;
    start(&r);
    for (size_t i = 0; i < r.n; i++)
        for (size_t k = 0; k < r.traces[i].lines[0].n_points; k++)
            r.traces[i].lines[0].y[k] += (float)((i * 31 + k * 17) % 23) - 11;
    r.traces[0].lines[0].x[0] = (float)(r.views.view[0].left_hz - 2e6);
    r.traces[0].lines[0].y[0] = 999;
    assert_done(spread_of_view(spread, &r.batch, 0, &e), &e);
    for (size_t i = 0; i < r.n; i++) {
        const struct trace *line = &r.traces[i].lines[0];

        for (size_t k = 0; k < line->n_points; k++) {
            const double f = (double)line->x[k];
            const size_t c = nearest_column(&r.views.view[0], f);

            if (f < r.views.view[0].left_hz || f > r.views.view[0].right_hz) continue;
            assert_true(spread[c].lowest <= (double)line->y[k]);
            assert_true(spread[c].highest >= (double)line->y[k]);
        }
    }
    for (size_t c = 0; c < VIEW_COLUMNS; c++)
        assert_true(spread[c].highest < 100);
    report_clear(&r);
}

/* The edges of the picture belong to its first and its last column; half a column further out
 * belongs to none. */
static void test_outermost_columns(void **state)
{
    struct report_batch r;
    struct error e = {0};
    struct spread before[VIEW_COLUMNS], after[VIEW_COLUMNS];
    const struct view *view = &r.views.view[0];
    struct trace *line;
    double width;

    (void)state;
    start(&r);
    line = &r.traces[2].lines[0];
    width = (view->right_hz - view->left_hz) / (VIEW_COLUMNS - 1);
    line->x[0] = (float)view->left_hz;
    line->x[line->n_points - 1] = (float)view->right_hz;
    assert_done(spread_of_view(before, &r.batch, 0, &e), &e);
    line->y[0] = 55;
    line->y[line->n_points - 1] = 77;
    assert_done(spread_of_view(after, &r.batch, 0, &e), &e);
    assert_close(after[0].highest, 55, 0);
    assert_close(after[VIEW_COLUMNS - 1].highest, 77, 0);
    for (size_t c = 1; c < VIEW_COLUMNS - 1; c++)
        assert_close(after[c].highest, before[c].highest, 0);
    line->x[0] = (float)(view->left_hz - 0.6 * width);
    line->x[line->n_points - 1] = (float)(view->right_hz + 0.6 * width);
    assert_done(spread_of_view(after, &r.batch, 0, &e), &e);
    for (size_t c = 0; c < VIEW_COLUMNS; c++)
        assert_true(after[c].highest < 50);
    report_clear(&r);
}

/* Units whose lines were dropped count by their columns as before. */
static void test_without_lines(void **state)
{
    struct report_batch r;
    struct error e = {0};
    struct spread with[VIEW_COLUMNS], without[VIEW_COLUMNS];

    (void)state;
    start(&r);
    assert_done(spread_of_view(with, &r.batch, 0, &e), &e);
    for (size_t i = 0; i < r.n; i++)
        unit_traces_drop_lines(&r.traces[i]);
    assert_done(spread_of_view(without, &r.batch, 0, &e), &e);
    for (size_t c = 0; c < VIEW_COLUMNS; c++) {
        assert_close(without[c].median, with[c].median, 0);
        assert_close(without[c].quarter, with[c].quarter, 0);
        assert_true(without[c].lowest >= with[c].lowest);
        assert_true(without[c].highest <= with[c].highest);
    }
    report_clear(&r);
}

/* Over bias the quantiles are those of the gain at each step; the unit without a step is left out
 * there and only there. */
static void test_of_bias(void **state)
{
    struct report_batch r;
    struct error e = {0};
    struct spread spread[CEILING_BIAS_STEPS];

    (void)state;
    start(&r);
    assert_done(spread_of_bias(spread, &r.batch, &e), &e);
    for (size_t step = 0; step < 3; step++) {
        float values[REPORT_UNITS];
        size_t n = 0;

        for (size_t i = 0; i < r.n; i++)
            if (i != 3 || step != 2) values[n++] = (float)r.traces[i].gain_db[step];
        check_quantiles(&spread[step], values, n);
        assert_close(spread[step].lowest, 20 + 3 * (double)step, 1e-5);
        assert_close(spread[step].highest, 21.1 + 3 * (double)step, 1e-5);
    }
    report_clear(&r);
}

/* An empty batch has no spread anywhere, and no fault. */
static void test_empty_batch(void **state)
{
    struct report_batch r = {0};
    struct error e = {0};
    struct spread columns[VIEW_COLUMNS], steps[CEILING_BIAS_STEPS];

    (void)state;
    report_start(&r);
    report_finish(&r);
    assert_done(spread_of_view(columns, &r.batch, 0, &e), &e);
    assert_done(spread_of_bias(steps, &r.batch, &e), &e);
    for (size_t c = 0; c < VIEW_COLUMNS; c++)
        check_unknown(&columns[c]);
    for (size_t step = 0; step < 3; step++)
        check_unknown(&steps[step]);
    report_clear(&r);
}

/* Without memory both fail and say so. */
static void test_no_memory(void **state)
{
    struct report_batch r;
    struct spread columns[VIEW_COLUMNS], steps[CEILING_BIAS_STEPS];

    (void)state;
    start(&r);
    for (unsigned long nth = 1;; nth++) {
        struct error e = {0}, e2 = {0};
        bool of_view, of_bias;

        memory_fail_at(nth);
        of_view = spread_of_view(columns, &r.batch, 0, &e);
        memory_fail_at(nth);
        of_bias = spread_of_bias(steps, &r.batch, &e2);
        memory_fail_at(0);
        if (!of_view) assert_int_equal(e.kind, ERROR_MEMORY);
        if (!of_bias) assert_int_equal(e2.kind, ERROR_MEMORY);
        if (nth == 1) assert_true(!of_view && !of_bias);
        if (of_view && of_bias) break;
    }
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_by_hand),           cmocka_unit_test(test_many),
        cmocka_unit_test(test_none_and_one),      cmocka_unit_test(test_of_view),
        cmocka_unit_test(test_excursions_widen),  cmocka_unit_test(test_holds_every_line),
        cmocka_unit_test(test_outermost_columns), cmocka_unit_test(test_without_lines),
        cmocka_unit_test(test_of_bias),           cmocka_unit_test(test_empty_batch),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
