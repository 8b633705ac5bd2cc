/* Numbers of replies: single ones, lists as text and as blocks of reals.
 *
 * The forms of IEEE 488.2 (NR1, NR2, NR3) and the special numbers of SCPI-1999 are from memory. */
#include <float.h>

#include "drivers/random_source.h"
#include "drivers/reply.h"
#include "tests/comma_locale.h"
#include "tests/reply_check.h"

static void assert_number(const char *text, double want)
{
    char *copy = exact_copy(text, strlen(text));
    struct error e = {0};
    double x = 99;

    assert_done(reply_number(copy, strlen(text), &x, &e), &e);
    assert_close(x, want, 0);
    memory_free(copy);
}

static void refuse_number(const char *bytes, size_t n, const char *words)
{
    char *copy = exact_copy(bytes, n);
    struct error e = {0};
    double x = 99;

    if (reply_number(copy, n, &x, &e)) fail_msg("\"%s\" was taken", bytes);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
    assert_close(x, 99, 0);
    memory_free(copy);
}

static void every_form_of_number(void)
{
    assert_number("0", 0);
    assert_number("+201", 201);
    assert_number("-20.00", -20);
    assert_number("-1.25E-01", -0.125);
    assert_number("+1.60000000E+008", 160e6);
    assert_number("1e5", 1e5);
    assert_number(" 1.0E5\t", 1e5);
    assert_number("1.", 1);
    assert_number(".5", 0.5);
    assert_number("+1", 1);
    assert_number("8.999E37", 8.999e37);
}

/* Reason: NR1, NR2 and NR3 and the liberties that instruments take with them; "*OPC?" is answered
 * with "1", "+1" or "1.0". */
static void forms_of_numbers(void **state)
{
    (void)state;
    every_form_of_number();
}

/* Reason: replies have a point whatever the user's locale. */
static void forms_of_numbers_in_a_comma_locale(void **state)
{
    comma_locale_run(*state, every_form_of_number);
}

/* Reason: what strtod would take or cut short (hexadecimal, inf, a unit behind, a decimal comma, a
 * second point) is no reading; an empty answer is not 0. */
static void other_forms_are_refused(void **state)
{
    static const char *const wrong[] = {
        "",      " ",     "+",         ".",       "-.",    "e5",    "1e",    "1e+",   "1.2.3",
        "1,5",   "0x10",  "0x1p3",     "#H10",    "inf",   "NAN",   "----",  "1.5 V", "1.5V",
        "+ 1",   "1 2",   "-20.00DBM", "1.0E5HZ", "--1",   "1;2",   "> 1.0", "\"1\"", "1\n2",
        "1e999", "*OPC?", "#14abcd",   "1d5",     "1'000", "1.0\v",
    };
    char longest[80];

    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        refuse_number(wrong[i], strlen(wrong[i]), "not a number and nothing else");
    refuse_number(BYTES("1\0"), "\"1\\x00\" is not a number");
    refuse_number(BYTES("1\0002"), "not a number");
    memset(longest, '1', sizeof longest);
    refuse_number(longest, 65, "not a number");
    longest[1] = '.';
    longest[64] = '\0';
    assert_number(longest, 1 + 1.0 / 9);
}

/* Reason: SCPI's infinities and not-a-number are numbers to a parser; as a reading of a voltage or
 * as
 * "+760 dB" of gain they would be wrong. Which one it is, the message says. */
static void special_numbers_are_no_reading(void **state)
{
    (void)state;
    refuse_number(BYTES("9.9E37"), "means infinity");
    refuse_number(BYTES("+9.9E+37"), "means infinity");
    refuse_number(BYTES("-9.9E37"), "means minus infinity");
    refuse_number(BYTES("9.91E37"), "means not-a-number");
    refuse_number(BYTES("9.909999530e37"), "means not-a-number");
    refuse_number(BYTES("9.900000302e37"), "means infinity");
    refuse_number(BYTES("9E37"), "no reading");
}

