#include "reports/batch_picture.h"

#include <stdlib.h>
#include <time.h>

#include "tests/picture_check.h"

/* Gain at every step and input reflection at the low one, accepted up to the bound itself. */
static const char elements[] =
    "<gain id=\"gain\" bias=\"all\" band=\"working\" min=\"19 dB\" max=\"29 dB\"/>"
    "<input-reflection id=\"match\" bias=\"low\" band=\"working\" max=\"-16 dB\"/>";

/* The picture of a view of the finished batch; freed with memory_free(). */
static char *draw(struct report_batch *r, size_t view)
{
    struct gallery g = {picture_start(), &r->batch, 1};
    struct error e = {0};

    assert_done(batch_picture_view(&g, view, &e), &e);
    return picture_finish(g.html);
}

/* `n` units of 20, 20.1, 20.2 ... dB, the batch finished. */
static void fill(struct report_batch *r, size_t n)
{
    report_start_with(r, elements);
    for (size_t i = 0; i < n; i++) {
        char serial[24];

        (void)snprintf(serial, sizeof serial, "A%zu", i + 1);
        report_add(r, serial, 1, 20 + 0.1 * (double)i, 3);
    }
    report_finish(r);
}

/* The bands and the median lie where the units do, at every column: of 11 units the quantiles are
 * the 3rd, the 6th and the 9th. Bounds lie at their values, and the ticks tell the same. */
static void test_spread_at_its_place(void **state)
{
    struct report_batch r = {0};
    struct picture_line most, half, median, bound;
    struct plot plot;
    char *page;

    (void)state;
    fill(&r, 11);
    page = draw(&r, 0);
    assert_holds(page, "<figcaption>gain at bias low (1.8 V)</figcaption>");
    plot = picture_scale(page, 1e6);
    assert_close(plot.x_from, r.views.view[0].left_hz, 3e4);
    assert_close(plot.x_to, r.views.view[0].right_hz, 3e4);
    plot.x_from = r.views.view[0].left_hz;
    plot.x_to = r.views.view[0].right_hz;
    picture_read(page, "most", 0, &most);
    picture_read(page, "half", 0, &half);
    picture_read(page, "median", 0, &median);
    assert_int_equal(median.n, VIEW_COLUMNS);
    assert_int_equal(most.n, 2 * VIEW_COLUMNS);
    for (size_t i = 0; i < VIEW_COLUMNS; i++) {
        const double hz = view_column_hz(&r.views.view[0], i);
        const double tilt = -0.01 * (hz - 169e6) / 1e6;
        const struct picture_line *const lines[] = {&most, &most, &half, &half, &median};
        const double gain_db[] = {21, 20, 20.8, 20.2, 20.5};

        for (size_t k = 0; k < 5; k++) {
            const bool back = k % 2; /* the lower edge comes back */
            const double *point = lines[k]->points[back ? lines[k]->n - 1 - i : i];

            assert_close(point[0], plot_x(&plot, hz), 0.06);
            /* A column beside a point may hold that point's value. */
            assert_close(point[1], plot_y(&plot, gain_db[k] + tilt), PICTURE_SCALE_ROOM + 0.1);
        }
    }
    picture_read(page, "bound", 0, &bound);
    assert_close(bound.points[0][0], plot_x(&plot, 160e6), 0.06);
    assert_close(bound.points[1][0], plot_x(&plot, 178e6), 0.06);
    assert_close(bound.points[0][1], plot_y(&plot, 19), PICTURE_SCALE_ROOM);
    picture_read(page, "bound", 1, &bound);
    assert_close(bound.points[0][1], plot_y(&plot, 29), PICTURE_SCALE_ROOM);
    assert_int_equal(picture_count(page, "failed"), 0);
    assert_int_equal(picture_count(page, "data"), 0);
    memory_free(page);
    report_clear(&r);
}

/* A unit that failed at one bias step only is dashed at that step only, in a large batch and in a
 * small one; what it failed elsewhere is not said here. */
