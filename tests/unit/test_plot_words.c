/* The words of a picture: each stands where the value is that it speaks of, none covers another,
 * and none can harm the page. */
#include "reports/plot.h"

#include "drivers/base/memory.h"
#include "tests/page_check.h"
#include "tests/svg_read.h"

#define BOTTOM (PLOT_HEIGHT - PLOT_BOTTOM)
#define RIGHT (PLOT_WIDTH - PLOT_RIGHT)
#define WHOLE 0.51

static struct plot open_plot(struct html **h, const struct plot_words *words, const double x[2],
                             const double y[2])
{
    const struct plot_range x_range = {x[0], x[1]}, y_range = {y[0], y[1]};
    struct error e = {0};
    struct plot plot;

    *h = html_start("t", false, &e);
    assert_non_null(*h);
    plot_open(&plot, *h, words, &x_range, &y_range);
    return plot;
}

static const struct plot_words plain = {"Title", "Description", "x label", "y label", 1};

static struct plot open_plain(struct html **h)
{
    return open_plot(h, &plain, (double[]){0, 10}, (double[]){0, 10});
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

/* Each picture says in words what it shows, for those who cannot see it too, and what its axes
 * are. */
static void test_figure(void **state)
{
    struct html *h;
    struct plot plot = open_plain(&h);
    char *page = finish(&plot, h);

    (void)state;
    assert_holds(page, "<figure><figcaption>Title</figcaption><svg ");
    assert_holds(page, "aria-label=\"Title\"><desc>Description</desc>");
    assert_holds(page, ">x label</text>");
    assert_holds(page, ">y label</text>");
    memory_free(page);
}

/* Words of files are words wherever they stand: no markup, no attribute's end, no control
 * characters, no marks that turn the text around. */
static void test_hostile_words(void **state)
{
    static const char hostile[] = "a\"><script>x()</script>&'\x01\xe2\x80\xae\xff";
    static const char markup[] = "a\"><script>x()</script>&'";
    const struct plot_words words = {markup, hostile, hostile, hostile, 1};
    float x[] = {1, 2}, y[] = {1, 1};
    struct trace trace = {2, x, y};
    struct html *h;
    struct plot plot = open_plot(&h, &words, (double[]){0, 10}, (double[]){0, 10});
    const char *at;
    char *page;
    size_t n = 0;

    (void)state;
    plot_trace(&plot, &trace, "mine", hostile);
    plot_marker(&plot, 5, 5, "worst", hostile);
    plot_name(&plot, &trace, hostile);
    plot_key(&plot, "mine", hostile);
    page = finish(&plot, h);
    assert_null(strstr(page, "<script"));
    assert_null(strstr(page, "\x01"));
    assert_null(strstr(page, "\xe2\x80\xae"));
    assert_null(strstr(page, "\xff"));
    for (at = page; (at = strstr(at, "&gt;&lt;script&gt;x()")) != NULL; at++)
        n++;
    /* Caption, label, description, two axes; title, marker, name, legend. */
    assert_int_equal(n, 9);
    memory_free(page);
}

/* The ticks of one side: `anchor` finds their labels. Each lies where its number says, they rise by
 * the same 1, 2 or 5 times a power of ten, and a grid line goes through each. */
static void check_ticks(const char *page, const struct plot *plot, bool horizontal, double scale)
{
    const double from = horizontal ? plot->x_from : plot->y_from;
    const double to = horizontal ? plot->x_to : plot->y_to;
    double before = NAN, step = NAN, power;
    const char *text;
    size_t n = 0;

    for (;
         (text = svg_find(
              page, horizontal ? "<text text-anchor=\"middle\" x=" : "<text text-anchor=\"end\" x=",
              n)) != NULL;
         n++) {
        char *end;
        const double value = strtod(strchr(text, '>') + 1, &end) * scale;
        double points[2][2];
        bool lifted[2];

        assert_int_equal(*end, '<');
        assert_true(value >= from - 1e-6 * (to - from) && value <= to + 1e-6 * (to - from));
        assert_close(svg_attribute(text, horizontal ? "x" : "y"),
                     horizontal ? plot_x(plot, value) : plot_y(plot, value) + 4, WHOLE);
        if (n > 1) assert_close(value - before, step, 1e-6 * (to - from));
        step = value - before;
        before = value;
        text = strstr(page, "<path class=\"grid\"");
        assert_non_null(text);
        text = svg_find_path(page, "grid", horizontal ? n : plot->n_keys + n);
        assert_int_equal(svg_read_path(text, points, lifted, 2), 2);
        assert_close(points[0][horizontal ? 0 : 1],
                     horizontal ? plot_x(plot, value) : plot_y(plot, value), 0.06);
        assert_close(points[0][horizontal ? 0 : 1], points[1][horizontal ? 0 : 1], 0);
        assert_close(fabs(points[0][!horizontal ? 0 : 1] - points[1][!horizontal ? 0 : 1]),
                     horizontal ? BOTTOM - PLOT_TOP : RIGHT - PLOT_LEFT, 0.06);
    }
    assert_in_range(n, 4, 10);
    power = pow(10, floor(log10(step * (1 + 1e-9))));
    assert_true(fabs(step / power - 1) < 1e-5 || fabs(step / power - 2) < 1e-5 ||
                fabs(step / power - 5) < 1e-5);
}

static size_t count(const char *page, const char *start)
{
    size_t n = 0;

    while (svg_find(page, start, n))
        n++;
    return n;
}

/* Frequencies, voltages and dB, wide and narrow, to either side of zero. */
static void test_ticks(void **state)
{
    static const struct {
        double x[2], y[2], scale;
    } cases[] = {
        {{155.3e6, 181.1e6}, {15, 25}, 1e6},
        {{1.68, 3.12}, {-0.3, 0.31}, 1},
        {{0, 6e9}, {-47.2, -3.1}, 1e6},
        {{168.99e6, 169.01e6}, {1000, 9999}, 1e6},
        {{8e6, 8.0004e6}, {20.001, 20.0021}, 1e6},
        {{-1, 99}, {-400, 3}, 1},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        const struct plot_words words = {"Title", "Description", "x", "y", cases[i].scale};
        struct html *h;
        struct plot plot = open_plot(&h, &words, cases[i].x, cases[i].y);
        char *page = finish(&plot, h);

        check_ticks(page, &plot, true, cases[i].scale);
        /* The grid lines across stand behind the upright ones. */
        plot.n_keys = count(page, "<text text-anchor=\"middle\" x=");
        check_ticks(page, &plot, false, 1);
        memory_free(page);
    }
}

/* The legend names each look once, in the order in which they were added, with a sample of it, and
 * there is none when there is nothing to name. */
static void test_legend(void **state)
{
    static const char *const classes[] = {"k0", "k1", "k2", "k3", "k4", "k5",
                                          "k6", "k7", "k8", "k9", "k10"};
    struct html *h;
    struct plot plot = open_plain(&h);
    char *page;
    const char *first, *second;

    (void)state;
    page = finish(&plot, h);
    assert_null(strstr(page, "class=\"key\""));
    memory_free(page);
    plot = open_plain(&h);
    plot_key(&plot, "mine", "a unit");
    plot_key(&plot, "other", "a bound");
    plot_key(&plot, "mine", "a unit again");
    page = finish(&plot, h);
    first = strstr(page, "<path class=\"mine\" d=\"M3 5h24\"/></svg> a unit</span>");
    second = strstr(page, "<path class=\"other\" d=\"M3 5h24\"/></svg> a bound</span>");
    assert_non_null(first);
    assert_non_null(second);
    assert_true(strstr(page, "</svg><p class=\"key\">") < first && first < second);
    assert_int_equal(count(page, "<path class=\"mine\""), 1);
    memory_free(page);
    /* More than there is room for does no harm. */
    assert_true(sizeof classes / sizeof *classes > PLOT_KEYS);
    plot = open_plain(&h);
    for (size_t i = 0; i < sizeof classes / sizeof *classes; i++)
        plot_key(&plot, classes[i], "words");
    page = finish(&plot, h);
    assert_int_equal(count(page, " words</span>"), PLOT_KEYS);
    memory_free(page);
}

/* A ring stands at its value, its words beside it on the side that has room, and within the
 * picture. */
static void test_markers(void **state)
{
    static const double places[][2] = {{1, 5}, {9.9, 5}, {4, 9.99}, {4, 0.01}, {0.01, 9}};
    struct html *h;
    struct plot plot = open_plain(&h);
    char *page;

    (void)state;
    for (size_t i = 0; i < 5; i++)
        plot_marker(&plot, places[i][0], places[i][1], "worst", "19.21 dB at 160 MHz");
    plot_marker(&plot, 2, 2, "silent", NULL);
    plot_marker(&plot, 2, 2, "silent", "");
    plot_marker(&plot, NAN, 1, "broken", "x");
    plot_marker(&plot, 1, INFINITY, "broken", "x");
    page = finish(&plot, h);
    for (size_t i = 0; i < 5; i++) {
        const char *ring = svg_find(page, "<circle class=\"worst\"", i);
        const char *words = svg_find(page, "<text class=\"mark\"", i);
        const bool before = strncmp(words, "<text class=\"mark\" text-anchor=\"end\"", 36) == 0;
        const double x = plot_x(&plot, places[i][0]), y = plot_y(&plot, places[i][1]);

        assert_close(svg_attribute(ring, "cx"), x, WHOLE);
        assert_close(svg_attribute(ring, "cy"), y, WHOLE);
        assert_int_equal(before, x > PLOT_WIDTH * 0.6);
        assert_close(svg_attribute(words, "x"), x + (before ? -8 : 8), WHOLE);
        assert_true(fabs(svg_attribute(words, "y") - y) < 20);
        assert_true(svg_attribute(words, "y") >= PLOT_TOP + 10);
        assert_true(svg_attribute(words, "y") <= BOTTOM);
        assert_int_equal(strncmp(strchr(words, '>'), ">19.21 dB at 160 MHz</text>", 27), 0);
    }
    assert_int_equal(count(page, "<circle class=\"silent\""), 2);
    assert_int_equal(count(page, "<text class=\"mark\""), 5);
    assert_null(strstr(page, "broken"));
    memory_free(page);
}

/* A name stands at the last point that the picture shows, not at one beyond it or in a hole. */
static void test_name_at_the_end(void **state)
{
    float x[] = {1, 6, 8, 9.5f, 11}, y[] = {2, 3, 7, NAN, 1};
    struct trace trace = {5, x, y}, empty = {0}, holes = {1, x + 3, y + 3};
    struct html *h;
    struct plot plot = open_plain(&h);
    const char *name;
    char *page;

    (void)state;
    plot_name(&plot, &empty, "empty");
    plot_name(&plot, &holes, "holes");
    plot_name(&plot, &trace, "A17");
    page = finish(&plot, h);
    name = svg_find(page, "<text class=\"mark\" text-anchor=\"end\"", 0);
    assert_true(fabs(svg_attribute(name, "x") - plot_x(&plot, 8)) < 5);
    assert_true(fabs(svg_attribute(name, "y") - plot_y(&plot, 7)) < 5);
    assert_int_equal(strncmp(strchr(name, '>'), ">A17</text>", 11), 0);
    assert_null(strstr(page, ">empty<"));
    assert_null(strstr(page, ">holes<"));
    memory_free(page);
}

/* Writes a name at the end of a line that ends at `end`, the right edge. */
static void name_line(struct plot *plot, float end)
{
    float x[] = {1, 10}, y[] = {1, end};

    plot_name(plot, &(struct trace){2, x, y}, "name");
}

/* Where the name of a line that ends so would stand best, within the picture. */
static double best_height(const struct plot *plot, float end)
{
    return fmin(fmax(plot_y(plot, (double)end), PLOT_TOP + 12), BOTTOM - 2);
}

/* Names of lines that end close together are moved down until they are clear of each other, but not
 * so far that they seem to belong to another line, nor out of the picture. Those without room stand
 * at their line's end all the same, to be shown when someone points at it. */
static void test_names_keep_clear(void **state)
{
    static const float ends[] = {9, 9, 9, 9, 5, 8.9f, 5.1f, 99, -99, 0.1f};
    static const bool shown[] = {true, true, true, false, true, false, true, false, true, false};
    struct html *h;
    struct plot plot = open_plain(&h);
    double heights[10];
    size_t n_shown = 0, n_later = 0;
    char *page;

    (void)state;
    for (size_t i = 0; i < 10; i++)
        name_line(&plot, ends[i]);
    page = finish(&plot, h);
    for (size_t i = 0; i < 10; i++) {
        const char *name = svg_find(page, "<text class=\"mark", i);
        const double best = best_height(&plot, ends[i]), height = svg_attribute(name, "y");
        const bool later = strncmp(name, "<text class=\"mark later\"", 24) == 0;

        assert_int_equal(later, !shown[i]);
        assert_true(fabs(svg_attribute(name, "x") - plot_x(&plot, 10)) < 5);
        assert_in_range(height, PLOT_TOP + 8, BOTTOM);
        assert_true(height > best - 5);
        if (later) {
            assert_true(height < best + 5);
            n_later++;
            continue;
        }
        assert_true(height < best + 2 * 14 + 1);
        for (size_t k = 0; k < n_shown; k++)
            assert_true(fabs(heights[k] - height) >= 13);
        heights[n_shown++] = height;
    }
    assert_int_equal(count(page, "<text class=\"mark"), n_shown + n_later);
    memory_free(page);
}

/* More names than a picture holds, each with room of its own: the others come later. */
static void test_most_names(void **state)
{
    const size_t n = PLOT_NAMES + 2;
    struct html *h;
    struct plot plot = open_plain(&h);
    char *page;

    (void)state;
    for (size_t i = 0; i < n; i++)
        name_line(&plot, 9.4f - (float)i * 0.66f);
    page = finish(&plot, h);
    assert_int_equal(count(page, "<text class=\"mark\""), PLOT_NAMES);
    assert_int_equal(count(page, "<text class=\"mark later\""), n - PLOT_NAMES);
    memory_free(page);
}

/* A remark stands below the legend, as plain words; without one there is no empty line. */
static void test_remark(void **state)
{
    (void)state;
    for (int with = 0; with < 3; with++) {
        struct html *h;
        struct plot plot = open_plain(&h);
        const char *key;
        char *page;

        plot_key(&plot, "mine", "a unit");
        plot.note = with == 2 ? "3 more <units>" : with == 1 ? "" : NULL;
        page = finish(&plot, h);
        key = strstr(page, " a unit</span>");
        assert_non_null(key);
        assert_int_equal(count(page, "<p class=\"key\">"), with == 2 ? 2 : 1);
        if (with == 2) assert_holds(key, "<p class=\"key\">3 more &lt;units&gt;</p></figure>");
        memory_free(page);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_figure),
        cmocka_unit_test(test_hostile_words),
        cmocka_unit_test(test_ticks),
        cmocka_unit_test(test_legend),
        cmocka_unit_test(test_markers),
        cmocka_unit_test(test_name_at_the_end),
        cmocka_unit_test(test_names_keep_clear),
        cmocka_unit_test(test_most_names),
        cmocka_unit_test(test_remark),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