#define MOST 8

static const struct reply_format ascii = {ENCODING_ASCII, ORDER_NONE, 0, 0};
static const struct reply_format big32 = {ENCODING_REAL32, ORDER_BIG, 0, 0};
static const struct reply_format little32 = {ENCODING_REAL32, ORDER_LITTLE, 0, 0};
static const struct reply_format big64 = {ENCODING_REAL64, ORDER_BIG, 0, 0};
static const struct reply_format little64 = {ENCODING_REAL64, ORDER_LITTLE, 0, 0};

/* reply_numbers() on a copy: on failure all is NaN and counted, on success `n_invalid` are. */
static bool numbers_of(const struct reply_format *format, const char *bytes, size_t n_bytes,
                       double out[MOST], size_t n, size_t *n_invalid, struct error *e)
{
    char *copy = exact_copy(bytes, n_bytes);
    size_t n_nan = 0;
    bool ok;

    *e = (struct error){0};
    for (size_t i = 0; i < MOST; i++)
        out[i] = 77;
    ok = reply_numbers(copy, n_bytes, format, out, n, n_invalid, e);
    memory_free(copy);
    for (size_t i = 0; i < n; i++) {
        if (isinf(out[i])) fail_msg("an infinity was passed on");
        if (isnan(out[i])) n_nan++;
    }
    for (size_t i = n; i < MOST; i++)
        assert_close(out[i], 77, 0);
    assert_int_equal(n_nan, *n_invalid);
    assert_int_equal(e->kind, ok ? ERROR_NONE : ERROR_BENCH);
    if (!ok) assert_int_equal(*n_invalid, n);
    return ok;
}

/* The bytes are these numbers; a NaN among them stands for "no number". */
static void check_numbers(const struct reply_format *format, const char *bytes, size_t n_bytes,
                          const double *want, size_t n)
{
    double got[MOST];
    struct error e;
    size_t n_invalid;

    assert_done(numbers_of(format, bytes, n_bytes, got, n, &n_invalid, &e), &e);
    for (size_t i = 0; i < n; i++) {
        if (isnan(want[i]))
            assert_true(isnan(got[i]));
        else
            assert_close(got[i], want[i], 0);
    }
}
#define assert_numbers(format, literal, ...)                             \
    check_numbers(format, BYTES(literal), (const double[]){__VA_ARGS__}, \
                  sizeof((const double[]){__VA_ARGS__}) / sizeof(double))

static void check_refused(const struct reply_format *format, const char *bytes, size_t n_bytes,
                          size_t n, const char *words)
{
    double got[MOST];
    struct error e;
    size_t n_invalid;

    if (numbers_of(format, bytes, n_bytes, got, n, &n_invalid, &e))
        fail_msg("\"%s\" was taken", bytes);
    assert_holds(e.text, words);
}
#define refuse_numbers(format, literal, n, words) check_refused(format, BYTES(literal), n, words)

/* Reason: lists as text, with the separators that instruments use and values to drop in front. */
static void lists_of_decimals(void **state)
{
    const struct reply_format semicolon = {ENCODING_ASCII, ORDER_NONE, ';', 0};
    const struct reply_format blank = {ENCODING_ASCII, ORDER_NONE, ' ', 0};
    const struct reply_format tab = {ENCODING_ASCII, ORDER_NONE, '\t', 0};
    const struct reply_format skip = {ENCODING_ASCII, ORDER_NONE, 0, 2};

    (void)state;
    assert_numbers(&ascii, "-1.25E-01,+3.5E+00\n", -0.125, 3.5);
    assert_numbers(&ascii, "\r\n1, 2 ,\t3\r\n", 1, 2, 3);
    assert_numbers(&ascii, "5", 5);
    assert_numbers(&semicolon, "1;2; 3\n", 1, 2, 3);
    assert_numbers(&blank, " 1  2 \t3 \n", 1, 2, 3);
    assert_numbers(&tab, "1\t2\t3\n", 1, 2, 3);
    assert_numbers(&skip, "OK,401,1,2\n", 1, 2);
}

