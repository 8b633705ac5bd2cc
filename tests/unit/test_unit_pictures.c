#include "reports/unit_pictures.h"

#include <stdlib.h>
#include <time.h>

#include "reports/plot_smith.h"
#include "tests/picture_check.h"

#define BIAS_TITLE "gain against bias at 169 MHz"

/* Everything that has a picture, accepted up to the bound itself. */
static const char elements[] =
    "<gain id=\"gain\" bias=\"all\" band=\"working\" min=\"19 dB\" max=\"29 dB\"/>"
    "<gain id=\"top\" bias=\"high\" band=\"centre\" min=\"25 dB\"/>"
    "<gain-slope id=\"slope\" band=\"centre\" min=\"3 dB/V\" max=\"7 dB/V\" from=\"low\" "
    "to=\"high\"/>"
    "<input-reflection id=\"match\" bias=\"low mid\" band=\"working\" max=\"-10 dB\"/>"
    "<gain-flatness id=\"flat\" bias=\"all\" band=\"working\" max=\"22 dB\"/>"
    "<reflection-shift id=\"shift\" bias=\"mid\" reference=\"low\" band=\"working\" "
    "max=\"1.5\"/>";

static void fill(struct report_batch *r)
{
    report_start_with(r, elements);
    report_add(r, "A1", 1, 20, 3);
}

static char *draw(const struct report_batch *r)
{
    struct html *h = picture_start();
    const struct unit_sheet sheet = report_sheet(r, 0);

    unit_pictures_write(h, &sheet);
    return picture_finish(h);
}

static char *draw_figure(const struct report_batch *r, const char *title)
{
    char *page = draw(r), *figure = picture_figure(page, title);

    assert_non_null(figure);
    memory_free(page);
    return figure;
}

/* Four pictures with all bias steps each; without a limit that asks for them there are none. */
static void test_which_pictures(void **state)
{
    static const char *const titles[] = {"gain", BIAS_TITLE, "input reflection", "input impedance"};
    struct report_batch r = {0};
    char *page;

    (void)state;
    fill(&r);
    page = draw(&r);
    assert_int_equal(report_count(page, "<figure>"), 4);
    for (size_t i = 0; i < 4; i++) {
        char *figure = picture_figure(page, titles[i]);

        assert_non_null(figure);
        assert_int_equal(picture_count(figure, "strong"), i == 0 ? 3 : i == 1 ? 1 : 2);
        assert_int_equal(picture_count(figure, "failed"), 0);
        memory_free(figure);
    }
    memory_free(page);
    report_clear(&r);
    r = (struct report_batch){0};
    report_start_with(&r, "<stability id=\"mu\" bias=\"all\" band=\"working\" min=\"1\"/>");
    report_add(&r, "A1", 1, 20, 3);
    page = draw(&r);
    assert_null(strstr(page, "<figure"));
    memory_free(page);
    report_clear(&r);
}

/* Each step's line lies where the sweep does, and is named by its bias id. */
static void test_lines(void **state)
{
    static const char *const ids[] = {"low", "mid", "high"};
    struct report_batch r = {0};
    struct plot plot;
    char *figure;

    (void)state;
    fill(&r);
    figure = draw_figure(&r, "gain");
    plot = picture_scale(figure, 1e6);
    for (size_t step = 0; step < 3; step++) {
        struct picture_line line;
        char name[32];

        picture_read(figure, "strong", step, &line);
        assert_true(line.n > 25);
        for (size_t i = 0; i < line.n; i++) {
            const double hz =
                plot.x_from + (line.points[i][0] - PLOT_LEFT) * (plot.x_to - plot.x_from) / 416;
            const double gain_db = 20 + 3 * (double)step - 0.01 * (hz - 169e6) / 1e6;

            assert_close(line.points[i][1], plot_y(&plot, gain_db), PICTURE_SCALE_ROOM + 0.1);
        }
        (void)snprintf(name, sizeof name, ">%s</text>", ids[step]);
        assert_holds(figure, name);
    }
    assert_holds(figure, "<title>bias mid</title>");
    memory_free(figure);
    report_clear(&r);
}

/* A bound is drawn once, however many steps it is for: strips on top of each other would look like
 * another bound. Circles too. A flatness has no place on the axis of gain. */
