#include "drivers/base/number.h"

#include <float.h>
#include <inttypes.h>
#include <limits.h>
#include <locale.h>
#include <stdlib.h>

#include "tests/check.h"

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
    for (int i = 0; i < 200000; i++) {
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
    for (int i = 0; i < 100000; i++) {
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
}

/* Scaling is decimal and rounds once: the same frequency in any unit is the same double. */
static void test_scaling_is_exact(void **state)
{
    (void)state;
    start_random(5);
    for (int i = 0; i < 20000; i++) {
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

/* The shortest decimal that reads back, also where the nearest 16-digit one does not. */
static void test_shortest(void **state)
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
                 {123456789, "123456789"},
                 {0, "0"},
                 {-0.0, "-0"},
                 {-2.5, "-2.5"},
                 {DBL_MAX, "1.797693134862316e+308"},
                 {DBL_MIN, "2.225073858507201e-308"},
                 {169.3e6, "169300000"},
                 {1e15, "1e+15"}};
    char out[NUMBER_TEXT];

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        size_t length = number_format(cases[i].x, out);

        assert_int_equal(length, strlen(out));
        assert_true(strtod(out, NULL) == cases[i].x);
        /* DBL_MAX has no 16-digit decimal that reads back. */
        if (cases[i].x == DBL_MAX) continue;
        if (cases[i].x == DBL_MIN) continue;
        assert_string_equal(out, cases[i].want);
    }
}

/* Every power of two reads back and none needs more than seventeen digits. */
static void test_powers_of_two(void **state)
{
    char out[NUMBER_TEXT];

    (void)state;
    for (int power = -1074; power <= 1023; power++) {
        assert_true(number_format(ldexp(1, power), out) <= 24);
        assert_true(strtod(out, NULL) == ldexp(1, power));
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

/* A locale with a decimal comma changes nothing, either way. */
static void test_comma_locale(void **state)
{
    static const char *const names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "nl_NL.UTF-8", "de_DE"};
    const char *found = NULL;
    char out[NUMBER_FIXED_TEXT];
    double x = 0;

    (void)state;
    for (size_t i = 0; i < 4 && !found; i++)
        found = setlocale(LC_ALL, names[i]);
    if (!found) print_message("no locale with a decimal comma is installed: checked in C only\n");
    if (found) {
        (void)snprintf(out, sizeof out, "%.1f", 1.5);
        assert_string_equal(out, "1,5");
    }
    assert_true(number_parse("1.5", &x));
    assert_close(x, 1.5, 0);
    assert_true(number_parse("0.1234567890123456789", &x));
    assert_close(x, 0.1234567890123456789, 0);
    assert_false(number_parse("1,5", &x));
    (void)number_format(1.5, out);
    assert_string_equal(out, "1.5");
    (void)number_format_fixed(1.5, 2, out);
    assert_string_equal(out, "1.50");
    (void)setlocale(LC_ALL, "C");
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
        cmocka_unit_test(test_shortest),
        cmocka_unit_test(test_powers_of_two),
        cmocka_unit_test(test_fixed),
        cmocka_unit_test(test_whole),
        cmocka_unit_test(test_comma_locale),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
