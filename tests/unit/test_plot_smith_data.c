/* What is drawn on the Smith chart, parsed back: loci, dots, markers and names. */
#include "drivers/base/memory.h"
#include "reports/plot_smith.h"
#include "tests/page_check.h"
#include "tests/svg_read.h"

#define DOTS 20000
#define TENTH 0.06
#define WHOLE 0.51

static double points[DOTS][2];
static bool lifted[DOTS];

static struct smith open_chart(struct html **h, double reach)
{
    struct error e = {0};
    struct smith smith;

    *h = html_start("t", false, &e);
    assert_non_null(*h);
    smith_open(&smith, *h, "Title", "Description", reach, 50);
    return smith;
}

static char *finish(struct smith *smith, struct html *h)
{
    struct text out = {0};
    struct error e = {0};

    smith_close(smith);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    page_check(out.data);
    return out.data;
}

static size_t read_path(const char *page, const char *class_name)
{
    const char *d = svg_find_path(page, class_name, 0);

    assert_non_null(d);
    return svg_read_path(d, points, lifted, DOTS);
}

static size_t count(const char *page, const char *start)
{
    size_t n = 0;

    while (svg_find(page, start, n))
        n++;
    return n;
}

/* A locus goes through its points in one stroke. Where either part is missing nothing bridges the
 * hole, and a point alone, between two holes or at an end, is a dot. */
static void test_trace(void **state)
{
    static const size_t drawn[] = {0, 1, 3, 5, 6, 8};
    static const bool begins[] = {true, false, true, true, false, true};
    float re[] = {0.1f, 0.05f, NAN, 0, 0.1f, -0.1f, -0.15f, NAN, 0.02f};
    float im[] = {0.1f, -0.1f, NAN, 0.12f, NAN, 0.01f, 0.05f, 0, -0.19f};
    struct trace trace = {9, re, im}, hole = {1, re + 2, im + 2}, empty = {0};
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    char *page;

    (void)state;
    smith_trace(&s, &hole, "hole", NULL);
    smith_trace(&s, &empty, "empty", NULL);
    smith_trace(&s, &trace, "mine", "unit A");
    page = finish(&s, h);
    assert_int_equal(read_path(page, "mine"), 6);
    for (size_t i = 0; i < 6; i++) {
        assert_close(points[i][0], smith_x(&s, (double)re[drawn[i]]), TENTH);
        assert_close(points[i][1], smith_y(&s, (double)im[drawn[i]]), TENTH);
        assert_int_equal(lifted[i], begins[i]);
    }
    assert_holds(page, "<g><title>unit A</title><path class=\"mine\"");
    assert_null(strstr(page, "\"hole\""));
    assert_null(strstr(page, "\"empty\""));
    memory_free(page);
}

/* Of a cluster of thousands only those dots are written that can be told apart, but every point
 * within the window has a dot on it, and every dot a point. */
static void test_dots_cover_every_point(void **state)
{
    const unsigned seed = 20261126;
    static float s11[2 * DOTS];
    uint32_t random = seed;
    struct error e = {0};
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    char *page;
    size_t n;

    (void)state;
    print_message("seed %u\n", seed);
    for (size_t i = 0; i < (size_t)2 * DOTS; i++) {
        random = random * 1664525u + 1013904223u;
        s11[i] = 0.1f + (float)(random >> 8) / 0x1p24f * 0.04f;
    }
    assert_true(smith_dots(&s, s11, DOTS, "dot", &e));
    page = finish(&s, h);
    n = read_path(page, "dot");
    /* 31 by 31 units, four cells to a unit: 3,844 and those cut by the edge. */
    assert_in_range(n, 3000, 4000);
    for (size_t i = 0; i < DOTS; i += 7) {
        double best = 1e9;

        for (size_t k = 0; k < n; k++)
            best = fmin(best, hypot(points[k][0] - smith_x(&s, (double)s11[2 * i]),
                                    points[k][1] - smith_y(&s, (double)s11[2 * i + 1])));
        assert_true(best <= sqrt(0.5) + TENTH);
    }
    for (size_t k = 0; k < n; k++) {
        assert_true(lifted[k]);
        assert_in_range(points[k][0], smith_x(&s, 0.1) - 1, smith_x(&s, 0.14) + 1);
        assert_in_range(points[k][1], smith_y(&s, 0.14) - 1, smith_y(&s, 0.1) + 1);
    }
    memory_free(page);
}

