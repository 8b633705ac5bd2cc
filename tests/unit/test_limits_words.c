#include "limits/limits_words.h"

#include "tests/limits_check.h"

static void check_words(const char *element, const char *want)
{
    struct limits limits = {0};
    struct text words = {0};
    char content[4096];

    (void)snprintf(content, sizeof content, "%s%s%s", LIMITS_FRONT, element, LIMITS_END);
    limits_take(&limits, content);
    limit_words(&limits, &limits.limits[0], &words);
    assert_string_equal(words.data, want);
    text_clear(&words);
    limits_clear(&limits);
}

/* An engineer proof-reads these: bounds, range, bias, uncertainty, nothing left out. */
static void test_sentences(void **state)
{
    (void)state;
    check_words("<gain id=\"g\" bias=\"high\" band=\"working\" min=\"22 dB\" max=\"26 dB\" "
                "uncertainty=\"0.15 dB\"/>",
                "gain at least 22 dB and at most 26 dB, in band working from 160 MHz to 178 MHz "
                "measured at least every 1 MHz, at bias high (3 V); uncertainty 0.15 dB (k = 2)");
    check_words("<input-reflection id=\"m\" band=\"centre\" max=\"-16 dB\" uncertainty=\"0.006\"/>",
                "input reflection at most -16 dB, in band centre at 169 MHz, at every bias step; "
                "uncertainty 0.006 in linear abs(S) (k = 2)");
    check_words(
        "<gain id=\"g\" bias=\"low, mid\"><lower><point at=\"160 MHz\" value=\"17.5 dB\"/>"
        "<point at=\"178 MHz\" value=\"19 dB\"/></lower></gain>",
        "gain at least 17.5 dB at 160 MHz, 19 dB at 178 MHz, straight between, from 160 MHz to "
        "178 MHz, however far apart the measured points lie, at bias low (1.8 V), mid (2.4 V); no "
        "uncertainty stated");
    /* A mask narrower than its band leaves the rest of the band unjudged: said, not hidden. */
    check_words(
        "<gain id=\"g\" bias=\"low\" band=\"working\"><lower><point at=\"165 MHz\" value=\"17 "
        "dB\"/>"
        "<point at=\"166 MHz\" value=\"17 dB\"/></lower></gain>",
        "gain at least 17 dB, in only a part of band working from 165 MHz to 166 MHz measured at "
        "least every 1 MHz, at bias low (1.8 V); no uncertainty stated");
    check_words(
        "<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"high\" method=\"fit\" min=\"3 "
        "dB/V\"/>",
        "gain slope at least 3 dB/V, in band centre at 169 MHz, of the least-squares line from "
        "bias low (1.8 V) to high (3 V); no uncertainty stated");
    check_words(
        "<reflection-shift id=\"p\" band=\"centre\" reference=\"mid\" max=\"0.05\"/>",
        "shift of the input reflection at most 0.05, in band centre at 169 MHz, at bias low "
        "(1.8 V), high (3 V), against bias mid (2.4 V); no uncertainty stated");
    check_words("<bias-current id=\"i\" bias=\"high\" max=\"45 mA\"/>",
                "bias current at most 45 mA, at bias high (3 V); no uncertainty stated");
}

/* The other forms: slopes between neighbours, a range, two masks that do not cover the same range,
 * a spot band that asks for near neighbours. */
