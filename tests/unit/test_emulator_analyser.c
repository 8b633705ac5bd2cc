/* The emulated analyser: settings, sweeps, traces as bytes, and its faults. */
#include "drivers/base/memory.h"
#include "drivers/emulator.h"

#include "tests/emulator_check.h"

static struct emulator bench;
static struct emulator_instrument *const it = &bench.analyser;

static int begin(bool takes_time)
{
    const struct emulator_settings settings = {.seed = 1, .takes_time = takes_time};

    emulator_start(&bench, &settings);
    plug(&bench, "KW000101");
    assert_answer(it, "SENS:FREQ:STAR 150 MHZ;STOP 190E6;:SENS:SWE:POIN 5\nOUTP 1\n", "");
    return 0;
}

static int start(void **state)
{
    (void)state;
    return begin(false);
}

static int start_slow(void **state)
{
    (void)state;
    return begin(true);
}

static int end(void **state)
{
    (void)state;
    emulator_clear(&bench);
    return 0;
}

/* Reason: every header of the shipped profile and its neighbours, set and read back, byte by byte.
 */
static void settings(void **state)
{
    (void)state;
    assert_answer(it, "FREQ:STAR?;STOP?\n", "+1.5E+08;+1.9E+08\n");
    assert_answer(it, ":SENSE1:SWEEP:POINTS?\n", "5\n");
    assert_answer(it, "SENS:BAND 300;:SENS:BWID:RES?\n", "+3.0E+02\n");
    assert_answer(it, "SENS:AVER:COUN 4;STAT ON;STAT?;COUN?\n", "1;4\n");
    assert_answer(it, "SENS:AVER 0;AVER?\n", "0\n");
    assert_answer(it, "SENS:CORR:STAT?\n", "1\n");
    assert_answer(it, "SOUR:POW -20.00;POW?\n", "-2.0E+01\n");
    assert_answer(it, "OUTP:STAT?\n", "1\n");
    assert_answer(it, "FORM?;FORM REAL,32;FORM?;FORM:DATA REAL;:FORM:DATA?\n",
                  "ASC,0;REAL,32;REAL,64\n");
    assert_answer(it, "FORM:BORD?;BORD SWAP;BORD?\n", "NORM;SWAP\n");
    assert_answer(it, "INIT:CONT?;CONT ON;CONT?;CONT OFF\n", "0;1\n");
    assert_answer(it, "SENS:FUNC \"XFR:POW:S21\";FUNC?\n", "\"XFR:POW:S21\"\n");
    assert_answer(it, "SENS:FUNC:ON 'XFREQUENCY:POWER:S11';:SENS:FUNC?\n", "\"XFR:POW:S11\"\n");
    assert_answer(it, "STAT:OPER:COND?;:STAT:QUES:COND?\n", "0;0\n");
    assert_error(it, "SENS:SWE:POIN 1602\n", "-222,\"Data out of range\"");
    assert_error(it, "SENS:SWE:POIN 1\n", "-222,\"Data out of range\"");
    assert_error(it, "SENS:FUNC \"XFR:POW:S31\"\n", "-224,\"Illegal parameter value\"");
    assert_error(it, "FORM REAL,16\n", "-224,\"Illegal parameter value\"");
    assert_error(it, "FORM INT,32\n", "-224,\"Illegal parameter value\"");
    assert_error(it, "FORM:BORD 1\n", "-224,\"Illegal parameter value\"");
    assert_error(it, "TRAC:DATA? TIME\n", "-224,\"Illegal parameter value\"");
    assert_error(it, "TRAC:DATA?\n", "-109,\"Missing parameter\"");
}

/* Reason: preset drops the correction and switches off (SCPI-1999 *RST, from memory), recall brings
 * the correction back. */
static void preset(void **state)
{
    (void)state;
    assert_answer(it, "FORM REAL,32\n*RST\n", "");
    assert_answer(it, "OUTP?;SENS:CORR:STAT?\n", "0;0\n");
    assert_answer(it, "FORM?;:SWE:POIN?\n", "ASC,0;201\n");
    assert_answer(it, "*RCL 1\nSENS:CORR:STAT?\n", "1\n");
    assert_error(it, "*RCL 10\n", "-222,\"Data out of range\"");
}

