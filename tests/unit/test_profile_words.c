#include "drivers/base/memory.h"
#include "drivers/base/xml.h"
#include "tests/profile_file.h"

static void check_words(const char *file, const char *from, const char *to, const char *want)
{
    struct profile p = {0};
    struct text words = {0};

    profile_take_with(&p, file, from, to);
    profile_words(&p, &words);
    assert_holds(text_words(&words), want);
    text_clear(&words);
    profile_clear(&p);
}

/* An engineer proof-reads this against the programming guide: everything that is sent and
 * everything that is checked, nothing left out. */
static void test_analyser(void **state)
{
    struct profile p = {0};
    struct text words = {0};

    (void)state;
    profile_take(&p, PROFILE_ANALYSER_FILE);
    profile_words(&p, &words);
    assert_string_equal(
        words.data,
        "Analyser: A\n"
        "Link: a message ends with LF, an answer with LF, CR, CR LF or the link's own end within "
        "3 s\n"
        "Serial line: 115200 baud, 8 data bits, no parity, 1 stop bit, no flow control\n"
        "Rating: frequency at least 100 kHz, frequency at most (not stated), points at most (not "
        "stated), source at least (not stated), source at most (not stated), receiver linear up to "
        "0 dBm, receiver unharmed up to 20 dBm\n"
        "Parameters: S21 is \"B,A\"\n"
        "Step identify: ask \"*IDN?\" for a text that matches ^[^,]+,.\n"
        "Step set-sweep: send \"FREQ {start_hz/1e6:.6f},{stop_hz/1e6:.6f}\"; send \"POIN "
        "{points:d}\"; ask \"POIN?\" for a number that is {points} within 0.5.\n"
        "Step set-power: send \"POW {power_dbm:.2f}\".\n"
        "Step rf-on: send \"OUTP 1\".\n"
        "Step rf-off: send \"OUTP 0\".\n"
        "Step sweep: send \"INIT\"; ask \"*OPC?\" for a number that is 1, for as long as the sweep "
        "may take.\n"
        "Step read-trace: ask \"DATA? {parameter}\" for all real parts, then all imaginary ones as "
        "a block of 64-bit reals, least significant byte first, after 2 to skip.\n"
        "Step check-errors: ask \"SYST:ERR?\" for an error, again until there is none.\n"
        "Step safe: send \"OUTP 0\"; pause for 50 ms.\n"
        "Caution: set-power is not read back: a setting that the instrument ignores or changes "
        "goes unseen.\n"
        "Caution: rf-on is not read back: a setting that the instrument ignores or changes goes "
        "unseen.\n"
        "Caution: rf-off is not read back: a setting that the instrument ignores or changes goes "
        "unseen.\n"
        "Caution: no check-correction: a sweep without calibration goes unseen.\n"
        "Caution: no read-axis: frequencies are computed, and the byte order of reals is not "
        "proved by them.\n");
    text_clear(&words);
    profile_clear(&p);
}

/* The same of a supply, with what an analyser's file does not have. */
static void test_supply(void **state)
{
    (void)state;
    check_words(PROFILE_SUPPLY_FILE, "label=\"B\"", "label=\"B\"",
                "Supply: B\n"
                "Link: a message ends with CR LF, an answer with CR within 500 ms; a message is "
                "followed by 20 ms; the instrument settles after opening for 2 s; the instrument "
                "repeats what it is sent\n"
                "Serial line: 9600 baud, 8 data bits, no parity, 1 stop bit, no flow control\n"
                "Rating: voltage at most 30 V, current at most 3000 mA\n"
                "Step identify: ask \"*IDN?\" for a text.\n");
    check_words(PROFILE_SUPPLY_FILE, "label=\"B\"", "label=\"B\"",
                "Step output-on: send \"INST:NSEL {channel}\"; send \"OUTP 1\"; ask "
                "\"STAT:QUES:COND?\" every 50 ms until its bits of 3 are 1, within 2 s.\n");
    check_words(PROFILE_SUPPLY_FILE, "label=\"B\"", "label=\"B\"",
                "Step read-current: ask \"CURR?\" for a number times 0.001, within 1.5 s.\n");
    check_words(PROFILE_SUPPLY_FILE, "label=\"B\"", "label=\"B\"",
                "Caution: no set-trip: the supply's own over-voltage trip is not set.\n"
                "Caution: no check-trip");
}