static void test_bounds_once(void **state)
{
    struct report_batch r = {0};
    struct picture_line bound;
    struct plot plot;
    char *figure;

    (void)state;
    fill(&r);
    figure = draw_figure(&r, "gain");
    plot = picture_scale(figure, 1e6);
    assert_int_equal(picture_count(figure, "bound"), 3);
    assert_int_equal(picture_count(figure, "forbidden"), 3);
    for (size_t i = 0; i < 3; i++) {
        picture_read(figure, "bound", i, &bound);
        assert_close(bound.points[0][1],
                     plot_y(&plot, i == 0   ? 19
                                   : i == 1 ? 29
                                            : 25),
                     PICTURE_SCALE_ROOM);
    }
    memory_free(figure);
    figure = draw_figure(&r, "input reflection");
    assert_int_equal(picture_count(figure, "bound"), 1);
    memory_free(figure);
    figure = draw_figure(&r, "input impedance");
    assert_int_equal(report_count(figure, "<circle class=\"bound\""), 1);
    memory_free(figure);
    report_clear(&r);
}

/* A ring marks each limit's worst place, red where it failed; a limit without a value has none. */
static void test_worst_places(void **state)
{
    struct report_batch r = {0};
    const struct finding *gain;
    struct plot plot;
    const char *ring;
    char *figure;

    (void)state;
    fill(&r);
    fixture_set(&r.m[0].biases[1], 25, S21, fixture_linear(18.2)); /* 175 MHz */
    picture_judge(&r, 0);
    gain = &r.judgements[0].findings[0];
    figure = draw_figure(&r, "gain");
    plot = picture_scale(figure, 1e6);
    assert_int_equal(report_count(figure, "<circle class=\"failed\""), 1);
    assert_int_equal(report_count(figure, "<circle class=\"worst\""), 1);
    ring = svg_find(figure, "<circle class=\"failed\"", 0);
    assert_close(gain->frequency_hz, 175e6, 1);
    assert_close(svg_attribute(ring, "cx"), plot_x(&plot, 175e6), 0.51 + PICTURE_SCALE_ROOM);
    assert_close(svg_attribute(ring, "cy"), plot_y(&plot, 18.2), 0.51 + PICTURE_SCALE_ROOM);
    assert_holds(figure, ">gain 18.20 dB</text>"); /* and not what a bound is called */
    assert_null(strstr(figure, ">gain</text>"));
    memory_free(figure);
    report_clear(&r);
    r = (struct report_batch){0};
    report_start_with(&r, elements);
    report_add(&r, "A1", 1, 20, 2);
    figure = draw_figure(&r, "gain");
    assert_int_equal(report_count(figure, "<circle"), 0); /* both gains are incomplete */
    assert_int_equal(picture_count(figure, "strong"), 2);
    memory_free(figure);
    report_clear(&r);
}

/* How many lines of a figure are dashed, and that the legend says it when there are any. */
static size_t count_failed(const struct report_batch *r, const char *title)
{
    char *figure = draw_figure(r, title);
    const size_t n = picture_count(figure, "failed");

    assert_int_equal(strstr(figure, "failed a limit</span>") ||
                         strstr(figure, "failed a slope or range limit</span>"),
                     n > 0);
    memory_free(figure);
    return n;
}

/* A step that failed is dashed, and no other step and no other picture. */
static void test_failed_step_alone(void **state)
{
    struct report_batch r = {0};
    char *figure;

    (void)state;
    fill(&r);
    fixture_set(&r.m[0].biases[1], 25, S21, fixture_linear(18.2));
    picture_judge(&r, 0);
    figure = draw_figure(&r, "gain");
    assert_holds(figure, "<title>bias mid, failed a limit</title><path class=\"failed\"");
    assert_int_equal(picture_count(figure, "strong"), 2);
    memory_free(figure);
    assert_int_equal(count_failed(&r, "gain"), 1);
    assert_int_equal(count_failed(&r, BIAS_TITLE), 0);
    assert_int_equal(count_failed(&r, "input reflection"), 0);
    fixture_set(&r.m[0].biases[1], 25, S21, fixture_linear(23));
    fixture_set(&r.m[0].biases[0], 25, S11, 0.5);
    picture_judge(&r, 0);
    assert_int_equal(count_failed(&r, "gain"), 0);
    assert_int_equal(count_failed(&r, "input reflection"), 1);
    assert_int_equal(count_failed(&r, "input impedance"), 1);
    report_clear(&r);
}

/* A spike of one point among 2801 lies outside the bound in the picture when it does in the data,
 * in the reflection and on the Smith chart alike. */
