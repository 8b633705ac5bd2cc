#include "drivers/base/value.h"

#include <stdlib.h>

#include "tests/comma_locale.h"

/* The same value in any of its units is the same double. */
static void test_units_agree(void **state)
{
    static const struct {
        const char *text;
        enum unit unit;
        double want;
    } cases[] = {
        {"0.1693 GHz", UNIT_HZ, 169300000},
        {"169.3 MHz", UNIT_HZ, 169300000},
        {"169300 kHz", UNIT_HZ, 169300000},
        {"169300000 Hz", UNIT_HZ, 169300000},
        {"1.693e2MHz", UNIT_HZ, 169300000},
        {"2.40 V", UNIT_V, 2.4},
        {"2400 mV", UNIT_V, 2.4},
        {"10 mV", UNIT_V, 0.01},
        {"12 mA", UNIT_MA, 12},
        {"0.012 A", UNIT_MA, 12},
        {"500 uA", UNIT_MA, 0.5},
        {"-16 dB", UNIT_DB, -16},
        {"3 dB/V", UNIT_DB_PER_V, 3},
        {"50 ohm", UNIT_OHM, 50},
        {"-175 deg", UNIT_DEG, -175},
        {"5 ns", UNIT_NS, 5},
        {"5000 ps", UNIT_NS, 5},
        {"0.005 us", UNIT_NS, 5},
        {"0.05", UNIT_ONE, 0.05},
        {"1e3 kHz", UNIT_HZ, 1e6},
        {"12 mV", UNIT_V, 0.012},
        {"5   dB", UNIT_DB, 5},
        {"+.5dB", UNIT_DB, 0.5},
        {"4.35 GHz", UNIT_HZ, 4350000000},
        {"0.3 GHz", UNIT_HZ, 300000000},
        {"1.1 mV", UNIT_V, 0.0011},
        {"3 s", UNIT_S, 3},
        {"20 ms", UNIT_S, 0.02},
        {"0.5s", UNIT_S, 0.5},
        {"-20 dBm", UNIT_DBM, -20},
        {"+7dBm", UNIT_DBM, 7},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double x = NAN;

        assert_true(value_parse(cases[i].text, cases[i].unit, &x));
        assert_close(x, cases[i].want, 0);
    }
}

/* A missing, a foreign or a doubled unit is never guessed. */
static void test_refused(void **state)
{
    static const struct {
        const char *text;
        enum unit unit;
    } cases[] = {
        {"22", UNIT_DB},
        {"22 dBm", UNIT_DB},
        {"22 db", UNIT_DB},
        {"dB", UNIT_DB},
        {"160 MHz MHz", UNIT_HZ},
        {"160 mhz", UNIT_HZ},
        {"160", UNIT_HZ},
        {"", UNIT_HZ},
        {"0.05 dB", UNIT_ONE},
        {"3 V", UNIT_DB_PER_V},
        {"3 dB", UNIT_DB_PER_V},
        {"1,5 V", UNIT_V},
        {"2 kV", UNIT_V},
        {"5 s", UNIT_NS},
        {" 5 ns", UNIT_NS},
        {"inf dB", UNIT_DB},
        {"5 ", UNIT_ONE},
        {"5 dB ", UNIT_DB},
        {"5\tdB", UNIT_DB},
        {"5 dB dB", UNIT_DB},
        {"5 V mV", UNIT_V},
        {"5 5 V", UNIT_V},
        {"0x10 V", UNIT_V},
        {"1e V", UNIT_V},
        {"1e308 GHz", UNIT_HZ},
        {"nan", UNIT_ONE},
        {"5 1", UNIT_ONE},
        {"5 \xC2\xB5s", UNIT_NS},
        {"5", UNIT_S},
        {"5 ns", UNIT_S},
        {"5 S", UNIT_S},
        {"5 us", UNIT_S},
        {"5 min", UNIT_S},
        {"5 dB", UNIT_DBM},
        {"5 DBM", UNIT_DBM},
        {"5 W", UNIT_DBM},
        {"5", UNIT_DBM},
        {"5 m s", UNIT_S},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double x = 42;

        if (value_parse(cases[i].text, cases[i].unit, &x)) {
            print_error("\"%s\" was taken\n", cases[i].text);
            fail();
        }
        assert_close(x, 42, 0);
    }
}

/* Words read well and read back. */
static void test_words(void **state)
{
    static const struct {
        double x;
        enum unit unit;
        const char *want;
    } cases[] = {
        {169e6, UNIT_HZ, "169 MHz"}, {169.3e6, UNIT_HZ, "169.3 MHz"},
        {1.5e9, UNIT_HZ, "1.5 GHz"}, {2000, UNIT_HZ, "2 kHz"},
        {0, UNIT_HZ, "0 Hz"},        {2.4, UNIT_V, "2.4 V"},
        {0.01, UNIT_V, "10 mV"},     {-0.5, UNIT_V, "-500 mV"},
        {12, UNIT_MA, "12 mA"},      {0.05, UNIT_MA, "0.05 mA"},
        {-16, UNIT_DB, "-16 dB"},    {0.006, UNIT_ONE, "0.006"},
        {13, UNIT_NS, "13 ns"},      {50, UNIT_OHM, "50 ohm"},
        {3, UNIT_S, "3 s"},          {0.02, UNIT_S, "20 ms"},
        {0, UNIT_S, "0 s"},          {90, UNIT_S, "90 s"},
        {-20, UNIT_DBM, "-20 dBm"},  {0.05, UNIT_DBM, "0.05 dBm"},
    };
    char out[VALUE_TEXT];

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double back = NAN;

        assert_string_equal(value_words(cases[i].x, cases[i].unit, out), cases[i].want);
        assert_true(value_parse(out, cases[i].unit, &back));
        assert_close(back, cases[i].x, 0);
    }
}