/* The words of each choice. */
static void test_choices(void **state)
{
    (void)state;
    check_words(PROFILE_ANALYSER_FILE, "data-bits=\"8\" flow=\"none\"",
                "parity=\"even\" stop-bits=\"2\" flow=\"rtscts\"",
                "115200 baud, 8 data bits, even parity, 2 stop bits, paced by RTS/CTS\n");
    check_words(PROFILE_ANALYSER_FILE, "data-bits=\"8\"", "parity=\"odd\"", "odd parity");
    check_words(PROFILE_ANALYSER_FILE, "terminator=\"LF\"", "terminator=\"CR\"",
                "a message ends with CR, an answer");
    check_words(PROFILE_ANALYSER_FILE, "encoding=\"real64\" byte-order=\"little\"",
                "encoding=\"ascii\" separator=\"blank\"",
                "imaginary ones as ASCII with blanks between, after 2 to skip");
    check_words(PROFILE_ANALYSER_FILE, "layout=\"split\" encoding=\"real64\"",
                "layout=\"interleaved\" encoding=\"real32\"",
                "for real and imaginary parts in turn as a block of 32-bit reals");
    check_words(PROFILE_ANALYSER_FILE, "</profile>",
                "<step name=\"read-axis\"><ask text=\"F?\"><axis encoding=\"ascii\" scale=\"1e6\"/>"
                "</ask></step></profile>",
                "Step read-axis: ask \"F?\" for the frequencies times 1000000 as ASCII with commas "
                "between.\n");
}

/* A label may come from anywhere and goes to a terminal: what could turn the words around it does
 * not reach it. */
static void test_label_is_plain(void **state)
{
    (void)state;
    check_words(PROFILE_ANALYSER_FILE, "label=\"A\"", "label=\"A&#x202E;&#x9B;B\"",
                "Analyser: A\xEF\xBF\xBD");
}

/* The shipped files leave nothing open. */
static void test_shipped_files(void **state)
{
    static const char *const paths[] = {"docs/profiles/analyser.xml", "docs/profiles/supply.xml"};

    (void)state;
    for (size_t f = 0; f < 2; f++) {
        struct profile p = {0};
        struct error e = {0};
        struct text words = {0};

        assert_done(profile_read(&p, paths[f], &e), &e);
        profile_words(&p, &words);
        for (int s = 0; s < PROFILE_STEPS; s++) {
            char line[64];

            if (!p.steps[s].is_there) continue;
            (void)snprintf(line, sizeof line,
                           "\nStep %s: ", profile_step_name((enum profile_step)s));
            assert_holds(words.data, line);
        }
        assert_null(strstr(words.data, "Caution"));
        assert_null(strstr(words.data, "not stated"));
        text_clear(&words);
        profile_clear(&p);
    }
}

/* No memory leaves a text that says so. */
static void test_no_memory(void **state)
{
    struct profile p = {0};
    struct text words = {0};
    struct error e = {0};

    (void)state;
    profile_take(&p, PROFILE_ANALYSER_FILE);
    memory_fail_at(3);
    profile_words(&p, &words);
    memory_fail_at(0);
    assert_false(text_ok(&words, "the words", &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
    text_clear(&words);
    profile_clear(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_analyser),      cmocka_unit_test(test_supply),
        cmocka_unit_test(test_choices),       cmocka_unit_test(test_label_is_plain),
        cmocka_unit_test(test_shipped_files), cmocka_unit_test(test_no_memory),
    };
    int failed;

    xml_start();
    failed = cmocka_run_group_tests(tests, NULL, NULL);
    xml_end();
    return failed;
}
