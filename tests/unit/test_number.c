#include "drivers/base/number.h"

#include <float.h>
#include <inttypes.h>
#include <limits.h>
#include <stdlib.h>

#include "tests/comma_locale.h"

static uint64_t random_state;

/* A plain linear congruential generator (Knuth's constants, from memory): the seed is printed. */
static uint64_t next_random(void)
{
    random_state = random_state * 6364136223846793005ULL + 1442695040888963407ULL;
    return random_state >> 11;
}

static void start_random(uint64_t seed)
{
    random_state = seed;
    print_message("seed %" PRIu64 "\n", seed);
}

/* Slow machines in the way (valgrind) ask for fewer random cases. */
static int rounds(int n)
{
    return getenv("GAINSIEVE_TEST_SHORT") ? n / 20 : n;
}

/* The reader and strtod in the C locale must agree to the bit, or both find the number too large.
 */
static void check_against_strtod(const char *text)
{
    double want = strtod(text, NULL), got = 0;
    bool ok = number_parse(text, &got);

    if (isinf(want)) {
        assert_false(ok);
        return;
    }
    if (!ok || memcmp(&got, &want, sizeof got) != 0) {
        print_error("%s: got %.17g, strtod gives %.17g\n", text, got, want);
        fail();
    }
}

/* Decimals that are known to be hard: halfway cases, the edges of the range, 2^53 + 1, more digits
 * than any table holds (collected from the literature on decimal conversion, from memory). */
static void test_worst_cases(void **state)
{
    static const char *const cases[] = {
        "9007199254740993",
        "9007199254740992.5",
        "9007199254740991.4999999999",
        "2.2250738585072011e-308",
        "2.2250738585072012e-308",
        "2.2250738585072014e-308",
        "1.7976931348623157e308",
        "1.7976931348623158e308",
        "1.7976931348623159e308",
        "1e309",
        "5e-324",
        "2.47e-324",
        "2.4703282292062327208e-324",
        "2.4703282292062328e-324",
        "4.9e-324",
        "1e-400",
        "0.000000000000000000000000000000000000000000000000000000001",
        "1e22",
        "1e23",
        "8.41e21",
        "123456789012345678901234567890",
        "6.631236846766476e-316",
        "3.237883913302901e-319",
        "1.448997445238699",
        "0.1",
        "-0.1",
        "179769313486231580793728971405301e276",
        "6929495644600919.5",
        "3.518437208883201171875e13",
        "62.5364939768271845828",
        "8.10109172351e-10",
        "1.50000000000000011102230246251565",
        "0.99999999999999994448884876874217",
        "7.2057594037927933e16",
        "-0",
        "0e999",
        "00012.500",
        "1e0000000000000000000000001",
        "+3",
        ".5",
        "5.",
        "5.e1",
        "1E+2",
        "1e-2"};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        check_against_strtod(cases[i]);
}

/* Random decimals of every shape: one to twenty-five digits, a point anywhere, exponents over the
 * whole range and beyond. */
static void test_random_decimals(void **state)
{
    (void)state;
    start_random(20240611);
    for (int i = 0; i < rounds(200000); i++) {
        char text[64];
        size_t n = 0, digits = 1 + next_random() % 25, point = next_random() % 26;

        if (next_random() % 2) text[n++] = '-';
        for (size_t k = 0; k < digits; k++) {
            if (k == point) text[n++] = '.';
            text[n++] = (char)('0' + next_random() % 10);
        }
        text[n] = '\0';
        if (next_random() % 3)
            (void)snprintf(text + n, 16, "e%d", (int)(next_random() % 700) - 350);
        check_against_strtod(text);
    }
}

/* Doubles of random bits, printed with 17 digits and read again. */
static void test_random_bits(void **state)
{
    (void)state;
    start_random(77);
    for (int i = 0; i < rounds(100000); i++) {
        uint64_t bits = next_random() << 11 ^ next_random();
        char text[64];
        double x;

        memcpy(&x, &bits, sizeof x);
        if (!isfinite(x)) continue;
        (void)snprintf(text, sizeof text, "%.17g", x);
        check_against_strtod(text);
        (void)number_format(x, text);
        check_against_strtod(text);
        assert_true(strtod(text, NULL) == x);
    }
}

