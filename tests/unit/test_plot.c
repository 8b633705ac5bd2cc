/* Pictures parsed back: everything drawn lies where its value says. */
#include "reports/plot.h"

#include "drivers/base/memory.h"
#include "tests/page_check.h"
#include "tests/svg_read.h"

#define POINTS 512
#define BOTTOM (PLOT_HEIGHT - PLOT_BOTTOM)
#define RIGHT (PLOT_WIDTH - PLOT_RIGHT)
/* Paths are written in tenths of a unit, other places in whole ones. */
#define TENTH 0.06
#define WHOLE 0.51

static double points[POINTS][2];
static bool lifted[POINTS];

/* Fills `points` and `lifted` from the `nth` path of a class. */
static size_t read_path(const char *page, const char *class_name, size_t nth)
{
    const char *d = svg_find_path(page, class_name, nth);

    assert_non_null(d);
    return svg_read_path(d, points, lifted, POINTS);
}

static struct plot open_scaled(struct html **h, const double x[2], const double y[2], double scale)
{
    const struct plot_words words = {"Title", "Description", "x label", "y label", scale};
    struct plot_range x_range = {x[0], x[1]}, y_range = {y[0], y[1]};
    struct error e = {0};
    struct plot plot;

    *h = html_start("t", false, &e);
    assert_non_null(*h);
    plot_open(&plot, *h, &words, &x_range, &y_range);
    return plot;
}

static struct plot open_plot(struct html **h, double x_from, double x_to, double y_from,
                             double y_to)
{
    return open_scaled(h, (double[]){x_from, x_to}, (double[]){y_from, y_to}, 1);
}

static char *finish(struct plot *plot, struct html *h)
{
    struct text out = {0};
    struct error e = {0};

    plot_close(plot);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    page_check(out.data);
    return out.data;
}

/* The corners of the range are the corners of the frame, and a higher value lies higher. */
static void test_corners(void **state)
{
    struct html *h;
    struct plot plot = open_plot(&h, 100, 200, -30, 0);
    char *page = finish(&plot, h);

    (void)state;
    assert_close(plot_x(&plot, 100), PLOT_LEFT, 1e-9);
    assert_close(plot_x(&plot, 200), RIGHT, 1e-9);
    assert_close(plot_y(&plot, 0), PLOT_TOP, 1e-9);
    assert_close(plot_y(&plot, -30), BOTTOM, 1e-9);
    assert_true(plot_y(&plot, -10) < plot_y(&plot, -20));
    memory_free(page);
}

/* The data have a window of their own whose coordinates are those of the whole drawing and whose
 * edge is the frame: what leaves the axes is cut there and not drawn over the labels. */
static void test_window(void **state)
{
    struct html *h;
    struct plot plot = open_plot(&h, 0, 1, 0, 1);
    char *page, want[160];
    const char *window, *path, *end, *frame;

    (void)state;
    plot_line(&plot, 0, 0, 9, 9, "mine");
    page = finish(&plot, h);
    (void)snprintf(want, sizeof want,
                   "<svg x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\" viewBox=\"%d %d %d %d\">",
                   PLOT_LEFT, PLOT_TOP, RIGHT - PLOT_LEFT, BOTTOM - PLOT_TOP, PLOT_LEFT, PLOT_TOP,
                   RIGHT - PLOT_LEFT, BOTTOM - PLOT_TOP);
    window = strstr(page, want);
    path = svg_find_path(page, "mine", 0);
    assert_non_null(window);
    assert_non_null(path);
    end = strstr(window, "</svg>");
    assert_true(window < path && path < end);
    frame = svg_find(page, "<rect class=\"frame\"", 0);
    assert_close(svg_attribute(frame, "x"), PLOT_LEFT, 0);
    assert_close(svg_attribute(frame, "y"), PLOT_TOP, 0);
    assert_close(svg_attribute(frame, "width"), RIGHT - PLOT_LEFT, 0);
    assert_close(svg_attribute(frame, "height"), BOTTOM - PLOT_TOP, 0);
    (void)snprintf(want, sizeof want, "viewBox=\"0 0 %d %d\"", PLOT_WIDTH, PLOT_HEIGHT);
    assert_holds(page, want);
    memory_free(page);
}

