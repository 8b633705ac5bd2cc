/* Limit elements: bounds, masks, bias lists, uncertainty. */
#include "tests/limits_check.h"

/* Every element of the table with what it may carry. */
static void test_every_element(void **state)
{
    static const struct {
        const char *element;
        bool linear;
        double uncertainty;
    } table[] = {
        {"<gain id=\"x\" band=\"working\" min=\"1 dB\" max=\"2 dB\" uncertainty=\"0.15 dB\"/>",
         false, 0.15},
        {"<gain-flatness id=\"x\" band=\"working\" max=\"2 dB\"/>", false, 0},
        {"<input-reflection id=\"x\" band=\"working\" max=\"-16 dB\" uncertainty=\"0.006\"/>", true,
         0.006},
        {"<output-reflection id=\"x\" band=\"working\" max=\"-16 dB\" uncertainty=\"0.3 dB\"/>",
         false, 0.3},
        {"<reverse-isolation id=\"x\" band=\"working\" max=\"-30 dB\" uncertainty=\"1 dB\"/>",
         false, 1},
        {"<input-resistance id=\"x\" band=\"working\" min=\"40 ohm\" uncertainty=\"0.5 ohm\"/>",
         false, 0.5},
        {"<input-reactance id=\"x\" band=\"working\" min=\"-5 ohm\" max=\"5 ohm\"/>", false, 0},
        {"<gain-slope id=\"x\" band=\"working\" from=\"low\" to=\"high\" method=\"fit\" min=\"1 "
         "dB/V\" "
         "uncertainty=\"0.2 dB/V\"/>",
         false, 0.2},
        {"<gain-range id=\"x\" band=\"working\" from=\"low\" to=\"high\" min=\"1 dB\"/>", false, 0},
        {"<reflection-shift id=\"x\" band=\"working\" reference=\"mid\" max=\"0.05\" "
         "uncertainty=\"0.004\"/>",
         false, 0.004},
        {"<phase id=\"x\" band=\"working\" min=\"-5 deg\" max=\"5 deg\" uncertainty=\"1 deg\"/>",
         false, 1},
        {"<group-delay id=\"x\" band=\"working\" max=\"9 ns\" uncertainty=\"300 ps\"/>", false,
         0.3},
        {"<stability id=\"x\" band=\"working\" min=\"1\" uncertainty=\"0.05\"/>", false, 0.05},
        {"<bias-current id=\"x\" min=\"20 mA\" max=\"0.04 A\" uncertainty=\"100 uA\"/>", false,
         0.1},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct limits limits = {0};
        char content[2048];

        (void)snprintf(content, sizeof content, "%s%s%s", LIMITS_FRONT, table[i].element,
                       LIMITS_END);
        limits_take(&limits, content);
        assert_int_equal(limits.n_limits, 1);
        assert_memory_equal(table[i].element + 1, limits.limits[0].quantity->name,
                            strlen(limits.limits[0].quantity->name));
        assert_int_equal(limits.limits[0].linear_uncertainty, table[i].linear);
        assert_close(limits.limits[0].uncertainty, table[i].uncertainty, 1e-12);
        assert_int_equal(limits.limits[0].has_uncertainty, table[i].uncertainty > 0);
        limits_clear(&limits);
    }
}

static void take_one(struct limits *limits, const char *element)
{
    char content[4096];

    (void)snprintf(content, sizeof content, "%s%s%s", LIMITS_FRONT, element, LIMITS_END);
    limits_take(limits, content);
}

/* A min over a band is a line of two points, over a spot one; advice and max-step come along. */
static void test_flat_bounds(void **state)
{
    struct limits limits = {0};

    (void)state;
    take_one(&limits,
             "<gain id=\"a\" band=\"working\" min=\"22 dB\"><when-failed>Look  here.</when-failed>"
             "</gain><gain id=\"b\" band=\"centre\" max=\"26 dB\"/>");
    assert_int_equal(limits.limits[0].lower.n_points, 2);
    assert_close(limits.limits[0].lower.frequency_hz[1], 178e6, 0);
    assert_close(limits.limits[0].lower.value[0], 22, 0);
    assert_int_equal(limits.limits[0].upper.n_points, 0);
    assert_close(limits.limits[0].max_step_hz, 1e6, 0);
    assert_string_equal(limits.limits[0].when_failed, "Look here.");
    assert_false(limits.limits[0].is_mask);
    assert_int_equal(limits.limits[1].upper.n_points, 1);
    assert_null(limits.limits[1].when_failed);
    limits_clear(&limits);
}

