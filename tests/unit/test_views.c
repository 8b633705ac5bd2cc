/* Which pictures over frequency a limits file asks for, and over what range. */
#include "reports/views.h"

#include "tests/fixture.h"

static void find(struct views *out, struct limits *limits, const char *elements)
{
    fixture_limits(limits, "", elements);
    views_find(out, limits);
}

static void check_view(const struct view *view, enum s_parameter parameter, size_t step,
                       double from_hz, double to_hz)
{
    assert_int_equal(view->parameter, parameter);
    assert_int_equal(view->step, step);
    assert_close(view->from_hz, from_hz, 0);
    assert_close(view->to_hz, to_hz, 0);
}

/* One view for each bias step at which gain or the input reflection is judged alone: gain by rising
 * bias first, and none where no limit looks. */
static void test_order(void **state)
{
    struct limits limits = {0};
    struct views views;

    (void)state;
    find(&views, &limits,
         "<input-reflection id=\"m\" bias=\"mid\" band=\"working\" max=\"-16 dB\"/>"
         "<gain id=\"g\" bias=\"high\" band=\"working\" min=\"19 dB\"/>"
         "<gain-flatness id=\"f\" bias=\"low\" band=\"working\" max=\"2 dB\"/>"
         "<reflection-shift id=\"d\" bias=\"high\" band=\"working\" reference=\"low\" "
         "max=\"0.05\"/>");
    assert_int_equal(views.n, 4);
    check_view(&views.view[0], S21, 0, 160e6, 178e6);
    check_view(&views.view[1], S21, 2, 160e6, 178e6);
    check_view(&views.view[2], S11, 1, 160e6, 178e6);
    check_view(&views.view[3], S11, 2, 160e6, 178e6);
    assert_string_equal(view_words(&views.view[0]), "gain");
    assert_string_equal(view_words(&views.view[3]), "input reflection");
    limits_clear(&limits);
}

/* A limit that is judged otherwise, on other parameters or across bias steps, asks for no picture
 * over frequency; nor does a file without limits. */
static void test_none(void **state)
{
    static const char elements[] =
        "<bias-current id=\"i\" bias=\"high\" max=\"7 mA\"/>"
        "<stability id=\"s\" band=\"working\" min=\"1\"/>"
        "<output-reflection id=\"o\" band=\"working\" max=\"-14 dB\"/>"
        "<reverse-isolation id=\"r\" band=\"working\" max=\"-55 dB\"/>"
        "<gain-slope id=\"c\" band=\"centre\" from=\"low\" to=\"high\" method=\"fit\" max=\"9 "
        "dB/V\"/>"
        "<gain-range id=\"a\" band=\"centre\" from=\"low\" to=\"high\" max=\"9 dB\"/>"
        "<group-delay id=\"t\" band=\"working\" max=\"13 ns\"/>"
        "<phase id=\"p\" band=\"centre\" min=\"-5 deg\" max=\"5 deg\"/>";
    struct limits limits = {0};
    struct views views = {.n = 7};

    (void)state;
    views_find(&views, &limits);
    assert_int_equal(views.n, 0);
    views.n = 7;
    find(&views, &limits, elements);
    assert_int_equal(limits.n_limits, 8);
    assert_int_equal(views.n, 0);
    limits_clear(&limits);
}

/* The range is that of all limits of the view together, also where a mask and a spot have ranges of
 * their own, and a quarter of it is drawn on both sides. */
static void test_range(void **state)
{
    struct limits limits = {0};
    struct views views;

    (void)state;
    find(&views, &limits,
         "<gain id=\"a\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>"
         "<gain id=\"b\" bias=\"low\"><lower><point at=\"165 MHz\" value=\"17 dB\"/>"
         "<point at=\"181 MHz\" value=\"18 dB\"/></lower><upper>"
         "<point at=\"161 MHz\" value=\"27 dB\"/><point at=\"170 MHz\" value=\"28 dB\"/></upper>"
         "</gain><gain id=\"c\" bias=\"mid\" band=\"working\" min=\"19 dB\"/>");
    assert_int_equal(views.n, 2);
    check_view(&views.view[0], S21, 0, 161e6, 181e6);
    assert_close(views.view[0].left_hz, 156e6, 1e-3);
    assert_close(views.view[0].right_hz, 186e6, 1e-3);
    check_view(&views.view[1], S21, 1, 160e6, 178e6);
    assert_close(views.view[1].left_hz, 155.5e6, 1e-3);
    assert_close(views.view[1].right_hz, 182.5e6, 1e-3);
    limits_clear(&limits);
}

/* A limit at one spot gets a range too, or there would be nothing to draw; none begins below 0 Hz.
 */