/* Every point of a trace lies where its values say, in its order, in one stroke. */
static void test_trace(void **state)
{
    float x[] = {150e6f, 160e6f, 163.5e6f, 170e6f, 190e6f};
    float y[] = {18, 20.5f, 19.25f, 23.0f, 18.75f};
    struct trace trace = {5, x, y};
    struct html *h;
    struct plot plot = open_plot(&h, 155e6, 180e6, 15, 25);
    char *page;

    (void)state;
    plot_trace(&plot, &trace, "mine", "unit A");
    plot_trace(&plot, &trace, "plain", NULL);
    page = finish(&plot, h);
    assert_int_equal(read_path(page, "mine", 0), 5);
    for (size_t i = 0; i < 5; i++) {
        assert_close(points[i][0], plot_x(&plot, (double)x[i]), TENTH);
        assert_close(points[i][1], plot_y(&plot, (double)y[i]), TENTH);
        assert_int_equal(lifted[i], i == 0);
    }
    assert_holds(page, "<g><title>unit A</title><path class=\"mine\"");
    assert_null(strstr(page, "<g><path"));
    assert_null(strstr(page, "</title><path class=\"plain\""));
    memory_free(page);
}

/* A NaN breaks the line: the pen is lifted and nothing bridges the hole. The points alone, at the
 * ends and between two holes, are dots. A trace of holes or of nothing draws nothing. */
static void test_nan_breaks_the_line(void **state)
{
    static const size_t drawn[] = {0, 2, 3, 5, 7};
    static const bool begins[] = {true, true, false, true, true};
    float x[] = {0, 1, 2, 3, 4, 5, 6, 7}, y[] = {1, NAN, 1, 0.5f, NAN, 1.5f, NAN, 1};
    struct trace trace = {8, x, y}, hole = {1, x, y + 1}, empty = {0};
    struct html *h;
    struct plot plot = open_plot(&h, 0, 8, 0, 2);
    char *page;

    (void)state;
    plot_trace(&plot, &hole, "hole", NULL);
    plot_trace(&plot, &empty, "empty", NULL);
    plot_trace(&plot, &trace, "mine", NULL);
    page = finish(&plot, h);
    assert_int_equal(read_path(page, "mine", 0), 5);
    for (size_t i = 0; i < 5; i++) {
        assert_close(points[i][0], plot_x(&plot, (double)x[drawn[i]]), TENTH);
        assert_close(points[i][1], plot_y(&plot, (double)y[drawn[i]]), TENTH);
        assert_int_equal(lifted[i], begins[i]);
    }
    assert_null(strstr(page, "\"hole\""));
    assert_null(strstr(page, "\"empty\""));
    memory_free(page);
}

/* A line joins its two places. */
static void test_line(void **state)
{
    struct html *h;
    struct plot plot = open_plot(&h, 0, 10, -5, 5);
    char *page;

    (void)state;
    plot_line(&plot, 2, -1, 7, 4, "mine");
    page = finish(&plot, h);
    assert_int_equal(read_path(page, "mine", 0), 2);
    assert_close(points[0][0], plot_x(&plot, 2), TENTH);
    assert_close(points[0][1], plot_y(&plot, -1), TENTH);
    assert_close(points[1][0], plot_x(&plot, 7), TENTH);
    assert_close(points[1][1], plot_y(&plot, 4), TENTH);
    memory_free(page);
}

/* An area goes along its upper edge and back along its lower one, and is closed; where either edge
 * is missing there is none, so that a hole parts it in two. */
