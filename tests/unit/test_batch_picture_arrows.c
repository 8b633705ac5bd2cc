/* Units that lie outside the pictures over frequency. */
#include "reports/batch_picture.h"
#include "tests/picture_check.h"

/* Gain at every step and input reflection at the low one, accepted up to the bound itself. */
static const char elements[] =
    "<gain id=\"gain\" bias=\"all\" band=\"working\" min=\"19 dB\" max=\"29 dB\"/>"
    "<input-reflection id=\"match\" bias=\"low\" band=\"working\" max=\"-16 dB\"/>";

/* The picture of a view of the finished batch; freed with memory_free(). */
static char *draw(struct report_batch *r, size_t view)
{
    struct gallery g = {picture_start(), &r->batch, 1};
    struct error e = {0};

    assert_done(batch_picture_view(&g, view, &e), &e);
    return picture_finish(g.html);
}

/* `n` units of 20, 20.1, 20.2 ... dB, the batch finished. */
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

/* The arrow of a unit: its tip, and the middle of its foot. */
static void read_arrow(const char *page, size_t nth, double tip[2], double foot[2])
{
    struct picture_line arrow;

    picture_read(page, "arrow", nth, &arrow);
    assert_int_equal(arrow.n, 3);
    for (size_t axis = 0; axis < 2; axis++) {
        tip[axis] = arrow.points[0][axis];
        foot[axis] = (arrow.points[1][axis] + arrow.points[2][axis]) / 2;
    }
}

/* A unit that lies outside the picture altogether is an arrow at the frame, at the frequency where
 * it comes nearest and pointing to it, with its name beside it, and no line. */
static void test_arrow(void **state)
{
    static const struct {
        double gain_db, nearest_hz, frame;
    } cases[] = {{-50, 171e6, PLOT_HEIGHT - PLOT_BOTTOM}, {90, 165e6, PLOT_TOP}};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        const bool is_low = i == 0;
        const size_t at = (size_t)((cases[i].nearest_hz - 150e6) / 1e6);
        struct report_batch r = {0};
        double tip[2], foot[2];
        struct plot plot;
        char *page;

        fill(&r, 12);
        report_add(&r, "FAR", 1, cases[i].gain_db, 3);
        fixture_set(&r.m[12].biases[0], at, S21,
                    fixture_linear(cases[i].gain_db + (is_low ? 1 : -1)));
        picture_judge(&r, 12);
        batch_yield_clear(&r.batch.yield);
        report_finish(&r);
        page = draw(&r, 0);
        plot = picture_scale(page, 1e6);
        read_arrow(page, 0, tip, foot);
        assert_close(tip[0], plot_x(&plot, cases[i].nearest_hz), 0.2);
        assert_close(tip[1], cases[i].frame, 0.06);
        assert_close(foot[0], tip[0], 0.06);
        assert_close(foot[1], tip[1] + (is_low ? -9 : 9), 0.06);
        assert_holds(page, "<title>FAR: gain</title><path class=\"arrow\"");
        assert_int_equal(picture_count(page, "failed"), 0);
        assert_close(svg_attribute(svg_find(page, "<text class=\"mark\"", 0), "y"), tip[1],
                     is_low ? 6 : 12);
        assert_holds(page, ">FAR</text></a>");
        assert_holds(page, " failed a limit, outside this picture</span>");
        assert_null(strstr(page, "units outside this picture"));
        memory_free(page);
        report_clear(&r);
    }
}

/* Many such units are arrows too; those whose names find no room are named below, with all. */
static void test_many_arrows(void **state)
{
    struct report_batch r = {0};
    struct batch_unit units[60];
    char *page;

    (void)state;
    fill(&r, 11);
    for (size_t i = 0; i < 5; i++) {
        char serial[24];

        (void)snprintf(serial, sizeof serial, "F%zu", i + 1);
        report_add(&r, serial, 1, -60 - (double)i, 3);
    }
    for (size_t i = 0; i < 60; i++)
        units[i] = r.units[i < 16 ? i : i % 11];
    r.batch.units = units;
    r.batch.n_units = 60;
    page = draw(&r, 0);
    assert_int_equal(report_count(page, "</title><path class=\"arrow\""), 5);
    assert_int_equal(report_count(page, "<text class=\"mark\""), 3);
    assert_int_equal(report_count(page, "<text class=\"mark later\""), 2);
    assert_holds(page, "5 units outside this picture: F5, F4, F3, F2, F1. </p>");
    memory_free(page);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_arrow),
                                       cmocka_unit_test(test_many_arrows)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