static void test_spot_and_low_end(void **state)
{
    struct limits limits = {0};
    struct views views;

    (void)state;
    find(&views, &limits,
         "<gain id=\"a\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>"
         "<gain id=\"b\" bias=\"mid\"><lower><point at=\"1 MHz\" value=\"17 dB\"/>"
         "<point at=\"101 MHz\" value=\"18 dB\"/></lower></gain>");
    assert_int_equal(views.n, 2);
    check_view(&views.view[0], S21, 0, 169e6, 169e6);
    assert_close(views.view[0].left_hz, 0.95 * 169e6, 1e-3);
    assert_close(views.view[0].right_hz, 1.05 * 169e6, 1e-3);
    assert_close(views.view[1].left_hz, 0, 0);
    assert_close(views.view[1].right_hz, 126e6, 1e-3);
    limits_clear(&limits);
}

/* A limit concerns the view of its parameter alone, at its own bias steps, and its bounds are drawn
 * there only when they are dB of that parameter. */
static void test_concern_and_bounds(void **state)
{
    static const struct {
        const char *quantity;
        int concerned; /* which view: 0 gain, 1 input reflection, -1 neither */
        bool bounds;
    } known[] = {{"gain", 0, true},
                 {"gain-flatness", 0, false},
                 {"input-reflection", 1, true},
                 {"output-reflection", -1, false},
                 {"reverse-isolation", -1, false},
                 {"input-resistance", 1, false},
                 {"input-reactance", 1, false},
                 {"gain-slope", -1, false},
                 {"gain-range", -1, false},
                 {"reflection-shift", 1, false},
                 {"phase", -1, false},
                 {"group-delay", -1, false},
                 {"stability", -1, false},
                 {"bias-current", -1, false}};
    size_t n;

    (void)state;
    (void)quantity_table(&n);
    assert_int_equal(n, sizeof known / sizeof *known); /* a new quantity must be thought of here */
    for (size_t i = 0; i < n; i++) {
        const struct limit limit = {.quantity = quantity_find(known[i].quantity),
                                    .biases = UINT64_C(1) << 63 | 2};

        assert_non_null(limit.quantity);
        for (int v = 0; v < 2; v++) {
            const enum s_parameter parameter = v == 0 ? S21 : S11;
            const struct view there = {.parameter = parameter, .step = 63};
            const struct view elsewhere = {.parameter = parameter, .step = 62};

            assert_int_equal(view_concerns(&there, &limit), known[i].concerned == v);
            assert_int_equal(view_has_bounds(&there, &limit),
                             known[i].concerned == v && known[i].bounds);
            assert_false(view_concerns(&elsewhere, &limit));
            assert_false(view_has_bounds(&elsewhere, &limit));
        }
    }
}

/* As many bias steps as there may be, gain and reflection judged at each: every one has its view.
 */
static void test_most_views(void **state)
{
    double at_hz[] = {160e6, 178e6}, value[] = {1, 1};
    struct limit limit[] = {
        {.quantity = quantity_find("input-reflection"),
         .biases = UINT64_MAX,
         .upper = {2, at_hz, value}},
        {.quantity = quantity_find("gain"), .biases = UINT64_MAX, .lower = {2, at_hz, value}}};
    const struct limits limits = {.n_biases = CEILING_BIAS_STEPS, .n_limits = 2, .limits = limit};
    struct views views;

    (void)state;
    views_find(&views, &limits);
    assert_int_equal(views.n, 2 * CEILING_BIAS_STEPS);
    for (size_t i = 0; i < views.n; i++)
        check_view(&views.view[i], i < CEILING_BIAS_STEPS ? S21 : S11, i % CEILING_BIAS_STEPS,
                   160e6, 178e6);
}

/* The columns lie evenly from one end of what is drawn to the other. */
static void test_columns(void **state)
{
    const struct view view = {S21, 0, 160e6, 178e6, 155.5e6, 182.5e6, 0};

    (void)state;
    assert_close(view_column_hz(&view, 0), 155.5e6, 0);
    assert_close(view_column_hz(&view, VIEW_COLUMNS - 1), 182.5e6, 1e-6);
    for (size_t i = 1; i < VIEW_COLUMNS; i++)
        assert_close(view_column_hz(&view, i) - view_column_hz(&view, i - 1),
                     27e6 / (VIEW_COLUMNS - 1), 1e-3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_none),
        cmocka_unit_test(test_range),
        cmocka_unit_test(test_spot_and_low_end),
        cmocka_unit_test(test_concern_and_bounds),
        cmocka_unit_test(test_most_views),
        cmocka_unit_test(test_columns),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
