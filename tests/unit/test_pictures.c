#include "reports/pictures.h"

#include "tests/picture_check.h"

#define CENTRE_HZ 169e6

/* An open plot of 150..190 MHz or 1.5..3.5 V over 10..30 dB. */
static struct plot open_plot(struct html **h, double x_from, double x_to)
{
    static const struct plot_words words = {"Title", "Description", "x", "y", 1};
    const struct plot_range x = {x_from, x_to}, y = {10, 30};
    struct plot plot;

    *h = picture_start();
    plot_open(&plot, *h, &words, &x, &y);
    return plot;
}

static char *close_plot(struct plot *plot)
{
    struct html *h = plot->html;

    plot_close(plot);
    return picture_finish(h);
}

static void check_point(const struct plot *plot, const double point[2], double x, double y)
{
    assert_close(point[0], plot_x(plot, x), 0.06);
    assert_close(point[1], plot_y(plot, y), 0.06);
}

/* Bounds of every kind: both sides, a mask, a spot, one step only, and limits without bounds in dB
 * of one parameter. */
static const char bound_elements[] =
    "<gain id=\"both\" bias=\"low\" band=\"working\" min=\"19 dB\" max=\"23 dB\"/>"
    "<gain id=\"mask\" bias=\"low mid\"><lower><point at=\"160 MHz\" value=\"15 dB\"/>"
    "<point at=\"170 MHz\" value=\"17 dB\"/><point at=\"178 MHz\" value=\"16 dB\"/></lower></gain>"
    "<gain id=\"spot\" bias=\"high\" band=\"centre\" max=\"28 dB\"/>"
    "<gain-flatness id=\"flat\" bias=\"low\" band=\"working\" max=\"1 dB\"/>"
    "<input-reflection id=\"match\" bias=\"low\" band=\"working\" max=\"-16 dB\"/>";

/* A view takes the bounds of its own step and parameter into its range and no others: those of
 * another step are no bounds here. */
static void test_takes_its_bounds(void **state)
{
    static const double want[4][2] = {{15, 23}, {15, 17}, {28, 28}, {-16, -16}};
    struct report_batch r = {0};

    (void)state;
    report_start_with(&r, bound_elements);
    assert_int_equal(r.views.n, 4);
    for (size_t v = 0; v < 4; v++) {
        struct plot_range y;

        plot_range_start(&y);
        picture_take_bounds(&y, &r.limits, &r.views.view[v]);
        assert_close(y.low, want[v][0], 1e-12);
        assert_close(y.high, want[v][1], 1e-12);
    }
    report_clear(&r);
}

/* The strip along the `nth` bound lies below a lower bound and above an upper one. */
static void check_strip(const char *page, size_t nth, const struct picture_line *bound, bool lower)
{
    struct picture_line strip;
    bool beside = false;

    picture_read(page, "forbidden", nth, &strip);
    for (size_t i = 0; i < strip.n; i++) {
        const double off = strip.points[i][1] - bound->points[0][1];

        assert_true(lower ? off >= -0.01 : off <= 0.01);
        beside = beside || fabs(off) > 5;
    }
    assert_true(beside);
}

/* Bounds are drawn where they hold, shaded where it is forbidden, and named in words. */
static void test_draws_bounds(void **state)
{
    struct report_batch r = {0};
    struct picture_line line;
    struct html *h;
    struct plot plot = open_plot(&h, 150e6, 190e6);
    char *page;

    (void)state;
    report_start_with(&r, bound_elements);
    picture_draw_bounds(&plot, &r.limits, &r.views.view[0]);
    page = close_plot(&plot);
    assert_int_equal(picture_count(page, "bound"), 3);
    assert_int_equal(picture_count(page, "forbidden"), 3);
    assert_int_equal(report_count(page, "<title>bound of both</title>"), 2);
    assert_int_equal(report_count(page, "<title>bound of mask</title>"), 1);
    assert_int_equal(report_count(page, "<path class=\"bound\" d=\"M3 5h24\""), 1);
    picture_read(page, "bound", 0, &line);
    assert_int_equal(line.n, 2);
    check_point(&plot, line.points[0], 160e6, 19);
    check_point(&plot, line.points[1], 178e6, 19);
    check_strip(page, 0, &line, true);
    picture_read(page, "bound", 1, &line);
    check_point(&plot, line.points[0], 160e6, 23);
    check_strip(page, 1, &line, false);
    picture_read(page, "bound", 2, &line);
    assert_int_equal(line.n, 3);
    check_point(&plot, line.points[1], 170e6, 17);
    check_point(&plot, line.points[2], 178e6, 16);
    memory_free(page);
    plot = open_plot(&h, 150e6, 190e6);
    picture_draw_bounds(&plot, &r.limits, &r.views.view[2]);
    page = close_plot(&plot);
    picture_read(page, "bound", 0, &line);
    assert_int_equal(line.n, 2);
    assert_true(line.points[0][0] < plot_x(&plot, CENTRE_HZ) - 2);
    assert_true(line.points[1][0] > plot_x(&plot, CENTRE_HZ) + 2);
    assert_close(line.points[0][1], plot_y(&plot, 28), 0.06);
    memory_free(page);
    report_clear(&r);
}

