/* Syntax of program messages. SCPI-1999 volume 1, 6.2 (as quoted by others), IEEE 488.2 chapter 7
 * (from memory). */
#include "drivers/emulator_scpi.h"

#include "tests/check.h"

static struct emulator_datum datum(const char *words)
{
    return (struct emulator_datum){words, strlen(words)};
}

/* Reason: short or long form and nothing between, whatever the case: SYST and SYSTEM pass, SYSTE is
 * an error (SCPI-1999 volume 1, 6.2.1). */
static void short_or_long(void **state)
{
    static const char *const good[] = {"SYST:ERR", "SYSTEM:ERROR", "syst:Error", "SYST:ERR:NEXT",
                                       "system:err:next"};
    static const char *const bad[] = {
        "SYSTE:ERR",          "SYS:ERR", "SYST",        "SYST:ERRO", "SYST:ERR:NEX",
        "SYST:ERR:NEXT:NEXT", "ERR",     "SYSTEMS:ERR", "SYST1:ERR", ""};

    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        assert_int_equal(emulator_match("SYSTem:ERRor[:NEXT]", good[i]), 0);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_int_equal(emulator_match("SYSTem:ERRor[:NEXT]", bad[i]), -113);
}

/* Reason: optional nodes anywhere, alternatives, and the suffix that is 1 when it is missing
 * (SCPI-1999 volume 1, 6.2.5). */
static void optional_nodes(void **state)
{
    const char *volt = "[SOURce#:]VOLTage[:LEVel][:IMMediate][:AMPLitude]";
    static const char *const good[] = {
        "VOLT",         "SOUR:VOLT",     "SOUR1:VOLT:AMPL",
        "VOLT:LEV",     "VOLT:IMM:AMPL", "SOURCE:VOLTAGE:LEVEL:IMMEDIATE:AMPLITUDE",
        "VOLT:LEV:AMPL"};
    static const char *const bad[] = {"VOLT:AMPL:LEV", "SOUR", "SOUR:SOUR:VOLT", "VOLT1",
                                      "VOLT:PROT"};

    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        assert_int_equal(emulator_match(volt, good[i]), 0);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_int_equal(emulator_match(volt, bad[i]), -113);
    assert_int_equal(emulator_match(volt, "SOUR2:VOLT"), -114);
    assert_int_equal(emulator_match(volt, "SOUR0:VOLT"), -114);
    assert_int_equal(emulator_match("TRACe|DATA[:DATA]", "DATA"), 0);
    assert_int_equal(emulator_match("TRACe|DATA[:DATA]", "DATA:DATA"), 0);
    assert_int_equal(emulator_match("TRACe|DATA[:DATA]", "TRAC:DATA"), 0);
    assert_int_equal(emulator_match("TRACe|DATA[:DATA]", "DAT"), -113);
    assert_int_equal(emulator_match("*IDN", "*idn"), 0);
}

/* Headers and data of all units of a message, or the number of its first error. */
static int take_apart(const char *message, char *out, size_t room)
{
    struct emulator_message m = {.at = message, .end = message + strlen(message)};
    struct emulator_unit unit;
    bool there;
    int number;

    out[0] = '\0';
    for (;;) {
        size_t n = strlen(out);

        number = emulator_next_unit(&m, &unit, &there);
        if (number || !there) return number;
        n += (size_t)snprintf(out + n, room - n, "[%s%s", unit.header, unit.is_query ? "?" : "");
        for (unsigned i = 0; i < unit.n_data; i++)
            n += (size_t)snprintf(out + n, room - n, "|%.*s", (int)unit.data[i].length,
                                  unit.data[i].at);
        (void)snprintf(out + n, room - n, "]");
    }
}

/* Reason: units, white space, data, strings; and the path that a semicolon keeps, which a common
 * command does not change (SCPI-1999 volume 1, 6.2.4, from memory). */
static void units(void **state)
{
    static const char *const rows[][2] = {
        {"", ""},
        {" \t\r", ""},
        {"*IDN?", "[*IDN?]"},
        {":SENS:FREQ:STAR 1E6", "[SENS:FREQ:STAR|1E6]"},
        {"SENS:FREQ:STAR 1E6;STOP 2E6\r", "[SENS:FREQ:STAR|1E6][SENS:FREQ:STOP|2E6]"},
        {"SENS:FREQ:STAR 1;*OPC;STOP 2", "[SENS:FREQ:STAR|1][*OPC][SENS:FREQ:STOP|2]"},
        {"SENS:FREQ:STAR 1;:OUTP 1 ; OUTP?", "[SENS:FREQ:STAR|1][OUTP|1][OUTP?]"},
        {"FORM:DATA  REAL , 32", "[FORM:DATA|REAL|32]"},
        {"SENS:FUNC \"a;b,c\"\"d\"", "[SENS:FUNC|\"a;b,c\"\"d\"]"},
        {"TRAC:DATA? FREQ", "[TRAC:DATA?|FREQ]"},
    };
    char got[256];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_int_equal(take_apart(rows[i][0], got, sizeof got), 0);
        assert_string_equal(got, rows[i][1]);
    }
}

/* Reason: each thing that is no message has its number (SCPI-1999 volume 2, 21.8.9); "@" is what a
 * controller spoils a half-sent message with. */
