/* The limit elements of a limits file; what is refused of them is in test_limits_faults.c. */
#include "tests/limits_check.h"

#define LOW 1U
#define MID 2U
#define HIGH 4U
#define ALL 7U

/* Reads a file of one limit element; the caller clears. */
static const struct limit *read_one(struct limits *limits, const char *element)
{
    *limits = (struct limits){0};
    fixture_limits(limits, "", element);
    assert_int_equal(limits->n_limits, 1);
    return &limits->limits[0];
}

/* A line of two points with one value, as min or max over the band `working` makes. */
static void assert_flat(const struct bound_line *line, double value)
{
    assert_int_equal(line->n_points, 2);
    assert_true(line->frequency_hz[0] == 160e6 && line->frequency_hz[1] == 178e6);
    assert_true(line->value[0] == value && line->value[1] == value);
}

/* Every element of the table in design chapter 3 with every attribute that it takes: min is the
 * first number, max the second, in the quantity's own unit. */
static const struct {
    const char *element, *quantity;
    double min, max, uncertainty; /* NaN: none */
} every_element[] = {
    {"<gain id=\"x\" bias=\"all\" band=\"working\" min=\"-1.5 dB\" max=\"26dB\" "
     "uncertainty=\"0.15 dB\"/>",
     "gain", -1.5, 26, 0.15},
    {"<gain-flatness id=\"x\" bias=\"all\" band=\"working\" max=\"1 dB\" uncertainty=\"0.1 "
     "dB\"/>",
     "gain-flatness", NAN, 1, 0.1},
    {"<input-reflection id=\"x\" band=\"working\" min=\"-40 dB\" max=\"-16 dB\" "
     "uncertainty=\"0.3 dB\"/>",
     "input-reflection", -40, -16, 0.3},
    {"<output-reflection id=\"x\" band=\"working\" max=\"-14 dB\"/>", "output-reflection", NAN, -14,
     NAN},
    {"<reverse-isolation id=\"x\" band=\"working\" max=\"-55 dB\" uncertainty=\"1 dB\"/>",
     "reverse-isolation", NAN, -55, 1},
    {"<input-resistance id=\"x\" band=\"working\" min=\"40 ohm\" max=\"60 ohm\" "
     "uncertainty=\"1 ohm\"/>",
     "input-resistance", 40, 60, 1},
    {"<input-reactance id=\"x\" band=\"working\" min=\"-10 ohm\" max=\"10 ohm\" "
     "uncertainty=\"0.5 ohm\"/>",
     "input-reactance", -10, 10, 0.5},
    {"<gain-slope id=\"x\" band=\"working\" from=\"low\" to=\"high\" method=\"local\" min=\"3 "
     "dB/V\" max=\"14 dB/V\" uncertainty=\"0.3 dB/V\"/>",
     "gain-slope", 3, 14, 0.3},
    {"<gain-range id=\"x\" band=\"working\" from=\"low\" to=\"high\" min=\"7 dB\" max=\"9 dB\" "
     "uncertainty=\"0.1 dB\"/>",
     "gain-range", 7, 9, 0.1},
    {"<reflection-shift id=\"x\" bias=\"all\" band=\"working\" reference=\"mid\" min=\"0\" "
     "max=\"0.05\" uncertainty=\"0.004\"/>",
     "reflection-shift", 0, 0.05, 0.004},
    {"<phase id=\"x\" band=\"working\" min=\"-5 deg\" max=\"5 deg\" uncertainty=\"0.5 deg\"/>",
     "phase", -5, 5, 0.5},
    {"<group-delay id=\"x\" band=\"working\" min=\"500 ps\" max=\"0.013 us\" "
     "uncertainty=\"0.5 ns\"/>",
     "group-delay", 0.5, 13, 0.5},
    {"<stability id=\"x\" band=\"working\" min=\"1.2\" max=\"1e3\" uncertainty=\"0.05\"/>",
     "stability", 1.2, 1000, 0.05},
};

