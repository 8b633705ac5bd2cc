/* Numbers as bytes: IEEE 488.2 response data (from memory), IEEE 754 by hand. */
#include "drivers/emulator_numbers.h"

#include "tests/check.h"

#define assert_bytes(text, want)                                   \
    do {                                                           \
        assert_int_equal((text)->length, sizeof(want) - 1);        \
        assert_memory_equal((text)->data, want, sizeof(want) - 1); \
        text_reset(text);                                          \
    } while (0)

/* Reason: NR3 has a digit, a point, a capital E and a signed exponent; SCPI-1999 has numbers for
 * what is none (volume 1, 7.2.1.4: 9.91E37, 9.9E37). */
static void nr3(void **state)
{
    static const struct {
        double x;
        const char *want;
    } rows[] = {{0, "+0.0E+00"},
                {1, "+1.0E+00"},
                {-20, "-2.0E+01"},
                {150e6, "+1.5E+08"},
                {0.00123, "+1.23E-03"},
                {-0.5, "-5.0E-01"},
                {1e-40, "+1.0E-40"},
                {123456789, "+1.23456789E+08"},
                {1e100, "+1.0E+100"},
                {1.0 / 3, "+3.333333333333333E-01"},
                {100000, "+1.0E+05"},
                {(double)NAN, "+9.91E+37"},
                {(double)INFINITY, "+9.9E+37"},
                {-(double)INFINITY, "-9.9E+37"}};
    struct text out = {0};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        text_reset(&out);
        emulator_add_nr3(&out, rows[i].x);
        assert_string_equal(text_words(&out), rows[i].want);
    }
    text_clear(&out);
}

/* Reason: 1.0 is 3F 80 00 00 and 3F F0 00 ..., -2.0 is C0 00 ... (IEEE 754); the most significant
 * byte comes first unless swapped; the length counts data alone. */
static void blocks(void **state)
{
    static const double x[] = {1, -2};
    const struct emulator_faults none = {0};
    struct text out = {0};

    (void)state;
    emulator_add_numbers(&out, x, 2, EMULATOR_ASCII, false, &none);
    assert_bytes(&out, "+1.0E+00,-2.0E+00");
    emulator_add_numbers(&out, x, 2, EMULATOR_REAL32, false, &none);
    assert_bytes(&out, "#18\x3f\x80\0\0\xc0\0\0\0");
    emulator_add_numbers(&out, x, 2, EMULATOR_REAL32, true, &none);
    assert_bytes(&out, "#18\0\0\x80\x3f\0\0\0\xc0");
    emulator_add_numbers(&out, x, 2, EMULATOR_REAL64, false, &none);
    assert_bytes(&out, "#216\x3f\xf0\0\0\0\0\0\0\xc0\0\0\0\0\0\0\0");
    emulator_add_numbers(&out, x, 1, EMULATOR_REAL64, true, &none);
    assert_bytes(&out, "#18\0\0\0\0\0\0\xf0\x3f");
    emulator_add_numbers(&out, x, 0, EMULATOR_REAL64, false, &none);
    assert_bytes(&out, "#10");
    text_clear(&out);
}

/* Reason: each fault does to a block or a list what its words say, and nothing else. */
static void faults(void **state)
{
    static const double x[] = {1, -2, 0.5};
    static const struct {
        enum emulator_fault fault;
        enum emulator_format format;
        size_t length;
        const char *want;
    } rows[] = {
        {EMULATOR_BLOCK_LONG, EMULATOR_REAL32, 16, "#216\x3f\x80\0\0\xc0\0\0\0\x3f\0\0\0"},
        {EMULATOR_BLOCK_SHORT, EMULATOR_REAL32, 15, "#18\x3f\x80\0\0\xc0\0\0\0\x3f\0\0\0"},
        {EMULATOR_BLOCK_HUGE, EMULATOR_REAL32, 23, "#9999999999\x3f\x80\0\0\xc0\0\0\0\x3f\0\0\0"},
        {EMULATOR_BLOCK_INDEFINITE, EMULATOR_REAL32, 14, "#0\x3f\x80\0\0\xc0\0\0\0\x3f\0\0\0"},
        {EMULATOR_BLOCK_LETTER, EMULATOR_REAL32, 16, "#x12\x3f\x80\0\0\xc0\0\0\0\x3f\0\0\0"},
        {EMULATOR_BLOCK_DIGITS, EMULATOR_REAL32, 16, "#21x\x3f\x80\0\0\xc0\0\0\0\x3f\0\0\0"},
        {EMULATOR_SWAPPED, EMULATOR_REAL32, 16, "#212\0\0\x80\x3f\0\0\0\xc0\0\0\0\x3f"},
        {EMULATOR_OTHER_REAL, EMULATOR_REAL64, 16, "#212\x3f\x80\0\0\xc0\0\0\0\x3f\0\0\0"},
        {EMULATOR_TEXT_FOR_BLOCK, EMULATOR_REAL32, 26, "+1.0E+00,-2.0E+00,+5.0E-01"},
        {EMULATOR_EMPTY_FIELD, EMULATOR_ASCII, 18, "+1.0E+00,,+5.0E-01"},
        {EMULATOR_TRAILING_COMMA, EMULATOR_ASCII, 27, "+1.0E+00,-2.0E+00,+5.0E-01,"},
        {EMULATOR_DECIMAL_COMMA, EMULATOR_ASCII, 26, "+1,0E+00,-2,0E+00,+5,0E-01"},
        {EMULATOR_TWO_POINTS, EMULATOR_ASCII, 23, "+1.0E+00,1.2.3,+5.0E-01"},
        {EMULATOR_HEX, EMULATOR_ASCII, 24, "+1.0E+00,0x1p-3,+5.0E-01"},
        {EMULATOR_WORD_NAN, EMULATOR_ASCII, 21, "+1.0E+00,NAN,+5.0E-01"},
        {EMULATOR_WORD_INF, EMULATOR_ASCII, 21, "+1.0E+00,INF,+5.0E-01"},
        {EMULATOR_DASHES, EMULATOR_ASCII, 22, "+1.0E+00,----,+5.0E-01"},
        {EMULATOR_BLANK_SEPARATED, EMULATOR_ASCII, 26, "+1.0E+00 -2.0E+00 +5.0E-01"},
        {EMULATOR_LINE_SEPARATED, EMULATOR_ASCII, 26, "+1.0E+00\n-2.0E+00\n+5.0E-01"},
    };
    struct text out = {0};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct emulator_faults one = {0};

        one.now[rows[i].fault] = true;
        text_reset(&out);
        emulator_add_numbers(&out, x, 3, rows[i].format, false, &one);
        assert_int_equal(out.length, rows[i].length);
        assert_memory_equal(out.data, rows[i].want, rows[i].length);
    }
    text_clear(&out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(nr3), cmocka_unit_test(blocks),
                                       cmocka_unit_test(faults)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
