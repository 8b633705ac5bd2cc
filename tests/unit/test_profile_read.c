/* From XML to the struct. What a schema cannot say is in test_profile_check.c. */
#include "drivers/base/memory.h"
#include "drivers/base/xml.h"
#include "tests/profile_file.h"

static const struct profile_action *action_of(const struct profile *profile, enum profile_step step,
                                              size_t which)
{
    assert_true(which < profile->steps[step].n);
    return &profile->steps[step].actions[which];
}

/* Every attribute of an analyser's file arrives, with its line. */
static void test_analyser(void **state)
{
    struct profile p = {0};

    (void)state;
    profile_take(&p, PROFILE_ANALYSER_FILE);
    assert_int_equal(p.kind, PROFILE_ANALYSER);
    assert_string_equal(p.label, "A");
    assert_int_equal(strlen(p.sha256), 64);
    assert_string_equal(p.terminator, "\n");
    assert_int_equal(p.answer_terminator, TERMINATOR_ANY);
    assert_close(p.timeout_s, 3, 0);
    assert_true(p.gap_s == 0 && p.settle_s == 0 && !p.echo);
    assert_int_equal(p.line.baud, 115200);
    assert_int_equal(p.line.data_bits, 8);
    assert_int_equal(p.line.parity, 0);
    assert_int_equal(p.line.stop_bits, 0);
    assert_false(p.line.rts_cts);
    assert_close(p.min_hz, 1e5, 0);
    assert_close(p.damage_dbm, 20, 0);
    assert_close(p.linear_dbm, 0, 0);
    assert_true(isnan(p.max_hz) && isnan(p.max_points) && isnan(p.min_dbm) && isnan(p.max_dbm));
    assert_true(isnan(p.max_v) && isnan(p.max_a));
    assert_int_equal(p.n_parameters, 1);
    assert_string_equal(p.parameters[0].name, "S21");
    assert_string_equal(p.parameters[0].text, "B,A");
    assert_false(p.steps[STEP_OPEN].is_there);
    assert_true(p.steps[STEP_SET_SWEEP].is_there);
    assert_int_equal(p.steps[STEP_SET_SWEEP].line, 8);
    assert_int_equal(p.steps[STEP_SET_SWEEP].n, 3);
    profile_clear(&p);
}

/* ... and what its actions are made of. */
static void test_analyser_actions(void **state)
{
    struct profile p = {0};
    const struct profile_action *a;

    (void)state;
    profile_take(&p, PROFILE_ANALYSER_FILE);
    a = action_of(&p, STEP_SET_SWEEP, 2);
    assert_int_equal(a->kind, ACTION_ASK);
    assert_int_equal(a->line, 11);
    assert_string_equal(a->text, "POIN?");
    assert_int_equal(a->answer, ANSWER_NUMBER);
    assert_string_equal(a->equals, "{points}");
    assert_close(a->within, 0.5, 0);
    assert_close(a->scale, 1, 0);
    assert_close(a->timeout_s, 0, 0);
    a = action_of(&p, STEP_IDENTIFY, 0);
    assert_int_equal(a->answer, ANSWER_TEXT);
    assert_string_equal(a->match, "^[^,]+,");
    a = action_of(&p, STEP_SWEEP, 0);
    assert_int_equal(a->kind, ACTION_SEND);
    assert_int_equal(a->answer, ANSWER_IGNORED);
    assert_true(isnan(action_of(&p, STEP_SWEEP, 1)->timeout_s));
    a = action_of(&p, STEP_READ_TRACE, 0);
    assert_int_equal(a->answer, ANSWER_TRACE);
    assert_int_equal(a->layout, LAYOUT_SPLIT);
    assert_int_equal(a->format.encoding, ENCODING_REAL64);
    assert_int_equal(a->format.order, ORDER_LITTLE);
    assert_int_equal(a->format.separator, 0);
    assert_int_equal(a->format.skip, 2);
    assert_int_equal(action_of(&p, STEP_CHECK_ERRORS, 0)->answer, ANSWER_ERROR);
    a = action_of(&p, STEP_SAFE, 1);
    assert_int_equal(a->kind, ACTION_PAUSE);
    assert_close(a->pause_s, 0.05, 0);
    assert_null(a->text);
    profile_clear(&p);
}

