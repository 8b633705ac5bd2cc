/* The head of a limits file, and what its schema and its reader refuse. The limit elements are in
 * test_limits_read_limit.c. */
#include "drivers/base/xml.h"
#include "tests/limits_check.h"

/* Every element and attribute of the head, as the example of design chapter 3 has them. */
static void reads_the_whole_head(void **state)
{
    struct limits limits = {0};
    char why[200];

    (void)state;
    limits_take(
        &limits,
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
        "<!-- a remark -->\n"
        "<limits xmlns=\"urn:gainsieve:limits:1\" product=\" Kittiwake  KW-170 \" revision=\"C\" "
        "impedance=\"75 ohm\">\n"
        "<note>Shown at the\n  head of <![CDATA[every]]> report &amp; page.</note>\n"
        "<serial-numbers pattern=\"KW[0-9]{6}\" check-character=\"none\"/>\n"
        "<bias-steps tolerance=\"25 mV\"><bias id=\"low\" at=\"1.80 V\"/></bias-steps>\n"
        "<bands><band id=\"working\" from=\"160 MHz\" to=\"0.178 GHz\" max-step=\"500 kHz\"/>"
        "<band id=\"centre\" at=\"169300000 Hz\"/></bands>\n"
        "<decision rule=\"simple-acceptance\" guard-factor=\"0.5\"/>\n" LIMITS_GAIN LIMITS_END);
    assert_string_equal(limits.product, "Kittiwake KW-170");
    assert_string_equal(limits.revision, "C");
    assert_string_equal(limits.note, "Shown at the head of every report & page.");
    assert_true(limits.impedance_ohm == 75);
    assert_true(serial_rule_fits(&limits.serial, "KW000101", why, sizeof why));
    assert_false(serial_rule_fits(&limits.serial, "KW00010", why, sizeof why));
    assert_int_equal(limits.serial.check, CHECK_NONE);
    assert_true(limits.bias_tolerance_v == 0.025);
    assert_int_equal(limits.n_biases, 1);
    assert_string_equal(limits.biases[0].id, "low");
    assert_true(limits.biases[0].at_v == 1.8);
    assert_int_equal(limits.n_bands, 2);
    assert_string_equal(limits.bands[0].id, "working");
    assert_true(limits.bands[0].from_hz == 160e6 && limits.bands[0].to_hz == 178e6);
    assert_true(limits.bands[0].max_step_hz == 500e3);
    assert_string_equal(limits.bands[1].id, "centre");
    assert_true(limits.bands[1].from_hz == 169300000 && limits.bands[1].to_hz == 169300000);
    assert_true(limits.bands[1].max_step_hz == 0);
    assert_int_equal(limits.rule, SIMPLE_ACCEPTANCE);
    assert_true(limits.guard_factor == 0.5);
    assert_int_equal(limits.n_limits, 1);
    assert_non_null(limits.path);
    limits_clear(&limits);
}

/* What may be left out has the careful meaning: any serial number, the stricter rule with one
 * guard band, no tolerance, any step between points. */
static void leaves_out_what_may_be_left_out(void **state)
{
    struct limits limits = {0};
    char why[200];

    (void)state;
    limits_take(&limits, LIMITS_HEAD "<bias-steps><bias id=\"only\" at=\"0 V\"/></bias-steps>"
                                     "<bias-current id=\"c\" max=\"7 mA\"/>" LIMITS_END);
    assert_null(limits.revision);
    assert_null(limits.note);
    assert_null(limits.serial.pattern);
    assert_true(serial_rule_fits(&limits.serial, "anything at all", why, sizeof why));
    assert_true(limits.bias_tolerance_v == 0);
    assert_int_equal(limits.n_bands, 0);
    assert_int_equal(limits.rule, GUARDED_ACCEPTANCE);
    assert_true(limits.guard_factor == 1);
    limits_clear(&limits);
    limits_take(&limits, LIMITS_FILE("<decision rule=\"guarded-acceptance\"/>" LIMITS_GAIN));
    assert_int_equal(limits.rule, GUARDED_ACCEPTANCE);
    assert_true(limits.guard_factor == 1);
    limits_clear(&limits);
}

