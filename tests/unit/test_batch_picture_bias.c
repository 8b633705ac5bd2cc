#include "reports/batch_picture.h"

#include "tests/picture_check.h"

#define TITLE "gain against bias at 169 MHz"

/* Slope and range limits around the fixture's 5 dB/V, and a reflection that is none of them. */
static const char elements[] =
    "<gain-slope id=\"slope\" band=\"centre\" min=\"3 dB/V\" max=\"7 dB/V\" from=\"low\" "
    "to=\"high\"/><gain-range id=\"range\" band=\"centre\" min=\"5 dB\" max=\"8 dB\" from=\"low\" "
    "to=\"high\"/><input-reflection id=\"match\" bias=\"low\" band=\"working\" max=\"-16 dB\"/>"
    "<gain id=\"gain\" bias=\"all\" band=\"centre\" min=\"17 dB\"/>";

/* `n` units of 20, 20.1, 20.2 ... dB at the low step, the batch finished. */
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

/* The figure, or NULL when there is none; freed with memory_free(). */
static char *draw(struct report_batch *r)
{
    struct gallery g = {picture_start(), &r->batch, 1};
    struct error e = {0};
    char *page, *figure;

    assert_done(batch_picture_bias(&g, &e), &e);
    page = picture_finish(g.html);
    figure = picture_figure(page, TITLE);
    if (!figure) assert_null(strstr(page, "<figure"));
    memory_free(page);
    return figure;
}

static void check_point(const struct plot *plot, const double point[2], double bias_v,
                        double gain_db)
{
    assert_close(point[0], plot_x(plot, bias_v), PICTURE_SCALE_ROOM);
    assert_close(point[1], plot_y(plot, gain_db), PICTURE_SCALE_ROOM);
}

/* A wedge begins at the batch's median and ends where the slope lets the gain go from there; the
 * range is a bar at its end. */
static void test_wedges(void **state)
{
    /* From, its median, to, what the bounds leave there; the median of 11 units is the sixth. */
    static const double want[][5] = {{1.8, 20.5, 2.4, 20.5 + 1.8, 20.5 + 4.2},
                                     {2.4, 23.5, 3.0, 23.5 + 1.8, 23.5 + 4.2},
                                     {1.8, 20.5, 3.0, 20.5 + 5, 20.5 + 8}};
    struct report_batch r = {0};
    struct picture_line line;
    struct plot plot;
    char *figure;

    (void)state;
    fill(&r, 11);
    figure = draw(&r);
    assert_non_null(figure);
    plot = picture_scale(figure, 1);
    assert_int_equal(picture_count(figure, "wedge"), 2);
    picture_read(figure, "span", 0, &line);
    check_point(&plot, line.points[0], want[2][2], want[2][3]);
    check_point(&plot, line.points[1], want[2][2], want[2][4]);
    for (size_t i = 0; i < 2; i++) {
        picture_read(figure, "wedge", i, &line);
        assert_int_equal(line.n, 4);
        check_point(&plot, line.points[0], want[i][0], want[i][1]);
        check_point(&plot, line.points[1], want[i][2], want[i][4]);
        check_point(&plot, line.points[2], want[i][2], want[i][3]);
    }
    memory_free(figure);
    report_clear(&r);
}

/* The spread lies at each step where the units do: of 11 the 3rd, the 6th and the 9th. */
static void test_spread(void **state)
{
    struct report_batch r = {0};
    struct picture_line most, half, median;
    struct plot plot;
    char *figure;

    (void)state;
    fill(&r, 11);
    figure = draw(&r);
    plot = picture_scale(figure, 1);
    picture_read(figure, "most", 0, &most);
    picture_read(figure, "half", 0, &half);
    picture_read(figure, "median", 0, &median);
    assert_int_equal(median.n, 3);
    for (size_t i = 0; i < 3; i++) {
        const double bias_v = 1.8 + 0.6 * (double)i, more_db = 3 * (double)i;

        check_point(&plot, median.points[i], bias_v, 20.5 + more_db);
        check_point(&plot, half.points[i], bias_v, 20.8 + more_db);
        check_point(&plot, half.points[5 - i], bias_v, 20.2 + more_db);
        check_point(&plot, most.points[i], bias_v, 21 + more_db);
        check_point(&plot, most.points[5 - i], bias_v, 20 + more_db);
    }
    assert_int_equal(picture_count(figure, "failed") + picture_count(figure, "data"), 0);
    memory_free(figure);
    report_clear(&r);
}