static void reads_every_element(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof every_element / sizeof *every_element; i++) {
        struct limits limits;
        const struct limit *limit = read_one(&limits, every_element[i].element);

        assert_string_equal(limit->id, "x");
        assert_string_equal(limit->quantity->name, every_element[i].quantity);
        assert_string_equal(limit->band_id, "working");
        assert_true(limit->max_step_hz == 1e6);
        assert_false(limit->is_mask);
        if (isnan(every_element[i].min))
            assert_int_equal(limit->lower.n_points, 0);
        else
            assert_flat(&limit->lower, every_element[i].min);
        assert_flat(&limit->upper, every_element[i].max);
        assert_true(limit->has_uncertainty == !isnan(every_element[i].uncertainty));
        assert_true(limit->uncertainty ==
                    (limit->has_uncertainty ? every_element[i].uncertainty : 0));
        assert_false(limit->linear_uncertainty);
        assert_null(limit->when_failed);
        limits_clear(&limits);
    }
}

/* Every row of the table of quantities is an element of the schema and the other way round: 13
 * above, and the bias current. */
static void reads_as_many_as_the_table_has(void **state)
{
    size_t n;

    (void)state;
    (void)quantity_table(&n);
    assert_int_equal(n, 14);
}

/* A bias current has no band: its bound is one value. */
static void reads_a_bias_current(void **state)
{
    struct limits limits;
    const struct limit *limit = read_one(&limits, "<bias-current id=\"c\" bias=\"high\" min=\"0.5 "
                                                  "A\" max=\"700 mA\" uncertainty=\"500 uA\"/>");

    (void)state;
    assert_string_equal(limit->quantity->name, "bias-current");
    assert_int_equal(limit->lower.n_points, 1);
    assert_true(limit->lower.value[0] == 500 && limit->upper.value[0] == 700);
    assert_true(limit->uncertainty == 0.5);
    assert_int_equal(limit->biases, HIGH);
    assert_null(limit->band_id);
    limits_clear(&limits);
}

/* A reflection's uncertainty is in dB, or as a bare number in linear abs(S). */
static void reads_uncertainties_in_both_units(void **state)
{
    static const char *const names[] = {"input-reflection", "output-reflection"};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        char element[200];
        struct limits limits;
        const struct limit *limit;

        (void)snprintf(element, sizeof element,
                       "<%s id=\"x\" band=\"working\" max=\"-16 dB\" uncertainty=\" 0.006 \"/>",
                       names[i]);
        limit = read_one(&limits, element);
        assert_true(limit->has_uncertainty && limit->linear_uncertainty);
        assert_true(limit->uncertainty == 0.006);
        limits_clear(&limits);
    }
}

/* An uncertainty of zero is stated all the same: it has a conformance probability. */
static void tells_zero_from_not_stated(void **state)
{
    struct limits limits;
    const struct limit *limit =
        read_one(&limits, "<gain id=\"x\" band=\"working\" min=\"1 dB\" uncertainty=\"0 dB\"/>");

    (void)state;
    assert_true(limit->has_uncertainty);
    assert_true(limit->uncertainty == 0);
    limits_clear(&limits);
}

/* Lists of bias steps with blanks, commas, both, an id twice; all is the default. */
static void reads_bias_lists(void **state)
{
    static const struct {
        const char *list;
        uint64_t biases;
    } list[] = {
        {"", ALL},
        {"bias=\"all\"", ALL},
        {"bias=\" all \"", ALL},
        {"bias=\"mid\"", MID},
        {"bias=\"low high\"", LOW | HIGH},
        {"bias=\"high,low\"", LOW | HIGH},
        {"bias=\" , high ,\n low,, \"", LOW | HIGH},
        {"bias=\"mid mid\"", MID},
    };

    (void)state;
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        char element[200];
        struct limits limits;

        (void)snprintf(element, sizeof element, "<gain id=\"x\" %s band=\"working\" min=\"1 dB\"/>",
                       list[i].list);
        assert_int_equal(read_one(&limits, element)->biases, list[i].biases);
        limits_clear(&limits);
    }
}

/* Over a spot band min and max are lines of one point. */
static void reads_a_spot_band(void **state)
{
    struct limits limits;
    const struct limit *limit =
        read_one(&limits, "<gain id=\"x\" band=\"centre\" min=\"1 dB\" max=\"2 dB\"/>");

    (void)state;
    assert_int_equal(limit->lower.n_points, 1);
    assert_true(limit->lower.frequency_hz[0] == 169e6 && limit->lower.value[0] == 1);
    assert_int_equal(limit->upper.n_points, 1);
    assert_true(limit->upper.frequency_hz[0] == 169e6 && limit->upper.value[0] == 2);
    assert_true(limit->max_step_hz == 0);
    limits_clear(&limits);
}

