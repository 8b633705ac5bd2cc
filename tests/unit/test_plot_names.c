#include "reports/plot_names.h"

#include <math.h>

#include "tests/picture_check.h"

/* Names keep a line apart where they would cover each other, and a name further along is free of
 * them; what finds no place within its reach gets none, and a picture holds so many. */
static void test_take(void **state)
{
    struct plot_names names = {0};
    double y = 50;

    (void)state;
    assert_true(plot_names_take(&names, 100, &y, 14, 60));
    assert_close(y, 50, 0);
    y = 55;
    assert_true(plot_names_take(&names, 120, &y, 14, 83));
    assert_close(y, 69, 0);
    y = 55;
    assert_true(plot_names_take(&names, 171, &y, -14, 30)); /* clear of the first alone */
    assert_close(y, 55, 0);
    y = 52;
    assert_false(plot_names_take(&names, 100, &y, 14, 70));
    assert_close(y, 52, 0);
    assert_true(plot_names_take(&names, 100, &y, -14, 24));
    assert_close(y, 24, 14);
    for (size_t i = names.n; i < PLOT_NAMES; i++) {
        y = 300 + 20 * (double)i;
        assert_true(plot_names_take(&names, 100, &y, 14, y));
    }
    y = 1000;
    assert_false(plot_names_take(&names, 100, &y, 14, 1100));
    plot_names_clear(&names);
    assert_int_equal(names.n, 0);
}

/* Lines about the window 0..100 by 0..50; NaN is a gap. */
static const struct {
    size_t n;
    double points[4][2];
    bool is_outside;
    double x, y; /* what of it comes nearest */
} lines[] = {
    {2, {{10, 60}, {90, 70}}, true, 10, 60},
    {2, {{10, 70}, {90, 60}}, true, 90, 60},
    {3, {{10, 60}, {50, 50}, {90, 60}}, false, 0, 0},
    {2, {{-10, 60}, {110, -10}}, false, 0, 0},             /* from corner to corner */
    {2, {{-10, 45}, {10, 51}}, false, 0, 0},               /* through a corner */
    {2, {{-10, 55}, {5, 70}}, true, -10, 55},              /* past it */
    {2, {{50, -10}, {50, 60}}, false, 0, 0},               /* upright, through */
    {3, {{50, -10}, {NAN, NAN}, {50, 65}}, true, 50, -10}, /* nobody knows what is between */
    {2, {{50, 60}, {50, -INFINITY}}, false, 0, 0},
    {1, {{50, INFINITY}}, true, 50, 1e6},
    {1, {{NAN, NAN}}, false, 0, 0},
    {0, {{0}}, false, 0, 0},
};

/* A line is outside when nothing of it is in the window, however it passes. */
static void test_sight(void **state)
{
    const struct plot_window window = {0, 0, 100, 50};

    (void)state;
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        struct plot_sight sight;

        plot_sight_start(&sight, &window);
        for (size_t k = 0; k < lines[i].n; k++)
            plot_sight_take(&sight, lines[i].points[k][0], lines[i].points[k][1]);
        if (plot_sight_is_outside(&sight) != lines[i].is_outside) print_error("line %zu\n", i);
        assert_int_equal(plot_sight_is_outside(&sight), lines[i].is_outside);
        if (!lines[i].is_outside) continue;
        assert_close(sight.x, lines[i].x, 0);
        assert_close(sight.y, lines[i].y, 0);
    }
}

/* An arrow points out of the frame on each of its four sides, wholly within it, and its name is
 * within the frame too. */
static void test_arrows(void **state)
{
    static const struct {
        double x, y, tip_x, tip_y, foot_x, foot_y;
    } cases[] = {{50, -30, 50, 0, 50, 9},
                 {0, 300, 5, 200, 5, 191},
                 {-20, 60, 0, 60, 9, 60},
                 {420, 205, 400, 195, 391, 195}};
    const struct plot_window window = {0, 0, 400, 200};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        struct plot_names names = {0};
        struct html *h = picture_start();
        struct picture_line arrow;
        struct plot_sight sight;
        const char *name;
        char *page;

        plot_sight_start(&sight, &window);
        plot_sight_take(&sight, cases[i].x, cases[i].y);
        plot_arrow(h, &names, &sight, "arrow", "K1");
        assert_int_equal(names.n_beyond, 1);
        assert_int_equal(names.n_nameless, 0);
        assert_string_equal(text_words(&names.beyond), "K1");
        page = picture_finish(h);
        picture_read(page, "arrow", 0, &arrow);
        assert_int_equal(arrow.n, 3);
        assert_close(arrow.points[0][0], cases[i].tip_x, 0);
        assert_close(arrow.points[0][1], cases[i].tip_y, 0);
        assert_close((arrow.points[1][0] + arrow.points[2][0]) / 2, cases[i].foot_x, 0.06);
        assert_close((arrow.points[1][1] + arrow.points[2][1]) / 2, cases[i].foot_y, 0.06);
        name = svg_find(page, "<text class=\"mark\"", 0);
        assert_true(svg_attribute(name, "x") > 0 && svg_attribute(name, "x") < 400);
        assert_true(svg_attribute(name, "y") >= 11 && svg_attribute(name, "y") <= 196);
        memory_free(page);
        plot_names_clear(&names);
    }
}

/* Arrows at one place: two names beside the first find room, the others wait for someone to point;
 * the first dozen are kept for a remark. */
static void test_crowd(void **state)
{
    const struct plot_window window = {0, 0, 400, 200};
    struct plot_names names = {0};
    struct html *h = picture_start();
    struct plot_sight sight;
    char *page;

    (void)state;
    plot_sight_start(&sight, &window);
    plot_sight_take(&sight, 50, 300);
    for (size_t i = 0; i < 20; i++)
        plot_arrow(h, &names, &sight, "arrow", &"abcdefghijklmnopqrst"[19 - i]);
    page = picture_finish(h);
    assert_int_equal(report_count(page, "<text class=\"mark\""), 3);
    assert_int_equal(report_count(page, "<text class=\"mark later\""), 17);
    assert_int_equal(names.n_beyond, 20);
    assert_int_equal(names.n_nameless, 17);
    assert_holds(text_words(&names.beyond), "t, st, rst, ");
    assert_int_equal(report_count(text_words(&names.beyond), ", "), PLOT_NAMES_BEYOND - 1);
    memory_free(page);
    plot_names_clear(&names);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_take), cmocka_unit_test(test_sight),
                                       cmocka_unit_test(test_arrows), cmocka_unit_test(test_crowd)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
