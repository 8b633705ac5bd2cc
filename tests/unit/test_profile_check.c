/* What only the program can refuse. Every case is a right file with one place changed, so that
 * nothing else can be the reason; the right files themselves are read in test_profile_read.c. */
#include "drivers/base/memory.h"
#include "drivers/base/xml.h"
#include "drivers/profile_check.h"
#include "tests/profile_file.h"

#define TRACE "layout=\"split\" encoding=\"real64\" byte-order=\"little\" skip=\"2\""

/* Each step that the kind needs, left out, is named on the line of the outermost element. */
static void test_missing_steps(void **state)
{
    static const char *const files[] = {PROFILE_ANALYSER_FILE, PROFILE_SUPPLY_FILE};

    (void)state;
    for (int kind = 0; kind < 2; kind++) {
        for (int s = 0; s < PROFILE_STEPS; s++) {
            const char *name = profile_step_name((enum profile_step)s);
            char from[64], words[128];
            const char *begin, *end;
            char *step;

            if (profile_need((enum profile_kind)kind, (enum profile_step)s) != STEP_REQUIRED)
                continue;
            (void)snprintf(from, sizeof from, "<step name=\"%s\">", name);
            begin = strstr(files[kind], from);
            assert_non_null(begin);
            end = strstr(begin, "</step>") + strlen("</step>");
            step = strndup(begin, (size_t)(end - begin));
            (void)snprintf(words, sizeof words, "needs a step %s: add <step name=\"%s\">", name,
                           name);
            profile_refuse(files[kind], step, "", "<profile", words);
            free(step);
        }
    }
}

/* A step of the other kind: the wrong file, or the wrong kind. */
static void test_foreign_steps(void **state)
{
    (void)state;
    profile_refuse(PROFILE_ANALYSER_FILE, "</profile>",
                   "<step name=\"output-on\">\n<send text=\"OUTP 1\"/></step></profile>",
                   "<step name=\"output-on\"", "an analyser has no step output-on");
    profile_refuse(PROFILE_SUPPLY_FILE, "</profile>",
                   "<step name=\"rf-on\">\n<send text=\"OUTP 1\"/></step></profile>",
                   "<step name=\"rf-on\"", "a supply has no step rf-on");
}

/* Placeholders: unknown ones, those of the other kind, those of a step that must work when no value
 * is known, and a format that an interrupted line would make larger. */
static void test_placeholders(void **state)
{
    (void)state;
    profile_refuse(PROFILE_SUPPLY_FILE, "{voltage_v:.3f}", "{volts:.3f}", NULL,
                   "\"{volts:.3f}\" is unknown");
    profile_refuse(PROFILE_SUPPLY_FILE, "{voltage_v:.3f}", "{voltage_v:.3e}", NULL,
                   "an exponent is never sent");
    profile_refuse(PROFILE_SUPPLY_FILE, "{voltage_v:.3f}", "{voltage_v:g}", NULL,
                   "an exponent is never sent");
    profile_refuse(PROFILE_SUPPLY_FILE, "{voltage_v:.3f}", "{voltage_v", NULL,
                   "a { stands without its }");
    profile_refuse(PROFILE_SUPPLY_FILE, "{voltage_v:.3f}", "{voltage_v:.3f},{points}", NULL,
                   "{points} is no value of a supply");
    profile_refuse(PROFILE_ANALYSER_FILE, "{power_dbm:.2f}", "{power_dbm:.2f},{trip_v}", NULL,
                   "{trip_v} is no value of an analyser");
    profile_refuse(PROFILE_SUPPLY_FILE, "<step name=\"output-off\"><send text=\"OUTP 0\"/>",
                   "<step name=\"output-off\"><send text=\"VOLT {voltage_v:.1f}\"/>", NULL,
                   "must do without values");
    profile_refuse(PROFILE_ANALYSER_FILE, "POW {power_dbm:.2f}", "POW {power_dbm:.2f},{parameter}",
                   NULL, "{parameter} may stand in the steps sweep and read-trace only");
    profile_refuse(PROFILE_ANALYSER_FILE, "equals=\"{points}\"", "equals=\"{pionts}\"", NULL,
                   "is unknown");
    profile_refuse(PROFILE_ANALYSER_FILE, "equals=\"{points}\"", "equals=\"{voltage_v}\"", NULL,
                   "is no value of an analyser");
    profile_refuse(PROFILE_ANALYSER_FILE, "equals=\"{points}\"", "equals=\"{points:d}\"", NULL,
                   "nor one placeholder without a format");
    profile_refuse(PROFILE_ANALYSER_FILE, "equals=\"{points}\"", "equals=\"{points}1\"", NULL,
                   "nor one placeholder without a format");
    profile_refuse(PROFILE_ANALYSER_FILE, "equals=\"{points}\"", "equals=\"ON\"", NULL,
                   "is neither a number");
    profile_refuse(PROFILE_SUPPLY_FILE, "<number equals=\"0\"/>", "<number equals=\"{channel}\"/>",
                   NULL, "is neither a number");
}