/* Reason: a missing, empty or half number read as 0 would be a perfect match; a separator that the
 * profile does not name leaves fields that are no numbers. */
static void wrong_lists_are_refused(void **state)
{
    const struct reply_format tab = {ENCODING_ASCII, ORDER_NONE, '\t', 0};
    const struct reply_format blank = {ENCODING_ASCII, ORDER_NONE, ' ', 0};
    const struct reply_format semicolon = {ENCODING_ASCII, ORDER_NONE, ';', 0};
    const struct reply_format skip = {ENCODING_ASCII, ORDER_NONE, 0, 1};

    (void)state;
    refuse_numbers(&ascii, "1.0,,2.0\n", 2, "number 2 of the answer is empty");
    refuse_numbers(&ascii, "1.0,,2.0\n", 3, "number 2 of the answer is empty");
    refuse_numbers(&ascii, "1.0,2.0,\n", 2, "number 3 of the answer is empty");
    refuse_numbers(&ascii, ",1.0,2.0\n", 2, "number 1 of the answer is empty");
    refuse_numbers(&ascii, "1.0, ,2.0\n", 3, "number 2 of the answer is empty");
    refuse_numbers(&tab, "1\t\t2\n", 2, "number 2 of the answer is empty");
    refuse_numbers(&ascii, "\n", 1, "empty");
    refuse_numbers(&ascii, " \n", 1, "number 1 of the answer is empty");
    refuse_numbers(&blank, " \n", 1, "number 1 of the answer is empty");
    refuse_numbers(&skip, ",1\n", 1, "number 1 of the answer is empty");
    refuse_numbers(&ascii, "1,5,2,5\n", 2, "4 numbers where 2 were due");
    refuse_numbers(&semicolon, "1,5;2,5\n", 2, "number 1 of the answer, \"1,5\", is not a number");
    refuse_numbers(&ascii, "1.2.3,4\n", 2, "\"1.2.3\"");
    refuse_numbers(&ascii, "1,0x1p3\n", 2, "number 2 of the answer, \"0x1p3\"");
    refuse_numbers(&ascii, "1.5 V,2\n", 2, "\"1.5 V\"");
    refuse_numbers(&ascii, "-20.00DBM\n", 1, "\"-20.00DBM\"");
    refuse_numbers(&ascii, "1 2 3\n", 3, "\"1 2 3\", is not a number");
    refuse_numbers(&ascii, "1\n2\n3\n", 3, "\"1\\x0A2\\x0A3\", is not a number");
    refuse_numbers(&blank, "1,2,3\n", 3, "\"1,2,3\"");
    refuse_numbers(&ascii, "1\0,2\n", 2, "wrong baud rate");
    refuse_numbers(&ascii, "1,\xB2\n", 2, "wrong baud rate");
    refuse_numbers(&ascii, "> 1,2\n", 2, "\"> 1\"");
    refuse_numbers(&ascii, "#18\n\n\n\n\n\n\n\n\n", 2, "is not a number");
}