/* Bias steps may be written in any order; the struct has them by voltage, limits as in the file. */
static void sorts_bias_steps_by_voltage(void **state)
{
    struct limits limits = {0};

    (void)state;
    limits_take(&limits, LIMITS_HEAD
                "<bias-steps><bias id=\"c\" at=\"3 V\"/><bias id=\"a\" at=\"-500 mV\"/>"
                "<bias id=\"b\" at=\"+0.25V\"/></bias-steps>" LIMITS_BANDS
                "<stability id=\"z\" band=\"working\" min=\"1\"/>" LIMITS_GAIN LIMITS_END);
    assert_string_equal(limits.biases[0].id, "a");
    assert_true(limits.biases[0].at_v == -0.5);
    assert_string_equal(limits.biases[1].id, "b");
    assert_string_equal(limits.biases[2].id, "c");
    assert_string_equal(limits.limits[0].id, "z");
    assert_string_equal(limits.limits[1].id, "g");
    limits_clear(&limits);
    assert_null(limits.biases);
    limits_clear(&limits); /* harmless on zero */
}

/* The schema and the table of check characters may not drift apart. */
static void knows_every_check_character(void **state)
{
    (void)state;
    for (int c = CHECK_NONE; c <= CHECK_MOD_37_36; c++) {
        struct limits limits = {0};
        char xml[2048];

        (void)snprintf(xml, sizeof xml, "%s<serial-numbers check-character=\"%s\"/>%s", LIMITS_HEAD,
                       check_character_name((enum check_character)c),
                       LIMITS_STEPS LIMITS_BANDS LIMITS_GAIN LIMITS_END);
        limits_take(&limits, xml);
        assert_int_equal(limits.serial.check, c);
        limits_clear(&limits);
    }
}

/* As many bias steps as a set of 64 bits can hold, and one more. */
static void takes_64_bias_steps(void **state)
{
    struct limits limits = {0};

    (void)state;
    for (size_t n = 64; n <= 65; n++) {
        char xml[8192];
        size_t used = (size_t)snprintf(xml, sizeof xml, LIMITS_HEAD "<bias-steps>\n");

        for (size_t i = 0; i < n; i++)
            used += (size_t)snprintf(xml + used, sizeof xml - used,
                                     "<bias id=\"s%zu\" at=\"%zu V\"/>\n", i, i);
        (void)snprintf(xml + used, sizeof xml - used,
                       "</bias-steps>" LIMITS_BANDS LIMITS_GAIN LIMITS_END);
        if (n == 65) {
            limits_refuse(xml, 67,
                          "bias: is unknown or out of place here: what may stand "
                          "here is nothing");
            continue;
        }
        limits_take(&limits, xml);
        assert_int_equal(limits.n_biases, 64);
        assert_true(limits.limits[0].biases == UINT64_MAX);
        limits_clear(&limits);
    }
}

struct wrong {
    const char *xml;
    unsigned long line;
    const char *words;
};

static void refuse_all(const struct wrong *wrong, size_t n)
{
    for (size_t i = 0; i < n; i++)
        limits_refuse(wrong[i].xml, wrong[i].line, wrong[i].words);
}
#define REFUSE_ALL(list) refuse_all((list), sizeof(list) / sizeof *(list))