/* The same of a supply's. */
static void test_supply(void **state)
{
    struct profile p = {0};
    const struct profile_action *a;

    (void)state;
    profile_take(&p, PROFILE_SUPPLY_FILE);
    assert_int_equal(p.kind, PROFILE_SUPPLY);
    assert_string_equal(p.terminator, "\r\n");
    assert_int_equal(p.answer_terminator, TERMINATOR_CR);
    assert_close(p.timeout_s, 0.5, 0);
    assert_close(p.gap_s, 0.02, 0);
    assert_close(p.settle_s, 2, 0);
    assert_true(p.echo);
    assert_int_equal(p.line.baud, 0);
    assert_close(p.max_v, 30, 0);
    assert_close(p.max_a, 3, 0);
    assert_int_equal(p.n_parameters, 0);
    a = action_of(&p, STEP_OUTPUT_ON, 2);
    assert_int_equal(a->kind, ACTION_POLL);
    assert_int_equal(a->mask, 3);
    assert_int_equal(a->equals_masked, 1);
    assert_close(a->every_s, 0.05, 0);
    assert_close(a->timeout_s, 2, 0);
    a = action_of(&p, STEP_READ_CURRENT, 0);
    assert_close(a->scale, 0.001, 0);
    assert_close(a->timeout_s, 1.5, 0);
    assert_null(a->equals);
    assert_null(action_of(&p, STEP_IDENTIFY, 0)->match);
    profile_clear(&p);
}

/* Each word of each list arrives as what it means. */
static void test_words_of_lists(void **state)
{
    static const struct {
        const char *word;
        char separator;
    } separators[] = {{"comma", ','}, {"semicolon", ';'}, {"blank", ' '}, {"tab", '\t'}};
    struct profile p = {0};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        char to[128];

        (void)snprintf(to, sizeof to, "encoding=\"ascii\" separator=\"%s\" skip=\"2\"",
                       separators[i].word);
        profile_take_with(&p, PROFILE_ANALYSER_FILE,
                          "encoding=\"real64\" byte-order=\"little\" skip=\"2\"", to);
        assert_int_equal(action_of(&p, STEP_READ_TRACE, 0)->format.encoding, ENCODING_ASCII);
        assert_int_equal(action_of(&p, STEP_READ_TRACE, 0)->format.separator,
                         separators[i].separator);
        profile_clear(&p);
    }
    profile_take_with(&p, PROFILE_ANALYSER_FILE,
                      "layout=\"split\" encoding=\"real64\" byte-order=\"little\"",
                      "layout=\"interleaved\" encoding=\"real32\" byte-order=\"big\"");
    assert_int_equal(action_of(&p, STEP_READ_TRACE, 0)->layout, LAYOUT_INTERLEAVED);
    assert_int_equal(action_of(&p, STEP_READ_TRACE, 0)->format.encoding, ENCODING_REAL32);
    assert_int_equal(action_of(&p, STEP_READ_TRACE, 0)->format.order, ORDER_BIG);
    profile_clear(&p);
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "data-bits=\"8\" flow=\"none\"",
                      "data-bits=\"8\" parity=\"odd\" stop-bits=\"2\" flow=\"rtscts\"");
    assert_int_equal(p.line.parity, 'o');
    assert_int_equal(p.line.stop_bits, 2);
    assert_true(p.line.rts_cts);
    profile_clear(&p);
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "flow=\"none\"", "parity=\"even\"");
    assert_int_equal(p.line.parity, 'e');
    profile_clear(&p);
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "flow=\"none\"", "parity=\"none\"");
    assert_int_equal(p.line.parity, 'n');
    profile_clear(&p);
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "terminator=\"LF\"",
                      "terminator=\"CR\" answer-terminator=\"CRLF\"");
    assert_string_equal(p.terminator, "\r");
    assert_int_equal(p.answer_terminator, TERMINATOR_CRLF);
    profile_clear(&p);
}

/* The shipped files are right, and each text of theirs becomes a message: no placeholder left over,
 * nothing but printable ASCII, no number with an exponent. */