/* Reason: one point fewer or more, half, double: the rest would stand at the wrong frequencies. */
static void counts_are_exact(void **state)
{
    const struct reply_format skip = {ENCODING_ASCII, ORDER_NONE, 0, 2};
    const struct reply_format skip32 = {ENCODING_REAL32, ORDER_BIG, 0, 1};
    const struct reply_format endless = {ENCODING_REAL32, ORDER_BIG, 0, SIZE_MAX};

    (void)state;
    refuse_numbers(&ascii, "1,2,3\n", 4, "holds 3 numbers where 4 were due");
    refuse_numbers(&ascii, "1,2,3,4,5\n", 4, "holds 5 numbers where 4 were due");
    refuse_numbers(&ascii, "1,2\n", 4, "holds 2 numbers where 4 were due");
    refuse_numbers(&ascii, "1,2,3,4,5,6,7,8\n", 4, "holds 8 numbers where 4 were due");
    refuse_numbers(&ascii, "1\n", 0, "holds 1 numbers where 0 were due");
    refuse_numbers(&skip, "1,2,3\n", 2, "holds 3 numbers where 4 were due");
    refuse_numbers(&big32, "#14abcd\n", 2, "holds 1 numbers where 2 were due");
    refuse_numbers(&big32, "#212abcdefghijkl\n", 2, "holds 3 numbers where 2 were due");
    refuse_numbers(&big32, "#10\n", 2, "holds 0 numbers where 2 were due");
    refuse_numbers(&skip32, "#18abcdefgh\n", 2, "holds 2 numbers where 3 were due");
    /* 64-bit reals where 32-bit ones were set, and the reverse. */
    refuse_numbers(&big32, "#18\x3F\xF0\0\0\0\0\0\0\n", 1, "holds 2 numbers where 1 were due");
    refuse_numbers(&big64, "#14\x3F\x80\0\0\n", 1, "block of 4 bytes, which are not reals of 8");
    refuse_numbers(&big64, "#18\x3F\x80\0\0\x3F\x80\0\0\n", 2, "holds 1 numbers where 2 were due");
    refuse_numbers(&endless, "#14abcd\n", 1, "more than the 16777216 bytes");
}

/* Reason: what an analyser writes where it has no number must not become a gain: SCPI's special
 * numbers, IEEE 754's, and the words that instruments print. */
static void no_number_is_counted(void **state)
{
    (void)state;
    assert_numbers(&ascii, "9.91E37,1,9.9E37,-9.9E37,+9.909999530e37,8E37\n", NAN, 1, NAN, NAN, NAN,
                   8e37);
    assert_numbers(&ascii, "NAN,nan,INF,-INF,+INF,Infinity,NINF,1\n", NAN, NAN, NAN, NAN, NAN, NAN,
                   NAN, 1);
    assert_numbers(&ascii, "1,----,--,2\n", 1, NAN, NAN, 2);
    assert_numbers(&ascii, "-9E37,9e37\n", NAN, NAN);
    refuse_numbers(&ascii, "1,-,2\n", 3, "number 2 of the answer, \"-\"");
    refuse_numbers(&ascii, "1,INFO\n", 2, "\"INFO\"");
    refuse_numbers(&ascii, "1,1E999\n", 2, "\"1E999\"");
    /* 9.9E37 and 9.91E37 rounded to 32 bits; not-a-number, quiet and signalling; infinities. */
    assert_numbers(&big32,
                   "#232\x7E\x94\xF5\x6A\x7E\x95\x1C\x2A\xFE\x94\xF5\x6A\x7F\xC0\0\0\xFF\x80\0\1"
                   "\x7F\x80\0\0\xFF\x80\0\0\x3F\x80\0\0\n",
                   NAN, NAN, NAN, NAN, NAN, NAN, NAN, 1);
    assert_numbers(&big64, "#224\x7F\xF8\0\0\0\0\0\0\xFF\xF0\0\0\0\0\0\0\x7F\xF0\0\0\0\0\0\1\n",
                   NAN, NAN, NAN);
}

/* Bytes of a real in the order asked, as this machine's own IEEE 754 numbers have them. */
static void put_real(char *at, double x, const struct reply_format *format)
{
    const bool wide = format->encoding == ENCODING_REAL64;
    const float narrow = (float)x;
    uint64_t word = 0;
    uint32_t half = 0;
    int n = wide ? 8 : 4;

    memcpy(&word, &x, sizeof word);
    memcpy(&half, &narrow, sizeof half);
    if (!wide) word = half;
    for (int i = 0; i < n; i++)
        at[format->order == ORDER_BIG ? n - 1 - i : i] = (char)(word >> (8 * i) & 0xFF);
}