/* Gives one step of a unit another gain at the centre. */
static void set_gain(struct report_batch *r, size_t unit, size_t step, double gain_db)
{
    fixture_set(&r->m[unit].biases[step], 19, S21, fixture_linear(gain_db)); /* 169 MHz */
    picture_judge(r, unit);
}

/* Makes unit 4 steeper: its slope from mid to high is 10 dB/V. */
static void make_steep(struct report_batch *r)
{
    set_gain(r, 3, 2, 20.3 + 9);
}

/* A unit outside slope, range or gain is dashed with its link, through the places measured; one
 * that failed only its match is not. */
static void test_outsiders(void **state)
{
    struct report_batch r = {0};
    struct picture_line line;
    struct plot plot;
    char *figure;

    (void)state;
    fill(&r, 11);
    make_steep(&r);
    fixture_set(&r.m[5].biases[0], 20, S11, 0.9);
    picture_judge(&r, 5);
    for (size_t step = 0; step < 3; step++)
        set_gain(&r, 6, step, 13 + 3 * (double)step);
    assert_int_equal(r.judgements[5].n_failed, 1);
    assert_int_equal(r.judgements[6].n_failed, 1);
    figure = draw(&r);
    plot = picture_scale(figure, 1);
    assert_int_equal(picture_count(figure, "failed"), 2);
    assert_holds(figure,
                 "<a href=\"units/A4.html\" class=\"unit\"><title>A4: slope, range</title>");
    assert_holds(figure, "<title>A7: gain</title>");
    assert_holds(figure, ">A4</text></a>");
    assert_null(strstr(figure, "A6"));
    picture_read(figure, "failed", 0, &line);
    assert_int_equal(line.n, 3);
    check_point(&plot, line.points[0], 1.8, 20.3);
    check_point(&plot, line.points[1], 2.4, 23.3);
    check_point(&plot, line.points[2], 3.0, 29.3);
    assert_true(plot.y_from < 13 && plot.y_to > 29.3); /* near enough to be shown */
    memory_free(figure);
    report_clear(&r);
}

/* A small batch draws each unit and no spread; a unit without one step goes past it. */
static void test_small(void **state)
{
    struct report_batch r = {0};
    struct picture_line line;
    char *figure;

    (void)state;
    fill(&r, 5);
    make_steep(&r);
    r.traces[0].gain_db[1] = NAN;
    figure = draw(&r);
    assert_int_equal(picture_count(figure, "data"), 4);
    assert_int_equal(picture_count(figure, "failed"), 1);
    assert_int_equal(picture_count(figure, "most"), 0);
    picture_read(figure, "data", 0, &line);
    assert_int_equal(line.n, 2);
    assert_holds(figure, ">A1</text>");
    memory_free(figure);
    report_clear(&r);
}

/* One dead board leaves the others their size, whichever side of the batch it lies on. */
static void test_dead_board(void **state)
{
    struct report_batch r = {0};
    struct plot plot;
    char *figure;

    (void)state;
    fill(&r, 9);
    report_add(&r, "DEAD", 1, -60, 3);
    batch_yield_clear(&r.batch.yield);
    report_finish(&r);
    figure = draw(&r);
    plot = picture_scale(figure, 1);
    assert_true(plot_y(&plot, 20) - plot_y(&plot, 21) > 5);
    assert_holds(figure, ">DEAD</text>");
    memory_free(figure);
    report_clear(&r);
}

/* With gains at one step only, or no unit at all, there is nothing to draw and nothing is drawn. */
static void test_no_picture(void **state)
{
    struct report_batch r = {0};

    (void)state;
    fill(&r, 0);
    assert_null(draw(&r));
    report_clear(&r);
    r = (struct report_batch){0};
    report_start_with(&r, elements);
    for (size_t i = 0; i < 9; i++)
        report_add(&r, "A", 1, 20, 1);
    report_finish(&r);
    assert_null(draw(&r));
    report_clear(&r);
}

