/* From XML to the struct: every attribute, its default and its range. Ports and paths are in
 * test_bench_file_ports.c. */
#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "drivers/base/xml.h"
#include "drivers/bench_file.h"
#include "tests/bench_file.h"

/* Every attribute arrives, in its unit. */
static void test_whole(void **state)
{
    struct bench_file f = {0};

    (void)state;
    bench_take_with(&f, BENCH_FILE, "<attempts", BENCH_REFERENCE "<attempts");
    assert_string_equal(f.label, "Bench 7");
    assert_string_equal(f.note, "By the window");
    assert_int_equal(strlen(f.sha256), 64);
    assert_close(f.sweep.start_hz, 150e6, 0);
    assert_close(f.sweep.stop_hz, 190e6, 0);
    assert_close(f.sweep.ifbw_hz, 1e4, 0);
    assert_close(f.sweep.power_dbm, -20, 0);
    assert_int_equal(f.sweep.points, 401);
    assert_int_equal(f.sweep.averages, 4);
    assert_close(f.sweep.setup, 3, 0);
    assert_close(f.levels.pad_db, 20, 0);
    assert_close(f.levels.pad_rating_dbm, 33, 0);
    assert_close(f.levels.saturated_dbm, 27, 0);
    assert_close(f.levels.highest_gain_db, 31, 0);
    assert_close(f.levels.receiver_damage_dbm, 19, 0);
    assert_close(f.levels.receiver_linear_dbm, -1, 0);
    assert_close(f.levels.reserve_db, 7, 0);
    assert_close(f.bias.current_limit_a, 0.12, 1e-15);
    assert_close(f.bias.voltage_trip_v, 3.6, 0);
    assert_close(f.bias.most_v, 3.2, 0);
    assert_close(f.bias.ramp_step_v, 0.3, 0);
    assert_close(f.bias.ramp_interval_s, 0.005, 0);
    assert_close(f.bias.settling_s, 0.012, 0);
    assert_close(f.bias.tolerance_v, 0.02, 0);
    assert_close(f.bias.off_below_v, 0.4, 0);
    assert_close(f.bias.longest_s, 60, 0);
    assert_true(f.correction.required);
    assert_string_equal(f.correction.done, "2026-11-20");
    assert_close(f.correction.valid_days, 30, 0);
    assert_string_equal(f.reference.serial, "KW000100");
    assert_close(f.reference.gain_tolerance_db, 0.3, 0);
    assert_close(f.reference.reflection_tolerance, 0.02, 0);
    assert_int_equal(f.reference.every_units, 50);
    assert_close(f.reference.every_hours, 4.5, 0);
    assert_int_equal(f.most_attempts, 4);
    assert_int_equal(f.streak, 5);
    bench_file_clear(&f);
}

/* What stands when nothing is said: as docs/bench.md has it. */
static void test_defaults(void **state)
{
    struct bench_file f = {0};

    (void)state;
    bench_take(&f, BENCH_SHORT);
    assert_true(!f.note && !f.fixture && !f.layout && !f.analyser.channel);
    assert_int_equal(f.sweep.averages, 1);
    assert_true(isnan(f.sweep.setup));
    assert_true(isnan(f.levels.pad_rating_dbm) && isnan(f.levels.highest_gain_db));
    assert_true(isnan(f.levels.receiver_damage_dbm) && isnan(f.levels.receiver_linear_dbm));
    assert_close(f.levels.reserve_db, 6, 0);
    assert_true(isnan(f.bias.voltage_trip_v));
    assert_close(f.bias.ramp_step_v, 0.3, 1e-15);
    assert_close(f.bias.ramp_interval_s, 0.05, 0);
    assert_close(f.bias.settling_s, 0.1, 0);
    assert_close(f.bias.tolerance_v, 0.05, 0);
    assert_close(f.bias.off_below_v, 0.5, 0);
    assert_close(f.bias.longest_s, 300, 0);
    assert_true(f.correction.required);
    assert_null(f.correction.done);
    assert_true(isnan(f.correction.valid_days));
    assert_null(f.reference.serial);
    assert_true(f.reference.every_units == 0 && isnan(f.reference.every_hours));
    assert_int_equal(f.most_attempts, 3);
    assert_int_equal(f.streak, 3);
    bench_file_clear(&f);
}