/* Reason: the axis in each format; 150 MHz is 4D 0F 0D 18 as a 32-bit real, 160 MHz 4D 18 96 80,
 * 170 MHz 4D 22 1F E8, 180 MHz 4D 2B A9 50, 190 MHz 4D 35 32 B8 (by hand: 150e6 = 1.1175870895 2^27
 * and so on). */
static void axis(void **state)
{
    struct text got = {0};

    (void)state;
    assert_answer(it, "TRAC:DATA? FREQ\n", "+1.5E+08,+1.6E+08,+1.7E+08,+1.8E+08,+1.9E+08\n");
    (void)converse(it, "FORM REAL,32\nDATA? FREQUENCY\n", 29, 0, &got);
    assert_int_equal(got.length, 4 + 20 + 1);
    assert_memory_equal(got.data,
                        "#220\x4d\x0f\x0d\x18\x4d\x18\x96\x80\x4d\x22\x1f\xe8"
                        "\x4d\x2b\xa9\x50\x4d\x35\x32\xb8\n",
                        25);
    (void)converse(it, "FORM:BORD SWAP\nTRAC? FREQ\n", 26, 0, &got);
    assert_memory_equal(got.data, "#220\x18\x0d\x0f\x4d", 8);
    text_clear(&got);
}

/* Reason: pairs of the chosen parameter of the last sweep, the same in every format to its
 * precision; nothing before the first sweep, nor after a setting that it was not taken with. */
static void trace(void **state)
{
    struct text got = {0};
    double pairs[10];

    (void)state;
    assert_error(it, "CALC:DATA?\n", "-230,\"Data corrupt or stale\"");
    assert_answer(it, "ABOR\nINIT\n*OPC?\n", "1\n");
    assert_answer(it, "SENS:FUNC \"XFR:POW:S21\"\n", "");
    (void)converse(it, "CALC1:DATA?\n", 12, 0, &got);
    read_list(&got, pairs, 10);
    for (size_t i = 0; i < 5; i++) {
        assert_close(pairs[2 * i], creal(sweep_s(&bench.a.last, i, S21)), 0);
        assert_close(pairs[2 * i + 1], cimag(sweep_s(&bench.a.last, i, S21)), 0);
    }
    (void)converse(it, "FORM REAL,64;:CALC:DATA?\n", 25, 0, &got);
    assert_int_equal(got.length, 4 + 80 + 1);
    assert_memory_equal(got.data, "#280", 4);
    for (size_t i = 0; i < 10; i++) {
        uint64_t bits = 0;
        double x;

        for (size_t k = 0; k < 8; k++)
            bits = bits << 8 | (unsigned char)got.data[4 + 8 * i + k];
        memcpy(&x, &bits, sizeof x);
        assert_close(x, pairs[i], 0);
    }
    (void)converse(it, "CALC:DATA?\n", 11, 0, &got);
    assert_int_equal(got.length, 85);
    assert_answer(it, "SENS:BAND 100\n", "");
    assert_error(it, "CALC:DATA?\n", "-230,\"Data corrupt or stale\"");
    assert_error(it, "FREQ:STAR 1E9;:INIT\n", "-221,\"Settings conflict\"");
    assert_error(it, "INIT:CONT 1;:INIT\n", "-213,\"Init ignored\"");
    text_clear(&got);
}

/* Reason: with time, a sweep of 5 points at 10 Hz and 2 averages lasts a second: *OPC? waits for
 * it, a second INITiate is ignored, reading gives the trace before and -230, ABORt ends it. */