static void test_area(void **state)
{
    static const size_t part_from[] = {1, 5}, part_to[] = {3, 7};
    double x[] = {0, 1, 2, 3, 4, 5, 6, 7, 8};
    double low[] = {NAN, 1, 0.5, 1, 1, 1, 1.2, 0.8, 1};
    double high[] = {2, 2, 2.5, 2, NAN, 3, 3.5, 3, NAN};
    struct html *h;
    struct plot plot = open_plot(&h, 0, 8, 0, 4);
    const char *d;
    char *page;
    size_t n = 0;

    (void)state;
    plot_area(&plot, x, low, high, 9, "mine", "most units");
    plot_area(&plot, x, low, high, 1, "nothing", NULL);
    page = finish(&plot, h);
    assert_int_equal(read_path(page, "mine", 0), 12);
    for (size_t part = 0; part < 2; part++)
        for (size_t k = 0; k < 6; k++, n++) {
            size_t i = k < 3 ? part_from[part] + k : part_to[part] - (k - 3);

            assert_close(points[n][0], plot_x(&plot, x[i]), TENTH);
            assert_close(points[n][1], plot_y(&plot, k < 3 ? high[i] : low[i]), TENTH);
            assert_int_equal(lifted[n], k == 0);
        }
    d = svg_find_path(page, "mine", 0);
    d = strchr(d, 'Z');
    assert_true(d && d[1] == 'M');
    d = strchr(d + 1, 'Z');
    assert_true(d && d[1] == '"');
    assert_holds(page, "<title>most units</title>");
    assert_null(strstr(page, "nothing"));
    memory_free(page);
}

/* Checks the strip of the path `forbidden` against the line in `points`, `n` corners, given by
 * value: along it and back beside it, closed. */
static void check_strip(const char *page, const struct plot *plot, const struct bound_line *line,
                        double beside)
{
    const size_t n = line->n_points;

    assert_int_equal(read_path(page, "forbidden", 0), 2 * n);
    for (size_t i = 0; i < 2 * n; i++) {
        size_t corner = i < n ? i : 2 * n - 1 - i;

        assert_close(points[i][0], plot_x(plot, line->frequency_hz[corner]), TENTH);
        assert_close(points[i][1], plot_y(plot, line->value[corner]) + (i < n ? 0 : beside), TENTH);
        assert_int_equal(lifted[i], i == 0);
    }
    assert_int_equal(strcspn(svg_find_path(page, "forbidden", 0), "Z\"") + 1,
                     strcspn(svg_find_path(page, "forbidden", 0), "\""));
}

/* A bound goes through its corners, and the strip lies below a lower bound, above an upper one. */
static void test_bound(void **state)
{
    double at_hz[] = {1, 3, 5}, value[] = {10, 12, 9};
    struct bound_line line = {3, at_hz, value}, none = {0};

    (void)state;
    for (int lower = 0; lower < 2; lower++) {
        struct html *h;
        struct plot plot = open_plot(&h, 0, 6, 5, 15);
        char *page;

        plot_bound(&plot, &none, lower, "nothing");
        plot_bound(&plot, &line, lower, "bound of gain");
        page = finish(&plot, h);
        check_strip(page, &plot, &line, lower ? PLOT_STRIP : -PLOT_STRIP);
        assert_int_equal(read_path(page, "bound", 0), 3);
        for (size_t i = 0; i < 3; i++) {
            assert_close(points[i][0], plot_x(&plot, at_hz[i]), TENTH);
            assert_close(points[i][1], plot_y(&plot, value[i]), TENTH);
        }
        assert_holds(page, "<g><title>bound of gain</title><path class=\"bound\"");
        assert_null(svg_find_path(page, "bound", 1));
        assert_null(strstr(page, "nothing"));
        memory_free(page);
    }
}