/* A comparison may divide, as the setting did. */
static void test_equals_with_divisor(void **state)
{
    struct profile p = {0};

    (void)state;
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "equals=\"{points}\"",
                      "equals=\"{start_hz/1e6}\"");
    profile_clear(&p);
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "equals=\"{points}\"", "equals=\"-1.5e3\"");
    profile_clear(&p);
}

/* A step that does not do what its name says: set without the value, check without a check, a sweep
 * that does not wait for its end (an old trace is a false PASS), a reading that is not read. */
static void test_purpose(void **state)
{
    (void)state;
    profile_refuse(PROFILE_ANALYSER_FILE, "POW {power_dbm:.2f}", "POW -20",
                   "<step name=\"set-power", "the step set-power sends no {power_dbm}");
    profile_refuse(PROFILE_ANALYSER_FILE, ",{stop_hz/1e6:.6f}", "", "<step name=\"set-sweep",
                   "sends no {stop_hz}");
    profile_refuse(PROFILE_SUPPLY_FILE, "{current_a:.4f}", "0.1", "<step name=\"set-limit",
                   "sends no {current_a}");
    profile_refuse(PROFILE_ANALYSER_FILE, "<send text=\"OUTP 1\"/>", "<pause time=\"1 ms\"/>",
                   "<step name=\"rf-on", "the step rf-on sends nothing");
    profile_refuse(
        PROFILE_ANALYSER_FILE,
        "<ask text=\"*OPC?\" timeout=\"{sweep_timeout_ms}\"><number equals=\"1\"/></ask>",
        "<pause time=\"1 s\"/>", "<step name=\"sweep", "must end by waiting");
    profile_refuse(PROFILE_ANALYSER_FILE, "<number equals=\"1\"/>", "<number/>",
                   "<step name=\"sweep", "must end by waiting");
    profile_refuse(PROFILE_ANALYSER_FILE, "<error/>", "<text/>", "<step name=\"check-errors",
                   "checks nothing");
    profile_refuse(PROFILE_ANALYSER_FILE, "</profile>",
                   "<step name=\"check-correction\">\n<ask text=\"CORR?\"><number/></ask></step>"
                   "</profile>",
                   "<step name=\"check-correction", "checks nothing");
    profile_refuse(PROFILE_SUPPLY_FILE, "<ask text=\"VOLT?\"><number/></ask>",
                   "<ask text=\"VOLT?\"><number equals=\"3\"/></ask>", "<step name=\"read-voltage",
                   "must ask for one <number> without equals, whose answer is kept: it asks for 0");
    profile_refuse(PROFILE_SUPPLY_FILE, "<ask text=\"VOLT?\"><number/></ask>",
                   "<ask text=\"VOLT?\"><number/></ask><ask text=\"V2?\"><number/></ask>",
                   "<step name=\"read-voltage", "it asks for 2");
    profile_refuse(PROFILE_SUPPLY_FILE, "<ask text=\"*IDN?\"><text/></ask>",
                   "<send text=\"HELLO\"/>", "<step name=\"identify", "must ask for one <text>");
}