static void time_of_sweeps(void **state)
{
    struct text got = {0};
    bool gone;

    (void)state;
    assert_answer(it, "SENS:BAND 10;:SENS:AVER:COUN 2;STAT 1\n*CLS;INIT\n", "");
    (void)converse(it, "STAT:OPER:COND?\n*OPC?\n", 22, 0.25, &got);
    assert_string_equal(text_words(&got), "8\n");
    assert_close(emulator_take(it, 0.9, &got, &gone), 1, 1e-9);
    (void)emulator_take(it, 1.0, &got, &gone);
    assert_string_equal(text_words(&got), "8\n1\n");
    assert_answer_at(it, 1, "STAT:OPER:COND?\n", "0\n");
    assert_answer_at(it, 2, "INIT;*OPC\nINIT\nSYST:ERR?\n", "-213,\"Init ignored\"\n");
    assert_answer_at(it, 2.1, "*ESR?\n", "16\n");
    (void)converse(it, "CALC:DATA?\n", 11, 2.5, &got);
    assert_true(got.length > 50);
    assert_answer_at(it, 2.6, "SYST:ERR?\n", "-230,\"Data corrupt or stale\"\n");
    assert_answer_at(it, 3.0, "*ESR?\n", "17\n");
    assert_answer_at(it, 4, "INIT;:ABOR;*OPC?\n", "1\n");
    assert_answer_at(it, 4, "CALC:DATA?\n", "");
    arm(&bench, "analyser.opc-at-once");
    assert_answer_at(it, 5, "INIT\n*OPC?\n", "1\n");
    text_clear(&got);
}

/* Reason: each fault that sits in the analyser shows where a controller looks. */
static void faults(void **state)
{
    struct text got = {0};
    double first[10], again[10];

    (void)state;
    arm(&bench, "rounds-points@POIN analyser.overload@STAT:QUES clips-power@POW");
    assert_answer(it, "SENS:SWE:POIN 201;POIN?\n", "200\n");
    assert_answer(it, "STAT:QUES:COND?\n", "8\n");
    assert_answer(it, "SOUR:POW -10;POW?\n", "-2.5E+01\n");
    it->faults = (struct emulator_faults){0};
    assert_answer(it, "SENS:SWE:POIN 5;:INIT\n", "");
    (void)converse(it, "CALC:DATA?\n", 11, 0, &got);
    read_list(&got, first, 10);
    arm(&bench, "analyser.frozen analyser.split@CALC:DATA?#1 mixed-up@CALC:DATA?#2");
    assert_answer(it, "INIT\n*OPC?\n", "1\n");
    (void)converse(it, "CALC:DATA?\n", 11, 0, &got);
    read_list(&got, again, 10);
    for (size_t i = 0; i < 5; i++) {
        assert_close(again[i], first[2 * i], 0);
        assert_close(again[5 + i], first[2 * i + 1], 0);
    }
    (void)converse(it, "CALC:DATA?\n", 11, 0, &got);
    read_list(&got, again, 10);
    assert_close(again[0], creal(sweep_s(&bench.a.last, 0, S21)), 0);
    it->faults = (struct emulator_faults){0};
    arm(&bench, "rounds-hidden@POIN correction-off@CORR:STAT? stays-on@OUTP");
    assert_answer(it, "SENS:SWE:POIN 5;POIN?\n", "5\n");
    assert_answer(it, "TRAC? FREQ\n", "+1.5E+08,+1.6E+08,+1.7E+08,+1.8E+08\n");
    assert_answer(it, "SENS:CORR:STAT?;STAT 1;STAT?\n", "0;0\n");
    assert_answer(it, "OUTP 0;OUTP?\n", "1\n");
    text_clear(&got);
}

/* Reason: the largest trace, doubled by a fault, has room; no memory is an error of the queue or of
 * the call, never a crash. */
static void sizes(void **state)
{
    struct text got = {0};

    (void)state;
    arm(&bench, "point-double@CALC");
    assert_answer(it, "SENS:SWE:POIN MAX;:FORM REAL,32;:INIT\n", "");
    (void)converse(it, "CALC:DATA?\n", 11, 0, &got);
    assert_int_equal(got.length, 7 + 4 * 4 * 1601 + 1);
    assert_memory_equal(got.data, "#525616", 7);
    for (unsigned long nth = 1; nth < 12; nth++) {
        struct error e = {0};
        bool gone;

        memory_fail_at(nth);
        if (!emulator_feed(it, "INIT\nCALC:DATA?\n", 16, 0, &e))
            assert_int_equal(e.kind, ERROR_MEMORY);
        memory_fail_at(0);
        text_reset(&it->input);
        text_reset(&got);
        (void)emulator_take(it, 0, &got, &gone);
    }
    text_clear(&got);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, start, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(settings),
        TEST(preset),
        TEST(axis),
        TEST(trace),
        cmocka_unit_test_setup_teardown(time_of_sweeps, start_slow, end),
        TEST(faults),
        TEST(sizes)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
