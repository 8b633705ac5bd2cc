/* What every emulated instrument does alike: messages, common commands (IEEE 488.2 chapters 10 and
 * 11, from memory), numbers with bounds, errors by class. */
#include "drivers/emulator.h"

#include "tests/emulator_check.h"

static int start(void **state)
{
    static struct emulator bench;
    const struct emulator_settings settings = {.seed = 7};

    emulator_start(&bench, &settings);
    *state = &bench;
    return 0;
}

static int end(void **state)
{
    emulator_clear(*state);
    return 0;
}

/* Reason: identity has four fields; another query behind it in one message is -440. */
static void identity(void **state)
{
    struct emulator *bench = *state;

    assert_answer(&bench->analyser, "*IDN?\n", "gainsieve,emulated analyser,E00007,1\n");
    assert_answer(&bench->supply, "*idn?\r\n", "gainsieve,emulated supply,E00007,1\n");
    assert_answer(&bench->supply, "*CLS;*IDN?;*TST?\n", "gainsieve,emulated supply,E00007,1\n");
    assert_answer(&bench->supply, "SYST:ERR?\n",
                  "-440,\"Query UNTERMINATED after indefinite response\"\n");
    assert_answer(&bench->supply, "*TST?;*IDN?\n", "0;gainsieve,emulated supply,E00007,1\n");
    arm(bench, "other-serial");
    assert_answer(&bench->supply, "*IDN?\n", "gainsieve,emulated supply,E50007,1\n");
}

/* Reason: events by class of error, power on after start, each read once; the two masks hold what
 * they are given, which a controller uses to find its place again. */
static void status(void **state)
{
    struct emulator *bench = *state;
    struct emulator_instrument *i = &bench->supply;

    assert_answer(i, "*ESR?\n", "128\n");
    assert_answer(i, "*ESR?\n", "0\n");
    assert_answer(i, "NOPE\nVOLT 99\n*IDN?;*TST?\n", "gainsieve,emulated supply,E00007,1\n");
    assert_answer(i, "*STB?\n", "4\n");
    assert_answer(i, "*ESE 32;*SRE 255\n", "");
    assert_answer(i, "*ESE?;*SRE?;*STB?\n", "32;191;100\n");
    assert_answer(i, "*ESR?\n", "52\n"); /* command 32, execution 16, query 4 */
    assert_answer(i, "*CLS\n", "");
    assert_answer(i, "*STB?;*ESR?\n", "0;0\n");
    assert_answer(i, "*OPC\n", "");
    assert_answer(i, "*ESR?\n", "1\n");
    assert_answer(i, "*WAI\n*OPC?\n", "1\n");
    assert_error(i, "*ESE 256\n", "-222,\"Data out of range\"");
    assert_error(i, "*ESE\n", "-109,\"Missing parameter\"");
    assert_error(i, "*ESE ON\n", "-104,\"Data type error\"");
    assert_answer(i, "*ESE?\n", "32\n");
    arm(bench, "supply.power-on@*TST?");
    assert_answer(i, "OUTP 1\n*TST?\n", "0\n");
    assert_answer(i, "OUTP?;*ESR?\n", "0;128\n");
}

/* Reason: pieces of a message may come one by one, and several messages in one piece. */
static void pieces(void **state)
{
    struct emulator *bench = *state;
    const char *message = "VOLT 1.8\nVOLT?\n";
    struct text got = {0};

    for (size_t k = 0; message[k]; k++) {
        (void)converse(&bench->supply, message + k, 1, 0, &got);
        assert_string_equal(text_words(&got), message[k + 1] ? "" : "+1.8E+00\n");
    }
    assert_answer(&bench->supply, "\n\r\n \n*TST?\n*TST?;*TST?\n", "0\n0;0\n");
    text_clear(&got);
}

/* Reason: a number has a range, a unit, and words for its bounds. */
static void numbers(void **state)
{
    struct emulator *bench = *state;
    struct emulator_instrument *i = &bench->supply;

    assert_answer(i, "VOLT 2400 mV;:VOLT?\n", "+2.4E+00\n");
    assert_answer(i, "VOLT MAX;:VOLT?\n", "+3.0E+01\n");
    assert_answer(i, "VOLT? MIN;VOLT? MAXIMUM;VOLT? DEF\n", "+0.0E+00;+3.0E+01;+0.0E+00\n");
    assert_error(i, "VOLT 30.001\n", "-222,\"Data out of range\"");
    assert_error(i, "VOLT -0.001\n", "-222,\"Data out of range\"");
    assert_error(i, "VOLT 1 HZ\n", "-131,\"Invalid suffix\"");
    assert_error(i, "VOLT 1,2\n", "-108,\"Parameter not allowed\"");
    assert_error(i, "VOLT\n", "-109,\"Missing parameter\"");
    assert_error(i, "VOLT? 3\n", "-224,\"Illegal parameter value\"");
    assert_error(i, "SOUR2:VOLT 3\n", "-114,\"Header suffix out of range\"");
    assert_answer(i, "VOLT?\n", "+3.0E+01\n");
    assert_answer(&bench->analyser, "SWE:POIN 200.6;POIN?\n", "201\n");
}