/* Traces: both parts once, in the step for them. */
static void test_traces(void **state)
{
    struct profile p = {0};

    (void)state;
    profile_refuse(PROFILE_ANALYSER_FILE, "layout=\"split\"", "layout=\"real-only\"",
                   "<step name=\"read-trace", "one real-only and one imaginary-only");
    profile_refuse(PROFILE_ANALYSER_FILE, "<trace " TRACE "/></ask>",
                   "<trace " TRACE "/></ask>\n<ask text=\"D?\"><trace " TRACE "/></ask>",
                   "<step name=\"read-trace", "one <trace> of both parts");
    profile_refuse(PROFILE_ANALYSER_FILE, "<error/>", "<trace " TRACE "/>", NULL,
                   "<trace> may stand in the step read-trace only");
    profile_refuse(PROFILE_ANALYSER_FILE, "<error/>", "<axis encoding=\"ascii\"/>", NULL,
                   "<axis> may stand in the step read-axis only");
    profile_refuse(PROFILE_ANALYSER_FILE, "DATA? {parameter}", "DATA?", "<step name=\"read-trace",
                   "neither sweep nor read-trace holds {parameter}");
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "<trace " TRACE "/></ask>",
                      "<trace layout=\"real-only\" encoding=\"ascii\"/></ask>\n"
                      "<ask text=\"IM?\"><trace layout=\"imaginary-only\" encoding=\"ascii\"/>"
                      "</ask>");
    assert_int_equal(p.steps[STEP_READ_TRACE].actions[1].layout, LAYOUT_IMAGINARY_ONLY);
    profile_clear(&p);
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "</profile>",
                      "<step name=\"read-axis\"><ask text=\"F?\"><axis encoding=\"ascii\" "
                      "separator=\"tab\" scale=\"1e6\"/></ask></step></profile>");
    assert_close(p.steps[STEP_READ_AXIS].actions[0].scale, 1e6, 0);
    profile_clear(&p);
}

/* Swapped reals look like a perfect match, and seven data bits cut them: no default, no guess. */
static void test_formats(void **state)
{
    (void)state;
    profile_refuse(PROFILE_ANALYSER_FILE, " byte-order=\"little\"", "", "<ask text=\"DATA?",
                   "reals need their byte order");
    profile_refuse(PROFILE_ANALYSER_FILE, "real64\" byte-order=\"little\"", "real32\"",
                   "<ask text=\"DATA?", "reals need their byte order");
    profile_refuse(PROFILE_ANALYSER_FILE, "skip=\"2\"", "separator=\"comma\"", "<ask text=\"DATA?",
                   "reals have no separator");
    profile_refuse(PROFILE_ANALYSER_FILE, "real64", "ascii", "<ask text=\"DATA?",
                   "ASCII numbers have no byte order");
    profile_refuse(PROFILE_ANALYSER_FILE, "data-bits=\"8\"", "data-bits=\"7\"", "<ask text=\"DATA?",
                   "seven data bits cut every byte");
    profile_refuse(PROFILE_ANALYSER_FILE, "</profile>",
                   "<step name=\"read-axis\"><ask text=\"F?\"><axis encoding=\"real32\"/></ask>"
                   "</step></profile>",
                   NULL, "reals need their byte order");
}

/* The guardian sends `safe` when the program is dead: nobody reads, nobody knows values, and the
 * board is powered meanwhile. */
static void test_safe(void **state)
{
    struct profile p = {0};

    (void)state;
    profile_refuse(PROFILE_ANALYSER_FILE, "<pause time=\"50 ms\"/>",
                   "<ask text=\"OUTP?\"><number equals=\"0\"/></ask>", NULL,
                   "it may hold <send> and <pause> only");
    profile_refuse(PROFILE_ANALYSER_FILE, "<pause time=\"50 ms\"/>",
                   "<poll text=\"S?\" mask=\"1\" equals=\"0\" every=\"1 ms\" timeout=\"1 s\"/>",
                   NULL, "it may hold <send> and <pause> only");
    profile_refuse(PROFILE_ANALYSER_FILE, "<pause time=\"50 ms\"/>",
                   "<send text=\"POW {power_dbm:.0f}\"/>", NULL,
                   "{power_dbm} stands in the step safe, which must do without values");
    profile_refuse(PROFILE_ANALYSER_FILE, "<pause time=\"50 ms\"/>",
                   "<send text=\"X {parameter}\"/>", NULL, "{parameter} may stand in");
    profile_refuse(PROFILE_ANALYSER_FILE, "<pause time=\"50 ms\"/>",
                   "<pause time=\"0.6 s\"/><pause time=\"0.6 s\"/>", "<step name=\"safe",
                   "pauses for more than 1 s");
    profile_refuse(PROFILE_ANALYSER_FILE, "<send text=\"OUTP 0\"/>\n", "", "<step name=\"safe",
                   "the step safe sends nothing");
    profile_take_with(&p, PROFILE_ANALYSER_FILE, "<pause time=\"50 ms\"/>",
                      "<send text=\"OUTP 0,{channel}\"/>");
    profile_clear(&p);
}