/* An attribute, what it is in `file`, its lowest and highest value, and one beyond each. */
static const struct range {
    const char *attribute, *is, *lowest, *highest, *below, *above, *words;
} ranges[] = {
    {"from", "150 MHz", "1 Hz", "189.9 MHz", "0.9 Hz", "1001 GHz", "from 1 Hz to 1000 GHz"},
    {"to", "0.19 GHz", "150.1 MHz", "1000 GHz", "0 Hz", "1000.1 GHz", "from 1 Hz to 1000 GHz"},
    {"points", "401", "2", "300000", "1", "300001", "from 2 to 300000"},
    {"if-bandwidth", "10 kHz", "0.1 Hz", "1 GHz", "0 Hz", "1.1 GHz", "from 0.1 Hz to 1 GHz"},
    {"averages", "4", "1", "10000", "0", "10001", "from 1 to 10000"},
    {"power", "-20 dBm", "-150 dBm", "50 dBm", "-151 dBm", "50.1 dBm", "from -150 dBm to 50 dBm"},
    {"setup", "3", "0", "9999", NULL, "10000", "from 0 to 9999"},
    {"pad", "20 dB", "0 dB", "120 dB", NULL, "121 dB", "from 0 dB to 120 dB"},
    {"pad-rating", "33 dBm", "-50 dBm", "90 dBm", "-51 dBm", "91 dBm", "from -50 dBm to 90 dBm"},
    {"saturated-output", "27 dBm", "-50 dBm", "90 dBm", "-51 dBm", "91 dBm", "from -50 dBm"},
    {"highest-gain", "31 dB", "-120 dB", "120 dB", "-121 dB", "121 dB", "from -120 dB to 120 dB"},
    {"receiver-damage", "19 dBm", "-1 dBm", "90 dBm", "-51 dBm", "91 dBm", "from -50 dBm"},
    {"receiver-linear", "-1 dBm", "-100 dBm", "19 dBm", "-101 dBm", "91 dBm", "from -100 dBm"},
    {"reserve", "7 dB", "0 dB", "40 dB", NULL, "40.1 dB", "from 0 dB to 40 dB"},
    {"current-limit", "120 mA", "100 uA", "100 A", "99 uA", "100.1 A", "from 0.1 mA to 100000 mA"},
    {"voltage-trip", "3.6 V", "3.21 V", "66 V", "9 mV", "67 V", "from 10 mV to 66 V"},
    {"most", "3.2 V", "410 mV", "3.59 V", "9 mV", "61 V", "from 10 mV to 60 V"},
    {"ramp-step", "300 mV", "3.2 mV", "60 V", "0.9 mV", "61 V", "from 1 mV to 60 V"},
    {"ramp-interval", "5 ms", "0 s", "5 s", NULL, "10.1 s", "from 0 s to 10 s"},
    {"settling", "12 ms", "0 s", "59 s", NULL, "601 s", "from 0 s to 600 s"},
    {"tolerance", "20 mV", "1 mV", "1 V", "0.9 mV", "1.1 V", "from 1 mV to 1 V"},
    {"off-below", "0.4 V", "10 mV", "3.1 V", "9 mV", "5.1 V", "from 10 mV to 5 V"},
    {"longest", "60 s", "1 s", "3600 s", "0.9 s", "3601 s", "from 1 s to 3600 s"},
    {"valid-days", "30", "1", "3660", "0.5", "3661", "from 1 to 3660"},
    {"gain-tolerance", "0.3 dB", "0.001 dB", "10 dB", "0 dB", "11 dB", "from 0.001 dB to 10 dB"},
    {"reflection-tolerance", "0.02", "0.0001", "1", "0", "1.1", "from 0.0001 to 1"},
    {"every-units", "50", "0", "100000", NULL, "100001", "from 0 to 100000"},
    {"every-hours", "4.5", "0.1", "10000", "0", "10001", "from 0.1 to 10000"},
    {"most", "4", "1", "9999", "0", "10000", "from 1 to 9999"},
    {"stop-after", "5", "0", "1000", NULL, "1001", "from 0 to 1000"},
};