/* Points on the window's edge are drawn: an open and a short end lie there when the reach is 1. The
 * same point twice is one dot, its neighbour another; what is not a number or outside is none. */
static void test_dots_at_the_edge(void **state)
{
    static const float s11[][2] = {{1, 0},      {-1, 0},       {0, 1},        {0, -1},
                                   {0.25f, 0},  {0.25f, 0},    {0.26f, 0},    {NAN, 0},
                                   {0, NAN},    {1.02f, 0},    {0, -1.02f},   {INFINITY, 0},
                                   {-1e30f, 0}, {0.25f, 1e9f}, {0.5f, -0.5f}, {-INFINITY, NAN}};
    static const size_t drawn[] = {0, 1, 2, 3, 4, 6, 14};
    struct error e = {0};
    struct html *h;
    struct smith s = open_chart(&h, 1);
    char *page;

    (void)state;
    assert_true(smith_dots(&s, s11[0], 16, "dot", &e));
    assert_true(smith_dots(&s, s11[7], 3, "none", &e));
    assert_true(smith_dots(&s, NULL, 0, "none", &e));
    page = finish(&s, h);
    assert_int_equal(read_path(page, "dot"), sizeof drawn / sizeof *drawn);
    for (size_t i = 0; i < sizeof drawn / sizeof *drawn; i++) {
        assert_close(points[i][0], smith_x(&s, (double)s11[drawn[i]][0]), TENTH);
        assert_close(points[i][1], smith_y(&s, (double)s11[drawn[i]][1]), TENTH);
    }
    assert_null(strstr(page, "class=\"none\""));
    memory_free(page);
}

/* A ring stands at its value with its words on the side that has room; nothing without a value or
 * words. A wild value makes no wild file. */
static void test_markers(void **state)
{
    static const double places[][2] = {{0.1, 0.05}, {-0.1, 0.05}, {0, -0.15}};
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    char *page;

    (void)state;
    for (size_t i = 0; i < 3; i++)
        smith_marker(&s, places[i][0], places[i][1], "worst", "-18.2 dB");
    smith_marker(&s, 0.02, 0.1, "silent", "");
    smith_marker(&s, NAN, 0, "broken", "x");
    smith_marker(&s, 0, NAN, "broken", "x");
    smith_marker(&s, INFINITY, 0, "broken", "x");
    smith_marker(&s, 1e300, -1e300, "wild", "x");
    page = finish(&s, h);
    for (size_t i = 0; i < 3; i++) {
        const char *ring = svg_find(page, "<circle class=\"worst\"", i);
        const char *words = svg_find(page, "<text class=\"mark\"", i);
        const bool before = strncmp(words, "<text class=\"mark\" text-anchor=\"end\"", 36) == 0;

        assert_close(svg_attribute(ring, "cx"), smith_x(&s, places[i][0]), WHOLE);
        assert_close(svg_attribute(ring, "cy"), smith_y(&s, places[i][1]), WHOLE);
        assert_int_equal(before, places[i][0] > 0);
        assert_close(svg_attribute(words, "x"), smith_x(&s, places[i][0]) + (before ? -8 : 8),
                     WHOLE);
        assert_true(fabs(svg_attribute(words, "y") - smith_y(&s, places[i][1])) < 10);
        assert_int_equal(strncmp(strchr(words, '>'), ">-18.2 dB</text>", 16), 0);
    }
    assert_int_equal(count(page, "<circle class=\"silent\""), 1);
    assert_int_equal(count(page, "<text class=\"mark"), 4);
    assert_int_equal(count(page, "broken"), 0);
    assert_true(svg_attribute(svg_find(page, "<circle class=\"wild\"", 0), "cx") <= 4000);
    assert_true(svg_attribute(svg_find(page, "<circle class=\"wild\"", 0), "cy") <= 4000);
    memory_free(page);
}

