#include "reports/plot.h"

#include <stdlib.h>

#include "drivers/base/memory.h"
#include "tests/check.h"

static struct plot open_plot(struct html **h, double x_from, double x_to, double y_from,
                             double y_to)
{
    static const struct plot_words words = {"Title", "Description", "MHz", "dB", 1e6};
    struct plot_range x = {x_from, x_to}, y = {y_from, y_to};
    struct error e = {0};
    struct plot plot;

    *h = html_start("t", &e);
    assert_non_null(*h);
    plot_open(&plot, *h, &words, &x, &y);
    return plot;
}

static char *finish(struct plot *plot, struct html *h)
{
    struct text out = {0};
    struct error e = {0};

    plot_close(plot);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    return out.data;
}

/* The picture parsed back: every point of the path lies where its value says, to a twentieth of a
 * unit (coordinates are written in tenths). */
static void test_geometry_against_data(void **state)
{
    float x[] = {160e6f, 163.5e6f, 170e6f, 178e6f}, y[] = {20.5f, 19.25f, 23.0f, 18.75f};
    struct trace trace = {4, x, y};
    struct html *h;
    struct plot plot = open_plot(&h, 155e6, 180e6, 15, 25);
    char *page, *at;

    (void)state;
    plot_trace(&plot, &trace, "mine", "a line");
    page = finish(&plot, h);
    at = strstr(page, "class=\"mine\" d=\"");
    assert_non_null(at);
    at += strlen("class=\"mine\" d=\"");
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(*at, i == 0 ? 'M' : 'L');
        assert_close(strtod(at + 1, &at), plot_x(&plot, (double)x[i]), 0.051);
        assert_close(strtod(at, &at), plot_y(&plot, (double)y[i]), 0.051);
    }
    assert_int_equal(*at, '"');
    memory_free(page);
}

/* The corners of the range are the corners of the frame, and a higher value lies higher. */
static void test_corners(void **state)
{
    struct html *h;
    struct plot plot = open_plot(&h, 100, 200, -30, 0);
    char *page = finish(&plot, h);

    (void)state;
    assert_close(plot_x(&plot, 100), PLOT_LEFT, 1e-9);
    assert_close(plot_x(&plot, 200), PLOT_WIDTH - PLOT_RIGHT, 1e-9);
    assert_close(plot_y(&plot, 0), PLOT_TOP, 1e-9);
    assert_close(plot_y(&plot, -30), PLOT_HEIGHT - PLOT_BOTTOM, 1e-9);
    assert_true(plot_y(&plot, -10) < plot_y(&plot, -20));
    memory_free(page);
}

/* A NaN breaks the line: the pen is lifted and nothing bridges the hole. The point alone between
 * the edge and the hole is drawn too, as a line without length. */
static void test_nan_breaks_the_line(void **state)
{
    float x[] = {1, 2, 3, 4}, y[] = {1, NAN, 1, 1};
    struct trace trace = {4, x, y};
    struct html *h;
    struct plot plot = open_plot(&h, 0, 5, 0, 2);
    char *page, *at;
    size_t moves = 0, lines = 0;

    (void)state;
    plot_trace(&plot, &trace, "mine", NULL);
    page = finish(&plot, h);
    at = strstr(page, "class=\"mine\" d=\"");
    assert_non_null(at);
    for (at += strlen("class=\"mine\" d=\""); *at != '"'; at++) {
        moves += *at == 'M';
        lines += *at == 'L';
    }
    assert_int_equal(moves, 2);
    assert_int_equal(lines, 2);
    memory_free(page);
}

/* A bound is drawn through its corners and its forbidden side is closed below a lower bound, above
 * an upper one. */
static void test_bound(void **state)
{
    double at_hz[] = {1, 3, 5}, value[] = {10, 12, 10};
    struct bound_line line = {3, at_hz, value};

    (void)state;
    for (int lower = 0; lower < 2; lower++) {
        struct html *h;
        struct plot plot = open_plot(&h, 0, 6, 5, 15);
        char want[64];
        char *page;

        plot_bound(&plot, &line, lower, "bound");
        page = finish(&plot, h);
        (void)snprintf(want, sizeof want, "L%g %d", round(10 * plot_x(&plot, 5)) / 10,
                       lower ? PLOT_HEIGHT - PLOT_BOTTOM : PLOT_TOP);
        assert_holds(page, "class=\"forbidden\"");
        assert_holds(page, want);
        memory_free(page);
    }
}