/* The ends of each range are accepted, what is just beyond is refused with the range in words. */
static void test_ranges(void **state)
{
    char *whole = profile_with(BENCH_FILE, "<attempts", BENCH_REFERENCE "<attempts");

    (void)state;
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        const struct range *r = &ranges[i];
        const char *const values[] = {r->lowest, r->highest, r->below, r->above};
        char from[128], to[128];

        (void)snprintf(from, sizeof from, " %s=\"%s\"", r->attribute, r->is);
        for (size_t v = 0; v < 4; v++) {
            struct bench_file f = {0};

            if (!values[v]) continue;
            (void)snprintf(to, sizeof to, " %s=\"%s\"", r->attribute, values[v]);
            if (v >= 2) {
                bench_refuse(whole, from, to, r->words);
                continue;
            }
            bench_take_with(&f, whole, from, to);
            bench_file_clear(&f);
        }
    }
    free(whole);
}

/* Whether a row of the document's tables tells of the attribute with this range. */
static bool has_row(const char *document, const char *attribute, const char *range)
{
    char name[64];

    (void)snprintf(name, sizeof name, "`%s`", attribute);
    for (const char *row = strstr(document, "\n|"); row; row = strstr(row + 1, "\n|")) {
        const char *end = row + 1 + strcspn(row + 1, "\n"), *second = strstr(row + 2, "|");
        const char *at = strstr(row, name), *is = strstr(row, range);

        if (at && at < second && is && is < end) return true;
    }
    return false;
}

/* The document gives the ranges that the program keeps. */
static void test_document(void **state)
{
    struct text document = {0};
    struct error e = {0};

    (void)state;
    assert_done(file_read("docs/bench.md", 1u << 20, &document, &e), &e);
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        const char *range = ranges[i].words + strlen("from ");

        if (strcmp(ranges[i].attribute, "current-limit") == 0) range = "0.1 mA to 100 A";
        if (has_row(document.data, ranges[i].attribute, range)) continue;
        print_error("%s: \"%s\" is not in docs/bench.md\n", ranges[i].attribute, range);
        fail();
    }
    assert_false(has_row(document.data, "points", "2 to 300001"));
    text_clear(&document);
}

/* Each attribute alone may be right and the whole of no sense. */
static void test_sense(void **state)
{
    (void)state;
    bench_refuse(BENCH_FILE, "to=\"0.19 GHz\"", "to=\"150 MHz\"", "from must be below to");
    bench_refuse(BENCH_FILE, " pad-rating=\"33 dBm\"", "", "needs pad-rating");
    bench_refuse(BENCH_FILE, "receiver-linear=\"-1 dBm\"", "receiver-linear=\"19.5 dBm\"",
                 "above receiver-damage");
    bench_refuse(BENCH_FILE, "voltage-trip=\"3.6 V\"", "voltage-trip=\"3.2 V\"", "above most");
    bench_refuse(BENCH_FILE, "off-below=\"0.4 V\"", "off-below=\"3.2 V\"", "below most");
    bench_refuse(BENCH_FILE, "ramp-step=\"300 mV\"", "ramp-step=\"3.1 mV\"", "1000 steps");
    bench_refuse(BENCH_FILE, "settling=\"12 ms\"", "settling=\"59.95 s\"", "take longest");
    bench_refuse(BENCH_FILE, "ramp-interval=\"5 ms\"", "ramp-interval=\"6 s\"", "take longest");
    bench_refuse(BENCH_FILE, " done=\"2026-11-20\"", "", "valid-days needs done");
}

/* A day that is not there would make a correction valid for longer. Gregorian rule of leap years.
 */
static void test_days(void **state)
{
    static const char *const right[] = {"2024-02-29", "2000-02-29", "2026-12-31", "2026-01-01",
                                        "2026-04-30"};
    static const char *const wrong[] = {"2026-02-29", "2100-02-29", "2026-04-31", "2026-13-01",
                                        "2026-00-10", "2026-10-00", "2026-01-32"};
    char to[64];

    (void)state;
    for (size_t i = 0; i < sizeof right / sizeof *right; i++) {
        struct bench_file f = {0};

        (void)snprintf(to, sizeof to, "done=\"%s\"", right[i]);
        bench_take_with(&f, BENCH_FILE, "done=\"2026-11-20\"", to);
        assert_string_equal(f.correction.done, right[i]);
        bench_file_clear(&f);
    }
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        (void)snprintf(to, sizeof to, "done=\"%s\"", wrong[i]);
        bench_refuse(BENCH_FILE, "done=\"2026-11-20\"", to, "no day of the calendar");
    }
    bench_refuse(BENCH_FILE, "2026-11-20", "20.11.2026", "such as \"2026-11-20\"");
}

