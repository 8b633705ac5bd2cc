#include "reports/limit_charts.h"

#include "tests/picture_check.h"

#define MOST ((size_t)400)

/* A series of gains between 19 and 23 dB with a guard band of 0.2 dB on both sides; one value a
 * unit until a test says otherwise. */
struct sample {
    char id[8];
    struct limit limit;
    struct limit_series series;
    double lower[MOST], upper[MOST];
};

static void start(struct sample *s, size_t n)
{
    *s = (struct sample){.id = "gain"};
    s->limit.id = s->id;
    s->limit.quantity = quantity_find("gain");
    s->series = (struct limit_series){
        .limit = &s->limit,
        .n = n,
        .lower = {.is_bounded = true, .bound = 19, .guarded = 19.2, .value = s->lower},
        .upper = {.is_bounded = true, .bound = 23, .guarded = 22.8, .value = s->upper}};
    assert_true(n <= MOST);
    /* Bell-shaped about 21: the sum of four residues. */
    for (size_t i = 0; i < n; i++)
        s->lower[i] = s->upper[i] = 20 + 0.5 *
                                             ((double)(i * 37 % 101) + (double)(i * 53 % 97) +
                                              (double)(i * 71 % 89) + (double)(i * 19 % 83)) /
                                             92.5;
}

static char *draw(const struct sample *s)
{
    struct html *h = picture_start();
    struct error e = {0};

    assert_done(chart_distribution(h, &s->series, &e), &e);
    return picture_finish(h);
}

/* How many values lie in a range that is `more` wider on both sides. */
static size_t count_between(const double *values, size_t n, double from, double to, double more)
{
    size_t found = 0;

    for (size_t i = 0; i < n; i++)
        found += values[i] >= from - more && values[i] < to + more;
    return found;
}

/* Reads the bars of a class back: each is as high as the count of the values that lie where it
 * stands. Returns what they add up to. */
static size_t check_bars(const char *page, const char *class_name, const double *values, size_t n)
{
    const struct plot plot = picture_scale(page, 1);
    const double per_unit = (plot.x_to - plot.x_from) / (PLOT_WIDTH - PLOT_LEFT - PLOT_RIGHT);
    const size_t n_bars = picture_count(page, class_name);
    double last = -INFINITY;
    size_t sum = 0;

    for (size_t i = 0; i < n_bars; i++) {
        struct picture_line bar;
        double from, to, height, width;

        picture_read(page, class_name, i, &bar);
        assert_int_equal(bar.n, 4);
        assert_close(bar.points[2][1], plot_y(&plot, 0), PICTURE_SCALE_ROOM);
        width = (bar.points[1][0] - bar.points[0][0]) / 0.88;
        from = plot.x_from + (bar.points[0][0] - 0.06 * width - PLOT_LEFT) * per_unit;
        to = from + width * per_unit;
        height = (bar.points[2][1] - bar.points[1][1]) / (plot_y(&plot, 0) - plot_y(&plot, 1));
        assert_close(height, round(height), 0.2);
        assert_true(bar.points[0][0] > last); /* bars stand beside each other */
        last = bar.points[1][0];
        assert_true(round(height) >= (double)count_between(values, n, from, to, -0.5 * per_unit));
        assert_true(round(height) <= (double)count_between(values, n, from, to, 0.5 * per_unit));
        sum += (size_t)round(height);
    }
    return sum;
}

/* The bars add up to the units with a value, and each stands where its values lie, for few and for
 * many units. */
static void test_bins_add_up(void **state)
{
    static const size_t counts[] = {2, 9, 40, 150, MOST};
    static struct sample s;

    (void)state;
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++) {
        size_t n_bars;
        char *page;

        start(&s, counts[i]);
        s.lower[1] = s.upper[1] = NAN; /* a unit without a value counts nowhere */
        page = draw(&s);
        assert_int_equal(check_bars(page, "bar", s.lower, counts[i]), counts[i] - 1);
        assert_int_equal(picture_count(page, "bar-other"), 0);
        n_bars = picture_count(page, "bar");
        assert_true(n_bars <= 30);
        assert_true(counts[i] < 40 || n_bars >= 4);
        assert_holds(page, "<figcaption>gain: gain</figcaption>");
        assert_holds(page, ">dB</text>");
        assert_holds(page, " units</span>");
        memory_free(page);
    }
}