static void test_shipped_files(void **state)
{
    static const char *const paths[] = {"docs/profiles/analyser.xml", "docs/profiles/supply.xml"};

    (void)state;
    for (size_t f = 0; f < 2; f++) {
        struct profile p = {0};
        struct error e = {0};
        struct profile_values values = profile_no_values();
        size_t n = 0;

        for (int v = 0; v < PROFILE_VALUES; v++)
            values.value[v] = v == VALUE_START_HZ ? 160e6 : v == VALUE_STOP_HZ ? 178e6 : 3;
        values.parameter = "S21";
        assert_done(profile_read(&p, paths[f], &e), &e);
        assert_int_equal(p.kind, f == 0 ? PROFILE_ANALYSER : PROFILE_SUPPLY);
        for (int s = 0; s < PROFILE_STEPS; s++) {
            for (size_t i = 0; i < p.steps[s].n; i++, n++) {
                struct text out = {0};

                assert_done(profile_render(&p, action_of(&p, (enum profile_step)s, i)->text,
                                           &values, &out, &e),
                            &e);
                assert_null(strpbrk(out.data, "{}"));
                for (const char *c = out.data; *c; c++)
                    assert_true(*c >= ' ' && *c <= '~');
                text_clear(&out);
            }
        }
        assert_true(n > 15);
        profile_clear(&p);
    }
}

/* What the instruments of the shipped files are sent, byte for byte. SCPI-1999, from memory. */
static void test_shipped_messages(void **state)
{
    static const struct {
        const char *path;
        enum profile_step step;
        size_t which;
        const char *want;
    } cases[] = {
        {"docs/profiles/analyser.xml", STEP_OPEN, 1, "FORM:DATA REAL,32"},
        {"docs/profiles/analyser.xml", STEP_OPEN, 2, "FORM:BORD NORM"},
        {"docs/profiles/analyser.xml", STEP_OPEN, 3, "INIT:CONT OFF"},
        {"docs/profiles/analyser.xml", STEP_SET_SWEEP, 0, "SENS:FREQ:STAR 160000000"},
        {"docs/profiles/analyser.xml", STEP_SET_SWEEP, 2, "SENS:SWE:POIN 401"},
        {"docs/profiles/analyser.xml", STEP_SET_POWER, 0, "SOUR:POW -20.00"},
        {"docs/profiles/analyser.xml", STEP_READ_TRACE, 0, "SENS:FUNC \"XFR:POW:S11\""},
        {"docs/profiles/analyser.xml", STEP_RF_OFF, 0, "OUTP 0"},
        {"docs/profiles/supply.xml", STEP_SET_LIMIT, 0, "SOUR:CURR 0.0600"},
        {"docs/profiles/supply.xml", STEP_SET_VOLTAGE, 0, "SOUR:VOLT 2.400"},
        {"docs/profiles/supply.xml", STEP_SET_TRIP, 0, "SOUR:VOLT:PROT 3.300"},
        {"docs/profiles/supply.xml", STEP_SAFE, 0, "OUTP 0"},
    };
    struct profile_values values = profile_no_values();

    (void)state;
    values.value[VALUE_START_HZ] = 160e6;
    values.value[VALUE_POINTS] = 401;
    values.value[VALUE_POWER_DBM] = -20;
    values.value[VALUE_VOLTAGE_V] = 2.4;
    values.value[VALUE_CURRENT_A] = 0.06;
    values.value[VALUE_TRIP_V] = 3.3;
    values.parameter = "S11";
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct profile p = {0};
        struct error e = {0};
        struct text out = {0};

        assert_done(profile_read(&p, cases[i].path, &e), &e);
        assert_done(profile_render(&p, action_of(&p, cases[i].step, cases[i].which)->text, &values,
                                   &out, &e),
                    &e);
        assert_string_equal(out.data, cases[i].want);
        text_clear(&out);
        profile_clear(&p);
    }
}

/* One change to the right file, and the words that must answer it. */
struct wrong {
    const char *from, *to, *words;
};

static void refuse_all(const char *file, const struct wrong *wrong, size_t n)
{
    for (size_t i = 0; i < n; i++)
        profile_refuse(file, wrong[i].from, wrong[i].to, NULL, wrong[i].words);
}