/* Reason: reals as IEEE 754 has them (words from memory): 1, -2, the largest, smallest normal and
 * subnormal 32-bit numbers, both zeros; the two byte orders; values to drop. */
static void lists_of_reals(void **state)
{
    const struct reply_format skip = {ENCODING_REAL32, ORDER_BIG, 0, 1};

    (void)state;
    assert_numbers(&big32, "#224\x3F\x80\0\0\xC0\0\0\0\0\x80\0\0\0\0\0\1\0\0\0\0\x80\0\0\0\n", 1,
                   -2, FLT_MIN, ldexp(1, -149), 0, -0.0);
    assert_numbers(&little32, "#18\0\0\x80\x3F\0\0\0\xC0\r\n", 1, -2);
    assert_numbers(&big64, "#216\x3F\xF0\0\0\0\0\0\0\x3F\xB9\x99\x99\x99\x99\x99\x9A\n", 1, 0.1);
    assert_numbers(&little64, "#216\0\0\0\0\0\0\xF0\x3F\x9A\x99\x99\x99\x99\x99\xB9\x3F", 1, 0.1);
    assert_numbers(&big64, "#216\0\0\0\0\0\0\0\1\0\x10\0\0\0\0\0\0\n", ldexp(1, -1074), DBL_MIN);
    assert_numbers(&skip, "#18\x7F\xC0\0\0\x3F\x80\0\0\n", 1);
    assert_numbers(&big32, "#0\x3F\x80\0\0\x0A\x0D\x0A\x0D\n", 1, ldexp(0x8D0A0D, -130));
}

/* Reason: both widths and orders, all exponents, against this machine's own arithmetic; to the bit.
 */