/* What strtod takes and a measured value never is. */
static void test_refused(void **state)
{
    static const char *const cases[] = {
        "",  " 1", "1 ", "0x1p3", "inf", "nan", "1,5", "1e",  "1e+",  "1d5",  "--1",
        "+", ".",  "e5", "1.2.3", "NAN", "INF", "1_0", "\t1", "1e5x", "0x10", "1e400"};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double x = 42;

        if (number_parse(cases[i], &x)) print_error("\"%s\" was taken\n", cases[i]);
        assert_false(number_parse(cases[i], &x));
        assert_close(x, 42, 0);
    }
}

/* A scan stops where the number ends and leaves the rest. */
static void test_scan_stops(void **state)
{
    const char text[] = "1.5e3e4", *at = text, *end = text + strlen(text);
    double x = 0;

    (void)state;
    assert_true(number_scan(&at, end, &x));
    assert_close(x, 1500, 0);
    assert_string_equal(at, "e4");
    assert_false(number_scan(&at, end, &x));
    assert_string_equal(at, "e4");
    /* Hexadecimal is no number of ours: the scan ends behind the zero. */
    at = "0x1p3";
    assert_true(number_scan(&at, at + 5, &x));
    assert_close(x, 0, 0);
    assert_string_equal(at, "x1p3");
}

/* Scaling is decimal and rounds once: the same frequency in any unit is the same double. */
static void test_scaling_is_exact(void **state)
{
    (void)state;
    start_random(5);
    for (int i = 0; i < rounds(20000); i++) {
        uint64_t hz = 1 + next_random() % 40000000000ULL;
        char mhz[64], plain[64];
        const char *at = mhz;
        double got = 0;

        (void)snprintf(mhz, sizeof mhz, "%" PRIu64 ".%06" PRIu64, hz / 1000000, hz % 1000000);
        (void)snprintf(plain, sizeof plain, "%" PRIu64, hz);
        assert_true(number_scan_scaled(&at, mhz + strlen(mhz), 6, &got));
        assert_close(got, strtod(plain, NULL), 0);
    }
}

/* Scaling a number that needs the slow path. */
static void test_scaling_of_many_digits(void **state)
{
    const char text[] = "0.1234567890123456789e-3", *at = text;
    double x = 0;

    (void)state;
    assert_true(number_scan_scaled(&at, text + strlen(text), 9, &x));
    assert_close(x, 0.1234567890123456789e6, 0);
}

/* Halfway between two doubles, written out whole, a little above and a little below: the reader
 * must look at every digit. A long double of 64 bits holds the middle exactly. */
static void test_halfway(void **state)
{
    (void)state;
    if (LDBL_MANT_DIG < 64) {
        print_message("long double is no wider than double here: not checked\n");
        skip();
    }
    start_random(1959);
    for (int i = 0; i < rounds(3000); i++) {
        uint64_t bits = next_random() << 11 ^ next_random();
        static char text[2000];
        double x, next;
        size_t length;

        memcpy(&x, &bits, sizeof x);
        x = fabs(x);
        next = nextafter(x, HUGE_VAL);
        if (!isfinite(x) || !isfinite(next)) continue;
        (void)snprintf(text, sizeof text, "%.1100Le", ((long double)x + (long double)next) / 2);
        check_against_strtod(text);
        length = strcspn(text, "e");
        text[length - 1] = '1';
        check_against_strtod(text);
        (void)snprintf(text, sizeof text, "%.30Le", ((long double)x + (long double)next) / 2);
        check_against_strtod(text);
    }
}