static void test_one_step(void **state)
{
    (void)state;
    for (size_t n = 5; n <= 12; n += 7) {
        struct report_batch r = {0};

        fill(&r, n);
        fixture_set(&r.m[3].biases[1], 20, S21, fixture_linear(18));
        picture_judge(&r, 3);
        fixture_set(&r.m[2].biases[0], 20, S11, 0.9);
        picture_judge(&r, 2);
        for (size_t v = 0; v < 4; v++) {
            char *page = draw(&r, v);

            assert_int_equal(picture_count(page, "failed"), v == 1 || v == 3);
            assert_int_equal(report_count(page, "<title>A3: match</title><path class=\"failed\""),
                             v == 3);
            assert_int_equal(report_count(page, "<title>A4: gain</title><path class=\"failed\""),
                             v == 1);
            assert_int_equal(picture_count(page, "data"), n == 5 ? 5 - v % 2 : 0);
            assert_int_equal(report_count(page, ">A4</text></a>"), n == 5 || v == 1);
            memory_free(page);
        }
        report_clear(&r);
    }
}

/* Whether the line leaves what the two bounds leave free, within their band; `by` in units. */
static double leaves_by(const struct picture_line *line, const struct picture_line bounds[2])
{
    double by = -INFINITY;

    for (size_t i = 0; i < line->n; i++) {
        if (line->points[i][0] < bounds[0].points[0][0] - 0.1 ||
            line->points[i][0] > bounds[0].points[1][0] + 0.1)
            continue;
        by = fmax(by, line->points[i][1] - bounds[0].points[0][1]);
        by = fmax(by, bounds[1].points[0][1] - line->points[i][1]);
    }
    return by;
}

/* One spike of a single point somewhere in the band, high or low, over its bound or not quite. */
static void check_spike(struct report_batch *r, size_t step, size_t point, double gain_db)
{
    const double base_db = 20.5 + 3 * (double)step;
    const bool is_low = gain_db < 24;
    const bool failed = gain_db < 19 || gain_db > 29;
    const double hz = 155e6 + 10e3 * (double)point;
    struct picture_line bounds[2], most, line;
    double reaches = is_low ? 0 : 1000;
    struct plot plot;
    char *page;

    fixture_set(&r->m[8].biases[step], point, S21, fixture_linear(gain_db));
    picture_judge(r, 8);
    page = draw(r, step);
    assert_int_equal(picture_count(page, "failed"), failed);
    plot = picture_scale(page, 1e6);
    plot.x_from = r->views.view[step].left_hz;
    plot.x_to = r->views.view[step].right_hz;
    picture_read(page, "bound", 0, &bounds[0]);
    picture_read(page, "bound", 1, &bounds[1]);
    picture_read(page, "most", 0, &most);
    for (size_t i = 0; i < most.n; i++) {
        if (fabs(most.points[i][0] - plot_x(&plot, hz)) > 0.51 * 416 / (VIEW_COLUMNS - 1)) continue;
        reaches = is_low ? fmax(reaches, most.points[i][1]) : fmin(reaches, most.points[i][1]);
    }
    assert_close(reaches, plot_y(&plot, gain_db), PICTURE_SCALE_ROOM);
    assert_int_equal(leaves_by(&most, bounds) > 0.06, failed);
    if (failed) {
        bool there = false;

        picture_read(page, "failed", 0, &line);
        assert_true(leaves_by(&line, bounds) > 0.06);
        for (size_t i = 0; i < line.n; i++)
            there =
                there || (fabs(line.points[i][0] - plot_x(&plot, hz)) <= 0.06 &&
                          fabs(line.points[i][1] - plot_y(&plot, gain_db)) <= PICTURE_SCALE_ROOM);
        assert_true(there);
        assert_true(plot.y_from < gain_db && gain_db < plot.y_to);
    }
    memory_free(page);
    fixture_set(&r->m[8].biases[step], point, S21, fixture_linear(base_db));
}

/* What lies outside a limit in the data lies outside in the picture, and what lies inside, inside:
 * the spike of one point among 2801 too, which no column and no tenth point of a line would see.
 */