#define POINT(at, value) "<point at=\"" at "\" value=\"" value "\"/>"
#define LOWER                                                       \
    "<lower>" POINT("160 MHz", "17.5 dB") POINT("169 MHz", "19 dB") \
        POINT("178 MHz", "17.5 dB") "</lower>"
#define UPPER "<upper>" POINT("150 MHz", "25 dB") POINT("190 MHz", "25 dB") "</upper>"

/* A mask without a band has its own ends and its own max-step. */
static void reads_masks(void **state)
{
    struct limits limits;
    const struct limit *limit = read_one(
        &limits, "<gain id=\"x\" bias=\"mid\" max-step=\"200 kHz\">" LOWER UPPER "</gain>");

    (void)state;
    assert_true(limit->is_mask);
    assert_null(limit->band_id);
    assert_true(limit->max_step_hz == 200e3);
    assert_int_equal(limit->lower.n_points, 3);
    assert_true(limit->lower.frequency_hz[1] == 169e6 && limit->lower.value[1] == 19);
    assert_int_equal(limit->upper.n_points, 2);
    assert_true(limit->upper.frequency_hz[0] == 150e6 && limit->upper.value[1] == 25);
    limits_clear(&limits);
    limit = read_one(&limits, "<gain id=\"x\">" LOWER "</gain>");
    assert_true(limit->max_step_hz == 0); /* any */
    assert_int_equal(limit->upper.n_points, 0);
    limits_clear(&limits);
}

/* Each unit of mask points: the schema has a type for each. */
static void reads_masks_in_every_unit(void **state)
{
    static const char *const list[][2] = {
        {"output-reflection", "dB"}, {"reverse-isolation", "dB"}, {"input-resistance", "ohm"},
        {"input-reactance", "ohm"},  {"gain-slope", "dB/V"},      {"phase", "deg"},
        {"group-delay", "ns"},       {"stability", ""},
    };

    (void)state;
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        char element[400];
        struct limits limits;
        const struct limit *limit;

        (void)snprintf(element, sizeof element,
                       "<%s id=\"x\"><upper><point at=\"1 GHz\" value=\"1.5%s\"/>"
                       "<point at=\"2 GHz\" value=\"-2.5 %s\"/></upper></%s>",
                       list[i][0], list[i][1], list[i][1], list[i][0]);
        if (*list[i][1] == '\0') /* a bare number takes no blank inside, but one at the end */
            assert_non_null(strstr(element, "-2.5 \""));
        limit = read_one(&limits, element);
        assert_true(limit->upper.value[0] == 1.5 && limit->upper.value[1] == -2.5);
        limits_clear(&limits);
    }
}

/* With a band the mask is cut to it, and its new ends get the mask's own values there. */
static void cuts_a_mask_to_its_band(void **state)
{
    struct limits limits;
    const struct limit *limit = read_one(
        &limits, "<gain id=\"x\" band=\"working\" max=\"30 dB\"><lower>" POINT("150 MHz", "10 dB")
                     POINT("155 MHz", "10 dB") POINT("165 MHz", "20 dB") POINT("175 MHz", "20 dB")
                         POINT("181 MHz", "14 dB") "</lower></gain>");
    const double f[] = {160e6, 165e6, 175e6, 178e6}, v[] = {15, 20, 20, 17};

    (void)state;
    assert_true(limit->is_mask);
    assert_int_equal(limit->lower.n_points, 4);
    for (size_t i = 0; i < 4; i++) {
        assert_true(limit->lower.frequency_hz[i] == f[i]);
        assert_close(limit->lower.value[i], v[i], 1e-12);
    }
    assert_flat(&limit->upper, 30);
    assert_true(limit->max_step_hz == 1e6); /* the band's */
    limits_clear(&limits);
}

/* A mask shorter than its band keeps its own ends; in a spot band one point of it is left. */
static void cuts_no_more_than_needed(void **state)
{
    struct limits limits;
    const struct limit *limit =
        read_one(&limits, "<gain id=\"x\" band=\"working\"><lower>" POINT("165 MHz", "10 dB")
                              POINT("170 MHz", "20 dB") "</lower></gain>");

    (void)state;
    assert_int_equal(limit->lower.n_points, 2);
    assert_true(limit->lower.frequency_hz[0] == 165e6 && limit->lower.frequency_hz[1] == 170e6);
    assert_true(limit->lower.value[0] == 10 && limit->lower.value[1] == 20);
    limits_clear(&limits);
    limit = read_one(&limits, "<gain id=\"x\" band=\"centre\"><lower>" POINT("165 MHz", "10 dB")
                                  POINT("170 MHz", "20 dB") "</lower></gain>");
    assert_int_equal(limit->lower.n_points, 1);
    assert_true(limit->lower.frequency_hz[0] == 169e6);
    assert_close(limit->lower.value[0], 18, 1e-12);
    limits_clear(&limits);
}

