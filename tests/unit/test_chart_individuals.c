#include "tests/individuals_check.h"

/* A level line over the whole width at a value. */
static void check_level(const char *page, const struct plot *plot, const char *class_name,
                        size_t nth, double value)
{
    struct picture_line line;

    picture_read(page, class_name, nth, &line);
    assert_int_equal(line.n, 2);
    assert_true(plot->y_from < value && value < plot->y_to);
    assert_close(line.points[0][0], PLOT_LEFT, 0.06);
    assert_close(line.points[1][0], PLOT_WIDTH - PLOT_RIGHT, 0.06);
    for (size_t i = 0; i < 2; i++)
        assert_close(line.points[i][1], plot_y(plot, value), PICTURE_SCALE_ROOM);
}

/* Mean and control limits lie where individuals_of() puts them, and the acceptance limit at the
 * bound: they are told apart in words. */
static void test_limit_lines(void **state)
{
    static struct sample s;
    struct individuals want;
    struct picture_line strip;
    struct plot plot;
    char *page;

    (void)state;
    start(&s, 50);
    s.value[0][7] = NAN;
    individuals_of(&want, s.value[0], 50);
    page = draw(&s);
    plot = scale_of(page, 50);
    check_level(page, &plot, "mean", 0, want.mean);
    check_level(page, &plot, "natural", 0, want.low);
    check_level(page, &plot, "natural", 1, want.high);
    check_level(page, &plot, "bound", 0, 19);
    picture_read(page, "forbidden", 0, &strip);
    assert_true(strip.points[2][1] > plot_y(&plot, 19) + 5);
    assert_holds(page, "<figcaption>gain: gain from unit to unit</figcaption>");
    assert_holds(page, "not the acceptance limits</span>");
    assert_holds(page, " acceptance limit</span>");
    assert_holds(page, ">units by time</text>");
    assert_holds(page, ">dB</text>");
    memory_free(page);
}

/* NIST/SEMATECH e-Handbook 6.3.2.2, flow rates of 10 batches: mean 50.81, limits 45.8159 and
 * 55.8041. The lines read back from the drawing lie there. */
static void test_handbook_chart(void **state)
{
    static const double flow[] = {49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1};
    static struct sample s;
    struct picture_line line;
    struct plot plot;
    char *page;

    (void)state;
    start(&s, 10);
    for (size_t i = 0; i < 10; i++)
        set_value(&s, i, flow[i]);
    for (int above = 0; above < 2; above++) { /* the acceptance limit, below or above all */
        s.series.lower.bound = s.series.lower.guarded = above ? 60 : 40;
        page = draw(&s);
        plot = scale_of(page, 10);
        check_level(page, &plot, "mean", 0, 50.81);
        check_level(page, &plot, "natural", 0, 45.8159);
        check_level(page, &plot, "natural", 1, 55.8041);
        picture_read(page, "run", 0, &line);
        assert_int_equal(line.n, 10);
        memory_free(page);
    }
}

/* Every unit is a dot at its number and value, joined in the order of the series; a unit without a
 * value leaves a gap. */
static void test_values(void **state)
{
    static struct sample s;
    struct picture_line run, dots;
    struct plot plot;
    char *page;
    size_t k = 0;

    (void)state;
    start(&s, 300);
    s.value[0][7] = s.value[0][9] = NAN;
    page = draw(&s);
    plot = scale_of(page, 300);
    picture_read(page, "run", 0, &run);
    picture_read(page, "dot", 0, &dots);
    assert_int_equal(run.n, 298);
    assert_int_equal(dots.n, 298);
    for (size_t i = 0; i < 300; i++) {
        if (isnan(s.value[0][i])) continue;
        assert_close(run.points[k][0], plot_x(&plot, (double)i + 1), 0.06);
        assert_close(run.points[k][1], plot_y(&plot, s.value[0][i]), PICTURE_SCALE_ROOM);
        assert_int_equal(run.lifted[k], i == 0 || isnan(s.value[0][i - 1]));
        assert_close(dots.points[k][0], run.points[k][0], 0.01);
        assert_close(dots.points[k][1], run.points[k][1], 0.01);
        assert_true(dots.lifted[k]);
        k++;
    }
    memory_free(page);
}

/* The place of the point nearest to a unit's number and value. */
static double distance_to(const struct picture_line *line, double x, double y)
{
    double nearest = INFINITY;

    for (size_t i = 0; i < line->n; i++)
        nearest = fmin(nearest, hypot(line->points[i][0] - x, line->points[i][1] - y));
    return nearest;
}

/* Whether a value lies between the lowest and the highest that are drawn near its unit: within a
 * stretch of the line, which is two points. */