/* Both sides, a spot and a slope, each with an uncertainty in dB or in linear abs(S). */
static const char guarded_elements[] =
    "<gain id=\"both\" bias=\"low\" band=\"working\" min=\"19 dB\" max=\"23 dB\" "
    "uncertainty=\"0.4 dB\"/>"
    "<gain id=\"spot\" bias=\"high\" band=\"centre\" max=\"28 dB\" uncertainty=\"1 dB\"/>"
    "<input-reflection id=\"match\" bias=\"low\"><upper><point at=\"160 MHz\" value=\"-10 dB\"/>"
    "<point at=\"178 MHz\" value=\"-25 dB\"/></upper></input-reflection>";

/* The guard band lies along each bound, on its inside and as wide as it is; for a linear width it
 * gets wider in dB on the way down. */
static void test_draws_guard_bands(void **state)
{
    static const double corners[2][4][2] = {
        {{160e6, 19}, {178e6, 19}, {178e6, 19.2}, {160e6, 19.2}},
        {{160e6, 23}, {178e6, 23}, {178e6, 22.8}, {160e6, 22.8}}};
    struct report_batch r = {0};
    struct picture_line guard;
    struct html *h;
    struct plot plot = open_plot(&h, 150e6, 190e6);
    char *page;

    (void)state;
    report_start_with(&r, guarded_elements);
    r.limits.guard_factor = 0.5;
    picture_draw_bounds(&plot, &r.limits, &r.views.view[0]);
    page = close_plot(&plot);
    assert_int_equal(picture_count(page, "guard"), 2);
    assert_int_equal(report_count(page, "<title>guard band</title>"), 2);
    assert_holds(page, " guard band</span>");
    for (size_t k = 0; k < 2; k++) {
        picture_read(page, "guard", k, &guard);
        assert_int_equal(guard.n, 4);
        for (size_t i = 0; i < 4; i++)
            check_point(&plot, guard.points[i], corners[k][i][0], corners[k][i][1]);
    }
    memory_free(page);
    plot = open_plot(&h, 150e6, 190e6);
    picture_draw_bounds(&plot, &r.limits, &r.views.view[1]);
    page = close_plot(&plot);
    picture_read(page, "guard", 0, &guard);
    assert_int_equal(guard.n, 4);
    check_point(&plot, guard.points[0], CENTRE_HZ - 1e6, 28);
    check_point(&plot, guard.points[2], CENTRE_HZ + 1e6, 27.5);
    memory_free(page);
    report_clear(&r);
}

/* abs(S) of 0.02 below a bound: -10 dB is 0.3162, less 0.02 it is -10.567 dB; -25 dB is 0.05623,
 * less 0.02 it is -28.810 dB; in the middle -17.5 dB is 0.13335, less 0.02 it is -18.912 dB. */
static void test_linear_guard_band(void **state)
{
    static const struct plot_words words = {"Title", "Description", "x", "y", 1};
    const struct plot_range x = {150e6, 190e6}, y = {-40, 0};
    struct html *h = picture_start();
    struct report_batch r = {0};
    struct picture_line guard;
    struct plot plot;
    bool has_middle = false;
    char *page;

    (void)state;
    report_start_with(&r, guarded_elements);
    r.limits.limits[2].uncertainty = 0.02;
    r.limits.limits[2].linear_uncertainty = true;
    plot_open(&plot, h, &words, &x, &y);
    picture_draw_bounds(&plot, &r.limits, &r.views.view[2]);
    page = close_plot(&plot);
    picture_read(page, "guard", 0, &guard);
    check_point(&plot, guard.points[0], 160e6, -10);
    check_point(&plot, guard.points[1], 178e6, -25);
    check_point(&plot, guard.points[2], 178e6, -28.810);
    check_point(&plot, guard.points[guard.n - 1], 160e6, -10.567);
    for (size_t i = 3; i < guard.n; i++)
        if (fabs(guard.points[i][0] - plot_x(&plot, 169e6)) < 0.06) {
            check_point(&plot, guard.points[i], 169e6, -18.912);
            has_middle = true;
        }
    assert_true(has_middle);
    memory_free(page);
    report_clear(&r);
}

