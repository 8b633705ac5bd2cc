#include "reports/batch_picture.h"

#include <stdlib.h>
#include <time.h>

#include "tests/picture_check.h"

#define BOUND_DB (-10.0)

/* A match at two steps; the fixture's S11 is 0.1 and turns a little over the band. */
static const char elements[] =
    "<input-reflection id=\"match\" bias=\"low mid\" band=\"working\" max=\"-10 dB\"/>"
    "<gain id=\"gain\" bias=\"low\" band=\"working\" min=\"10 dB\"/>";
/* Views of them: gain, then reflection at low and at mid. */
#define LOW 1
#define MID 2

static void fill(struct report_batch *r, size_t n)
{
    report_start_with(r, elements);
    for (size_t i = 0; i < n; i++) {
        char serial[24];

        (void)snprintf(serial, sizeof serial, "A%zu", i + 1);
        picture_add_dense(r, serial, 20);
    }
    report_finish(r);
    assert_int_equal(r->views.n, 3);
}

static char *draw(const struct report_batch *r, size_t view)
{
    struct gallery g = {picture_start(), &r->batch, 1};
    struct error e = {0};

    assert_done(batch_picture_smith(&g, view, &e), &e);
    return picture_finish(g.html);
}

/* The chart's scale, from the words at its edge: "= 0.50". */
static struct smith scale_of(const char *page)
{
    const char *words = strstr(page, ">= 0.");

    if (!words) words = strstr(page, ">= 1.");
    assert_non_null(words);
    return (struct smith){.reach = strtod(words + 3, NULL)};
}

/* How far from the centre of the chart a line reaches, as abs(S). */
static double reach_of(const struct picture_line *line, const struct smith *smith)
{
    double most = 0;

    for (size_t i = 0; i < line->n; i++)
        most = fmax(most, hypot(line->points[i][0] - SMITH_X, line->points[i][1] - SMITH_Y));
    return most / SMITH_RADIUS * smith->reach;
}

/* Every unit is a dot where its S11 is largest within the band; one on top of another is left out.
 */
static void test_dots(void **state)
{
    static const double complex worst[] = {CMPLX(0.2, 0.1), CMPLX(-0.25, 0.05), CMPLX(0.02, -0.28),
                                           CMPLX(0.2, 0.1)};
    struct report_batch r = {0};
    struct picture_line dots;
    struct smith smith;
    char *page;

    (void)state;
    fill(&r, 4);
    for (size_t i = 0; i < 4; i++) {
        fixture_set(&r.m[i].biases[0], 1000 + i, S11, worst[i]);
        fixture_set(&r.m[i].biases[0], 2, S11, 0.29); /* below the band: not judged */
        picture_judge(&r, i);
    }
    page = draw(&r, LOW);
    assert_holds(page, "<figcaption>input impedance at bias low (1.8 V)</figcaption>");
    smith = scale_of(page);
    picture_read(page, "dot", 0, &dots);
    assert_int_equal(dots.n, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_close(dots.points[i][0], smith_x(&smith, creal(worst[i])), 0.06);
        assert_close(dots.points[i][1], smith_y(&smith, cimag(worst[i])), 0.06);
    }
    memory_free(page);
    report_clear(&r);
}

/* The limit is its circle, with room around it in the window however good the units are. */
static void test_circle(void **state)
{
    struct report_batch r = {0};
    struct smith smith;
    const char *bound;
    char *page;

    (void)state;
    fill(&r, 2);
    page = draw(&r, MID);
    smith = scale_of(page);
    bound = svg_find(page, "<circle class=\"bound\"", 0);
    assert_close(svg_attribute(bound, "cx"), smith_x(&smith, 0), 0.51);
    assert_close(svg_attribute(bound, "cy"), smith_y(&smith, 0), 0.51);
    assert_close(svg_attribute(bound, "r"), fixture_linear(BOUND_DB) / smith.reach * SMITH_RADIUS,
                 0.51);
    assert_true(fixture_linear(BOUND_DB) < 0.9 * smith.reach);
    memory_free(page);
    report_clear(&r);
}