/* A bound at one spot is a level line about it, wide enough to be seen, with its strip. */
static void test_bound_at_a_spot(void **state)
{
    double at_hz = 169e6, value = 19;
    struct bound_line line = {1, &at_hz, &value};
    struct html *h;
    struct plot plot = open_plot(&h, 160e6, 178e6, 15, 25);
    char *page;

    (void)state;
    plot_bound(&plot, &line, true, "b");
    page = finish(&plot, h);
    assert_int_equal(read_path(page, "bound", 0), 2);
    assert_true(points[1][0] - points[0][0] > 10);
    assert_close((points[0][0] + points[1][0]) / 2, plot_x(&plot, 169e6), TENTH);
    assert_close(points[0][1], plot_y(&plot, 19), TENTH);
    assert_close(points[1][1], points[0][1], 0);
    assert_int_equal(read_path(page, "forbidden", 0), 4);
    assert_close(points[2][1], plot_y(&plot, 19) + PLOT_STRIP, TENTH);
    assert_close(points[3][1], plot_y(&plot, 19) + PLOT_STRIP, TENTH);
    assert_close(points[2][0], points[1][0], TENTH);
    assert_close(points[3][0], points[0][0], TENTH);
    memory_free(page);
}

/* A bound on x stands upright over the whole height; what lies left of a lower bound is forbidden,
 * and what lies right of an upper one. */
static void test_bound_upright(void **state)
{
    (void)state;
    for (int lower = 0; lower < 2; lower++) {
        struct html *h;
        struct plot plot = open_plot(&h, 0, 40, 0, 9);
        char *page;
        double left = 1e9, right = -1e9;

        plot_bound_upright(&plot, 17, lower, "bound");
        page = finish(&plot, h);
        assert_int_equal(read_path(page, "bound", 0), 2);
        for (size_t i = 0; i < 2; i++)
            assert_close(points[i][0], plot_x(&plot, 17), TENTH);
        assert_close(fmin(points[0][1], points[1][1]), PLOT_TOP, TENTH);
        assert_close(fmax(points[0][1], points[1][1]), BOTTOM, TENTH);
        assert_int_equal(read_path(page, "forbidden", 0), 4);
        for (size_t i = 0; i < 4; i++) {
            left = fmin(left, points[i][0]);
            right = fmax(right, points[i][0]);
        }
        assert_close(left, plot_x(&plot, 17) - (lower ? PLOT_STRIP : 0), TENTH);
        assert_close(right, plot_x(&plot, 17) + (lower ? 0 : PLOT_STRIP), TENTH);
        memory_free(page);
    }
}

/* The range takes what is finite and nothing else, grows by 6 % on both sides, and one value gets
 * room around it. An empty one becomes a range that can be drawn. */
static void test_ranges(void **state)
{
    double at_hz[] = {1, 2}, value[] = {-4, 11};
    struct bound_line line = {2, at_hz, value}, none = {0};
    struct plot_range range;

    (void)state;
    plot_range_start(&range);
    plot_range_take(&range, NAN);
    plot_range_take(&range, INFINITY);
    plot_range_take(&range, -INFINITY);
    plot_range_take_line(&range, &none);
    plot_range_finish(&range);
    assert_true(range.low < 0.1 && range.low > -1 && range.high > 0.9 && range.high < 2);
    plot_range_start(&range);
    plot_range_take(&range, 3);
    plot_range_finish(&range);
    assert_close((range.low + range.high) / 2, 3, 1e-12);
    assert_true(range.high - range.low > 0.1);
    plot_range_start(&range);
    plot_range_take(&range, 5);
    plot_range_take_line(&range, &line);
    assert_close(range.low, -4, 0);
    assert_close(range.high, 11, 0);
    plot_range_finish(&range);
    assert_close(range.low, -4 - 0.06 * 15, 1e-12);
    assert_close(range.high, 11 + 0.06 * 15, 1e-12);
}

/* Of a trace only what lies between the two places counts, both places too: a picture is not
 * stretched by what it does not show. */
static void test_range_of_a_trace(void **state)
{
    float x[] = {1, 2, 3, 4, 5, 6}, y[] = {-99, 7, NAN, 9, 8, 99};
    struct trace trace = {6, x, y};
    struct plot_range range;

    (void)state;
    plot_range_start(&range);
    plot_range_take_trace(&range, &trace, 2, 5);
    assert_close(range.low, 7, 0);
    assert_close(range.high, 9, 0);
    plot_range_start(&range);
    plot_range_take_trace(&range, &trace, 2.5, 3.5);
    assert_true(range.low > range.high);
}

