#include "reports/batch_picture.h"

#include "tests/picture_check.h"

/* An open plot of 150..190 MHz over 10..30 dB. */
static struct plot open_plot(void)
{
    static const struct plot_words words = {"Title", "Description", "MHz", "dB", 1e6};
    const struct plot_range x = {150e6, 190e6}, y = {10, 30};
    struct plot plot;

    plot_open(&plot, picture_start(), &words, &x, &y);
    return plot;
}

static char *close_plot(struct plot *plot)
{
    struct html *h = plot->html;

    plot_close(plot);
    return picture_finish(h);
}

/* Eight units are enough for a spread, seven are not. */
static void test_small(void **state)
{
    struct batch batch = {.n_units = 7};

    (void)state;
    assert_true(batch_is_small(&batch));
    batch.n_units = 8;
    assert_false(batch_is_small(&batch));
    batch.n_units = 0;
    assert_true(batch_is_small(&batch));
}

/* A small batch draws each unit once, those outside last, on top, furthest first; a large one only
 * those outside; and no more than the picture can hold. */
static void test_drawing_order(void **state)
{
    struct outsider list[] = {{4, -3}, {0, -2}, {6, -1}};
    static const size_t order[] = {1, 2, 3, 5, 4, 0, 6};
    struct outsiders outside = {3, 3, list};
    struct batch batch = {.n_units = 7};
    size_t cursor = 0, unit, n = 0;
    bool is_outside;

    (void)state;
    for (; batch_next_drawn(&batch, &outside, &cursor, &unit, &is_outside); n++) {
        assert_true(n < 7);
        assert_int_equal(unit, order[n]);
        assert_int_equal(is_outside, n >= 4);
    }
    assert_int_equal(n, 7);
    assert_false(batch_next_drawn(&batch, &outside, &cursor, &unit, &is_outside));
    batch.n_units = 8;
    outside.n_drawn = 2;
    for (cursor = n = 0; batch_next_drawn(&batch, &outside, &cursor, &unit, &is_outside); n++) {
        assert_true(n < 2);
        assert_true(is_outside);
        assert_int_equal(unit, order[4 + n]);
    }
    assert_int_equal(n, 2);
    batch.n_units = 7; /* one that the picture cannot hold as an outsider is drawn all the same */
    for (cursor = n = 0; batch_next_drawn(&batch, &outside, &cursor, &unit, &is_outside); n++)
        assert_int_equal(is_outside, n >= 5);
    assert_int_equal(n, 7);
    cursor = 0;
    batch.n_units = 0;
    outside.n_drawn = 0;
    assert_false(batch_next_drawn(&batch, &outside, &cursor, &unit, &is_outside));
}

/* A spread around 20 dB that is wider at each place. */
static void fill_spread(struct spread *spread, double *x, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const double wide = 1 + 0.05 * (double)i;

        x[i] = 152e6 + 0.5e6 * (double)i;
        spread[i] = (struct spread){.lowest = 20 - 2 * wide,
                                    .low = 20 - 1.5 * wide,
                                    .quarter = 20 - 0.5 * wide,
                                    .median = 20 + 0.1 * wide,
                                    .three_quarters = 20 + 0.6 * wide,
                                    .high = 20 + 1.7 * wide,
                                    .highest = 20 + 2.2 * wide};
    }
}

/* The upper edge of an area goes forth over x, its lower edge back; a line goes forth. */
static void check_edge(const struct picture_line *line, const struct plot *plot, const double *x,
                       const struct spread *spread, size_t offset, size_t n, bool back)
{
    for (size_t i = 0; i < n; i++) {
        const double *point = line->points[back ? line->n - 1 - i : i];
        double value;

        memcpy(&value, (const char *)&spread[i] + offset, sizeof value);
        assert_close(point[0], plot_x(plot, x[i]), 0.06);
        assert_close(point[1], plot_y(plot, value), 0.06);
    }
}
#define check_values(line, member, back) \
    check_edge((line), &plot, x, spread, offsetof(struct spread, member), N, (back))

/* Of many units the outer band is the middle 98 %, with dotted lines as far as any unit reaches. Of
 * fewer than 99 it holds all. The legend says which. */