/* A slope goes over the steps from..to by voltage, whichever is named first; without names over
 * all; a range keeps its sign. */
static void reads_steps_of_slopes_and_ranges(void **state)
{
    static const struct {
        const char *element;
        size_t from, to;
        enum slope_method method;
    } list[] = {
        {"<gain-slope id=\"x\" band=\"centre\" min=\"1 dB/V\"/>", 0, 2, SLOPE_LOCAL},
        {"<gain-slope id=\"x\" band=\"centre\" method=\"fit\" min=\"1 dB/V\"/>", 0, 2, SLOPE_FIT},
        {"<gain-slope id=\"x\" band=\"centre\" from=\"mid\" method=\"local\" min=\"1 dB/V\"/>", 1,
         2, SLOPE_LOCAL},
        {"<gain-slope id=\"x\" band=\"centre\" to=\"mid\" min=\"1 dB/V\"/>", 0, 1, SLOPE_LOCAL},
        {"<gain-slope id=\"x\" band=\"centre\" from=\"high\" to=\"low\" min=\"1 dB/V\"/>", 0, 2,
         SLOPE_LOCAL},
        {"<gain-range id=\"x\" band=\"centre\" from=\"low\" to=\"mid\" min=\"1 dB\"/>", 0, 1,
         SLOPE_LOCAL},
        {"<gain-range id=\"x\" band=\"centre\" from=\"high\" to=\"low\" max=\"-1 dB\"/>", 2, 0,
         SLOPE_LOCAL},
    };

    (void)state;
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        struct limits limits;
        const struct limit *limit = read_one(&limits, list[i].element);

        assert_int_equal(limit->from, list[i].from);
        assert_int_equal(limit->to, list[i].to);
        assert_int_equal(limit->method, list[i].method);
        limits_clear(&limits);
    }
}

/* A shift is taken at every named step but the reference. */
static void reads_a_shift(void **state)
{
    struct limits limits;
    const struct limit *limit = read_one(&limits, "<reflection-shift id=\"x\" band=\"working\" "
                                                  "reference=\"mid\" max=\"0.05\"/>");

    (void)state;
    assert_int_equal(limit->reference, 1);
    assert_int_equal(limit->biases, LOW | HIGH);
    limits_clear(&limits);
}

/* The advice is kept in one line, for every element that may carry it. */
static void reads_when_failed(void **state)
{
    static const char *const list[] = {
        "<gain-flatness id=\"x\" band=\"working\" max=\"1 dB\">",
        "<input-resistance id=\"x\" band=\"working\" max=\"1 ohm\">",
        "<gain-slope id=\"x\" band=\"working\" max=\"1 dB/V\">",
        "<bias-current id=\"x\" max=\"1 mA\">",
    };
    static const char *const ends[] = {"</gain-flatness>", "</input-resistance>", "</gain-slope>",
                                       "</bias-current>"};

    (void)state;
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        char element[400];
        struct limits limits;

        (void)snprintf(element, sizeof element,
                       "%s<when-failed> Look at\n\tR5 &lt; 10 <!-- not --> ohm. </when-failed>%s",
                       list[i], ends[i]);
        assert_string_equal(read_one(&limits, element)->when_failed, "Look at R5 < 10 ohm.");
        limits_clear(&limits);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_every_element),
        cmocka_unit_test(reads_as_many_as_the_table_has),
        cmocka_unit_test(reads_a_bias_current),
        cmocka_unit_test(reads_uncertainties_in_both_units),
        cmocka_unit_test(tells_zero_from_not_stated),
        cmocka_unit_test(reads_bias_lists),
        cmocka_unit_test(reads_a_spot_band),
        cmocka_unit_test(reads_masks),
        cmocka_unit_test(reads_masks_in_every_unit),
        cmocka_unit_test(cuts_a_mask_to_its_band),
        cmocka_unit_test(cuts_no_more_than_needed),
        cmocka_unit_test(reads_steps_of_slopes_and_ranges),
        cmocka_unit_test(reads_a_shift),
        cmocka_unit_test(reads_when_failed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