/* What the schema refuses: unknown, missing and misspelt, with what to write instead. */
static void test_schema_faults(void **state)
{
    static const struct wrong wrong[] = {
        {"name=\"set-power\"", "name=\"set_power\"", "name=\"set_power\" is not known: write"},
        {"<send text=\"POIN {points:d}\"/>", "<say text=\"POIN {points:d}\"/>",
         "say: is unknown or out of place"},
        {"<send text=\"INIT\"/>", "<send txt=\"INIT\"/>", "send"},
        {"<send text=\"INIT\"/>", "<send/>", "needs the attribute text"},
        {"<send text=\"INIT\"/>", "<send text=\"\"/>", "printable ASCII"},
        {"<send text=\"INIT\"/>", "<send text=\"INIT\" timeout=\"1 s\"/>",
         "has no attribute timeout"},
        {" label=\"A\"", "", "needs the attribute label"},
        {"kind=\"analyser\"", "kind=\"scope\"", "write \"analyser\" or \"supply\""},
        {"timeout=\"3 s\"", "timeout=\"3\"", "a number and s or ms"},
        {"timeout=\"3 s\"", "timeout=\"-3 s\"", "a number and s or ms"},
        {" timeout=\"3 s\"", "", "needs the attribute timeout"},
        {"terminator=\"LF\"", "terminator=\"NL\"", "write \"LF\", \"CR\" or \"CRLF\""},
        {"100 kHz", "100", "Hz, kHz, MHz or GHz"},
        {"20 dBm", "20 dB", "a number and dBm"},
        {"115200", "fast", "a line speed"},
        {"data-bits=\"8\"", "data-bits=\"9\"", "write \"7\" or \"8\""},
        {"skip=\"2\"", "skip=\"-2\"", "a whole number"},
        {"within=\"0.5\"", "within=\"-0.5\"", "a bare number that is not negative"},
        {"timeout=\"{sweep_timeout_ms}\"", "timeout=\"{sweep_timeout}\"",
         "or \"{sweep_timeout_ms}\""},
        {"layout=\"split\"", "layout=\"db-deg\"", "is not known: write \"interleaved\""},
        {"encoding=\"real64\"", "encoding=\"real\"", "is not known: write \"ascii\""},
        {"<pause time=\"50 ms\"/>", "<pause/>", "needs the attribute time"},
        {"name=\"S21\"", "name=\"S31\"", "is not known: write \"S11\""},
    };

    (void)state;
    refuse_all(PROFILE_ANALYSER_FILE, wrong, sizeof wrong / sizeof *wrong);
    profile_refuse(PROFILE_ANALYSER_FILE, "urn:gainsieve:profile:1", "urn:gainsieve:profile:2",
                   NULL, "<profile xmlns=\"urn:gainsieve:profile:1\" ...>");
    profile_refuse(PROFILE_ANALYSER_FILE, "<error/>", "", NULL, "ask: ends too early");
    profile_refuse(PROFILE_ANALYSER_FILE, "<error/>", "<error/><text/>", NULL, "out of place");
    profile_refuse(PROFILE_ANALYSER_FILE, "<send text=\"OUTP 1\"/>", "", NULL,
                   "step: ends too early");
    profile_refuse(PROFILE_ANALYSER_FILE, "<step name=\"rf-on\">", "<step name=\"rf-off\">",
                   "<step name=\"rf-off\"><send text=\"OUTP 0\"", "stands twice");
}

/* A control character in a text would end the message and begin another; XML writes it as a
 * reference, and blanks that XML would mend are seen too. */
static void test_control_characters(void **state)
{
    static const char *const wrong[] = {
        "OUTP 1&#10;OUTP 0", "OUTP 1&#13;", "&#9;OUTP 1",    "OUTP&#127;1", "OUTP  1",
        " OUTP 1",           "OUTP 1 ",     "OUTP\xC2\xA0X", "\xC3\x84",    "OUTP\n 1"};

    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        profile_refuse(PROFILE_SUPPLY_FILE, "OUTP 1", wrong[i], NULL,
                       "printable ASCII on one line");
    profile_refuse(PROFILE_ANALYSER_FILE, "B,A", "B&#10;A", NULL, "printable ASCII on one line");
    profile_refuse(PROFILE_ANALYSER_FILE, "^[^,]+,", "^&#10;", NULL, "printable ASCII on one line");
    profile_refuse(PROFILE_SUPPLY_FILE, "OUTP 1", "OUTP&#1;", NULL, "is not well-formed XML");
}

/* A text as long as is taken, and one byte more. */
static void test_longest_text(void **state)
{
    struct profile p = {0};
    char text[202];

    (void)state;
    memset(text, 'A', sizeof text);
    text[200] = '\0';
    profile_take_with(&p, PROFILE_SUPPLY_FILE, "OUTP 1", text);
    assert_string_equal(p.steps[STEP_OUTPUT_ON].actions[1].text, text);
    profile_clear(&p);
    text[200] = 'A';
    text[201] = '\0';
    profile_refuse(PROFILE_SUPPLY_FILE, "OUTP 1", text, NULL, "is longer than 200 characters");
}