static void test_spikes(void **state)
{
    static const double gains_db[] = {17, 19.2, 28.7, 31};
    struct report_batch r = {0};
    const unsigned seed = (unsigned)time(NULL);

    (void)state;
    print_message("seed %u\n", seed);
    srand(seed);
    report_start_with(&r, elements);
    for (size_t i = 0; i < 9; i++) {
        char serial[24];

        (void)snprintf(serial, sizeof serial, "A%zu", i + 1);
        picture_add_dense(&r, serial, 20.5);
    }
    report_finish(&r);
    for (int i = 0; i < 120; i++)
        check_spike(&r, (size_t)rand() % 3, 501 + (size_t)rand() % 1799, gains_db[i % 4]);
    report_clear(&r);
}

/* A value inside the bound but within the guard band fails under guarded acceptance: it is dashed,
 * but the picture may not say that it lies outside. */
static void test_guard_band_words(void **state)
{
    struct report_batch r = {0};
    struct picture_line line, bound;
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 19.2, 3);
    report_finish(&r);
    assert_int_equal(r.judgements[0].findings[0].outcome, OUTCOME_CONDITIONAL_PASS);
    assert_false(r.judgements[0].findings[0].accepted);
    page = draw(&r, 0);
    assert_holds(page, "<title>A1: gain</title><path class=\"failed\"");
    picture_read(page, "failed", 0, &line);
    picture_read(page, "bound", 0, &bound);
    for (size_t i = 0; i < line.n; i++)
        assert_true(line.points[i][1] < bound.points[0][1]);
    assert_null(strstr(strstr(page, "<figure>"), "outside"));
    memory_free(page);
    report_clear(&r);
}

/* One dead board does not press the others flat: a decibel of theirs keeps its size. It is still
 * named, and both bounds are in view. */
static void test_dead_board(void **state)
{
    struct report_batch r = {0};
    struct picture_line bound;
    struct plot plot;
    char *page;

    (void)state;
    fill(&r, 12);
    report_add(&r, "DEAD", 1, -50, 3);
    batch_yield_clear(&r.batch.yield);
    report_finish(&r);
    page = draw(&r, 0);
    plot = picture_scale(page, 1e6);
    assert_true(plot_y(&plot, 20) - plot_y(&plot, 21) > 5);
    assert_holds(page, ">DEAD</text></a>");
    for (size_t side = 0; side < 2; side++) {
        picture_read(page, "bound", side, &bound);
        assert_true(bound.points[0][1] > PLOT_TOP);
        assert_true(bound.points[0][1] < PLOT_HEIGHT - PLOT_BOTTOM);
    }
    memory_free(page);
    report_clear(&r);
}

/* Without bounds and outsiders too the band of all units is in view, unless it is far off. */
static void test_band_in_view(void **state)
{
    struct report_batch r = {0};
    struct plot plot;
    char *page;

    (void)state;
    report_start_with(&r, "<gain-flatness id=\"flat\" bias=\"all\" band=\"working\" "
                          "max=\"5 dB\"/>");
    for (size_t i = 0; i < 14; i++)
        report_add(&r, "A", 1, i < 12 ? 20 + 0.1 * (double)i : i == 12 ? 24 : -50, 3);
    report_finish(&r);
    page = draw(&r, 0);
    assert_int_equal(picture_count(page, "bound") + picture_count(page, "failed"), 0);
    plot = picture_scale(page, 1e6);
    assert_true(plot.y_to > 24.2 && plot.y_from > 0);
    memory_free(page);
    report_clear(&r);
}

/* A reflection far below its bound is cut off, but never a bound: what it forbids must be in view.
 */
static void test_bounds_stay_in_view(void **state)
{
    struct report_batch r = {0};
    double at_hz[] = {160e6, 178e6}, value[] = {-70, -70};
    struct picture_line bound;
    struct plot plot;
    char *page;

    (void)state;
    fill(&r, 4);
    fixture_set(&r.m[0].biases[0], 20, S11, 1e-7);
    picture_judge(&r, 0);
    page = draw(&r, 3);
    plot = picture_scale(page, 1e6);
    assert_true(plot.y_from > -55);
    memory_free(page);
    r.limits.limits[1].lower = (struct bound_line){2, at_hz, value};
    page = draw(&r, 3);
    picture_read(page, "bound", 0, &bound);
    assert_true(bound.points[0][1] < PLOT_HEIGHT - PLOT_BOTTOM);
    memory_free(page);
    r.limits.limits[1].lower = (struct bound_line){0};
    report_clear(&r);
}