static void no_messages(void **state)
{
    static const struct {
        const char *message;
        int number;
    } rows[] = {{"@", -101},      {"SOUR:POW -2@", 0},     {"\xff", -101},
                {"OUTP,1", -111}, {"OUTP 1,", -102},       {"OUTP 1,,2", -102},
                {"A::B", -102},   {"OUTP:", -102},         {";OUTP", -101},
                {"OUTP;", -102},  {"*IDN:X?", -102},       {"F \"ab", -151},
                {"F 'ab", -151},  {"F #13abc", -168},      {"F 1,2,3,4,5", -108},
                {"F \xe9", -101}, {"ABCDEFGHIJKLM", -112}, {"ABCDEFGHIJKL", 0},
                {"OUTP@ 1", -101}};
    char got[256];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        assert_int_equal(take_apart(rows[i].message, got, sizeof got), rows[i].number);
    /* A path that goes deeper with every unit does not leave its room. */
    {
        struct emulator_message m = {0};
        struct emulator_unit unit;
        char deep[4000] = "";
        bool there = true;
        int number = 0;

        for (unsigned i = 0; i < 300; i++)
            (void)strcat(deep, "ABCDEFGH:A;");
        m.at = deep;
        m.end = deep + strlen(deep);
        while (number == 0 && there)
            number = emulator_next_unit(&m, &unit, &there);
        assert_int_equal(number, -112);
    }
}

/* Reason: M is milli but in MHZ, MA is mega but in MA of amperes (IEEE 488.2, 7.7.3, from memory).
 */
static void numbers(void **state)
{
    static const struct {
        const char *words, *unit;
        int number;
        double x;
    } rows[] = {{"1E6", "HZ", 0, 1e6},       {"+1.5", "", 0, 1.5},      {".5", "", 0, 0.5},
                {"150 MHZ", "HZ", 0, 150e6}, {"1.5kHz", "HZ", 0, 1500}, {"2MAHZ", "HZ", 0, 2e6},
                {"100 MV", "V", 0, 0.1},     {"20MA", "A", 0, 0.02},    {"-20 DBM", "DBM", 0, -20},
                {"1 V", "A", -131, 0},       {"1 V", "", -138, 0},      {"ON", "", -104, 0},
                {"1.2.3", "", -103, 0},      {"0x10", "", -138, 0},     {"1e", "", -138, 0},
                {"\"1\"", "", -104, 0}};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double x = 0;

        assert_int_equal(emulator_number(datum(rows[i].words), rows[i].unit, &x), rows[i].number);
        assert_close(x, rows[i].x, 1e-12 * fabs(rows[i].x));
    }
}

/* Reason: ON, OFF and numbers, rounded (SCPI-1999 volume 1, 7.3); strings in both quotes. */
static void switches_and_strings(void **state)
{
    static const struct {
        const char *words;
        int number;
        bool on;
    } rows[] = {{"ON", 0, true},   {"off", 0, false}, {"1", 0, true},         {"0", 0, false},
                {"0.4", 0, false}, {"-2", 0, true},   {"MAYBE", -141, false}, {"'1'", -104, false}};
    char out[8];

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        bool on = false;

        assert_int_equal(emulator_boolean(datum(rows[i].words), &on), rows[i].number);
        assert_int_equal(on, rows[i].on);
    }
    assert_int_equal(emulator_string(datum("\"a\"\"b\""), out, sizeof out), 0);
    assert_string_equal(out, "a\"b");
    assert_int_equal(emulator_string(datum("'a\"b'"), out, sizeof out), 0);
    assert_string_equal(out, "a\"b");
    assert_int_equal(emulator_string(datum("\"a\" \"b\""), out, sizeof out), -151);
    assert_int_equal(emulator_string(datum("\"\"\""), out, sizeof out), -151);
    assert_int_equal(emulator_string(datum("\""), out, sizeof out), -151);
    assert_int_equal(emulator_string(datum("\"12345678\""), out, sizeof out), -224);
    assert_int_equal(emulator_string(datum("abc"), out, sizeof out), -104);
    assert_true(emulator_is_word(datum("min"), "MINimum"));
    assert_false(emulator_is_word(datum("mini"), "MINimum"));
}

/* Reason: first in, first out; what does not fit turns the last entry into -350 (SCPI-1999 volume
 * 2, 21.8.1); a maker's own number may have no text. */
static void error_queue(void **state)
{
    struct emulator_errors errors = {0};
    struct text out = {0};

    (void)state;
    emulator_error_add(&errors, -113);
    emulator_error_add(&errors, 42);
    emulator_error_take(&errors, &out);
    emulator_error_take(&errors, &out);
    emulator_error_take(&errors, &out);
    assert_string_equal(text_words(&out), "-113,\"Undefined header\"+42,\"\"0,\"No error\"");
    for (int i = 0; i < 20; i++)
        emulator_error_add(&errors, -222);
    for (int i = 1; i <= 16; i++) {
        text_reset(&out);
        emulator_error_take(&errors, &out);
        assert_string_equal(text_words(&out),
                            i < 16 ? "-222,\"Data out of range\"" : "-350,\"Queue overflow\"");
    }
    assert_int_equal(errors.n, 0);
    text_clear(&out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(short_or_long), cmocka_unit_test(optional_nodes),
        cmocka_unit_test(units),         cmocka_unit_test(no_messages),
        cmocka_unit_test(numbers),       cmocka_unit_test(switches_and_strings),
        cmocka_unit_test(error_queue)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
