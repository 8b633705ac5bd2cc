/* How a value and its bound are told: with sensible digits, and never as inside when outside. */
#include "limits/judge.h"

#include "drivers/base/memory.h"
#include "tests/fixture.h"

static double gain_at_169_db;

static void board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    const double gain_db = fabs(frequency_hz - 169e6) < 1 ? gain_at_169_db : 20;

    (void)bias_v;
    s[S11] = CMPLX(0.1, 1e-12 * frequency_hz);
    s[S12] = CMPLX(0.01, 1e-13 * frequency_hz);
    s[S21] = CMPLX(fixture_linear(gain_db), 1e-10 * (frequency_hz - 169e6));
    s[S22] = CMPLX(0.1, 1e-12 * frequency_hz);
}

/* The reason why a unit of `gain_db` at 169 MHz failed the limit; freed with memory_free(). */
static char *reason_of(const char *element, double gain_db)
{
    struct limits limits = {0};
    struct measurement m = {0};
    struct judgement judgement = {0};
    struct error e = {0};
    char *reason;

    fixture_limits(&limits, "<decision rule=\"simple-acceptance\"/>", element);
    measurement_reset(&m, "A1", 1);
    gain_at_169_db = gain_db;
    for (size_t step = 0; step < 3; step++)
        (void)fixture_sweep(&m, board, 1.8 + 0.6 * (double)step, 155e6, 1e6, 31);
    assert_done(judge(&limits, &m, NULL, &judgement, &e), &e);
    assert_int_equal(judgement.verdict, VERDICT_FAIL);
    reason = memory_copy_text(judgement.findings[0].reason, &e);
    assert_non_null(reason);
    judgement_clear(&judgement);
    measurement_clear(&m);
    limits_clear(&limits);
    return reason;
}

static void check_reason(const char *element, double gain_db, const char *value, const char *bound)
{
    char *reason = reason_of(element, gain_db);

    if (!strstr(reason, value) || !strstr(reason, bound))
        print_error("%s: not %s, %s\n", reason, value, bound);
    assert_non_null(strstr(reason, value));
    assert_non_null(strstr(reason, bound));
    memory_free(reason);
}

/* From 21 dB at 160 MHz to 25.2556 dB at 178 MHz: 23.1278 dB at 169 MHz, which nobody wrote. */
static const char mask[] =
    "<gain id=\"g\" bias=\"low\"><upper><point at=\"160 MHz\" value=\"21 dB\"/>"
    "<point at=\"178 MHz\" value=\"25.2556 dB\"/></upper></gain>";

/* Between corners a bound has the digits of a value; where both would read the same, more. */
static void test_between_corners(void **state)
{
    (void)state;
    check_reason(mask, 24, "gain 24.00 dB at", "above 23.13 dB by 0.87 dB");
    check_reason(mask, 23.131, "gain 23.131 dB at", "above 23.1278 dB by");
    check_reason(mask, 23.127801, "gain 23.1278", "above 23.127");
}

/* What stands in the file is told as it stands there, and a value outside reads as outside. */
static void test_as_written(void **state)
{
    static const char upper[] = "<gain id=\"g\" bias=\"low\" band=\"working\" max=\"22.128 dB\"/>";
    static const char lower[] = "<gain id=\"g\" bias=\"low\" band=\"centre\" min=\"22.128 dB\"/>";

    (void)state;
    check_reason(upper, 22.14, "gain 22.14 dB at", "above 22.128 dB by 0.01 dB");
    check_reason(upper, 22.1281, "gain 22.13 dB at", "above 22.128 dB by");
    /* 22.126 would be "22.13 dB", which is not below 22.128 dB. */
    check_reason(lower, 22.126, "gain 22.126 dB at", "below 22.128 dB by");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_between_corners),
                                       cmocka_unit_test(test_as_written)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