/* One spike of a single point: dashed at that step exactly when it fails, and then beyond the
 * circle, else all of the unit within it. */
static void check_spike(struct report_batch *r, size_t step, size_t point, double size)
{
    const double complex s = size * cexp(CMPLX(0, 0.01 * (double)point));
    const bool failed = size > fixture_linear(BOUND_DB);

    fixture_set(&r->m[4].biases[step], point, S11, s);
    picture_judge(r, 4);
    for (size_t k = 0; k < 2; k++) {
        char *page = draw(r, k == 0 ? LOW : MID);
        const struct smith smith = scale_of(page);
        struct picture_line line;

        assert_int_equal(picture_count(page, "failed"), failed && k == step);
        assert_int_equal(picture_count(page, "data"), 5 - (failed && k == step));
        if (failed && k == step) {
            picture_read(page, "failed", 0, &line);
            assert_close(reach_of(&line, &smith), size, 0.06 * 1.5 / SMITH_RADIUS * smith.reach);
            assert_holds(page, "<title>A5: match</title>");
            assert_holds(page, ">A5</text></a>");
        } else {
            picture_read(page, "data", 4, &line);
            assert_true(reach_of(&line, &smith) < fixture_linear(BOUND_DB));
        }
        memory_free(page);
    }
    fixture_set(&r->m[4].biases[step], point, S11, 0.1);
}

/* What lies outside the limit in the data lies outside its circle in the picture, also for one
 * point among 2801, and at the step that failed alone. */
static void test_spikes(void **state)
{
    static const double sizes[] = {0.2, 0.3, 0.33, 0.6};
    struct report_batch r = {0};
    const unsigned seed = (unsigned)time(NULL);

    (void)state;
    print_message("seed %u\n", seed);
    srand(seed);
    fill(&r, 5);
    for (int i = 0; i < 80; i++)
        check_spike(&r, (size_t)rand() % 2, 501 + (size_t)rand() % 1799, sizes[i % 4]);
    report_clear(&r);
}

/* In a large batch only those outside have lines; a limit on the resistance puts them outside
 * too, and one on the gain does not. */
static void test_who_is_outside(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start_with(&r, "<input-resistance id=\"ohms\" bias=\"low\" band=\"working\" "
                          "min=\"40 ohm\"/><gain id=\"gain\" bias=\"low\" band=\"working\" "
                          "min=\"19 dB\"/>");
    for (size_t i = 0; i < 9; i++)
        report_add(&r, i == 2 ? "LOW<OHM" : i == 3 ? "GAIN" : "A", 1, i == 3 ? 18 : 20, 3);
    fixture_set(&r.m[2].biases[0], 20, S11, -0.5);
    picture_judge(&r, 2);
    report_finish(&r);
    page = draw(&r, 1);
    assert_int_equal(picture_count(page, "failed"), 1);
    assert_int_equal(picture_count(page, "data"), 0);
    assert_holds(page, "<title>LOW&lt;OHM: ohms</title>");
    assert_null(strstr(page, "GAIN"));
    assert_int_equal(report_count(page, "<circle class=\"bound\""), 1);
    memory_free(page);
    report_clear(&r);
}

/* Units without a sweep at the step have no dot, a batch of nothing has an empty chart, and
 * outsiders whose lines were dropped are dots only. */