static void check_reflection_spike(struct report_batch *r, size_t step, size_t point, double db)
{
    const bool failed = db > -10;
    char *page, *figure;
    struct picture_line bound, line;
    double top = INFINITY, reach = 0;
    struct smith smith;

    fixture_set(&r->m[0].biases[step], point, S11,
                fixture_linear(db) * cexp(CMPLX(0, (double)point)));
    picture_judge(r, 0);
    page = draw(r);
    figure = picture_figure(page, "input reflection");
    assert_int_equal(picture_count(figure, "failed"), failed);
    picture_read(figure, "bound", 0, &bound);
    picture_read(figure, failed ? "failed" : "strong", failed ? 0 : step, &line);
    for (size_t i = 0; i < line.n; i++)
        top = fmin(top, line.points[i][1]);
    assert_int_equal(top < bound.points[0][1] - 0.06, failed);
    memory_free(figure);
    figure = picture_figure(page, "input impedance");
    smith.reach = strtod(strstr(figure, ">= ") + 3, NULL);
    picture_read(figure, failed ? "failed" : "strong", failed ? 0 : step, &line);
    assert_true(fixture_linear(db) < smith.reach);
    for (size_t i = 0; i < line.n; i++)
        reach = fmax(reach, hypot(line.points[i][0] - SMITH_X, line.points[i][1] - SMITH_Y));
    assert_close(reach / SMITH_RADIUS * smith.reach, fixture_linear(db),
                 0.09 / SMITH_RADIUS * smith.reach);
    assert_int_equal(report_count(figure, "<circle class=\"failed\""), failed);
    memory_free(figure);
    memory_free(page);
    fixture_set(&r->m[0].biases[step], point, S11, 0.1);
}

static void test_reflection_spikes(void **state)
{
    static const double dbs[] = {-9.5, -10.5, -3, -12};
    struct report_batch r = {0};
    const unsigned seed = (unsigned)time(NULL);

    (void)state;
    print_message("seed %u\n", seed);
    srand(seed);
    report_start_with(&r, elements);
    picture_add_dense(&r, "A1", 20);
    for (int i = 0; i < 60; i++)
        check_reflection_spike(&r, (size_t)rand() % 2, 501 + (size_t)rand() % 1799, dbs[i % 4]);
    report_clear(&r);
}

/* Whether a step's gain lies outside the wedge from the step before it, `by` how many units. */
static double outside_wedge(const struct picture_line *wedge, double height)
{
    return fmax(wedge->points[1][1] - height, height - wedge->points[2][1]);
}

/* The thick part of a line goes along the slopes outside 3..7 dB/V and no others. */
static void check_parts(const char *figure, const struct picture_line *line, const double slope[2])
{
    const bool first = slope[0] < 3 || slope[0] > 7, second = slope[1] < 3 || slope[1] > 7;
    struct picture_line part;

    picture_read(figure, "failed-part", 0, &part);
    assert_int_equal(part.n, 1U + first + second);
    for (size_t i = 0; i < part.n; i++)
        for (size_t axis = 0; axis < 2; axis++)
            assert_close(part.points[i][axis], line->points[i + !first][axis], 0.11);
}

/* The unit leaves a wedge of its own exactly when a slope fails, at the step where it does. */
static void test_wedges(void **state)
{
    struct report_batch r = {0};
    const unsigned seed = (unsigned)time(NULL);
    size_t n_failed = 0;

    (void)state;
    print_message("seed %u\n", seed);
    srand(seed);
    fill(&r);
    for (int round = 0; round < 60; round++) {
        double gain_db[3], slope[2];
        struct picture_line line, wedge;
        char *figure;
        bool failed = false;

        gain_db[0] = 20 + (rand() % 200) / 100.0;
        for (size_t step = 0; step < 2; step++) {
            slope[step] = 0.05 + 0.1 * (rand() % 100); /* never on a bound */
            gain_db[step + 1] = gain_db[step] + 0.6 * slope[step];
            failed = failed || slope[step] < 3 || slope[step] > 7;
        }
        for (size_t step = 0; step < 3; step++)
            fixture_set(&r.m[0].biases[step], 19, S21, fixture_linear(gain_db[step]));
        picture_judge(&r, 0);
        assert_int_equal(finding_has_failed(&r.judgements[0].findings[2]), failed);
        figure = draw_figure(&r, BIAS_TITLE);
        assert_int_equal(picture_count(figure, "failed"), failed);
        picture_read(figure, failed ? "failed" : "strong", 0, &line);
        assert_int_equal(line.n, 3);
        assert_int_equal(picture_count(figure, "wedge"), 2);
        for (size_t step = 0; step < 2; step++) {
            picture_read(figure, "wedge", step, &wedge);
            for (size_t i = 0; i < wedge.n; i++)
                assert_true(wedge.points[i][1] > PLOT_TOP &&
                            wedge.points[i][1] < PLOT_HEIGHT - PLOT_BOTTOM);
            assert_close(wedge.points[0][1], line.points[step][1], 0.11);
            assert_close(wedge.points[1][0], line.points[step + 1][0], 0.11);
            assert_int_equal(outside_wedge(&wedge, line.points[step + 1][1]) > 0,
                             slope[step] < 3 || slope[step] > 7);
        }
        assert_int_equal(picture_count(figure, "failed-part"), failed);
        if (failed) check_parts(figure, &line, slope);
        n_failed += failed;
        memory_free(figure);
    }
    assert_true(n_failed > 10);
    report_clear(&r);
}