static void test_spread(void **state)
{
    enum { N = VIEW_COLUMNS };
    struct spread spread[N];
    double x[N];
    struct picture_line line;

    (void)state;
    fill_spread(spread, x, N);
    for (size_t n_units = 98; n_units <= 99; n_units++) {
        const bool all = n_units == 98;
        struct plot plot = open_plot();
        char *page;

        batch_draw_spread(&plot, x, spread, N, n_units);
        page = close_plot(&plot);
        picture_read(page, "most", 0, &line);
        assert_int_equal(line.n, 2 * N);
        if (all) {
            check_values(&line, highest, false);
            check_values(&line, lowest, true);
        } else {
            check_values(&line, high, false);
            check_values(&line, low, true);
        }
        picture_read(page, "half", 0, &line);
        check_values(&line, three_quarters, false);
        check_values(&line, quarter, true);
        picture_read(page, "median", 0, &line);
        assert_int_equal(line.n, N);
        check_values(&line, median, false);
        assert_int_equal(picture_count(page, "edge"), all ? 0 : 2);
        if (!all) {
            picture_read(page, "edge", 0, &line);
            check_values(&line, lowest, false);
            picture_read(page, "edge", 1, &line);
            check_values(&line, highest, false);
        }
        assert_holds(page, all ? " all units</span>" : " middle 98 %</span>");
        assert_int_equal(report_count(page, " lowest and highest</span>"), !all);
        memory_free(page);
    }
}

/* Where nothing was measured there is no band: nothing bridges the hole. */
static void test_spread_with_hole(void **state)
{
    struct spread spread[5];
    double x[5];
    struct picture_line line;
    struct plot plot = open_plot();
    char *page;

    (void)state;
    fill_spread(spread, x, 5);
    spread[2] = (struct spread){NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    batch_draw_spread(&plot, x, spread, 5, 20);
    page = close_plot(&plot);
    picture_read(page, "most", 0, &line);
    assert_int_equal(line.n, 8);
    assert_true(line.lifted[4]);
    assert_close(line.points[4][0], plot_x(&plot, x[3]), 0.06);
    picture_read(page, "median", 0, &line);
    assert_int_equal(line.n, 4);
    assert_true(line.lifted[2]);
    memory_free(page);
}

static bool concerns_all(const void *picture, const struct finding *finding)
{
    (void)picture;
    return finding->limit != NULL;
}

/* A unit outside is dashed and named, so that colour is not alone; one inside is a plain line. An
 * empty line leaves nothing, no link without anything to point at. */
static void test_draw_unit(void **state)
{
    float x[] = {160e6f, 170e6f, 180e6f}, y[] = {18, 17.5f, 18.5f};
    struct trace trace = {3, x, y};
    struct report_batch r = {0};
    struct picture_line line;
    struct plot plot = open_plot();
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 18, 3);
    report_finish(&r);
    batch_draw_unit(&plot, &r.batch, 0, true, &trace, NULL, concerns_all, NULL);
    page = close_plot(&plot);
    picture_read(page, "failed", 0, &line);
    assert_int_equal(line.n, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_close(line.points[i][0], plot_x(&plot, (double)x[i]), 0.06);
        assert_close(line.points[i][1], plot_y(&plot, (double)y[i]), 0.06);
    }
    assert_holds(page, "<title>A1: gain</title><path class=\"failed\"");
    assert_holds(page, ">A1</text></a>");
    assert_holds(page, " failed a limit</span>");
    memory_free(page);
    plot = open_plot();
    batch_draw_unit(&plot, &r.batch, 0, false, &trace, NULL, concerns_all, NULL);
    page = close_plot(&plot);
    assert_int_equal(picture_count(page, "data"), 1);
    assert_int_equal(picture_count(page, "failed"), 0);
    assert_holds(page, " a unit that failed none here</span>");
    memory_free(page);
    plot = open_plot();
    trace.n_points = 0;
    batch_draw_unit(&plot, &r.batch, 0, true, &trace, NULL, concerns_all, NULL);
    page = close_plot(&plot);
    assert_null(strstr(page, "A1"));
    assert_null(strstr(page, "class=\"key\""));
    memory_free(page);
    report_clear(&r);
}