/* Reads limits of the most bias steps there can be, with a slope over all. */
static void read_many_steps(struct limits *limits)
{
    struct error e = {0};
    struct text xml = {0};
    char *path;

    text_add(&xml, "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"T\" impedance=\"50 ohm\">"
                   "<bias-steps tolerance=\"1 mV\">");
    for (size_t i = 0; i < CEILING_BIAS_STEPS; i++)
        text_addf(&xml, "<bias id=\"b%zu\" at=\"%zu mV\"/>", i, 1800 + 20 * i);
    text_add(&xml, "</bias-steps><bands><band id=\"centre\" at=\"169 MHz\"/></bands>"
                   "<gain-slope id=\"slope\" band=\"centre\" min=\"3 dB/V\" from=\"b0\" "
                   "to=\"b63\"/></limits>");
    path = fixture_file(text_words(&xml));
    assert_done(limits_read(limits, path, &e), &e);
    (void)unlink(path);
    free(path);
    text_clear(&xml);
}

/* The spread reaches the last of the most bias steps that there can be. */
static void test_most_steps(void **state)
{
    struct report_batch r = {0};
    struct measurement m = {0};
    struct judgement judgement = {0};
    struct unit_traces traces = {0};
    struct batch_unit units[8];
    struct picture_line line;
    struct error e = {0};
    char *figure;

    (void)state;
    read_many_steps(&r.limits);
    views_find(&r.views, &r.limits);
    report_gain_db = 20;
    measurement_reset(&m, "A", 1);
    for (size_t i = 0; i < CEILING_BIAS_STEPS; i++)
        (void)fixture_sweep(&m, report_board, 1.8 + 0.02 * (double)i, 168e6, 1e6, 3);
    assert_done(judge(&r.limits, &m, NULL, &judgement, &e), &e);
    assert_done(unit_traces_make(&traces, &r.limits, &r.views, &m, true, &e), &e);
    for (size_t i = 0; i < 8; i++)
        units[i] = (struct batch_unit){&judgement, &m.circumstances, &traces, 1, NULL};
    r.batch = (struct batch){.limits = &r.limits, .views = &r.views, .n_units = 8, .units = units};
    figure = draw(&r);
    assert_non_null(figure);
    picture_read(figure, "median", 0, &line);
    assert_int_equal(line.n, CEILING_BIAS_STEPS);
    assert_int_equal(picture_count(figure, "wedge"), CEILING_BIAS_STEPS - 1);
    memory_free(figure);
    judgement_clear(&judgement);
    unit_traces_clear(&traces);
    measurement_clear(&m);
    report_clear(&r);
}

static bool write_bias(struct html *h, const void *what, struct error *e)
{
    const struct gallery g = {h, what, 1};

    return batch_picture_bias(&g, e);
}

/* Without memory the picture fails or the page does. */
static void test_memory(void **state)
{
    struct report_batch r = {0};

    (void)state;
    fill(&r, 9);
    make_steep(&r);
    picture_check_memory(write_bias, &r.batch);
    report_clear(&r);
}

/* The part of a unit's line that failed is thick, on top of its dashes and within its link: from
 * the one step to the next, and not where it is as it should be. */
static void test_failed_part(void **state)
{
    struct report_batch r = {0};
    struct picture_line part;
    struct plot plot;
    char *figure;

    (void)state;
    report_start_with(&r, "<gain-slope id=\"slope\" band=\"centre\" min=\"3 dB/V\" max=\"7 dB/V\" "
                          "from=\"low\" to=\"high\"/>");
    for (size_t i = 0; i < 9; i++)
        report_add(&r, i == 4 ? "BAD" : "A", 1, 20, 3);
    fixture_set(&r.m[4].biases[2], 19, S21, fixture_linear(24)); /* 0.8 dB/V from 23 dB */
    picture_judge(&r, 4);
    report_finish(&r);
    figure = draw(&r);
    plot = picture_scale(figure, 1);
    assert_int_equal(picture_count(figure, "failed-part"), 1);
    picture_read(figure, "failed-part", 0, &part);
    assert_int_equal(part.n, 2);
    check_point(&plot, part.points[0], 2.4, 23);
    check_point(&plot, part.points[1], 3.0, 24);
    assert_holds(figure, "/><path class=\"failed-part\"");
    assert_holds(figure, " where it failed a slope or range limit</span>");
    memory_free(figure);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_wedges),     cmocka_unit_test(test_spread),
        cmocka_unit_test(test_outsiders),  cmocka_unit_test(test_small),
        cmocka_unit_test(test_dead_board), cmocka_unit_test(test_no_picture),
        cmocka_unit_test(test_most_steps), cmocka_unit_test(test_failed_part),
        cmocka_unit_test(test_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