/* Thousands of digits before, behind and around the point, most of them zeros. */
static void test_very_long(void **state)
{
    static char text[5100];

    (void)state;
    memset(text, '0', 5000);
    for (size_t place = 0; place < 5000; place += 499) {
        (void)snprintf(text + 5000, 16, "7e-%zu", place);
        text[place] = '.';
        check_against_strtod(text);
        text[place] = '9';
        check_against_strtod(text);
        text[place] = '0';
    }
}

/* The shortest decimal that reads back, in the words that are printed. */
static void test_shortest_words(void **state)
{
    static const struct {
        double x;
        const char *want;
    } cases[] = {{0.1, "0.1"},
                 {1.0 / 3, "0.3333333333333333"},
                 {1e22, "1e+22"},
                 {1e23, "1e+23"},
                 {5e-324, "5e-324"},
                 {0x1p-44, "5.684341886080802e-14"},
                 {0x1p-791, "7.678447687145631e-239"},
                 {123456789, "123456789"},
                 {0, "0"},
                 {-0.0, "-0"},
                 {-2.5, "-2.5"},
                 {DBL_MAX, "1.7976931348623157e+308"},
                 {DBL_MIN, "2.2250738585072014e-308"},
                 {169.3e6, "169300000"},
                 {1e15, "1e+15"},
                 {NAN, "nan"},
                 {-HUGE_VAL, "-inf"}};
    char out[NUMBER_TEXT];

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        size_t length = number_format(cases[i].x, out);

        assert_int_equal(length, strlen(out));
        assert_string_equal(out, cases[i].want);
    }
}

/* The fewest digits of any decimal that strtod takes to `x`: the decimal nearest to x and its two
 * neighbours, digit by digit. Shares nothing with the module. */
static size_t fewest_digits(double x)
{
    for (int digits = 1; digits <= 17; digits++) {
        char nearest[64], mantissa[32] = "", text[64];
        int exponent, step;

        (void)snprintf(nearest, sizeof nearest, "%.*e", digits - 1, fabs(x));
        (void)snprintf(mantissa, sizeof mantissa, "%c%.*s", nearest[0], digits - 1, nearest + 2);
        exponent = atoi(strchr(nearest, 'e') + 1) - (digits - 1);
        for (step = -1; step <= 1; step++) {
            (void)snprintf(text, sizeof text, "%llde%d", atoll(mantissa) + step, exponent);
            if (strtod(text, NULL) == fabs(x)) return (size_t)digits;
        }
    }
    return 18;
}

/* Digits that count: without zeros at both ends, without the exponent. */
static size_t count_digits(const char *text)
{
    size_t digits = 0, zeros = 0;

    for (; *text && *text != 'e'; text++) {
        if (*text < '0' || *text > '9' || (*text == '0' && digits == 0)) continue;
        digits++;
        zeros = *text == '0' ? zeros + 1 : 0;
    }
    return digits - zeros;
}

static void check_shortest(double x)
{
    char out[NUMBER_TEXT];

    if (!isfinite(x) || x == 0) return;
    (void)number_format(x, out);
    if (strtod(out, NULL) != x || count_digits(out) != fewest_digits(x)) {
        print_error("%a is written %s, %zu digits do\n", x, out, fewest_digits(x));
        fail();
    }
}

/* Every power of two and its neighbours: below a power the doubles lie twice as near as above. */
static void test_shortest_powers_of_two(void **state)
{
    (void)state;
    for (int power = -1074; power <= 1023; power++) {
        double x = ldexp(1, power);

        check_shortest(x);
        check_shortest(nextafter(x, 0));
        check_shortest(-nextafter(x, HUGE_VAL));
    }
}

/* Random bit patterns, subnormals and round numbers among them. */
static void test_shortest_random(void **state)
{
    (void)state;
    start_random(4711);
    for (int i = 0; i < rounds(40000); i++) {
        uint64_t bits = next_random() << 11 ^ next_random();
        double x;

        if (i % 7 == 0) bits &= 0x800FFFFFFFFFFFFFULL;
        if (i % 7 == 1) bits &= 0xFFFFFFFF00000000ULL;
        memcpy(&x, &bits, sizeof x);
        check_shortest(x);
        check_shortest((double)(next_random() % 1000000) / 1000);
    }
}