/* A correction that must be on is the default; who does without says so. */
static void test_correction(void **state)
{
    struct bench_file f = {0};

    (void)state;
    bench_take_with(&f, BENCH_FILE, "required=\"yes\" ", "");
    assert_true(f.correction.required);
    bench_file_clear(&f);
    bench_take_with(&f, BENCH_FILE, "required=\"yes\"", "required=\"no\"");
    assert_false(f.correction.required);
    bench_file_clear(&f);
    bench_refuse(BENCH_FILE, "required=\"yes\"", "required=\"maybe\"", "maybe");
}

/* Units, unknown and doubled things, with what to write instead. */
static void test_schema_faults(void **state)
{
    (void)state;
    bench_refuse(BENCH_FILE, "from=\"150 MHz\"", "from=\"150\"", "a number and Hz, kHz");
    bench_refuse(BENCH_FILE, "from=\"150 MHz\"", "from=\"-150 MHz\"", "a number and Hz, kHz");
    bench_refuse(BENCH_FILE, "from=\"150 MHz\"", "from=\"150 mhz\"", "a number and Hz, kHz");
    bench_refuse(BENCH_FILE, "power=\"-20 dBm\"", "power=\"-20 dB\"", "a number and dBm");
    bench_refuse(BENCH_FILE, "pad=\"20 dB\"", "pad=\"20 dBm\"", "not negative and dB,");
    bench_refuse(BENCH_FILE, "pad=\"20 dB\"", "pad=\"-20 dB\"", "not negative and dB,");
    bench_refuse(BENCH_FILE, "reserve=\"7 dB\"", "reserve=\"nan dB\"", "not negative and dB,");
    bench_refuse(BENCH_FILE, "gain=\"31 dB\"", "gain=\"31\"", "a number and dB, such as \"32 dB\"");
    bench_refuse(BENCH_FILE, "most=\"3.2 V\"", "most=\"3,2 V\"", "V or mV");
    bench_refuse(BENCH_FILE, "limit=\"120 mA\"", "limit=\"120 V\"", "A, mA or uA");
    bench_refuse(BENCH_FILE, "settling=\"12 ms\"", "settling=\"12\"", "a number and s or ms");
    bench_refuse(BENCH_FILE, "valid-days=\"30\"", "valid-days=\"30 days\"", "a bare number");
    bench_refuse(BENCH_FILE, "points=\"401\"", "points=\"401.5\"", "a whole number");
    bench_refuse(BENCH_FILE, "channel=\"2\"", "channel=\"2;OUTP 1\"", "up to 32 letters");
    bench_refuse(BENCH_FILE, "<streak ", "<strake ", "strake");
    bench_refuse(BENCH_FILE, "<streak ", "<streak most=\"3\" ", "most");
    bench_refuse(BENCH_FILE, "<attempts most=\"4\"/>",
                 "<attempts most=\"4\"/>\n<attempts most=\"5\"/>", "attempts");
    bench_refuse(BENCH_FILE, "power=\"-20 dBm\"", "power=\"-20 dBm\" power=\"-30 dBm\"", "power");
    bench_refuse(BENCH_FILE, "<attempts most=\"4\"/>", "<attempts/>", "most");
    bench_refuse(BENCH_FILE, "urn:gainsieve:bench:1", "urn:gainsieve:bench:2",
                 "<bench xmlns=\"urn:gainsieve:bench:1\" ...>");
    bench_refuse(BENCH_FILE, " label=\"Bench 7\"", "", "label");
    bench_refuse(BENCH_FILE, "label=\"Bench 7\"", "label=\"\"", "label");
}