static bool is_enveloped(const struct picture_line *run, const struct plot *plot, size_t n,
                         double unit, double value)
{
    const double near = ((double)n / 150 + 1) * 416 / (double)n;
    double lowest = -INFINITY, highest = INFINITY;

    for (size_t i = 0; i < run->n; i++) {
        if (fabs(run->points[i][0] - plot_x(plot, unit)) > near) continue;
        lowest = fmax(lowest, run->points[i][1]);
        highest = fmin(highest, run->points[i][1]);
    }
    return plot_y(plot, value) <= lowest + PICTURE_SCALE_ROOM &&
           plot_y(plot, value) >= highest - PICTURE_SCALE_ROOM;
}

/* More than 300 units are a line of at most 300 points, each a unit's value, in order; the lowest
 * and the highest of any stretch stay, so that no excursion is lost, and no unit without a value
 * becomes one. */
static void test_reduction(void **state)
{
    static const size_t counts[] = {301, 449, MOST};
    static struct sample s;

    (void)state;
    for (size_t k = 0; k < 3; k++) {
        const size_t n = counts[k];
        struct picture_line run;
        struct plot plot;
        char *page;

        start(&s, n);
        for (size_t i = n / 2 + 3; i < n / 2 + 33; i++)
            s.value[0][i] = NAN;
        set_value(&s, 0, 20.1);
        set_value(&s, n / 3, 20.2);
        set_value(&s, n / 3 + 1, 22.1);
        set_value(&s, n - 1, 22.2);
        page = draw(&s);
        plot = scale_of(page, n);
        picture_read(page, "run", 0, &run);
        assert_true(run.n <= 300 && run.n >= 200);
        assert_int_equal(picture_count(page, "dot"), 0);
        for (size_t i = 0; i < run.n; i++) {
            const double unit = plot.x_from + (run.points[i][0] - PLOT_LEFT) * (double)n / 416;
            double off = INFINITY;

            /* In tenths of a unit a place is one unit or its neighbour. */
            for (long u = lround(unit) - 2; u <= lround(unit) + 2; u++)
                if (u >= 1 && u <= (long)n && !isnan(s.value[0][u - 1]))
                    off = fmin(off, hypot(run.points[i][0] - plot_x(&plot, (double)u),
                                          run.points[i][1] - plot_y(&plot, s.value[0][u - 1])));
            assert_true(off <= PICTURE_SCALE_ROOM);
            assert_true(i == 0 || run.points[i][0] > run.points[i - 1][0] - 0.01);
        }
        for (size_t i = 0; i < n; i++)
            assert_true(isnan(s.value[0][i]) ||
                        is_enveloped(&run, &plot, n, (double)i + 1, s.value[0][i]));
        for (size_t i = 0; i < 4; i++) {
            const size_t unit = i == 0 ? 0 : i == 1 ? n / 3 : i == 2 ? n / 3 + 1 : n - 1;

            assert_true(distance_to(&run, plot_x(&plot, (double)unit + 1),
                                    plot_y(&plot, s.value[0][unit])) <= PICTURE_SCALE_ROOM);
        }
        memory_free(page);
    }
}

/* Values beyond the control limits have a ring at their place, others have none; a flood of rings
 * ends at forty. */
static void test_rings(void **state)
{
    static struct sample s;
    struct plot plot;
    const char *ring;
    char *page;

    (void)state;
    start(&s, 60);
    page = draw(&s);
    assert_null(strstr(page, "<circle"));
    memory_free(page);
    set_value(&s, 29, 26);
    page = draw(&s);
    plot = scale_of(page, 60);
    assert_int_equal(report_count(page, "<circle class=\"beyond\""), 1);
    ring = svg_find(page, "<circle class=\"beyond\"", 0);
    assert_close(svg_attribute(ring, "cx"), plot_x(&plot, 30), 0.51);
    assert_close(svg_attribute(ring, "cy"), plot_y(&plot, 26), 0.51 + PICTURE_SCALE_ROOM);
    memory_free(page);
    start(&s, 60);
    set_value(&s, 29, 16);
    page = draw(&s);
    plot = scale_of(page, 60);
    assert_int_equal(report_count(page, "<circle class=\"beyond\""), 1);
    ring = svg_find(page, "<circle class=\"beyond\"", 0);
    assert_close(svg_attribute(ring, "cy"), plot_y(&plot, 16), 0.51 + PICTURE_SCALE_ROOM);
    memory_free(page);
    start(&s, MOST);
    for (size_t i = 0; i < 200; i++)
        set_value(&s, i, 18 + 0.001 * (double)i);
    for (size_t i = 200; i < MOST; i++)
        set_value(&s, i, 20.5 + 0.001 * (double)i);
    page = draw(&s);
    assert_int_equal(report_count(page, "<circle class=\"beyond\""), 40);
    memory_free(page);
}