/* What no schema can say about the head: every error of the reader, with its line. */
static void refuses_a_head_without_sense(void **state)
{
    static const struct wrong list[] = {
        {"<limits xmlns=\"urn:gainsieve:limits:1\" product=\"T\"\n impedance=\"0 "
         "ohm\">\n" LIMITS_STEPS LIMITS_BANDS LIMITS_GAIN LIMITS_END,
         2, "impedance must be above 0 ohm, usually \"50 ohm\""},
        {"<limits xmlns=\"urn:gainsieve:limits:1\" product=\"T\" impedance=\"1e999 "
         "ohm\">\n" LIMITS_STEPS LIMITS_BANDS LIMITS_GAIN LIMITS_END,
         1, "impedance=\"1e999 ohm\" is not a number in ohm"},
        {LIMITS_HEAD
         "<serial-numbers pattern=\"KW[0-9\"/>" LIMITS_STEPS LIMITS_BANDS LIMITS_GAIN LIMITS_END,
         2, "the pattern \"KW[0-9\" is not a regular expression"},
        {LIMITS_HEAD
         "\n<serial-numbers pattern=\"(KW){2}\"/>" LIMITS_STEPS LIMITS_BANDS LIMITS_GAIN LIMITS_END,
         3, "the pattern repeats a group"},
        {LIMITS_HEAD
         "<bias-steps>\n<bias id=\"all\" at=\"1 V\"/></bias-steps>" LIMITS_BANDS LIMITS_GAIN
             LIMITS_END,
         3, "a bias step may not be called \"all\""},
        {LIMITS_HEAD
         "<bias-steps>\n\n<bias id=\"2.4\" at=\"1 V\"/></bias-steps>" LIMITS_BANDS LIMITS_GAIN
             LIMITS_END,
         4, "the id \"2.4\" reads as a voltage: begin it with a letter"},
        {LIMITS_HEAD
         "<bias-steps>\n<bias id=\"2.4V\" at=\"1 V\"/></bias-steps>" LIMITS_BANDS LIMITS_GAIN
             LIMITS_END,
         3, "the id \"2.4V\" reads as a voltage: begin it with a letter"},
        {LIMITS_HEAD
         "<bias-steps tolerance=\"0.1 V\">\n<bias id=\"a\" at=\"1 V\"/>"
         "<bias id=\"b\" at=\"1.15 V\"/></bias-steps>" LIMITS_BANDS LIMITS_GAIN LIMITS_END,
         2, "bias steps \"a\" and \"b\" lie within each other's tolerance"},
        /* Without a tolerance too, when they are the same. */
        {LIMITS_HEAD
         "<bias-steps>\n<bias id=\"a\" at=\"1 V\"/>"
         "<bias id=\"b\" at=\"1000 mV\"/></bias-steps>" LIMITS_BANDS LIMITS_GAIN LIMITS_END,
         2, "bias steps \"a\" and \"b\" lie within each other's tolerance"},
        /* 1.81 V is 10 mV from both, though binary 1.82 - 1.80 is a hair above 0.02. */
        {LIMITS_HEAD
         "<bias-steps tolerance=\"10 mV\">\n<bias id=\"a\" at=\"1.80 V\"/>"
         "<bias id=\"b\" at=\"1.82 V\"/></bias-steps>" LIMITS_BANDS LIMITS_GAIN LIMITS_END,
         2, "bias steps \"a\" and \"b\" lie within each other's tolerance"},
        {LIMITS_HEAD
         "<bias-steps><bias id=\"a\" at=\"1e400 V\"/></bias-steps>" LIMITS_BANDS LIMITS_GAIN
             LIMITS_END,
         2, "at=\"1e400 V\" is not a number in V"},
    };

    (void)state;
    REFUSE_ALL(list);
}

#define WITH_BAND(band)                                  \
    LIMITS_HEAD LIMITS_STEPS "<bands>\n" band "</bands>" \
                             "<gain id=\"g\" band=\"b\" min=\"1 dB\"/>" LIMITS_END

/* A band is a range or a spot; an empty one would let every board pass. */
static void refuses_bands_without_sense(void **state)
{
    static const struct wrong list[] = {
        {WITH_BAND("<band id=\"b\"/>"), 8, "band \"b\" needs either at, or from and to"},
        {WITH_BAND("<band id=\"b\" from=\"1 MHz\"/>"), 8, "needs either at, or from and to"},
        {WITH_BAND("<band id=\"b\" to=\"1 MHz\"/>"), 8, "needs either at, or from and to"},
        {WITH_BAND("<band id=\"b\" at=\"1 MHz\" to=\"2 MHz\"/>"), 8,
         "needs either at, or from and to"},
        {WITH_BAND("<band id=\"b\" at=\"1 MHz\" from=\"1 MHz\" to=\"2 MHz\"/>"), 8,
         "needs either at, or from and to"},
        {WITH_BAND("\n<band id=\"b\" from=\"2 MHz\" to=\"1 MHz\"/>"), 9,
         "band \"b\" is empty: from must be below to"},
        {WITH_BAND("<band id=\"b\" from=\"1 MHz\" to=\"1000 kHz\"/>"), 8,
         "write at for a single frequency"},
        {WITH_BAND("<band id=\"b\" from=\"1 MHz\" to=\"2 MHz\" max-step=\"0 Hz\"/>"), 8,
         "max-step of band \"b\" must be above 0 Hz"},
        {WITH_BAND("<band id=\"b\" at=\"1 MHz\" max-step=\"0 Hz\"/>"), 8,
         "max-step of band \"b\" must be above 0 Hz"},
        {WITH_BAND("<band id=\"b\" at=\"1e999 Hz\"/>"), 8, "at=\"1e999 Hz\" is not a number in Hz"},
    };

    (void)state;
    REFUSE_ALL(list);
}