/* Reason: what is no header here is -113, an error of the message ends it, and what was before it
 * holds; forms that do not exist do not either. */
static void undefined(void **state)
{
    struct emulator *bench = *state;
    struct emulator_instrument *i = &bench->supply;

    assert_error(i, "VOLTS 1\n", "-113,\"Undefined header\"");
    assert_error(i, "*IDN\n", "-113,\"Undefined header\"");
    assert_error(i, "*RST?\n", "-113,\"Undefined header\"");
    assert_error(i, "MEAS:VOLT\n", "-113,\"Undefined header\"");
    assert_error(i, "*RCL 1\n", "-113,\"Undefined header\"");
    assert_error(i, "@\n", "-101,\"Invalid character\"");
    assert_error(i, "VOLT 5;@;VOLT 6\n", "-101,\"Invalid character\"");
    assert_answer(i, "VOLT?\n", "+5.0E+00\n");
    /* The real rule, which surprises: the path is kept. */
    assert_error(i, "VOLT:PROT 5;VOLT 6\n", "-113,\"Undefined header\"");
    assert_answer(i, "VOLT:PROT 7;:VOLT 6;:VOLT?\n", "+6.0E+00\n");
}

/* Reason: the queue has 16 places; the faults that put errors in it. */
static void queue(void **state)
{
    struct emulator *bench = *state;
    struct emulator_instrument *i = &bench->supply;

    assert_answer(i, "*CLS\n", "");
    for (unsigned k = 0; k < 20; k++)
        assert_answer(i, "NOPE\n", "");
    for (unsigned k = 0; k < 15; k++)
        assert_answer(i, "SYST:ERR?\n", "-113,\"Undefined header\"\n");
    assert_answer(i, "SYST:ERR:NEXT?\n", "-350,\"Queue overflow\"\n");
    assert_answer(i, "SYST:ERR?\n", "0,\"No error\"\n");
    arm(bench, "supply.error=42@*TST? supply.errors-for-ever@OUTP?");
    assert_answer(i, "*TST?\n", "0\n");
    assert_answer(i, "SYST:ERR?\n", "+42,\"\"\n");
    assert_answer(i, "SYST:ERR?\n", "0,\"No error\"\n");
    assert_answer(i, "OUTP?\n", "0\n");
    for (unsigned k = 0; k < 40; k++)
        assert_answer(i, "SYST:ERR?\n", "-240,\"Hardware error\"\n");
}

/* Reason: a message without an end must not fill the memory, and is not executed in part. */
static void too_long(void **state)
{
    struct emulator *bench = *state;
    char *blanks = test_malloc(5001);

    memset(blanks, ' ', 5000);
    blanks[5000] = '\0';
    assert_answer(&bench->supply, "*CLS\nVOLT 5;", "");
    assert_answer(&bench->supply, blanks, "");
    assert_answer(&bench->supply, "\nSYST:ERR?\n", "-363,\"Input buffer overrun\"\n");
    assert_answer(&bench->supply, "VOLT?\n", "+0.0E+00\n");
    test_free(blanks);
}

/* Reason: *OPC? is what a controller trusts; each way in which it lies. */
static void complete(void **state)
{
    struct emulator *bench = *state;

    arm(bench, "opc-never@1 opc-plus@2 opc-decimal@3 opc-zero@4");
    assert_answer(&bench->supply, "*OPC?\n", "");
    assert_answer(&bench->supply, "*OPC?\n", "+1\n");
    assert_answer(&bench->supply, "*OPC?\n", "1.0\n");
    assert_answer(&bench->supply, "*OPC?\n", "0\n");
    assert_answer(&bench->supply, "*OPC?\n", "1\n");
}

/* Reason: identities that a report must bear; a deaf instrument answers nothing until the next
 * connection. */
static void odd_ones(void **state)
{
    struct emulator *bench = *state;
    struct text got = {0};

    arm(bench, "long-identity@1 strange-identity@2 deaf@3");
    (void)converse(&bench->fixture, "*TST?\n", 6, 0, &got);
    (void)converse(&bench->supply, "*IDN?\n", 6, 0, &got);
    assert_true(got.length > 4000);
    (void)converse(&bench->supply, "*IDN?\n", 6, 0, &got);
    assert_holds(got.data, "<script>");
    assert_non_null(strchr(got.data, 0x1b));
    (void)converse(&bench->supply, "*TST?\n", 6, 0, &got);
    assert_int_equal(got.length, 0);
    assert_true(bench->supply.deaf);
    text_clear(&got);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, start, end)

int main(void)
{
    const struct CMUnitTest tests[] = {TEST(identity), TEST(status),    TEST(pieces),
                                       TEST(numbers),  TEST(undefined), TEST(queue),
                                       TEST(too_long), TEST(complete),  TEST(odd_ones)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