/* A name stands at the last point of its locus that was measured. */
static void test_name_at_the_end(void **state)
{
    float re[] = {0.1f, -0.05f, NAN, 0.1f}, im[] = {0.1f, -0.1f, 0.02f, NAN};
    struct trace trace = {4, re, im}, hole = {2, re + 2, im + 2}, empty = {0};
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    const char *name;
    char *page;

    (void)state;
    smith_name(&s, &hole, "mark", "hole");
    smith_name(&s, &empty, "mark", "empty");
    smith_name(&s, &trace, "mark", "A17");
    smith_name(&s, &trace, "mark later", "A18");
    page = finish(&s, h);
    for (size_t i = 0; i < 2; i++) {
        name = svg_find(page, "<text class=\"mark", i);
        assert_true(fabs(svg_attribute(name, "x") - smith_x(&s, -0.05)) < 5);
        assert_true(fabs(svg_attribute(name, "y") - smith_y(&s, -0.1)) < 45);
        assert_int_equal(strncmp(strchr(name, '>'), i ? ">A18</text>" : ">A17</text>", 11), 0);
    }
    assert_int_equal(strncmp(name, "<text class=\"mark later\"", 24), 0);
    assert_int_equal(count(page, "<text class=\"mark"), 2);
    memory_free(page);
}

/* Words to the right of one point and to the left of another meet between the two, however far
 * apart the points are. */
static void test_words_from_both_sides(void **state)
{
    float re = 0.14f, im = 0;
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    char *page;

    (void)state;
    smith_marker(&s, -0.01, 0, "worst", "A1234567");
    smith_name(&s, &(struct trace){1, &re, &im}, "mark", "A1234568");
    page = finish(&s, h);
    assert_int_equal(count(page, "<text class=\"mark\" text-anchor=\"start\""), 1);
    assert_int_equal(count(page, "<text class=\"mark\" text-anchor=\"end\""), 1);
    assert_true(fabs(svg_attribute(svg_find(page, "<text class=\"mark\"", 0), "y") -
                     svg_attribute(svg_find(page, "<text class=\"mark\"", 1), "y")) >= 11);
    memory_free(page);
}

/* Words that are shown never cover each other, to whichever side of their point they stand, and are
 * not cut at the window's edge; those that would be taken too far from their point wait there.
 * Every one is on the page. */
static void test_words_keep_clear(void **state)
{
    const unsigned seed = 20261127;
    uint32_t random = seed;
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    double left[64], height[64];
    size_t shown = 0;
    char *page;

    (void)state;
    print_message("seed %u\n", seed);
    for (size_t i = 0; i < 64; i++) {
        float at[2];

        for (size_t k = 0; k < 2; k++) {
            random = random * 1664525u + 1013904223u;
            at[k] = (float)(random >> 8) / 0x1p24f * 0.4f - 0.2f;
        }
        if (i % 2)
            smith_name(&s, &(struct trace){1, at, at + 1}, "mark", "A1234567");
        else
            smith_marker(&s, (double)at[0], (double)at[1], "worst", "A1234567");
    }
    page = finish(&s, h);
    for (const char *at; (at = svg_find(page, "<text class=\"mark\"", shown)) != NULL; shown++) {
        const bool before = strncmp(at, "<text class=\"mark\" text-anchor=\"end\"", 36) == 0;

        left[shown] = svg_attribute(at, "x") - (before ? 60 : 0);
        height[shown] = svg_attribute(at, "y");
        assert_in_range(height[shown], SMITH_Y - SMITH_RADIUS + 10, SMITH_Y + SMITH_RADIUS);
        for (size_t i = 0; i < shown; i++)
            assert_true(fabs(left[i] - left[shown]) >= 60 || fabs(height[i] - height[shown]) >= 12);
    }
    assert_in_range(shown, 8, PLOT_NAMES);
    assert_int_equal(count(page, "<text class=\"mark later\""), 64 - shown);
    memory_free(page);
}