/* What the schema refuses is said in plain words: what stands there, what to write. */
static const struct wrong against_schema[] = {
    /* Names that lead nowhere, and names twice, on their own lines. */
    {LIMITS_FILE(LIMITS_GAIN "<gain id=\"h\" band=\"center\" min=\"1 dB\"/>"), 12,
     "gain: band=\"center\" names nothing: write the id of a <band> of this file"},
    {LIMITS_FILE("<gain-slope id=\"h\" band=\"working\" from=\"lo\" min=\"1 dB/V\"/>"), 11,
     "gain-slope: from=\"lo\" names nothing: write the id of a <bias> of this file"},
    {LIMITS_FILE("<gain-range id=\"h\" band=\"working\" from=\"low\" to=\"hi\" min=\"1 dB\"/>"), 11,
     "gain-range: to=\"hi\" names nothing: write the id of a <bias> of this file"},
    {LIMITS_FILE("<reflection-shift id=\"h\" band=\"working\" reference=\"x\" max=\"0.1\"/>"), 11,
     "reflection-shift: reference=\"x\" names nothing: write the id of a <bias>"},
    {LIMITS_FILE(LIMITS_GAIN "\n" LIMITS_GAIN), 13,
     "gain: \"g\" stands twice: write an id that no other limit has"},
    {LIMITS_HEAD "<bias-steps>\n<bias id=\"a\" at=\"1 V\"/>\n<bias id=\"a\" at=\"2 V\"/>"
                 "</bias-steps>" LIMITS_BANDS LIMITS_GAIN LIMITS_END,
     4, "bias: \"a\" stands twice: write an id that no other bias step has"},
    {WITH_BAND("<band id=\"b\" at=\"1 MHz\"/>\n<band id=\"b\" at=\"2 MHz\"/>"), 9,
     "band: \"b\" stands twice: write an id that no other band has"},
    /* Elements and attributes. */
    {LIMITS_FILE("<gian id=\"g\" band=\"working\" min=\"1 dB\"/>"), 11,
     "gian: is unknown or out of place here: what may stand here is one of <decision>, <gain>"},
    {LIMITS_FILE(LIMITS_GAIN "<note>late</note>"), 12, "note: is unknown or out of place here"},
    {LIMITS_FILE("<gain id=\"g\" bnad=\"working\" min=\"1 dB\"/>"), 11,
     "gain: has no attribute bnad: correct its name or remove it"},
    {LIMITS_FILE("<gain band=\"working\" min=\"1 dB\"/>"), 11,
     "gain: needs the attribute id: write id=\"...\""},
    {LIMITS_HEAD LIMITS_STEPS LIMITS_BANDS LIMITS_END, 1,
     "limits: ends too early: it still needs one of <decision>, <gain>"},
    {LIMITS_HEAD LIMITS_END, 1,
     "limits: ends too early: it still needs one of <note>, <serial-numbers>, <bias-steps>"},
    {LIMITS_HEAD "<bias-steps/>" LIMITS_BANDS LIMITS_GAIN LIMITS_END, 2,
     "bias-steps: ends too early: it still needs <bias>"},
    {LIMITS_FILE("<gain id=\"g\" band=\"working\" min=\"1 dB\">1 dB</gain>"), 11,
     "gain: holds text where none may stand: remove the text"},
    {LIMITS_FILE(
         "<gain id=\"g\" band=\"working\" min=\"1 dB\"><when-failed><b/></when-failed></gain>"),
     11, "when-failed: holds elements where none may stand: remove them"},
    {"<limits product=\"T\" impedance=\"50 ohm\"/>", 1,
     "limits: is not how such a file begins: write <limits xmlns=\"urn:gainsieve:limits:1\""},
    {"<profile xmlns=\"urn:gainsieve:profile:1\"/>", 1, "profile: is not how such a file begins"},
    /* Choices and lengths. */
    {LIMITS_FILE("<decision rule=\"lenient\"/>" LIMITS_GAIN), 11,
     "decision: rule=\"lenient\" is not known: write \"simple-acceptance\" or "
     "\"guarded-acceptance\""},
    {LIMITS_FILE("<gain-slope id=\"g\" band=\"working\" method=\"quick\" min=\"1 dB/V\"/>"), 11,
     "gain-slope: method=\"quick\" is not known: write \"local\" or \"fit\""},
    {LIMITS_HEAD
     "<serial-numbers check-character=\"mod-7\"/>" LIMITS_STEPS LIMITS_BANDS LIMITS_GAIN LIMITS_END,
     2, "check-character=\"mod-7\" is not known: write \"none\", \"mod-11-2\""},
    {LIMITS_HEAD "<serial-numbers pattern=\"\"/>" LIMITS_STEPS LIMITS_BANDS LIMITS_GAIN LIMITS_END,
     2, "serial-numbers: pattern is empty: write something or leave it out"},
    {LIMITS_FILE("<gain id=\"g\" band=\"working\" "
                 "min=\"1111111111111111111111111111111111111111111111111111111111111111 dB\"/>"),
     11, "gain: min is longer than 64 characters: shorten it"},
};