/* A bound's name tells which side it is, so that it is not that of a ring. */
static void test_names_bounds(void **state)
{
    struct report_batch r = {0};
    struct html *h;
    struct plot plot = open_plot(&h, 150e6, 190e6);
    char *page;

    (void)state;
    report_start_with(&r, bound_elements);
    picture_draw_bounds(&plot, &r.limits, &r.views.view[0]);
    page = close_plot(&plot);
    assert_int_equal(report_count(page, "<text class=\"bound-name\""), 3);
    assert_holds(page, ">both min</text>");
    assert_holds(page, ">both max</text>");
    assert_holds(page, ">mask min</text>");
    assert_int_equal(picture_count(page, "guard"), 0); /* without an uncertainty */
    assert_null(strstr(page, " guard band</span>"));
    memory_free(page);
    report_clear(&r);
}

/* A reflection far below is cut so that the rest can be seen, but a bound never is: what it forbids
 * must be in view. A gain is never cut, and nothing at all is a range too. */
static void test_finish_range(void **state)
{
    const struct view gain = {.parameter = S21}, reflection = {.parameter = S11};
    const struct plot_range keep = {-70, -16};
    struct plot_range nothing, y = {-80, -10};

    (void)state;
    plot_range_start(&nothing);
    picture_finish_range(&y, &reflection, &nothing);
    assert_true(y.low < -40 && y.low > -50);
    assert_true(y.high > -10 && y.high < 0);
    y = (struct plot_range){-80, -10};
    picture_finish_range(&y, &reflection, &keep);
    assert_true(y.low < -70 && y.low > -80);
    y = (struct plot_range){-80, -40};
    picture_finish_range(&y, &reflection, &nothing);
    assert_true(y.low < -70); /* 30 dB are always shown */
    y = (struct plot_range){-80, -10};
    picture_finish_range(&y, &gain, &nothing);
    assert_true(y.low < -80);
    y = nothing;
    picture_finish_range(&y, &reflection, &nothing);
    assert_true(y.low < y.high && isfinite(y.low) && isfinite(y.high));
}

static const double steps_v[] = {1.8, 2.4, 3.0};

/* Draws the wedges from `gain_db`; the plot is left open in `plot` for its scale. */
static char *draw_wedges(struct plot *plot, const struct report_batch *r, const double *bias_v,
                         const double *gain_db)
{
    struct html *h;

    *plot = open_plot(&h, 1.5, 3.5);
    picture_draw_wedges(plot, &r->limits, bias_v, gain_db);
    return close_plot(plot);
}

/* A wedge has its tip at the step's gain and its ends where the bounds lie at the next step. */
static void check_wedge(const char *page, const struct plot *plot, size_t nth, const double tip[2],
                        double to_v, double low, double high)
{
    struct picture_line line;

    picture_read(page, "wedge", nth, &line);
    assert_int_equal(line.n, 4);
    check_point(plot, line.points[0], tip[0], tip[1]);
    check_point(plot, line.points[1], to_v, high);
    check_point(plot, line.points[2], to_v, low);
    check_point(plot, line.points[3], tip[0], tip[1]);
}

/* A local slope of 1 to 5 dB/V allows from each step 0.6 V times as much at the next; a missing
 * step is never bridged. The range holds every end. */