/* Checks an upright bound, its strip on the forbidden side, and the guard band inside it. */
static void check_bound(const char *page, size_t nth, double bound, double guarded, bool is_lower)
{
    const struct plot plot = picture_scale(page, 1);
    struct picture_line line, strip, guard;
    double side = 0;

    picture_read(page, "bound", nth, &line);
    picture_read(page, "forbidden", nth, &strip);
    picture_read(page, "guard", nth, &guard);
    assert_int_equal(line.n, 2);
    assert_true(plot.x_from < bound && bound < plot.x_to);
    for (size_t i = 0; i < 2; i++)
        assert_close(line.points[i][0], plot_x(&plot, bound), PICTURE_SCALE_ROOM);
    assert_close(line.points[0][1], PLOT_TOP, 0.06);
    assert_close(line.points[1][1], PLOT_HEIGHT - PLOT_BOTTOM, 0.06);
    for (size_t i = 0; i < strip.n; i++)
        side += strip.points[i][0] - line.points[0][0];
    assert_true(is_lower ? side < -5 : side > 5);
    assert_int_equal(guard.n, 4);
    assert_close(guard.points[0][0], plot_x(&plot, fmin(bound, guarded)), PICTURE_SCALE_ROOM);
    assert_close(guard.points[1][0], plot_x(&plot, fmax(bound, guarded)), PICTURE_SCALE_ROOM);
}

/* Bounds and guard bands stand at their places, however far they are from the values; without an
 * uncertainty there is no guard band. */
static void test_bounds(void **state)
{
    static struct sample s;
    char *page;

    (void)state;
    for (int far = 0; far < 2; far++) {
        start(&s, 60);
        if (far) s.series.upper.bound = 80, s.series.upper.guarded = 70;
        page = draw(&s);
        assert_int_equal(picture_count(page, "bound"), 2);
        check_bound(page, 0, 19, 19.2, true);
        check_bound(page, 1, far ? 80 : 23, far ? 70 : 22.8, false);
        assert_holds(page, " guard band</span>");
        memory_free(page);
    }
    start(&s, 60);
    s.series.lower.guarded = 19;
    s.series.upper = (struct limit_side){.bound = NAN, .guarded = NAN, .value = s.upper};
    page = draw(&s);
    assert_int_equal(picture_count(page, "bound"), 1);
    assert_int_equal(picture_count(page, "guard"), 0);
    assert_null(strstr(strstr(page, "<figure>"), "guard band<"));
    assert_int_equal(check_bars(page, "bar", s.lower, 60), 60);
    memory_free(page);
}

/* Over a band each unit has a lowest and a highest value: both rows are shown, each adds up, and
 * the legend tells which is which. */
static void test_two_rows(void **state)
{
    static struct sample s;
    char *page;

    (void)state;
    start(&s, 80);
    for (size_t i = 0; i < 80; i++)
        s.upper[i] += 0.4;
    page = draw(&s);
    assert_int_equal(check_bars(page, "bar", s.lower, 80), 80);
    assert_int_equal(check_bars(page, "bar-other", s.upper, 80), 80);
    assert_holds(page, " lowest value of each unit</span>");
    assert_holds(page, " highest value of each unit</span>");
    memory_free(page);
}

/* The bounds of a mask vary, so that its axis is the margin: one bound at 0, inside above it. */
static void test_margins(void **state)
{
    static struct sample s;
    char *page;

    (void)state;
    start(&s, 50);
    s.series.is_margin = true;
    s.series.lower.bound = s.series.upper.bound = 0;
    s.series.lower.guarded = s.series.upper.guarded = 0.5;
    for (size_t i = 0; i < 50; i++)
        s.lower[i] -= 19, s.upper[i] = 23 - s.upper[i];
    page = draw(&s);
    assert_int_equal(picture_count(page, "bound"), 1);
    check_bound(page, 0, 0, 0.5, true);
    assert_holds(page, "<figcaption>gain: margin of the gain</figcaption>");
    assert_int_equal(check_bars(page, "bar", s.lower, 50), 50);
    assert_int_equal(check_bars(page, "bar-other", s.upper, 50), 50);
    memory_free(page);
    memcpy(s.upper, s.lower, sizeof s.upper); /* equally far from both: still two things */
    page = draw(&s);
    assert_int_equal(check_bars(page, "bar-other", s.upper, 50), 50);
    memory_free(page);
    s.series.lower.is_bounded = false;
    page = draw(&s);
    check_bound(page, 0, 0, 0.5, true);
    assert_int_equal(check_bars(page, "bar", s.upper, 50), 50);
    memory_free(page);
}