/* Wild values neither crash nor make a wild file. */
static void test_wild_values(void **state)
{
    float x[] = {1, 2, 3}, y[] = {1e30f, -1e30f, INFINITY};
    struct trace trace = {3, x, y};
    struct html *h;
    struct plot plot = open_plot(&h, 0, 5, 0, 2);
    char *page;

    (void)state;
    plot_trace(&plot, &trace, "mine", NULL);
    plot_marker(&plot, NAN, 1, "worst", "x");
    plot_label(&plot, 1, NAN, "x");
    page = finish(&plot, h);
    assert_null(strstr(page, "nan"));
    assert_null(strstr(page, "inf"));
    memory_free(page);
}

/* An empty range becomes a range, and one value gets room around it. */
static void test_ranges(void **state)
{
    struct plot_range range;

    (void)state;
    plot_range_start(&range);
    plot_range_take(&range, NAN);
    plot_range_take(&range, INFINITY);
    plot_range_finish(&range);
    assert_true(range.low < 0.1 && range.high > 0.9);
    plot_range_start(&range);
    plot_range_take(&range, 3);
    plot_range_finish(&range);
    assert_close(range.low, 2.5, 1e-12);
    assert_close(range.high, 3.5, 1e-12);
}

/* Each picture says in words what it shows. */
static void test_words(void **state)
{
    struct html *h;
    struct plot plot = open_plot(&h, 155e6, 180e6, 15, 25);
    char *page = finish(&plot, h);

    (void)state;
    assert_holds(page, "<figcaption>Title</figcaption>");
    assert_holds(page, "role=\"img\"><title>Title</title><desc>Description</desc>");
    assert_holds(page, ">160</text>");
    assert_holds(page, ">MHz</text>");
    memory_free(page);
}

/* Ticks stand at the place of the number that they carry: each label read back is a round step from
 * the next and lies at the x of its value. */
static void test_ticks(void **state)
{
    struct html *h;
    struct plot plot = open_plot(&h, 155.3e6, 181.1e6, 15, 25);
    char *page = finish(&plot, h), *at = page, *end;
    double before = NAN, step = NAN;
    size_t n = 0;

    (void)state;
    while ((at = strstr(at, "text-anchor=\"middle\" x=\"")) != NULL) {
        double x, mhz;

        at += strlen("text-anchor=\"middle\" x=\"");
        x = strtod(at, NULL);
        at = strchr(at, '>');
        assert_non_null(at);
        mhz = strtod(at + 1, &end);
        assert_int_equal(*end, '<');
        assert_close(x, plot_x(&plot, mhz * 1e6), 0.51);
        if (n > 1) assert_close(mhz - before, step, 1e-9);
        step = mhz - before;
        before = mhz;
        n++;
    }
    assert_in_range(n, 4, 8);
    assert_close(step, 5, 1e-9);
    memory_free(page);
}

/* The legend names each look once, in the order in which they were added, and none when there is
 * nothing to name. */
static void test_legend(void **state)
{
    struct html *h;
    struct plot plot = open_plot(&h, 0, 5, 0, 2);
    char *page, *first;

    (void)state;
    page = finish(&plot, h);
    assert_null(strstr(page, "class=\"key\""));
    memory_free(page);
    plot = open_plot(&h, 0, 5, 0, 2);
    plot_key(&plot, "mine", "a unit");
    plot_key(&plot, "other", "a bound");
    plot_key(&plot, "mine", "a unit");
    page = finish(&plot, h);
    first = strstr(page, "class=\"mine\"");
    assert_non_null(first);
    assert_holds(first, " a unit</span>");
    assert_holds(first, "class=\"other\"");
    assert_null(strstr(first + 1, "class=\"mine\""));
    memory_free(page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_geometry_against_data),
        cmocka_unit_test(test_corners),
        cmocka_unit_test(test_nan_breaks_the_line),
        cmocka_unit_test(test_bound),
        cmocka_unit_test(test_wild_values),
        cmocka_unit_test(test_ranges),
        cmocka_unit_test(test_words),
        cmocka_unit_test(test_ticks),
        cmocka_unit_test(test_legend),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