static void test_local_wedges(void **state)
{
    const double gain_db[] = {20, 22, 23}, hole_db[] = {20, NAN, 23};
    const double tips[2][2] = {{1.8, 20}, {2.4, 22}};
    struct report_batch r = {0};
    struct plot_range y;
    struct plot plot;
    char *page;

    (void)state;
    report_start_with(&r, "<gain-slope id=\"slope\" band=\"centre\" min=\"1 dB/V\" "
                          "max=\"5 dB/V\" from=\"low\" to=\"high\"/>");
    page = draw_wedges(&plot, &r, steps_v, gain_db);
    assert_int_equal(picture_count(page, "wedge"), 2);
    check_wedge(page, &plot, 0, tips[0], 2.4, 20.6, 23);
    check_wedge(page, &plot, 1, tips[1], 3.0, 22.6, 25);
    assert_int_equal(report_count(page, "<path class=\"wedge\" d=\"M3 5h24\""), 1);
    memory_free(page);
    plot_range_start(&y);
    picture_take_wedges(&y, &r.limits, steps_v, gain_db);
    assert_close(y.low, 20.6, 1e-9);
    assert_close(y.high, 25, 1e-9);
    page = draw_wedges(&plot, &r, steps_v, hole_db);
    assert_int_equal(picture_count(page, "wedge"), 1);
    check_wedge(page, &plot, 0, tips[0], 2.4, 20.6, 23);
    memory_free(page);
    report_clear(&r);
}

/* A range is a bar at its end, upwards or downwards as it is written, so that it does not fill what
 * a slope between the steps forbids; a fitted slope is no place at all. */
static void test_ranges(void **state)
{
    static const double ends[2][3] = {{3.0, 22, 24}, {1.8, 18, 22}}; /* volts, low, high */
    const double gain_db[] = {20, 22, 23};
    struct report_batch r = {0};
    struct picture_line line;
    struct plot plot;
    char *page;

    (void)state;
    report_start_with(&r, "<gain-slope id=\"slope\" band=\"centre\" min=\"1 dB/V\" max=\"5 dB/V\" "
                          "from=\"low\" to=\"high\" method=\"fit\"/>"
                          "<gain-range id=\"up\" band=\"centre\" min=\"2 dB\" max=\"4 dB\" "
                          "from=\"low\" to=\"high\"/>"
                          "<gain-range id=\"down\" band=\"centre\" min=\"-5 dB\" max=\"-1 dB\" "
                          "from=\"high\" to=\"low\"/>");
    page = draw_wedges(&plot, &r, steps_v, gain_db);
    assert_int_equal(picture_count(page, "wedge"), 0);
    assert_int_equal(picture_count(page, "span"), 2);
    for (size_t i = 0; i < 2; i++) {
        picture_read(page, "span", i, &line);
        assert_int_equal(line.n, 2);
        check_point(&plot, line.points[0], ends[i][0], ends[i][1]);
        check_point(&plot, line.points[1], ends[i][0], ends[i][2]);
    }
    memory_free(page);
    report_clear(&r);
}

/* A side without a bound is open to the edge of the picture. */
static void test_one_sided_wedge(void **state)
{
    const double gain_db[] = {20, 22, 23}, tip[] = {1.8, 20};
    struct report_batch r = {0};
    struct picture_line line;
    struct plot plot;
    char *page;

    (void)state;
    report_start_with(&r, "<gain-range id=\"most\" band=\"centre\" max=\"4 dB\" from=\"low\" "
                          "to=\"high\"/><gain-slope id=\"least\" band=\"centre\" min=\"5 dB/V\" "
                          "from=\"low\" to=\"mid\"/>");
    page = draw_wedges(&plot, &r, steps_v, gain_db);
    assert_int_equal(picture_count(page, "wedge"), 1);
    check_wedge(page, &plot, 0, tip, 2.4, 23, 30);
    picture_read(page, "span", 0, &line);
    check_point(&plot, line.points[0], 3.0, 10);
    check_point(&plot, line.points[1], 3.0, 24);
    memory_free(page);
    report_clear(&r);
}

/* Nothing is drawn where there is nothing to start from or no limit at the frequency drawn. */
static void test_no_wedges(void **state)
{
    const double gain_db[] = {20, 22, 23}, none[] = {NAN, NAN, NAN};
    struct report_batch r = {0};
    struct plot_range y;
    struct plot plot;
    char *page;

    (void)state;
    /* The first one is at the spot; the second holds below it and the third is no slope. */
    report_start_with(&r, "<gain-range id=\"one\" band=\"centre\" max=\"4 dB\" from=\"low\" "
                          "to=\"high\"/><gain-range id=\"two\" from=\"low\" to=\"mid\"><upper>"
                          "<point at=\"160 MHz\" value=\"1 dB\"/>"
                          "<point at=\"165 MHz\" value=\"1 dB\"/></upper></gain-range>"
                          "<gain id=\"gain\" band=\"working\" min=\"19 dB\"/>");
    page = draw_wedges(&plot, &r, steps_v, gain_db);
    assert_int_equal(picture_count(page, "span"), 1);
    memory_free(page);
    for (int which = 0; which < 2; which++) {
        page = draw_wedges(&plot, &r, which ? none : steps_v, which ? gain_db : none);
        assert_null(strstr(page, "class=\"span\""));
        memory_free(page);
    }
    plot_range_start(&y);
    picture_take_wedges(&y, &r.limits, steps_v, none);
    assert_true(y.low > y.high);
    report_clear(&r);
}