static void random_reals_read_back(void **state)
{
    static const struct reply_format *const formats[] = {&big32, &little32, &big64, &little64};
    const uint64_t seed = 180;
    struct random_source source;

    (void)state;
    print_message("seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 0, 0);
    for (int round = 0; round < 4000; round++) {
        const struct reply_format *format = formats[round % 4];
        const bool wide = format->encoding == ENCODING_REAL64;
        char bytes[12] = "#14";
        double got[MOST], want;
        struct error e;
        size_t n_invalid;

        want = (random_uniform(&source) - 0.5) *
               ldexp(1, (int)(random_bits(&source) % (wide ? 1180 : 270)) - (wide ? 1074 : 149));
        if (!wide) want = (double)(float)want;
        bytes[1 + 1] = wide ? '8' : '4';
        put_real(bytes + 3, want, format);
        assert_done(numbers_of(format, bytes, wide ? 11 : 7, got, 1, &n_invalid, &e), &e);
        if (fabs(want) >= 9e37)
            assert_int_equal(n_invalid, 1);
        else
            assert_memory_equal(got, &want, sizeof want);
    }
}

/* Reason: a block whose framing went wrong must not be read beyond its bytes, nor with bytes left
 * over; and the byte order is never assumed. */
static void wrong_blocks_are_refused(void **state)
{
    const struct reply_format none = {ENCODING_REAL32, ORDER_NONE, 0, 0};

    (void)state;
    refuse_numbers(&none, "#14\x3F\x80\0\0\n", 1, "byte order of the reals is not known");
    refuse_numbers(&big32, "", 1, "cut off");
    refuse_numbers(&big32, "#", 1, "cut off");
    refuse_numbers(&big32, "#1", 1, "cut off");
    refuse_numbers(&big32, "#14", 1, "cut off");
    refuse_numbers(&big32, "#14\x3F\x80\0", 1, "cut off");
    refuse_numbers(&big32, "#0\x3F\x80\0", 1, "cut off");
    refuse_numbers(&big32, "#0\x3F\x80\0\0\0\n", 1, "goes on behind the 4 bytes");
    refuse_numbers(&big32, "#14\x3F\x80\0\0x\n", 1, "goes on behind the 4 bytes");
    refuse_numbers(&big32, "#15\x3F\x80\0\0\0\n", 1, "block of 5 bytes");
    refuse_numbers(&big32, "#9999999999", 1, "999999999 bytes, more than");
    refuse_numbers(&big32, "1.0\n", 1, "no block head");
    refuse_numbers(&big32, "#A4\x3F\x80\0\0\n", 1, "no block head");
}

struct mutant {
    char data[64];
    size_t length;
};

static void mutate(struct mutant *m, struct random_source *source)
{
    const size_t at = m->length ? random_bits(source) % m->length : 0;
    static const char tokens[] = "#0189,.eE+- \n\r\0\xFF;NI";

    switch (random_bits(source) % 4) {
    case 0: m->length = at; break;
    case 1:
        if (m->length > 0) m->data[at] = (char)(random_bits(source) & 0xFF);
        break;
    case 2:
        if (m->length > 0) {
            memmove(m->data + at, m->data + at + 1, m->length - at - 1);
            m->length--;
        }
        break;
    default:
        if (m->length + 1 < sizeof m->data) {
            memmove(m->data + at + 1, m->data + at, m->length - at);
            m->data[at] = tokens[random_bits(source) % sizeof tokens];
            m->length++;
        }
        break;
    }
}

/* Reason: damaged replies through the whole path, framed and read: numbers or one error, never a
 * read past the bytes; and a frame that is taken has a legal end. numbers_of() checks the rest. */
static void random_mutations(void **state)
{
    static const struct {
        const struct reply_format *format;
        struct mutant good;
    } seeds[] = {
        {&ascii, {"-1.25E-01,+3.5E+00,9.91E37,NAN\n", 31}},
        {&ascii, {"1,2,3,4\r\n", 9}},
        {&big32, {"#216\x3F\x80\0\0\n\r\0\0\0\0\0\0\x7F\x80\0\0\n", 21}},
        {&little64,
         {"#232\0\0\0\0\0\0\xF0\x3F\0\0\0\0\0\0\xF0\x3F\0\0\0\0\0\0\xF0\x3F\0\0\0\0\0\0\xF0"
          "\x3F\r\n",
          38}},
    };
    const uint64_t seed = 2024;
    struct random_source source;
    unsigned n_taken = 0, n_refused = 0;

    (void)state;
    print_message("seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 0, 0);
    for (int round = 0; round < 20000; round++) {
        const struct reply_format *format = seeds[round % 4].format;
        const struct reply_frame how = {.is_block = format->encoding != ENCODING_ASCII};
        struct mutant m = seeds[round % 4].good;
        double got[MOST];
        size_t n_invalid, length;
        struct error e;

        for (uint64_t i = random_bits(&source) % 3; i < 3; i++)
            mutate(&m, &source);
        length = frame_of(&how, m.data, m.length, random_bits(&source) % 2, &e);
        if (length == 0) continue;
        if (numbers_of(format, m.data, length, got, 4, &n_invalid, &e))
            n_taken++;
        else
            n_refused++;
    }
    print_message("%u taken, %u refused\n", n_taken, n_refused);
    assert_true(n_taken > 500 && n_refused > 500);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(forms_of_numbers),
        cmocka_unit_test_setup_teardown(forms_of_numbers_in_a_comma_locale, tree_make, tree_remove),
        cmocka_unit_test(other_forms_are_refused),
        cmocka_unit_test(special_numbers_are_no_reading),
        cmocka_unit_test(lists_of_decimals),
        cmocka_unit_test(wrong_lists_are_refused),
        cmocka_unit_test(counts_are_exact),
        cmocka_unit_test(no_number_is_counted),
        cmocka_unit_test(lists_of_reals),
        cmocka_unit_test(random_reals_read_back),
        cmocka_unit_test(wrong_blocks_are_refused),
        cmocka_unit_test(random_mutations),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