/* What the reader itself refuses about numbers and times. */
static void test_values_out_of_range(void **state)
{
    static const struct wrong wrong[] = {
        {"timeout=\"3 s\"", "timeout=\"0 s\"", "timeout must be above 0 s"},
        {"timeout=\"3 s\"", "timeout=\"601 s\"", "timeout is longer than 600 s"},
        {"timeout=\"3 s\"", "timeout=\"3 s\" gap=\"9e9 s\"", "gap is longer than 600 s"},
        {"timeout=\"3 s\"", "timeout=\"3 s\" settle=\"9e9 s\"", "settle is longer than 600 s"},
        {"timeout=\"{sweep_timeout_ms}\"", "timeout=\"0 ms\"", "timeout must be above 0 s"},
        {"time=\"50 ms\"", "time=\"0 ms\"", "time must be above 0 s"},
        {"skip=\"2\"", "skip=\"1001\"", "skip=\"1001\" is larger than 1000"},
        {"equals=\"{points}\" within=\"0.5\"", "within=\"0.5\"", "within needs equals"},
        {"equals=\"{points}\"", "scale=\"0\" equals=\"{points}\"", "scale must be above 0"},
        {"100 kHz\"", "100 kHz\" max-frequency=\"99 kHz\"", "min-frequency is above"},
        {"100 kHz\"", "100 kHz\" max-points=\"1\"", "max-points is below 2"},
        {"100 kHz\"", "100 kHz\" min-power=\"1 dBm\" max-power=\"0 dBm\"", "min-power is above"},
        {"linear-power=\"0 dBm\"", "linear-power=\"21 dBm\"", "is above damage-power"},
        {"100 kHz\"", "100 kHz\" max-voltage=\"3 V\"", "max-voltage is no rating of an analyser"},
        {"flow=\"none\"", "flow=\"xonxoff\"", "XON/XOFF eats bytes of answers"},
    };

    (void)state;
    refuse_all(PROFILE_ANALYSER_FILE, wrong, sizeof wrong / sizeof *wrong);
    profile_refuse(PROFILE_SUPPLY_FILE, "max-voltage=\"30 V\"", "max-points=\"5\"", NULL,
                   "max-points is no rating of a supply");
    profile_refuse(PROFILE_SUPPLY_FILE, "every=\"50 ms\"", "every=\"0 ms\"", NULL,
                   "every must be above 0 s");
    profile_refuse(PROFILE_SUPPLY_FILE, "mask=\"3\"", "mask=\"4294967296\"", NULL,
                   "is larger than 4294967295");
}

/* A file that is not there says so. */
static void test_missing_file(void **state)
{
    struct profile p = {0};
    struct error e = {0};

    (void)state;
    assert_false(profile_read(&p, "docs/profiles/none.xml", &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "docs/profiles/none.xml");
}

/* Whichever allocation fails, the error says memory, nothing leaks and the struct is untouched. */
static void test_no_memory(void **state)
{
    char *path = fixture_file(PROFILE_ANALYSER_FILE);

    (void)state;
    for (unsigned long nth = 1;; nth++) {
        struct profile p = {.n_parameters = 77};
        struct error e = {0};
        bool ok;

        memory_fail_at(nth);
        ok = profile_read(&p, path, &e);
        memory_fail_at(0);
        if (ok) {
            assert_true(nth > 40);
            profile_clear(&p);
            break;
        }
        assert_int_equal(e.kind, ERROR_MEMORY);
        assert_int_equal(p.n_parameters, 77);
    }
    (void)unlink(path);
    free(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_analyser),      cmocka_unit_test(test_analyser_actions),
        cmocka_unit_test(test_supply),        cmocka_unit_test(test_words_of_lists),
        cmocka_unit_test(test_shipped_files), cmocka_unit_test(test_shipped_messages),
        cmocka_unit_test(test_schema_faults), cmocka_unit_test(test_control_characters),
        cmocka_unit_test(test_longest_text),  cmocka_unit_test(test_values_out_of_range),
        cmocka_unit_test(test_missing_file),  cmocka_unit_test(test_no_memory),
    };
    int failed;

    xml_start();
    failed = cmocka_run_group_tests(tests, NULL, NULL);
    xml_end();
    return failed;
}