/* An answer that nobody reads is taken for that of the next question. */
static void test_questions(void **state)
{
    (void)state;
    profile_refuse(PROFILE_ANALYSER_FILE, "<send text=\"INIT\"/>", "<send text=\"INIT;*OPC?\"/>",
                   NULL, "asks something");
    profile_refuse(PROFILE_SUPPLY_FILE, "text=\"VOLT?\"", "text=\"VOLT?;CURR?\"", NULL,
                   "asks more than one thing");
}

/* Expressions that are none, or that would keep the matcher busy for ever. */
static void test_expressions(void **state)
{
    static const char *const harmful[] = {"a{1,255}", "(a)\\1", "((((a+)+)+)+)+((((a+)+)+)+)+"};

    (void)state;
    profile_refuse(PROFILE_ANALYSER_FILE, "^[^,]+,", "(", NULL, "no extended regular expression");
    profile_refuse(PROFILE_ANALYSER_FILE, "^[^,]+,", "[a", NULL, "no extended regular expression");
    profile_refuse(PROFILE_ANALYSER_FILE, "^[^,]+,", harmful[0], NULL, "write a simpler");
    profile_refuse(PROFILE_ANALYSER_FILE, "^[^,]+,", harmful[1], NULL, "write a simpler");
    profile_refuse(PROFILE_ANALYSER_FILE, "^[^,]+,", harmful[2], NULL, "write a simpler");
}

/* A poll that never ends, or ends at once whatever the instrument says. */
static void test_polls(void **state)
{
    (void)state;
    profile_refuse(PROFILE_SUPPLY_FILE, "mask=\"3\" equals=\"1\"", "mask=\"3\" equals=\"4\"", NULL,
                   "can never be");
    profile_refuse(PROFILE_SUPPLY_FILE, "mask=\"3\" equals=\"1\"", "mask=\"0\" equals=\"0\"", NULL,
                   "or is always so");
}

/* Parameters are the analyser's, and it needs one. */
static void test_parameters(void **state)
{
    (void)state;
    profile_refuse(PROFILE_ANALYSER_FILE, "<parameter name=\"S21\" text=\"B,A\"/>", "", "<profile",
                   "an analyser needs a <parameter");
    profile_refuse(PROFILE_SUPPLY_FILE, "<step name=\"identify\">",
                   "<parameter name=\"S21\" text=\"B\"/><step name=\"identify\">", "<profile",
                   "a supply has no <parameter>");
    profile_refuse(PROFILE_ANALYSER_FILE, "<parameter name=\"S21\" text=\"B,A\"/>",
                   "<parameter name=\"S21\" text=\"B,A\"/><parameter name=\"S21\" text=\"C\"/>",
                   NULL, "one text for each parameter");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_missing_steps), cmocka_unit_test(test_foreign_steps),
        cmocka_unit_test(test_placeholders),  cmocka_unit_test(test_equals_with_divisor),
        cmocka_unit_test(test_purpose),       cmocka_unit_test(test_traces),
        cmocka_unit_test(test_formats),       cmocka_unit_test(test_safe),
        cmocka_unit_test(test_questions),     cmocka_unit_test(test_expressions),
        cmocka_unit_test(test_polls),         cmocka_unit_test(test_parameters),
    };
    int failed;

    xml_start();
    failed = cmocka_run_group_tests(tests, NULL, NULL);
    xml_end();
    return failed;
}