/* Gain against bias is drawn for limits that compare steps; of all quantities these are two. */
static void test_what_is_of_bias(void **state)
{
    size_t n, n_of_bias = 0;
    const struct quantity *table = quantity_table(&n);

    (void)state;
    for (size_t i = 0; i < n; i++) {
        const struct limit limit = {.quantity = &table[i]};
        const bool wanted =
            strcmp(table[i].name, "gain-slope") == 0 || strcmp(table[i].name, "gain-range") == 0;

        assert_int_equal(picture_is_of_bias(&limit), wanted);
        n_of_bias += wanted;
    }
    assert_int_equal(n_of_bias, 2);
}

/* It needs two steps, and a limit that says at which frequency. */
static void test_has_bias(void **state)
{
    struct report_batch r = {0};
    struct text words = {0};

    (void)state;
    report_start(&r);
    assert_true(picture_has_bias(&r.limits));
    picture_bias_words(&words, &r.limits);
    assert_string_equal(text_words(&words), "gain against bias at 169 MHz");
    text_clear(&words);
    r.limits.n_biases = 1;
    assert_false(picture_has_bias(&r.limits));
    r.limits.n_biases = 3;
    report_clear(&r);
    report_start_with(&r, "<input-reflection id=\"m\" band=\"working\" max=\"-9 dB\"/>");
    assert_false(picture_has_bias(&r.limits));
    report_clear(&r);
}

/* Gain over bias goes over the voltages that were measured, and breaks at a step without a sweep.
 */
static void test_bias_trace(void **state)
{
    float x[CEILING_BIAS_STEPS], y[CEILING_BIAS_STEPS];
    struct report_batch r = {0};
    struct trace trace;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    r.m[0].biases[2].bias_v = 3.004;
    picture_judge(&r, 0);
    trace = picture_bias_trace(&r.traces[0], x, y);
    assert_int_equal(trace.n_points, 3);
    assert_close((double)trace.x[2], 3.004, 1e-6);
    assert_close((double)trace.y[0], 20, 1e-5);
    assert_close((double)trace.y[2], 26, 1e-5);
    r.traces[0].gain_db[1] = NAN;
    trace = picture_bias_trace(&r.traces[0], x, y);
    assert_int_equal(trace.n_points, 3);
    assert_true(isnan(trace.y[1]));
    assert_close((double)trace.x[2], 3.004, 1e-6);
    assert_close((double)trace.y[2], 26, 1e-5);
    r.traces[0].gain_db[0] = r.traces[0].gain_db[2] = NAN;
    assert_int_equal(picture_bias_trace(&r.traces[0], x, y).n_points, 0);
    report_clear(&r);
}

/* A view is named with its step and the step's voltage. */
static void test_view_words(void **state)
{
    struct report_batch r = {0};
    struct text words = {0};

    (void)state;
    report_start(&r);
    picture_view_words(&words, &r.limits, &r.views.view[2]);
    assert_string_equal(text_words(&words), "gain at bias high (3 V)");
    text_reset(&words);
    picture_view_words(&words, &r.limits, &r.views.view[3]);
    assert_string_equal(text_words(&words), "input reflection at bias low (1.8 V)");
    text_clear(&words);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_takes_its_bounds),  cmocka_unit_test(test_draws_bounds),
        cmocka_unit_test(test_draws_guard_bands), cmocka_unit_test(test_linear_guard_band),
        cmocka_unit_test(test_names_bounds),      cmocka_unit_test(test_finish_range),
        cmocka_unit_test(test_local_wedges),      cmocka_unit_test(test_ranges),
        cmocka_unit_test(test_one_sided_wedge),   cmocka_unit_test(test_no_wedges),
        cmocka_unit_test(test_what_is_of_bias),   cmocka_unit_test(test_has_bias),
        cmocka_unit_test(test_bias_trace),        cmocka_unit_test(test_view_words)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