/* Rounded for people: never "-0.00". */
static void test_fixed(void **state)
{
    char out[NUMBER_FIXED_TEXT];

    (void)state;
    (void)number_format_fixed(-0.001, 2, out);
    assert_string_equal(out, "0.00");
    (void)number_format_fixed(-1.005, 1, out);
    assert_string_equal(out, "-1.0");
    (void)number_format_fixed(22.126, 2, out);
    assert_string_equal(out, "22.13");
    (void)number_format_fixed(-DBL_MAX, 17, out);
    assert_true(strlen(out) < NUMBER_FIXED_TEXT);
    /* What is no number has no sign either. */
    (void)number_format_fixed(copysign(NAN, -1), 2, out);
    assert_string_equal(out, "nan");
    (void)number_format_fixed(-HUGE_VAL, 2, out);
    assert_string_equal(out, "-inf");
}

/* Whole numbers: digits only, and no wrapping round at the largest. */
static void test_whole(void **state)
{
    unsigned long x = 7;

    (void)state;
    assert_true(number_parse_whole("0", 9, &x) && x == 0);
    assert_true(number_parse_whole("0042", 42, &x) && x == 42);
    assert_true(number_parse_whole("18446744073709551615", ULONG_MAX, &x) && x == ULONG_MAX);
    assert_false(number_parse_whole("18446744073709551616", ULONG_MAX, &x));
    assert_false(number_parse_whole("43", 42, &x));
    assert_false(number_parse_whole("-1", 42, &x));
    assert_false(number_parse_whole("", 42, &x));
    assert_false(number_parse_whole("4.", 42, &x));
    assert_false(number_parse_whole("5", 3, &x));
}

static void check_with_comma(void)
{
    char out[NUMBER_FIXED_TEXT];
    const char *at = "2.5,7";
    double x = 0;

    assert_true(number_parse("1.5", &x));
    assert_close(x, 1.5, 0);
    assert_true(number_parse("0.1234567890123456789", &x));
    assert_close(x, 0.1234567890123456789, 0);
    assert_true(number_parse("1.5e300", &x));
    assert_close(x, 1.5e300, 0);
    assert_false(number_parse("1,5", &x));
    assert_true(number_scan(&at, at + 5, &x));
    assert_string_equal(at, ",7");
    at = "0.1234567890123456789e-3";
    assert_true(number_scan_scaled(&at, at + strlen(at), 9, &x));
    assert_close(x, 0.1234567890123456789e6, 0);
    (void)number_format(1.5, out);
    assert_string_equal(out, "1.5");
    (void)number_format(0x1p-791, out);
    assert_string_equal(out, "7.678447687145631e-239");
    (void)number_format(-1234567.25, out);
    assert_string_equal(out, "-1234567.25");
    (void)number_format_fixed(-1234567.25, 2, out);
    assert_string_equal(out, "-1234567.25");
    /* The caller's own locale is as it was. */
    (void)snprintf(out, sizeof out, "%.1f", 1.5);
    assert_string_equal(out, "1,5");
}

/* A locale with a decimal comma changes nothing, either way. */
static void test_comma_locale(void **state)
{
    comma_locale_run(*state, check_with_comma);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worst_cases),
        cmocka_unit_test(test_random_decimals),
        cmocka_unit_test(test_random_bits),
        cmocka_unit_test(test_refused),
        cmocka_unit_test(test_scan_stops),
        cmocka_unit_test(test_scaling_is_exact),
        cmocka_unit_test(test_scaling_of_many_digits),
        cmocka_unit_test(test_halfway),
        cmocka_unit_test(test_very_long),
        cmocka_unit_test(test_shortest_words),
        cmocka_unit_test(test_shortest_powers_of_two),
        cmocka_unit_test(test_shortest_random),
        cmocka_unit_test(test_fixed),
        cmocka_unit_test(test_whole),
        cmocka_unit_test_setup_teardown(test_comma_locale, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