/* Masks: both lines, with a max-step of their own, and cut to a band when they have one. */
static void test_masks(void **state)
{
    struct limits limits = {0};
    const struct limit *limit;

    (void)state;
    take_one(&limits,
             "<gain id=\"a\" max-step=\"2 MHz\"><lower><point at=\"160 MHz\" value=\"17 dB\"/>"
             "<point at=\"170 MHz\" value=\"19 dB\"/></lower><upper><point at=\"1 MHz\" value=\"30 "
             "dB\"/>"
             "<point at=\"2 MHz\" value=\"30 dB\"/></upper></gain>"
             "<gain id=\"b\" band=\"working\"><lower><point at=\"150 MHz\" value=\"10 dB\"/>"
             "<point at=\"170 MHz\" value=\"20 dB\"/><point at=\"190 MHz\" value=\"10 "
             "dB\"/></lower></gain>"
             "<gain id=\"c\" band=\"centre\"><lower><point at=\"150 MHz\" value=\"10 dB\"/>"
             "<point at=\"170 MHz\" value=\"20 dB\"/></lower></gain>");
    limit = &limits.limits[0];
    assert_true(limit->is_mask);
    assert_close(limit->max_step_hz, 2e6, 0);
    assert_int_equal(limit->lower.n_points, 2);
    assert_int_equal(limit->upper.n_points, 2);
    limit = &limits.limits[1];
    assert_int_equal(limit->lower.n_points, 3);
    assert_close(limit->lower.frequency_hz[0], 160e6, 0);
    assert_close(limit->lower.value[0], 15, 1e-12);
    assert_close(limit->lower.frequency_hz[2], 178e6, 0);
    assert_close(limit->lower.value[2], 16, 1e-12);
    assert_close(limit->max_step_hz, 1e6, 0);
    limit = &limits.limits[2];
    assert_int_equal(limit->lower.n_points, 1);
    assert_close(limit->lower.value[0], 19.5, 1e-12);
    limits_clear(&limits);
}

/* Bias sets: all by default, lists with blanks or commas, a shift without its reference. */
static void test_biases(void **state)
{
    struct limits limits = {0};

    (void)state;
    take_one(&limits,
             "<gain id=\"a\" band=\"working\" min=\"1 dB\"/>"
             "<gain id=\"b\" bias=\"all\" band=\"working\" min=\"1 dB\"/>"
             "<gain id=\"c\" bias=\"high low\" band=\"working\" min=\"1 dB\"/>"
             "<gain id=\"d\" bias=\"mid, high\" band=\"working\" min=\"1 dB\"/>"
             "<reflection-shift id=\"e\" band=\"working\" reference=\"mid\" max=\"1\"/>"
             "<gain-slope id=\"f\" band=\"working\" from=\"high\" to=\"mid\" max=\"1 dB/V\"/>"
             "<gain-slope id=\"g\" band=\"working\" max=\"1 dB/V\"/>"
             "<gain-range id=\"h\" band=\"working\" from=\"high\" to=\"mid\" max=\"1 dB\"/>");
    assert_int_equal(limits.limits[0].biases, 7);
    assert_int_equal(limits.limits[1].biases, 7);
    assert_int_equal(limits.limits[2].biases, 5);
    assert_int_equal(limits.limits[3].biases, 6);
    assert_int_equal(limits.limits[4].biases, 5);
    assert_int_equal(limits.limits[4].reference, 1);
    /* A slope goes up in voltage; a range stays as written. */
    assert_int_equal(limits.limits[5].from, 1);
    assert_int_equal(limits.limits[5].to, 2);
    assert_int_equal(limits.limits[6].from, 0);
    assert_int_equal(limits.limits[6].to, 2);
    assert_int_equal(limits.limits[6].method, SLOPE_LOCAL);
    assert_int_equal(limits.limits[7].from, 2);
    assert_int_equal(limits.limits[7].to, 1);
    limits_clear(&limits);
}