/* The legend names each look once, and a remark stands below it, as plain words. */
static void test_legend_and_remark(void **state)
{
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    const char *first;
    char *page;

    (void)state;
    smith_key(&s, "mine", "a unit");
    smith_key(&s, "other", "a bound");
    smith_key(&s, "mine", "a unit again");
    s.note = "3 more <units>";
    page = finish(&s, h);
    first = strstr(page, "<path class=\"mine\" d=\"M3 5h24\"/></svg> a unit</span>");
    assert_non_null(first);
    assert_holds(first, "<path class=\"other\" d=\"M3 5h24\"/></svg> a bound</span>");
    assert_holds(first, "<p class=\"key\">3 more &lt;units&gt;</p></figure>");
    assert_int_equal(count(page, "<path class=\"mine\""), 1);
    memory_free(page);
    s = open_chart(&h, 0.2);
    for (size_t i = 0; i < 11; i++)
        smith_key(&s, &"kkkkkkkkkkk"[i], "words");
    page = finish(&s, h);
    assert_int_equal(count(page, " words</span>"), PLOT_KEYS);
    memory_free(page);
    s = open_chart(&h, 0.2);
    page = finish(&s, h);
    assert_int_equal(count(page, "class=\"key\""), 0);
    memory_free(page);
}

static bool draw_everything(struct smith *s, const char *words, struct error *e)
{
    static float re[] = {0.1f, 0.05f, 0}, im[] = {0, 0.05f, 0.1f};
    const struct trace trace = {3, re, im};

    smith_bound(s, 0, 0, 0.16, true, words);
    smith_trace(s, &trace, "mine", words);
    smith_marker(s, 0.1, 0, "worst", words);
    smith_name(s, &trace, "mark", words);
    smith_key(s, "mine", words);
    return smith_dots(s, re, 1, "dot", e);
}

/* Words of files are words wherever they stand. */
static void test_hostile_words(void **state)
{
    static const char hostile[] = "a\"><script>x()</script>&'\x01\xe2\x80\xae\xff";
    struct error e = {0};
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    char *page;

    (void)state;
    assert_done(draw_everything(&s, hostile, &e), &e);
    page = finish(&s, h);
    assert_null(strstr(page, "<script"));
    assert_null(strstr(page, "\x01"));
    assert_null(strstr(page, "\xe2\x80\xae"));
    assert_null(strstr(page, "\xff"));
    assert_int_equal(count(page, "&gt;&lt;script&gt;x()"), 5);
    memory_free(page);
}

/* Wherever the memory ends, something fails and says so, or the page is whole. */
static void test_no_memory(void **state)
{
    struct error e = {0};
    struct html *h;
    struct smith s = open_chart(&h, 0.2);
    unsigned long nth = 1;
    bool done = false;
    char *want;

    (void)state;
    assert_done(draw_everything(&s, "words", &e), &e);
    want = finish(&s, h);
    for (; !done; nth++) {
        struct text out = {0};

        e = (struct error){0};
        memory_fail_at(nth);
        h = html_start("t", false, &e);
        if (h) {
            smith_open(&s, h, "Title", "Description", 0.2, 50);
            done = draw_everything(&s, "words", &e);
            smith_close(&s);
            done = done && html_finish(h, &out, &e);
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
        cmocka_unit_test(test_trace),
        cmocka_unit_test(test_dots_cover_every_point),
        cmocka_unit_test(test_dots_at_the_edge),
        cmocka_unit_test(test_markers),
        cmocka_unit_test(test_name_at_the_end),
        cmocka_unit_test(test_words_from_both_sides),
        cmocka_unit_test(test_words_keep_clear),
        cmocka_unit_test(test_legend_and_remark),
        cmocka_unit_test(test_hostile_words),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