/* Names without room are told below the picture, where they are printed too: all of them, and
 * nothing is said when there are none. */
static void test_names_put_off(void **state)
{
    struct report_batch r = {0};
    char *figure;

    (void)state;
    fill(&r);
    figure = draw_figure(&r, "gain");
    assert_int_equal(report_count(figure, "mark later"), 0);
    assert_null(strstr(figure, "No room"));
    memory_free(figure);
    for (size_t step = 0; step < 3; step++) /* three names at the lower edge */
        for (size_t k = 0; k < 41; k++)
            fixture_set(&r.m[0].biases[step], k, S11, CMPLX(-0.01, -0.47 - 1e-6 * (double)k));
    picture_judge(&r, 0);
    figure = draw_figure(&r, "input impedance");
    assert_int_equal(report_count(figure, "<text class=\"mark later\""), 2);
    assert_int_equal(report_count(figure, "<text class=\"mark\""), 1);
    assert_holds(figure, "<p class=\"key\">No room for the names mid, match -6.56 dB.</p>");
    memory_free(figure);
    report_clear(&r);
}

/* Gain against bias needs two steps with a gain; the others have their pictures all the same, and
 * so has a unit without any sweep: the bounds. */
static void test_missing_steps(void **state)
{
    (void)state;
    for (size_t steps = 0; steps < 3; steps++) {
        struct report_batch r = {0};
        char *page, *figure;

        report_start_with(&r, elements);
        report_add(&r, "A1", 1, 20, steps);
        page = draw(&r);
        figure = picture_figure(page, BIAS_TITLE);
        assert_int_equal(figure != NULL, steps == 2);
        memory_free(figure);
        figure = picture_figure(page, "gain");
        assert_non_null(figure);
        assert_int_equal(picture_count(figure, "strong"), steps);
        assert_int_equal(picture_count(figure, "bound"), 3);
        memory_free(figure);
        memory_free(page);
        report_clear(&r);
    }
}

/* A reflection far below its bound is cut off, the bound is not. */
static void test_needle(void **state)
{
    struct report_batch r = {0};
    struct picture_line bound;
    struct plot plot;
    char *figure;

    (void)state;
    fill(&r);
    fixture_set(&r.m[0].biases[0], 20, S11, 1e-6);
    picture_judge(&r, 0);
    figure = draw_figure(&r, "input reflection");
    plot = picture_scale(figure, 1e6);
    assert_true(plot.y_from > -55);
    picture_read(figure, "bound", 0, &bound);
    assert_close(bound.points[0][1], plot_y(&plot, -10), PICTURE_SCALE_ROOM);
    memory_free(figure);
    report_clear(&r);
}

/* The pictures show the last attempt and no earlier one. */
static void test_last_attempt(void **state)
{
    struct report_batch r = {0};
    struct judgement attempts[2];
    struct unit_sheet sheet;
    struct html *h;
    char *page, *figure;

    (void)state;
    report_start_with(&r, elements);
    report_add(&r, "A1", 1, 10, 3);
    report_add(&r, "A1", 2, 20, 3);
    attempts[0] = r.judgements[0];
    attempts[1] = r.judgements[1];
    sheet = report_sheet(&r, 1);
    sheet.attempts = attempts;
    sheet.n_attempts = 2;
    h = picture_start();
    unit_pictures_write(h, &sheet);
    page = picture_finish(h);
    figure = picture_figure(page, "gain");
    assert_int_equal(picture_count(figure, "failed"), 0);
    assert_int_equal(report_count(figure, "<circle class=\"failed\""), 0);
    memory_free(figure);
    memory_free(page);
    report_clear(&r);
}

static bool write_pictures(struct html *h, const void *what, struct error *e)
{
    const struct report_batch *r = what;
    const struct unit_sheet sheet = report_sheet(r, 0);

    (void)e;
    unit_pictures_write(h, &sheet);
    return true;
}

/* Without memory the page fails: no sheet has a line that ends too soon. */
static void test_memory(void **state)
{
    struct report_batch r = {0};

    (void)state;
    fill(&r);
    picture_check_memory(write_pictures, &r);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_which_pictures),
                                       cmocka_unit_test(test_lines),
                                       cmocka_unit_test(test_bounds_once),
                                       cmocka_unit_test(test_worst_places),
                                       cmocka_unit_test(test_failed_step_alone),
                                       cmocka_unit_test(test_reflection_spikes),
                                       cmocka_unit_test(test_wedges),
                                       cmocka_unit_test(test_names_put_off),
                                       cmocka_unit_test(test_missing_steps),
                                       cmocka_unit_test(test_needle),
                                       cmocka_unit_test(test_last_attempt),
                                       cmocka_unit_test(test_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