static void test_nothing_to_draw(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    fill(&r, 0);
    page = draw(&r, LOW);
    assert_int_equal(picture_count(page, "dot"), 0);
    assert_int_equal(report_count(page, "</span>"), 1); /* the bound's alone */
    assert_int_equal(report_count(page, "<circle class=\"bound\""), 1);
    memory_free(page);
    report_clear(&r);
    r = (struct report_batch){0};
    report_start_with(&r, elements);
    report_add(&r, "A1", 1, 20, 1);
    report_add(&r, "A2", 1, 20, 3);
    fixture_set(&r.m[1].biases[1], 20, S11, 0.9);
    picture_judge(&r, 1);
    report_finish(&r);
    page = draw(&r, MID);
    assert_int_equal(picture_count(page, "failed"), 1);
    assert_int_equal(picture_count(page, "data"), 0);
    memory_free(page);
    unit_traces_drop_lines(&r.traces[1]);
    page = draw(&r, MID);
    assert_int_equal(picture_count(page, "failed"), 0);
    assert_int_equal(picture_count(page, "dot"), 1);
    memory_free(page);
    report_clear(&r);
}

/* The window reaches to nearly all units, and not to half of them only: of five units the one that
 * reflects most is in it. */
static void test_reach(void **state)
{
    struct report_batch r = {0};
    struct picture_line dots;
    struct smith smith;
    double most = 0;
    char *page;

    (void)state;
    fill(&r, 5);
    fixture_set(&r.m[3].biases[0], 1000, S11, 0.62);
    picture_judge(&r, 3);
    page = draw(&r, LOW);
    smith = scale_of(page);
    assert_close(smith.reach, 0.7, 1e-9);
    picture_read(page, "dot", 0, &dots);
    for (size_t i = 0; i < dots.n; i++)
        most = fmax(most, dots.points[i][0]);
    assert_close(most, smith_x(&smith, 0.62), 0.06);
    memory_free(page);
    report_clear(&r);
}

/* The one of many units that lies outside the window is an arrow at its edge, that way, with its
 * name beside it. */
static void test_arrow(void **state)
{
    struct report_batch r = {0};
    struct batch_unit units[200];
    struct picture_line arrow;
    char *page;

    (void)state;
    fill(&r, 2);
    for (size_t point = 0; point < PICTURE_DENSE; point++)
        fixture_set(&r.m[1].biases[0], point, S11, CMPLX(0.1, point == 900 ? -0.8 : -0.9));
    picture_judge(&r, 1);
    for (size_t i = 0; i < 200; i++)
        units[i] = r.units[i == 7];
    r.batch.units = units;
    r.batch.n_units = 200;
    page = draw(&r, LOW);
    assert_close(scale_of(page).reach, 0.5, 1e-9);
    picture_read(page, "arrow", 0, &arrow);
    assert_int_equal(arrow.n, 3);
    assert_close(arrow.points[0][0], SMITH_X + 0.2 * SMITH_RADIUS, 0.06);
    assert_close(arrow.points[0][1], SMITH_Y + SMITH_RADIUS, 0.06);
    assert_close((arrow.points[1][1] + arrow.points[2][1]) / 2, SMITH_Y + SMITH_RADIUS - 9, 0.06);
    assert_holds(page, "<title>A2: match</title><path class=\"arrow\"");
    assert_holds(page, ">A2</text></a>");
    assert_int_equal(report_count(page, "<text class=\"mark\""), 1);
    assert_int_equal(picture_count(page, "failed"), 0);
    memory_free(page);
    report_clear(&r);
}

static bool write_smith(struct html *h, const void *what, struct error *e)
{
    const struct gallery g = {h, what, 1};

    return batch_picture_smith(&g, LOW, e);
}

/* Without memory the picture fails or the page does. */
static void test_memory(void **state)
{
    struct report_batch r = {0};

    (void)state;
    report_start_with(&r, elements);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "A2", 1, 20, 3);
    fixture_set(&r.m[1].biases[0], 20, S11, 0.9);
    picture_judge(&r, 1);
    report_finish(&r);
    picture_check_memory(write_smith, &r.batch);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_dots),
                                       cmocka_unit_test(test_circle),
                                       cmocka_unit_test(test_spikes),
                                       cmocka_unit_test(test_who_is_outside),
                                       cmocka_unit_test(test_nothing_to_draw),
                                       cmocka_unit_test(test_reach),
                                       cmocka_unit_test(test_arrow),
                                       cmocka_unit_test(test_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