static void says_schema_errors_in_plain_words(void **state)
{
    (void)state;
    REFUSE_ALL(against_schema);
}

/* For each type of value: which unit to write, and whether a minus sign may stand. */
static const struct {
    const char *element, *words;
} wrong_values[] = {
    {"gain id=\"g\" band=\"working\" min=\"22\"",
     "min=\"22\" is not accepted: write a number and dB, such as \"22 dB\""},
    {"gain id=\"g\" band=\"working\" min=\"22 db\"", "write a number and dB"},
    {"gain id=\"g\" band=\"working\" min=\"22,5 dB\"", "write a number and dB"},
    {"gain id=\"g\" band=\"working\" min=\"inf dB\"", "write a number and dB"},
    {"gain id=\"g\" band=\"working\" min=\"1 dB\" uncertainty=\"-1 dB\"",
     "write a number that is not negative and dB, such as \"0.15 dB\""},
    {"gain-flatness id=\"g\" band=\"working\" max=\"-1 dB\"",
     "write a number that is not negative and dB"},
    {"gain id=\"g\" band=\"w w\" min=\"1 dB\"", "write a name of at most 64 letters"},
    {"gain id=\"-g\" band=\"working\" min=\"1 dB\"", "begins with a letter or digit"},
    {"gain id=\"g\" min=\"1 dB\" max-step=\"1\"",
     "write a number and Hz, kHz, MHz or GHz, such as \"160 MHz\""},
    {"gain id=\"g\" min=\"1 dB\" max-step=\"-1 Hz\"", "write a number and Hz"},
    {"gain-slope id=\"g\" band=\"working\" min=\"3 dB\"",
     "write a number and dB/V, such as \"3 dB/V\""},
    {"gain-slope id=\"g\" band=\"working\" min=\"3 dB/V\" uncertainty=\"-1 dB/V\"",
     "write a number that is not negative and dB/V"},
    {"input-resistance id=\"g\" band=\"working\" min=\"3 Ohm\"",
     "write a number and ohm, such as \"50 ohm\""},
    {"input-reactance id=\"g\" band=\"working\" min=\"3 ohm\" uncertainty=\"-1 ohm\"",
     "write a number that is not negative and ohm"},
    {"phase id=\"g\" band=\"working\" max=\"3\"", "write a number and deg, such as \"5 deg\""},
    {"phase id=\"g\" band=\"working\" max=\"3 deg\" uncertainty=\"3\"",
     "write a number that is not negative and deg"},
    {"group-delay id=\"g\" band=\"working\" max=\"3 ms\"", "write a number and ns (or ps, us)"},
    {"group-delay id=\"g\" band=\"working\" max=\"3 ns\" uncertainty=\"3\"",
     "write a number that is not negative and ns (or ps, us)"},
    {"bias-current id=\"g\" max=\"3 V\"", "write a number and mA (or uA, A)"},
    {"bias-current id=\"g\" max=\"3 mA\" uncertainty=\"3\"",
     "write a number that is not negative and mA (or uA, A)"},
    {"stability id=\"g\" band=\"working\" min=\"1 dB\"", "write a bare number, such as \"1.5\""},
    {"stability id=\"g\" band=\"working\" min=\"1\" uncertainty=\"-0.1\"",
     "write a bare number that is not negative"},
    {"input-reflection id=\"g\" band=\"working\" max=\"-16 dB\" uncertainty=\"1 mV\"",
     "write a number and dB (\"0.3 dB\"), or a bare number for linear abs(S) (\"0.006\")"},
};