/* Wild values neither crash nor make a wild file. */
static void test_wild_values(void **state)
{
    float x[] = {1, 2, 3, 4}, y[] = {1e30f, -1e30f, INFINITY, -INFINITY};
    double at_hz[] = {1, 2}, value[] = {1e300, -1e300};
    struct trace trace = {4, x, y};
    struct bound_line line = {2, at_hz, value};
    struct html *h;
    struct plot plot = open_plot(&h, 0, 5, 0, 2);
    char *page;

    (void)state;
    plot_trace(&plot, &trace, "mine", NULL);
    plot_name(&plot, &trace, "wild");
    plot_bound(&plot, &line, true, "b");
    plot_marker(&plot, 1e300, -1e300, "worst", "w");
    plot_line(&plot, NAN, NAN, INFINITY, 1, "broken");
    page = finish(&plot, h);
    assert_int_equal(read_path(page, "mine", 0), 4);
    for (size_t i = 0; i < 4; i++) {
        assert_close(points[i][0], plot_x(&plot, (double)x[i]), TENTH);
        assert_true(i % 2 == 0 ? points[i][1] < 0 : points[i][1] > PLOT_HEIGHT);
    }
    assert_null(strstr(strstr(page, "<body"), "nan"));
    assert_null(strstr(strstr(page, "<body"), "inf"));
    assert_null(strstr(strstr(page, "<body"), "0000000"));
    assert_close((double)plot_whole(2.4), 2, 0);
    assert_true(plot_whole(1e300) <= 4000 && plot_whole(-INFINITY) >= -2000);
    memory_free(page);
}

static void draw_everything(struct plot *plot)
{
    static float x[] = {1, 2, 3}, y[] = {1, 1.5f, 1};
    static double at[] = {1, 2, 3}, low[] = {0.2, 0.4, 0.2}, high[] = {1, 1.2, 1};
    const struct trace trace = {3, x, y};
    const struct bound_line line = {3, at, high};

    plot_trace(plot, &trace, "mine", "unit \"A\"");
    plot_area(plot, at, low, high, 3, "most", NULL);
    plot_bound(plot, &line, false, "bound");
    plot_bound_upright(plot, 2, false, "bound");
    plot_marker(plot, 2, 1, "worst", "1.00 dB");
    plot_name(plot, &trace, "A");
    plot_key(plot, "mine", "a unit");
}

/* Wherever the memory ends, the page fails or is whole: a picture in which a line is silently
 * missing would pass for a good one. */
static void test_no_memory(void **state)
{
    struct html *h;
    struct plot plot = open_plot(&h, 0, 5, 0, 2);
    unsigned long nth = 1;
    char *want;
    bool done = false;

    (void)state;
    draw_everything(&plot);
    want = finish(&plot, h);
    for (; !done; nth++) {
        const struct plot_words words = {"Title", "Description", "x label", "y label", 1};
        struct text out = {0};
        struct error e = {0};

        memory_fail_at(nth);
        h = html_start("t", false, &e);
        if (h) {
            plot_open(&plot, h, &words, &(struct plot_range){0, 5}, &(struct plot_range){0, 2});
            draw_everything(&plot);
            plot_close(&plot);
            done = html_finish(h, &out, &e);
        }
        memory_fail_at(0);
        assert_int_equal(e.kind, done ? ERROR_NONE : ERROR_MEMORY);
        if (done) assert_string_equal(out.data, want);
        html_free(h);
        text_clear(&out);
    }
    assert_true(nth > 5);
    memory_free(want);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_corners),
        cmocka_unit_test(test_window),
        cmocka_unit_test(test_trace),
        cmocka_unit_test(test_nan_breaks_the_line),
        cmocka_unit_test(test_line),
        cmocka_unit_test(test_area),
        cmocka_unit_test(test_bound),
        cmocka_unit_test(test_bound_at_a_spot),
        cmocka_unit_test(test_bound_upright),
        cmocka_unit_test(test_ranges),
        cmocka_unit_test(test_range_of_a_trace),
        cmocka_unit_test(test_wild_values),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