/* A batch of nothing, one without sweeps at a step, and outsiders without lines have a picture too:
 * the bounds alone. */
static void test_nothing_to_draw(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    fill(&r, 0);
    page = draw(&r, 0);
    assert_int_equal(picture_count(page, "bound"), 2);
    memory_free(page);
    report_clear(&r);
    r = (struct report_batch){0};
    report_start_with(&r, elements);
    for (size_t i = 0; i < 9; i++)
        report_add(&r, "A", 1, 18, 2);
    report_finish(&r);
    page = draw(&r, 2);
    assert_int_equal(picture_count(page, "bound"), 2);
    assert_int_equal(picture_count(page, "most") + picture_count(page, "failed"), 0);
    /* And the legend speaks of nothing that is not there. */
    assert_int_equal(report_count(page, "<path class=\"median\""), 0);
    assert_int_equal(report_count(page, "<path class=\"half\""), 0);
    assert_int_equal(report_count(page, "</span>"), 1);
    memory_free(page);
    page = draw(&r, 0);
    assert_int_equal(picture_count(page, "failed"), 9);
    memory_free(page);
    for (size_t i = 0; i < 9; i++)
        unit_traces_drop_lines(&r.traces[i]);
    page = draw(&r, 0);
    assert_int_equal(picture_count(page, "most"), 1);
    assert_int_equal(picture_count(page, "failed"), 0);
    memory_free(page);
    report_clear(&r);
}

/* More units outside than a picture holds: the furthest are drawn and the others counted. */
static void test_left_out(void **state)
{
    struct report_batch r = {0};
    struct batch_unit units[120];
    struct gallery g = {NULL, &r.batch, 1000};
    struct error e = {0};
    char *page;

    (void)state;
    report_start_with(&r, elements);
    report_add(&r, "WORST", 1, 15, 3);
    report_add(&r, "BAD", 1, 18, 3);
    report_finish(&r);
    for (size_t i = 0; i < 120; i++)
        units[i] = r.units[i != 77];
    r.batch.units = units;
    r.batch.n_units = 120;
    g.html = picture_start();
    assert_done(batch_picture_view(&g, 0, &e), &e);
    page = picture_finish(g.html);
    assert_int_equal(picture_count(page, "failed"), 10);
    assert_int_equal(report_count(page, "<title>WORST: gain</title>"), 1);
    assert_int_equal(picture_count(page, "edge"), 2);
    assert_holds(page, "120 units failed");
    assert_holds(page, "10 furthest out");
    memory_free(page);
    report_clear(&r);
}

/* A serial number that is markup stays text in title, name and link. */
static void test_hostile_serial(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start_with(&r, elements);
    report_add(&r, "\"'><svg onload=x>\x02\xE2\x80\xAE&", 1, 18, 3);
    report_finish(&r);
    page = draw(&r, 0);
    assert_null(strstr(page, "<svg onload"));
    assert_null(strstr(page, "\xE2\x80\xAE"));
    assert_null(strstr(page, "\x02"));
    assert_int_equal(report_count(page, "&lt;svg onload=x&gt;"), 2);
    memory_free(page);
    report_clear(&r);
}

static bool write_view(struct html *h, const void *what, struct error *e)
{
    const struct gallery g = {h, what, 1000};

    return batch_picture_view(&g, 0, e);
}

/* Without memory the picture fails or the page does; none has a line that ends too soon. */
static void test_memory(void **state)
{
    struct report_batch r = {0};

    (void)state;
    fill(&r, 9);
    fixture_set(&r.m[3].biases[0], 20, S21, fixture_linear(18));
    picture_judge(&r, 3);
    picture_check_memory(write_view, &r.batch);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_spread_at_its_place),
                                       cmocka_unit_test(test_one_step),
                                       cmocka_unit_test(test_spikes),
                                       cmocka_unit_test(test_guard_band_words),
                                       cmocka_unit_test(test_dead_board),
                                       cmocka_unit_test(test_band_in_view),
                                       cmocka_unit_test(test_bounds_stay_in_view),
                                       cmocka_unit_test(test_nothing_to_draw),
                                       cmocka_unit_test(test_left_out),
                                       cmocka_unit_test(test_hostile_serial),
                                       cmocka_unit_test(test_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