static void test_other_sentences(void **state)
{
    (void)state;
    check_words("<gain-slope id=\"s\" band=\"centre\" from=\"mid\" to=\"low\" max=\"14 dB/V\" "
                "uncertainty=\"0.3 dB/V\"/>",
                "gain slope at most 14 dB/V, in band centre at 169 MHz, between neighbouring steps "
                "from bias low (1.8 V) to mid (2.4 V); uncertainty 0.3 dB/V (k = 2)");
    check_words("<gain-range id=\"r\" band=\"centre\" from=\"high\" to=\"low\" max=\"-7 dB\"/>",
                "gain range at most -7 dB, in band centre at 169 MHz, from bias high (3 V) to low "
                "(1.8 V); no uncertainty stated");
    check_words(
        "<gain id=\"g\" max-step=\"500 kHz\"><lower><point at=\"160 MHz\" value=\"17 dB\"/>"
        "<point at=\"178 MHz\" value=\"17 dB\"/></lower><upper><point at=\"150 MHz\" value=\"25 "
        "dB\"/><point at=\"0.19 GHz\" value=\"26.5 dB\"/></upper></gain>",
        "gain at least 17 dB; and at most 25 dB at 150 MHz, 26.5 dB at 190 MHz, straight between, "
        "from 160 MHz to 178 MHz (the upper bound from 150 MHz to 190 MHz) measured at least every "
        "500 kHz, at every bias step; no uncertainty stated");
}

/* A measured point at least every so often makes no sense of one frequency: its neighbours count.
 */
static void test_spot_with_max_step(void **state)
{
    struct limits limits = {0};
    struct text words = {0};

    (void)state;
    limits_take(&limits, LIMITS_HEAD LIMITS_STEPS
                "<bands><band id=\"spot\" at=\"169 MHz\" max-step=\"1 MHz\"/></bands>"
                "<gain id=\"g\" band=\"spot\" min=\"1 dB\"/>" LIMITS_END);
    limit_words(&limits, &limits.limits[0], &words);
    assert_string_equal(words.data, "gain at least 1 dB, in band spot at 169 MHz between measured "
                                    "points at most 1 MHz apart, at every bias step; no "
                                    "uncertainty stated");
    text_clear(&words);
    limits_clear(&limits);
}

/* The whole file: head, then a line a limit. */
static void test_whole(void **state)
{
    struct limits limits = {0};
    struct text words = {0};

    (void)state;
    limits_take(&limits, LIMITS_FRONT "<gain id=\"g\" band=\"centre\" min=\"1 dB\"/>"
                                      "<gain id=\"h\" band=\"centre\" min=\"2 dB\"/>" LIMITS_END);
    limits_words(&limits, &words);
    assert_holds(words.data, "Product: P\nImpedance: 50 ohm\nSerial numbers: any\n");
    assert_holds(words.data,
                 "Bias steps: low (1.8 V), mid (2.4 V), high (3 V), each within 10 mV\n");
    assert_holds(words.data, "Decision: guarded acceptance");
    assert_holds(words.data, "\nLimit g: gain at least 1 dB");
    assert_holds(words.data, "\nLimit h: gain at least 2 dB");
    text_clear(&words);
    limits_clear(&limits);
}

/* What the head may hold besides. */
static void test_whole_head(void **state)
{
    struct limits limits = {0};
    struct text words = {0};

    (void)state;
    limits_take(
        &limits,
        "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"P\" revision=\"C\" "
        "impedance=\"75 ohm\"><serial-numbers pattern=\"KW[0-9]{6}\" "
        "check-character=\"mod-37-36\"/>" LIMITS_STEPS LIMITS_BANDS
        "<decision rule=\"simple-acceptance\" guard-factor=\"0.5\"/>" LIMITS_GAIN LIMITS_END);
    limits_words(&limits, &words);
    assert_holds(words.data, "Product: P, revision C\nImpedance: 75 ohm\n"
                             "Serial numbers: of the pattern KW[0-9]{6}, check characters "
                             "mod-37-36 (ISO/IEC 7064)\n");
    assert_holds(words.data, "\nDecision: simple acceptance: ");
    assert_holds(words.data, " (guard band 0.5 times the uncertainty)\n");
    text_clear(&words);
    limits_clear(&limits);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sentences),          cmocka_unit_test(test_other_sentences),
        cmocka_unit_test(test_spot_with_max_step), cmocka_unit_test(test_whole),
        cmocka_unit_test(test_whole_head),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