static void refuse_one(const char *element, const char *words)
{
    char content[4096];

    (void)snprintf(content, sizeof content, "%s%s%s", LIMITS_FRONT, element, LIMITS_END);
    limits_refuse(content, 6, words);
}

/* What a schema cannot say about a limit, each with its line. */
static void test_faults(void **state)
{
    (void)state;
    refuse_one("<gain id=\"g\" band=\"working\" min=\"5 dB\" max=\"4 dB\"/>", "above its max");
    refuse_one("<gain id=\"g\" band=\"working\"/>", "bounds nothing");
    refuse_one("<gain id=\"g\" min=\"5 dB\"/>", "min needs a band");
    refuse_one(
        "<gain id=\"g\" band=\"working\" min=\"5 dB\"><lower><point at=\"160 MHz\" value=\"1 dB\"/>"
        "<point at=\"170 MHz\" value=\"1 dB\"/></lower></gain>",
        "bound the same side");
    refuse_one("<gain id=\"g\"><lower><point at=\"170 MHz\" value=\"1 dB\"/>"
               "<point at=\"160 MHz\" value=\"1 dB\"/></lower></gain>",
               "the mask runs backwards");
    refuse_one("<gain id=\"g\"><lower><point at=\"160 MHz\" value=\"1 dB\"/><point at=\"170 MHz\" "
               "value=\"9 dB\"/>"
               "</lower><upper><point at=\"160 MHz\" value=\"5 dB\"/><point at=\"170 MHz\" "
               "value=\"5 dB\"/>"
               "</upper></gain>",
               "above its upper bound at 170 MHz");
    refuse_one("<gain id=\"g\" band=\"working\"><lower><point at=\"1 MHz\" value=\"1 dB\"/>"
               "<point at=\"2 MHz\" value=\"1 dB\"/></lower></gain>",
               "no frequency in common");
    refuse_one("<gain id=\"g\" band=\"working\" max-step=\"1 MHz\" min=\"1 dB\"/>",
               "belongs to the band");
    refuse_one("<gain id=\"g\" max-step=\"0 Hz\"><lower><point at=\"1 MHz\" value=\"1 dB\"/>"
               "<point at=\"2 MHz\" value=\"1 dB\"/></lower></gain>",
               "max-step must be above 0");
    refuse_one("<gain id=\"g\" bias=\"top\" band=\"working\" min=\"1 dB\"/>",
               "no bias step \"top\"");
    refuse_one("<gain id=\"g\" bias=\",\" band=\"working\" min=\"1 dB\"/>", "names no bias step");
    refuse_one("<gain-slope id=\"g\" band=\"working\" from=\"low\" to=\"low\" min=\"1 dB/V\"/>",
               "needs two bias steps");
}

/* A slope or a shift over a file with a single bias step. */
static void test_single_step(void **state)
{
    (void)state;
    limits_refuse(LIMITS_HEAD "<bias-steps><bias id=\"a\" at=\"5 V\"/></bias-steps>" LIMITS_BANDS
                              "<gain-slope id=\"g\" band=\"working\" min=\"1 dB/V\"/>" LIMITS_END,
                  4, "needs two bias steps");
    limits_refuse(
        LIMITS_HEAD
        "<bias-steps><bias id=\"a\" at=\"5 V\"/></bias-steps>" LIMITS_BANDS
        "<reflection-shift id=\"g\" band=\"working\" reference=\"a\" max=\"1\"/>" LIMITS_END,
        4, "besides its reference");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_element), cmocka_unit_test(test_flat_bounds),
        cmocka_unit_test(test_masks),         cmocka_unit_test(test_biases),
        cmocka_unit_test(test_faults),        cmocka_unit_test(test_single_step)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