/* Whether a bar reaches from one side of a place to the other. */
static bool straddles(const char *page, const char *class_name, double x)
{
    for (size_t i = 0; i < picture_count(page, class_name); i++) {
        struct picture_line bar;

        picture_read(page, class_name, i, &bar);
        if (bar.points[0][0] < x - 0.2 && bar.points[1][0] > x + 0.2) return true;
    }
    return false;
}

/* How many units stand in bars on the inside of both bounds. */
static size_t count_inside(const char *page, const struct plot *plot)
{
    double sum = 0;

    for (size_t i = 0; i < picture_count(page, "bar"); i++) {
        struct picture_line bar;

        picture_read(page, "bar", i, &bar);
        if (bar.points[0][0] > plot_x(plot, 19) - 0.2 && bar.points[1][0] < plot_x(plot, 23) + 0.2)
            sum +=
                round((bar.points[2][1] - bar.points[1][1]) / (plot_y(plot, 0) - plot_y(plot, 1)));
    }
    return (size_t)sum;
}

/* No bar holds units of both sides of a bound, however many bins there are: those inside stand
 * inside, one on the bound too, and those outside by next to nothing stand outside. */
static void test_bins_on_bounds(void **state)
{
    static const size_t counts[] = {6, 17, 40, 150, MOST};
    static struct sample s;

    (void)state;
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++) {
        struct plot plot;
        char *page;

        start(&s, counts[i]);
        for (size_t k = 0; k < counts[i]; k++)
            s.lower[k] = s.upper[k] = 18 + 0.1 * (double)(k % 61);
        s.lower[0] = s.upper[0] = 19;
        s.lower[1] = s.upper[1] = 23;
        s.lower[2] = s.upper[2] = 19 - 1e-12;
        s.lower[3] = s.upper[3] = 23 + 1e-12;
        page = draw(&s);
        plot = picture_scale(page, 1);
        assert_false(straddles(page, "bar", plot_x(&plot, 19)));
        assert_false(straddles(page, "bar", plot_x(&plot, 23)));
        assert_int_equal(count_inside(page, &plot),
                         count_between(s.lower, counts[i], 19, 23 + 1e-13, 0));
        memory_free(page);
    }
}

/* Bounds that are closer together than the bins can be made still give a chart that adds up. */
static void test_close_bounds(void **state)
{
    static struct sample s;
    char *page;

    (void)state;
    start(&s, 100);
    s.series.upper.bound = s.series.upper.guarded = 19.01;
    s.series.lower.guarded = 19;
    page = draw(&s);
    assert_int_equal(check_bars(page, "bar", s.lower, 100), 100);
    memory_free(page);
}

/* The ticks of a count of units are whole, few as they may be. */
static void test_whole_units(void **state)
{
    static struct sample s;

    (void)state;
    for (size_t n = 1; n < 12; n++) {
        char *page;
        const char *label;

        start(&s, n);
        for (size_t i = 0; i < n; i++)
            s.lower[i] = s.upper[i] = 21;
        page = draw(&s);
        label = svg_find(page, "<text text-anchor=\"end\" x=\"47\"", 0);
        assert_non_null(label);
        for (size_t i = 0; label; label = svg_find(page, "<text text-anchor=\"end\" x=\"47\"", ++i))
            assert_int_equal(strcspn(strchr(label, '>'), ".<"), strcspn(strchr(label, '>'), "<"));
        assert_int_equal(check_bars(page, "bar", s.lower, n), n);
        memory_free(page);
    }
}

/* Values far beyond the others are not drawn, which would leave one bar for all others, but
 * counted in words at their side. Of few units too, and two rows do not write over each other. */