static void says_which_unit_to_write(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof wrong_values / sizeof *wrong_values; i++) {
        char xml[2048];

        (void)snprintf(xml, sizeof xml, "%s<%s/>%s", LIMITS_FRONT, wrong_values[i].element,
                       LIMITS_END);
        limits_refuse(xml, 11, wrong_values[i].words);
    }
    limits_refuse(LIMITS_HEAD "<bias-steps tolerance=\"-1 mV\">\n<bias id=\"a\" at=\"1 V\"/>"
                              "</bias-steps>" LIMITS_GAIN LIMITS_END,
                  2,
                  "tolerance=\"-1 mV\" is not accepted: write a number that is not "
                  "negative and V or mV, such as \"10 mV\"");
    limits_refuse(LIMITS_HEAD
                  "<bias-steps>\n<bias id=\"a\" at=\"1\"/></bias-steps>" LIMITS_GAIN LIMITS_END,
                  3,
                  "bias: at=\"1\" is not accepted: write a number and V or mV, such as "
                  "\"2.40 V\"");
    limits_refuse(
        LIMITS_FILE("<decision rule=\"simple-acceptance\" guard-factor=\"-1\"/>" LIMITS_GAIN), 11,
        "guard-factor=\"-1\" is not accepted: write a bare number that is not "
        "negative");
}

/* A title longer than a report's head can carry, a note longer than anyone reads: said in words,
 * without the whole text in the message. */
static void refuses_texts_that_are_too_long(void **state)
{
    char xml[8192], words[4200];

    (void)state;
    memset(words, 'x', sizeof words);
    words[4097] = '\0';
    (void)snprintf(xml, sizeof xml,
                   LIMITS_HEAD "<note>%s</note>" LIMITS_STEPS LIMITS_BANDS LIMITS_GAIN LIMITS_END,
                   words);
    limits_refuse(xml, 2, "note: the text is longer than 4096 characters: shorten it");
    words[201] = '\0';
    (void)snprintf(xml, sizeof xml,
                   "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"%s\" impedance=\"50 "
                   "ohm\">" LIMITS_STEPS LIMITS_GAIN LIMITS_END,
                   words);
    limits_refuse(xml, 1, "limits: product is longer than 200 characters: shorten it");
}

/* A file that is not there, a folder: the path and the system's word, without a line. */
static void refuses_what_is_no_file(void **state)
{
    struct limits limits = {0};
    struct error e = {0};

    (void)state;
    assert_false(limits_read(&limits, "/nonexistent/limits.xml", &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "/nonexistent/limits.xml: cannot be opened: ");
    e = (struct error){0};
    assert_false(limits_read(&limits, "/", &e));
    assert_holds(e.text, "/: is not a file");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_the_whole_head),
        cmocka_unit_test(leaves_out_what_may_be_left_out),
        cmocka_unit_test(sorts_bias_steps_by_voltage),
        cmocka_unit_test(knows_every_check_character),
        cmocka_unit_test(takes_64_bias_steps),
        cmocka_unit_test(refuses_a_head_without_sense),
        cmocka_unit_test(refuses_bands_without_sense),
        cmocka_unit_test(says_schema_errors_in_plain_words),
        cmocka_unit_test(says_which_unit_to_write),
        cmocka_unit_test(refuses_texts_that_are_too_long),
        cmocka_unit_test(refuses_what_is_no_file),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