/* Every attribute that is needed: without it the file is refused and the attribute named. */
static void test_needed(void **state)
{
    static const char *const needed[] = {" port=\"emulated:analyser?seed=7\"",
                                         " from=\"150 MHz\"",
                                         " to=\"190 MHz\"",
                                         " points=\"401\"",
                                         " if-bandwidth=\"10 kHz\"",
                                         " power=\"-30 dBm\"",
                                         " pad=\"0 dB\"",
                                         " saturated-output=\"3 dBm\"",
                                         " current-limit=\"20 mA\"",
                                         " most=\"3 V\""};

    (void)state;
    for (size_t i = 0; i < sizeof needed / sizeof *needed; i++) {
        char name[32];

        (void)snprintf(name, sizeof name, "%.*s", (int)strcspn(needed[i] + 1, "="), needed[i] + 1);
        bench_refuse(BENCH_SHORT, needed[i], "", name);
    }
}

static void refuse_file(const char *xml, const char *words)
{
    struct bench_file f = {.streak = 77};
    struct error e = {0};
    char *path = fixture_file(xml);

    assert_false(bench_file_read(&f, path, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, words);
    assert_int_equal(f.streak, 77);
    (void)unlink(path);
    free(path);
}

/* Files that attack: an entity that would fetch or grow, depth, length. */
static void test_hostile(void **state)
{
    const size_t depth = 5000, length = 5u << 20;
    char *deep = calloc(1, depth * 6 + 1), *huge = malloc(length + 1);
    struct bench_file f = {.streak = 77};
    struct error e = {0};

    (void)state;
    assert_true(deep && huge);
    refuse_file("<!DOCTYPE bench [<!ENTITY x SYSTEM \"file:///etc/passwd\">]>\n" BENCH_SHORT,
                "holds a DOCTYPE");
    for (size_t i = 0; i < depth; i++)
        memcpy(deep + 6 * i, "<benc>", 6);
    refuse_file(deep, ":");
    memset(huge, ' ', length);
    memcpy(huge, "<bench>", 7);
    huge[length] = '\0';
    refuse_file(huge, ":");
    refuse_file("", ":");
    refuse_file("<bench", ":");
    assert_false(bench_file_read(&f, "/nonexistent/bench.xml", &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_int_equal(f.streak, 77);
    free(deep);
    free(huge);
}

/* The demo's bench is read as it is shipped, and its parts are there. */
static void test_demo(void **state)
{
    struct bench_file f = {0};
    struct error e = {0};

    (void)state;
    assert_done(bench_file_read(&f, "docs/demo/bench.xml", &e), &e);
    assert_string_equal(f.label, "Kittiwake demo bench (emulated)");
    assert_string_equal(f.analyser.profile, "docs/demo/../profiles/analyser.xml");
    assert_int_equal(access(f.analyser.profile, R_OK), 0);
    assert_int_equal(access(f.supply.profile, R_OK), 0);
    assert_string_equal(f.fixture, "emulated:fixture");
    bench_file_clear(&f);
}

/* Whichever allocation fails, the error says memory, nothing leaks and the struct is untouched. */
static void test_no_memory(void **state)
{
    char *xml = profile_with(BENCH_FILE, "<attempts", BENCH_REFERENCE "<attempts");
    char *path;

    (void)state;
    path = fixture_file(xml);
    free(xml);
    for (unsigned long nth = 1;; nth++) {
        struct bench_file f = {.streak = 77};
        struct error e = {0};
        bool ok;

        memory_fail_at(nth);
        ok = bench_file_read(&f, path, &e);
        memory_fail_at(0);
        if (ok) {
            assert_true(nth > 40);
            bench_file_clear(&f);
            break;
        }
        assert_int_equal(e.kind, ERROR_MEMORY);
        assert_int_equal(f.streak, 77);
    }
    (void)unlink(path);
    free(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_whole),      cmocka_unit_test(test_defaults),
        cmocka_unit_test(test_ranges),     cmocka_unit_test(test_sense),
        cmocka_unit_test(test_document),   cmocka_unit_test(test_days),
        cmocka_unit_test(test_correction), cmocka_unit_test(test_schema_faults),
        cmocka_unit_test(test_needed),     cmocka_unit_test(test_hostile),
        cmocka_unit_test(test_demo),       cmocka_unit_test(test_no_memory),
    };
    int failed;

    xml_start();
    failed = cmocka_run_group_tests(tests, NULL, NULL);
    xml_end();
    return failed;
}