/* Of two bounds the chart takes the one that is nearer in the side's own deviations, and says
 * which: the upper values are nearer here, but never move. */
static void test_tighter_side(void **state)
{
    static struct sample s;
    struct plot plot;
    struct picture_line strip;
    char *page;

    (void)state;
    start(&s, 40);
    s.series.upper = (struct limit_side){
        .is_bounded = true, .bound = 25, .guarded = 25, .value = s.value[1], .margin = s.margin[1]};
    page = draw(&s); /* one value: 21 lies nearer to 19 than to 25 */
    assert_holds(page, "from unit to unit, lowest value of each unit</figcaption>");
    plot = scale_of(page, 40);
    check_level(page, &plot, "bound", 0, 19);
    memory_free(page);
    for (size_t i = 0; i < 40; i++)
        set_value(&s, i, s.value[0][i] + 2.5);
    page = draw(&s);
    assert_holds(page, "highest value of each unit</figcaption>");
    plot = scale_of(page, 40);
    /* The other bound is there too: a value outside it has failed as well. */
    check_level(page, &plot, "bound", 0, 19);
    check_level(page, &plot, "bound", 1, 25);
    picture_read(page, "forbidden", 1, &strip);
    assert_true(strip.points[2][1] < plot_y(&plot, 25) - 5);
    memory_free(page);
    for (size_t i = 0; i < 40; i++) {
        s.margin[0][i] = 2 + (i % 2 ? 1 : -1);
        s.margin[1][i] = 1.5 + (i % 2 ? 0.01 : -0.01);
    }
    page = draw(&s);
    assert_holds(page, "lowest value of each unit</figcaption>");
    memory_free(page);
    for (size_t i = 0; i < 40; i++)
        s.margin[0][i] = 2, s.margin[1][i] = 1.5;
    page = draw(&s); /* all the same: the nearer one */
    assert_holds(page, "highest value of each unit</figcaption>");
    memory_free(page);
}

/* On the axis of margins inside is above the bound, whichever side it is. */
static void test_margins(void **state)
{
    static struct sample s;
    struct picture_line strip;
    struct plot plot;
    char *page;

    (void)state;
    start(&s, 40);
    s.series.is_margin = true;
    s.series.lower.is_bounded = false;
    s.series.upper =
        (struct limit_side){.is_bounded = true, .value = s.margin[1], .margin = s.margin[1]};
    page = draw(&s);
    assert_holds(page, "<figcaption>gain: margin of the gain from unit to unit</figcaption>");
    plot = scale_of(page, 40);
    check_level(page, &plot, "bound", 0, 0);
    picture_read(page, "forbidden", 0, &strip);
    assert_true(strip.points[2][1] > plot_y(&plot, 0) + 5);
    memory_free(page);
}

/* No units, no values and one value have no control limits and no words about them, but the bound.
 */
static void test_edge_cases(void **state)
{
    static struct sample s;

    (void)state;
    for (size_t n = 0; n < 3; n++) {
        char *page;

        start(&s, n);
        if (n == 2) s.value[0][0] = s.value[0][1] = NAN;
        page = draw(&s);
        assert_int_equal(picture_count(page, "bound"), 1);
        assert_int_equal(picture_count(page, "mean") + picture_count(page, "natural"), 0);
        assert_int_equal(picture_count(page, "dot"), n == 1);
        assert_null(strstr(page, "3 sigma"));
        assert_null(strstr(page, "<circle"));
        memory_free(page);
    }
}

/* A bare number has no unit: a "1" beside the axis would be taken for a tick. */
static void test_bare_number(void **state)
{
    static struct sample s;
    char *page;

    (void)state;
    start(&s, 20);
    page = draw(&s);
    assert_int_equal(report_count(page, ">dB</text>"), 1);
    memory_free(page);
    s.limit.quantity = quantity_find("stability");
    page = draw(&s);
    assert_null(strstr(page, ">dB</text>"));
    assert_null(strstr(page, ">1</text>"));
    memory_free(page);
}

static bool write_chart(struct html *h, const void *what, struct error *e)
{
    const struct sample *s = what;

    return chart_individuals(h, &s->series, "units by time", e);
}

/* Without memory the chart fails or the page does; the dots are a path of their own. */
static void test_memory(void **state)
{
    static struct sample s;

    (void)state;
    start(&s, 30);
    picture_check_memory(write_chart, &s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_limit_lines), cmocka_unit_test(test_handbook_chart),
        cmocka_unit_test(test_values),      cmocka_unit_test(test_reduction),
        cmocka_unit_test(test_rings),       cmocka_unit_test(test_tighter_side),
        cmocka_unit_test(test_margins),     cmocka_unit_test(test_edge_cases),
        cmocka_unit_test(test_bare_number), cmocka_unit_test(test_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
