/* What `gainsieve validate` says of a bench file. */
#include "drivers/base/memory.h"
#include "drivers/base/xml.h"
#include "drivers/bench_file.h"
#include "tests/bench_file.h"

static void words_of(const struct bench_file *file, struct text *words)
{
    struct error e = {0};

    bench_file_words(file, words);
    assert_done(text_ok(words, "the words", &e), &e);
}

/* An engineer proof-reads this against the bench: everything that was read, nothing left out. */
static void test_whole(void **state)
{
    struct bench_file f = {0};
    struct text words = {0};
    struct error e = {0};

    (void)state;
    bench_take_with(&f, BENCH_FILE, "<attempts", BENCH_REFERENCE "<attempts");
    memory_free(f.analyser.profile);
    memory_free(f.supply.profile);
    memory_free(f.reference.sweeps);
    f.analyser.profile = memory_copy_text("a.xml", &e);
    f.supply.profile = memory_copy_text("s.xml", &e);
    f.reference.sweeps = memory_copy_text("ref", &e);
    words_of(&f, &words);
    assert_string_equal(
        words.data,
        "Bench: Bench 7\n"
        "Note: By the window\n"
        "Analyser: tcp:192.0.2.7:5025, spoken to as a.xml tells, channel 2\n"
        "Supply: serial:/dev/ttyUSB0?baud=9600, spoken to as s.xml tells, channel (@1)\n"
        "Fixture: tcp:192.0.2.7:5027, which connects the board of the serial number\n"
        "Sweep: 150 MHz to 190 MHz, 401 points, IF bandwidth 10 kHz, average of 4, source -20 dBm, "
        "after recalling setup 3\n"
        "Levels: pad of 20 dB that bears 33 dBm, the board gives at most 27 dBm, its gain is at "
        "most 31 dB; receiver unharmed up to 19 dBm less a reserve of 7 dB, linear up to -1 dBm\n"
        "Bias: at most 3.2 V and 120 mA, over-voltage trip at 3.6 V; ramped by 300 mV every 5 ms, "
        "settles for 12 ms, must be there within 20 mV; off is below 400 mV, powered for at most "
        "60 s\n"
        "Correction: must be on, done on 2026-11-20, valid for 30 days\n"
        "Reference unit: KW000100 with its sweeps in ref, gain within 0.3 dB, input reflection "
        "within 0.02; at start, after 50 units, after 4.5 hours\n"
        "Attempts: 4 of one serial number\n"
        "Streak: 5 boards in a row that fail one limit stop the batch\n");
    text_clear(&words);
    bench_file_clear(&f);
}

/* What was not stated is said to be so, and what then goes unseen is a caution. */
static void test_cautions(void **state)
{
    static const char *const wanted[] = {
        "Levels: no pad, the board gives at most 3 dBm, its gain is at most 6 dB above the highest "
        "gain limit; receiver unharmed up to what its profile says less a reserve of 6 dB, linear "
        "up to what its profile says\n",
        "over-voltage trip at (not set)",
        "Reference unit: none\n",
        "Caution: no pad: ",
        "Caution: no voltage-trip: ",
        "Caution: no day of the correction: ",
        "Caution: no reference unit: ",
    };
    struct bench_file f = {0};
    struct text words = {0};

    (void)state;
    bench_take(&f, BENCH_SHORT);
    words_of(&f, &words);
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++)
        assert_holds(words.data, wanted[i]);
    assert_null(strstr(words.data, "Caution: the reserve"));
    assert_null(strstr(words.data, "Caution: a sweep without"));
    f.levels.reserve_db = 5.9;
    f.correction.required = false;
    f.streak = 0;
    text_reset(&words);
    words_of(&f, &words);
    assert_holds(words.data, "Caution: the reserve is below 6 dB");
    assert_holds(words.data, "Caution: a sweep without calibration goes unseen");
    assert_holds(words.data, "Caution: a streak of the same failure");
    assert_null(strstr(words.data, "Streak: "));
    text_clear(&words);
    bench_file_clear(&f);
}

/* A folder, a person, and words that would turn a terminal round. */
static void test_without_links(void **state)
{
    struct bench_file f = {0};
    struct text words = {0};
    char *folder =
        profile_with(BENCH_SHORT, "<analyser profile=\"a.xml\" port=\"emulated:analyser?seed=7\"",
                     "<analyser port=\"folder:/x/saved\"");
    char *manual = profile_with(folder, "<supply profile=\"s.xml\" port=\"emulated:supply\"",
                                "<supply port=\"manual:\"");

    (void)state;
    bench_take_with(&f, manual, "label=\"B\"", "label=\"B&#x202e;C\"");
    words_of(&f, &words);
    assert_holds(words.data, "Analyser: sweeps that the instrument's own program saves into "
                             "/x/saved, whatever their names\n");
    assert_holds(words.data, "Supply: a person sets and confirms each bias\n");
    assert_holds(words.data, "Caution: a manual supply: ");
    assert_holds(words.data, "Caution: no layout: ");
    assert_null(strstr(words.data, "Caution: no voltage-trip"));
    assert_null(strstr(words.data, "\xe2\x80\xae"));
    assert_holds(words.data, "Bench: B\xef\xbf\xbd");
    text_clear(&words);
    bench_file_clear(&f);
    free(folder);
    free(manual);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_whole),
        cmocka_unit_test(test_cautions),
        cmocka_unit_test(test_without_links),
    };
    int failed;

    xml_start();
    failed = cmocka_run_group_tests(tests, NULL, NULL);
    xml_end();
    return failed;
}