/* Decimals of few digits, as people write them, read back in whatever unit was chosen. */
static void test_nice_words_read_back(void **state)
{
    static const enum unit chosen[] = {UNIT_HZ, UNIT_V, UNIT_S};
    char out[VALUE_TEXT], digits[32];

    (void)state;
    for (int mantissa = 1; mantissa < 2000; mantissa += 7) {
        for (int exponent = -12; exponent <= 12; exponent++) {
            double x, back = NAN;

            (void)snprintf(digits, sizeof digits, "%de%d", mantissa, exponent);
            x = strtod(digits, NULL);
            for (size_t i = 0; i < sizeof chosen / sizeof *chosen; i++) {
                (void)value_words(x, chosen[i], out);
                if (!value_parse(out, chosen[i], &back) || back != x)
                    print_error("%s as \"%s\"\n", digits, out);
                assert_close(back, x, 0);
                /* What was written with four digits is not shown with sixteen. */
                assert_true(strlen(out) < 24);
            }
        }
    }
}

/* Any bit pattern, from the smallest number to the largest, fits and reads back. */
static void test_any_bits_read_back(void **state)
{
    uint64_t seed = 3;
    char out[VALUE_TEXT];

    (void)state;
    print_message("seed %u\n", (unsigned)seed);
    for (int i = 0; i < 20000; i++) {
        enum unit unit = (enum unit)(i % (UNIT_DBM + 1));
        double x, back = NAN;

        seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
        memcpy(&x, &seed, sizeof x);
        if (!isfinite(x)) continue;
        assert_true(strlen(value_words(x, unit, out)) < VALUE_TEXT);
        if (!value_parse(out, unit, &back)) print_error("%.17g as \"%s\"\n", x, out);
        assert_close(back, x, 0);
        assert_true(strlen(value_rounded(x, unit, out)) < VALUE_TEXT);
    }
}

/* Any double in any unit reads back from its words. */
static void test_words_read_back(void **state)
{
    unsigned seed = 9;
    char out[VALUE_TEXT];

    (void)state;
    print_message("seed %u\n", seed);
    for (int i = 0; i < 20000; i++) {
        enum unit unit = (enum unit)(i % (UNIT_DBM + 1));
        double x, back = NAN;

        seed = seed * 1664525 + 1013904223;
        x = ((double)seed - 2147483648.0) * pow(10, i % 13 - 8) / 7;
        (void)value_words(x, unit, out);
        if (!value_parse(out, unit, &back) || back != x) print_error("%.17g as \"%s\"\n", x, out);
        assert_close(back, x, 0);
    }
}

/* Rounded to the digits of the trade. */
static void test_rounded(void **state)
{
    char out[VALUE_TEXT];

    (void)state;
    assert_string_equal(value_rounded(21.31749, UNIT_DB, out), "21.32 dB");
    assert_string_equal(value_rounded(-0.001, UNIT_DB, out), "0.00 dB");
    assert_string_equal(value_rounded(169123456.4, UNIT_HZ, out), "169.123456 MHz");
    assert_string_equal(value_rounded(2.40004, UNIT_V, out), "2.4 V");
    assert_string_equal(value_rounded(0.012345, UNIT_ONE, out), "0.0123");
    assert_string_equal(value_rounded(1.23456, UNIT_S, out), "1.235 s");
    assert_string_equal(value_rounded(0.0204, UNIT_S, out), "20 ms");
    assert_string_equal(value_rounded(-20.004, UNIT_DBM, out), "-20.00 dBm");
    assert_true(strlen(value_rounded(1e300, UNIT_DB, out)) < VALUE_TEXT);
    assert_holds(value_rounded(NAN, UNIT_DB, out), "nan");
}

/* Unit names are those of results.csv. */
static void test_names(void **state)
{
    (void)state;
    assert_string_equal(unit_name(UNIT_ONE), "1");
    assert_string_equal(unit_name(UNIT_DB_PER_V), "dB/V");
    assert_string_equal(unit_name(UNIT_NS), "ns");
    assert_string_equal(unit_name(UNIT_MA), "mA");
    assert_string_equal(unit_name(UNIT_S), "s");
    assert_string_equal(unit_name(UNIT_DBM), "dBm");
}

static void check_with_comma(void)
{
    char out[VALUE_TEXT];
    double x = 0;

    assert_true(value_parse("0.1693 GHz", UNIT_HZ, &x));
    assert_close(x, 169300000, 0);
    assert_false(value_parse("0,1693 GHz", UNIT_HZ, &x));
    assert_string_equal(value_words(169.3e6, UNIT_HZ, out), "169.3 MHz");
    assert_string_equal(value_rounded(21.31749, UNIT_DB, out), "21.32 dB");
    assert_string_equal(value_rounded(2.40004, UNIT_V, out), "2.4 V");
}

/* A locale with a decimal comma changes nothing. */
static void test_comma_locale(void **state)
{
    comma_locale_run(*state, check_with_comma);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_units_agree),
        cmocka_unit_test(test_refused),
        cmocka_unit_test(test_words),
        cmocka_unit_test(test_words_read_back),
        cmocka_unit_test(test_rounded),
        cmocka_unit_test(test_names),
        cmocka_unit_test(test_nice_words_read_back),
        cmocka_unit_test(test_any_bits_read_back),
        cmocka_unit_test_setup_teardown(test_comma_locale, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