/* The middle 98 % make the range, but a dead board among few units does not: it lies further from
 * the middle half than three times its size. */
static void test_take_most(void **state)
{
    const struct spread many = {17, 18, 19.5, 20, 20.5, 22, 23};
    const struct spread dead = {-60, -60, 19.5, 20, 20.5, 22, 23};
    const struct spread wild = {19, 19, 19.5, 20, 20.5, 60, 60};
    const struct spread none = {NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    struct plot_range y;

    (void)state;
    plot_range_start(&y);
    batch_take_most(&y, &none);
    assert_true(y.low > y.high);
    batch_take_most(&y, &many);
    assert_close(y.low, 18, 1e-12);
    assert_close(y.high, 22, 1e-12);
    batch_take_most(&y, &dead);
    assert_close(y.low, 16.5, 1e-12);
    assert_close(y.high, 22, 1e-12);
    batch_take_most(&y, &wild);
    assert_close(y.low, 16.5, 1e-12);
    assert_close(y.high, 23.5, 1e-12);
}

/* Lines widen a range by its own size at most; where there is no range yet they are the range. */
static void test_widen(void **state)
{
    const struct plot_range near = {15, 21}, far = {-60, 90};
    const struct plot_range below = {-60, -50}, above = {50, 60};
    struct plot_range empty, y = {18, 22};

    (void)state;
    plot_range_start(&empty);
    batch_widen(&y, &empty);
    assert_true(y.low == 18 && y.high == 22);
    batch_widen(&y, &near);
    assert_true(y.low == 15 && y.high == 22);
    batch_widen(&y, &far);
    assert_true(y.low == 8 && y.high == 29);
    y = (struct plot_range){18, 22};
    batch_widen(&y, &below);
    assert_true(y.low == 14 && y.high == 22);
    batch_widen(&y, &above);
    assert_true(y.low == 14 && y.high == 30);
    batch_widen(&empty, &far);
    assert_true(empty.low == -60 && empty.high == 90);
    y = (struct plot_range){20, 20};
    batch_widen(&y, &far);
    assert_true(y.low == -60 && y.high == 90);
}

/* When not all are drawn the picture says how many there are. */
static void test_left_out(void **state)
{
    const struct outsiders all = {.n = 12, .n_drawn = 12}, some = {.n = 345, .n_drawn = 80};
    struct plot_names names = {0};
    struct text words = {0};

    (void)state;
    batch_add_left_out(&words, &all, &names);
    assert_string_equal(text_words(&words), "");
    batch_add_left_out(&words, &some, &names);
    assert_holds(text_words(&words), "345 units failed");
    assert_holds(text_words(&words), "80 furthest out");
    text_clear(&words);
}

/* Names that are seen by pointing only are told in words, which print too: those at lines by their
 * number, those of units outside the picture by themselves, but no more than one reads. */
static void test_names_left_out(void **state)
{
    const struct outsiders all = {.n = 12, .n_drawn = 12};
    struct plot_names names = {.n_later = 1, .n_beyond = 2};
    struct text words = {0};

    (void)state;
    text_add(&names.beyond, "A1, A2");
    batch_add_left_out(&words, &all, &names);
    assert_string_equal(text_words(&words), "1 more is named in the table of units. ");
    text_reset(&words);
    names.n_later = 3;
    names.n_nameless = 1;
    batch_add_left_out(&words, &all, &names);
    assert_string_equal(text_words(&words), "2 units outside this picture: A1, A2. "
                                            "3 more are named in the table of units. ");
    text_reset(&words);
    names.n_later = 0;
    names.n_beyond = PLOT_NAMES_BEYOND + 1;
    batch_add_left_out(&words, &all, &names);
    assert_string_equal(text_words(&words), "13 units outside this picture: A1, A2 and others, in "
                                            "the table of units. ");
    text_clear(&words);
    plot_names_clear(&names);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_small),         cmocka_unit_test(test_drawing_order),
        cmocka_unit_test(test_spread),        cmocka_unit_test(test_spread_with_hole),
        cmocka_unit_test(test_draw_unit),     cmocka_unit_test(test_take_most),
        cmocka_unit_test(test_widen),         cmocka_unit_test(test_left_out),
        cmocka_unit_test(test_names_left_out)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