static void test_further_out(void **state)
{
    static const size_t counts[] = {30, MOST};
    static struct sample s;

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        const char *mark, *other;
        char *page;

        start(&s, counts[i]);
        s.lower[3] = s.lower[4] = -60;
        s.upper[3] = s.upper[4] = -59;
        s.upper[5] = s.lower[5] = 300;
        s.upper[6] = 400;
        page = draw(&s);
        assert_int_equal(check_bars(page, "bar", s.lower, counts[i]), counts[i] - 3);
        assert_int_equal(check_bars(page, "bar-other", s.upper, counts[i]), counts[i] - 4);
        assert_int_equal(report_count(page, ">2 further out</text>"), 3);
        assert_int_equal(report_count(page, ">1 further out</text>"), 1);
        mark = svg_find(page, "<text class=\"mark\" text-anchor=\"start\"", 0);
        other = svg_find(page, "<text class=\"mark\" text-anchor=\"start\"", 1);
        assert_true(svg_attribute(mark, "x") < PLOT_WIDTH / 2.0);
        assert_true(fabs(svg_attribute(mark, "y") - svg_attribute(other, "y")) > 12);
        mark = svg_find(page, "<text class=\"mark\" text-anchor=\"end\"", 0);
        assert_true(svg_attribute(mark, "x") > PLOT_WIDTH / 2.0);
        assert_true(picture_count(page, "bar") >= (counts[i] == MOST ? 4 : 2));
        memory_free(page);
    }
}

/* No units, no values, one value and equal values, on the bound even, are a chart all the same. */
static void test_edge_cases(void **state)
{
    static struct sample s;

    (void)state;
    for (int which = 0; which < 4; which++) {
        const size_t n = which == 0 ? 0 : which == 2 ? 1 : 20;
        char *page;

        start(&s, n);
        for (size_t i = 0; i < n; i++)
            s.lower[i] = s.upper[i] = which == 1 ? NAN : 19;
        page = draw(&s);
        assert_int_equal(picture_count(page, "bound"), 2);
        assert_int_equal(check_bars(page, "bar", s.lower, n), which == 1 ? 0 : n);
        /* What is not drawn has no place in the legend. */
        assert_int_equal(report_count(page, " units</span>"), which > 1);
        memory_free(page);
    }
    start(&s, 20);
    for (size_t i = 0; i < 20; i++)
        s.lower[i] = s.upper[i] = 19;
    s.series.lower.guarded = 19;
    s.series.upper.is_bounded = false;
    s.series.upper.bound = s.series.upper.guarded = NAN;
    {
        char *page = draw(&s); /* nothing is wider than nothing */

        assert_int_equal(check_bars(page, "bar", s.lower, 20), 20);
        memory_free(page);
    }
}

/* The range holds nearly all values, and the last ones as far as they leave room. */
static void test_take_values(void **state)
{
    double values[200], far[200];
    const struct limit_side side = {.value = values}, other = {.value = far};
    const struct limit_side *const sides[] = {&side, &other};
    struct plot_range range = {18, 24};
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < 200; i++)
        values[i] = 20 + 0.01 * (double)i;
    values[0] = -60;
    values[199] = 25;
    values[100] = NAN;
    memcpy(far, values, sizeof far);
    far[5] = far[199] = 90;
    assert_done(chart_take_values(&range, sides, 1, 200, &e), &e);
    assert_close(range.low, 12, 1e-6);
    assert_close(range.high, 25, 1e-6);
    range = (struct plot_range){18, 24};
    /* Two sides do not widen it twice. */
    assert_done(chart_take_values(&range, sides, 2, 200, &e), &e);
    assert_close(range.low, 12, 1e-6);
    assert_close(range.high, 30, 1e-6);
    plot_range_start(&range);
    assert_done(chart_take_values(&range, sides, 2, 0, &e), &e);
    assert_true(range.low > range.high);
    memory_fail_at(1);
    assert_false(chart_take_values(&range, sides, 2, 200, &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
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

    return chart_distribution(h, &s->series, e);
}

/* Without memory the chart fails or the page does. */
static void test_memory(void **state)
{
    static struct sample s;

    (void)state;
    start(&s, 50);
    s.lower[3] = -60;
    picture_check_memory(write_chart, &s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bins_add_up),    cmocka_unit_test(test_bounds),
        cmocka_unit_test(test_two_rows),       cmocka_unit_test(test_margins),
        cmocka_unit_test(test_further_out),    cmocka_unit_test(test_edge_cases),
        cmocka_unit_test(test_take_values),    cmocka_unit_test(test_bare_number),
        cmocka_unit_test(test_bins_on_bounds), cmocka_unit_test(test_close_bounds),
        cmocka_unit_test(test_whole_units),    cmocka_unit_test(test_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
