#include "limits/coverage.h"

#include "tests/fixture.h"

static void any_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    for (size_t i = 0; i < S_PARAMETERS; i++)
        s[i] = CMPLX(0.1, frequency_hz * bias_v * 1e-12);
}

/* The nearest setting within the tolerance belongs to a step; one a hair outside does not. */
static void test_find_step(void **state)
{
    struct limits limits = {0};
    struct measurement m = {0};

    (void)state;
    fixture_limits(&limits, "", "<gain id=\"g\" band=\"centre\" min=\"1 dB\"/>");
    measurement_reset(&m, "A1", 1);
    (void)fixture_sweep(&m, any_board, 1.789, 160e6, 1e6, 2);
    (void)fixture_sweep(&m, any_board, 2.404, 160e6, 1e6, 2);
    (void)fixture_sweep(&m, any_board, 3.01, 160e6, 1e6, 2);
    assert_null(coverage_find_step(&limits, &m, 0));
    assert_ptr_equal(coverage_find_step(&limits, &m, 1), &m.biases[1]);
    /* 3.01 - 3.00 is more than 0.01 in binary; a person would still say 10 mV. */
    assert_ptr_equal(coverage_find_step(&limits, &m, 2), &m.biases[2]);
    measurement_clear(&m);
    limits_clear(&limits);
}

/* Placeholders: all quiet, or all the same; a single louder or different point makes a trace. */
static void test_placeholder(void **state)
{
    struct measurement m = {0};
    struct bias_sweep *bias;

    (void)state;
    measurement_reset(&m, "A1", 1);
    bias = fixture_sweep(&m, any_board, 1.8, 160e6, 1e6, 5);
    assert_false(coverage_is_placeholder(&bias->sweep, S11));
    for (size_t i = 0; i < 5; i++)
        fixture_set(bias, i, S11, CMPLX(9e-7 * (double)(i % 2), 0));
    assert_true(coverage_is_placeholder(&bias->sweep, S11));
    fixture_set(bias, 4, S11, 2e-6);
    assert_false(coverage_is_placeholder(&bias->sweep, S11));
    for (size_t i = 0; i < 5; i++)
        fixture_set(bias, i, S11, CMPLX(0.3, 0.1));
    assert_true(coverage_is_placeholder(&bias->sweep, S11));
    /* One point is always the same number everywhere: that proves nothing. */
    bias->sweep.n_points = 1;
    assert_false(coverage_is_placeholder(&bias->sweep, S11));
    bias->sweep.n_points = 0;
    assert_true(coverage_is_placeholder(&bias->sweep, S11));
    measurement_clear(&m);
}

/* Why a sweep cannot be used is told in words, with the step's name. */
static void test_usable(void **state)
{
    struct limits limits = {0};
    struct measurement m = {0};
    struct bias_sweep *bias;
    struct text why = {0};

    (void)state;
    fixture_limits(&limits, "", "<gain id=\"g\" band=\"centre\" min=\"1 dB\"/>");
    measurement_reset(&m, "A1", 1);
    bias = fixture_sweep(&m, any_board, 1.8, 160e6, 1e6, 5);
    assert_true(coverage_usable(&limits, bias, 0, S_ALL, &why));
    assert_int_equal(why.length, 0);
    assert_false(coverage_usable(&limits, NULL, 0, S_ALL, &why));
    assert_holds(why.data, "no sweep at bias low (1.8 V)");
    text_reset(&why);
    bias->sweep.measured = S_BIT(S11);
    assert_false(coverage_usable(&limits, bias, 0, S_BIT(S21), &why));
    assert_string_equal(why.data, "bias low (1.8 V): S21 was not measured");
    text_reset(&why);
    bias->sweep.n_points = 0;
    assert_false(coverage_usable(&limits, bias, 0, S_BIT(S11), &why));
    assert_holds(why.data, "the sweep is empty");
    text_clear(&why);
    measurement_clear(&m);
    limits_clear(&limits);
}

struct span_case {
    double from_hz, step_hz;
    size_t n;
    bool spanned;
};

/* Both ends reached and no gap wider than 1 MHz inside; gaps outside the band do not matter. */
static void test_spans(void **state)
{
    static const struct span_case cases[] = {
        {160e6, 1e6, 19, true},           {160e6, 0.5e6, 37, true}, {159.5e6, 1e6, 20, true},
        {160.1e6, 1e6, 30, false},        {150e6, 1e6, 28, false},  {150e6, 1.5e6, 30, false},
        {159.999999999e6, 1e6, 20, true},
    };
    struct limits limits = {0};

    (void)state;
    fixture_limits(&limits, "", "<gain id=\"g\" band=\"working\" min=\"1 dB\"/>");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct measurement m = {0};
        struct text why = {0};
        const struct bias_sweep *bias;

        measurement_reset(&m, "A1", 1);
        bias = fixture_sweep(&m, any_board, 1.8, cases[i].from_hz, cases[i].step_hz, cases[i].n);
        assert_int_equal(coverage_spans(&limits, &limits.limits[0], bias, 0, &why),
                         cases[i].spanned);
        assert_int_equal(why.length == 0, cases[i].spanned);
        text_clear(&why);
        measurement_clear(&m);
    }
    limits_clear(&limits);
}

/* A gap that begins before the band and ends in it leaves a part of the band unmeasured. */
static void test_gap_over_the_edge(void **state)
{
    struct limits limits = {0};
    struct measurement m = {0};
    struct text why = {0};
    struct bias_sweep *bias;

    (void)state;
    fixture_limits(&limits, "", "<gain id=\"g\" band=\"working\" min=\"1 dB\"/>");
    measurement_reset(&m, "A1", 1);
    bias = fixture_sweep(&m, any_board, 1.8, 160.5e6, 1e6, 20);
    bias->sweep.frequency_hz[0] = 150e6;
    assert_false(coverage_spans(&limits, &limits.limits[0], bias, 0, &why));
    assert_holds(why.data, "nothing was measured between 150 MHz and 161.5 MHz");
    text_reset(&why);
    /* The same gap wholly below the band is nobody's business. */
    bias->sweep.frequency_hz[1] = 160e6;
    bias->sweep.frequency_hz[2] = 161e6;
    bias->sweep.frequency_hz[3] = 162e6;
    for (size_t i = 4; i < 20; i++)
        bias->sweep.frequency_hz[i] = 159e6 + 1e6 * (double)i;
    assert_true(coverage_spans(&limits, &limits.limits[0], bias, 0, &why));
    text_clear(&why);
    measurement_clear(&m);
    limits_clear(&limits);
}

/* Reasons are a list without repeats that ends when nobody would read on. */
static void test_reason_list(void **state)
{
    struct text reason = {0};

    (void)state;
    reason_add(&reason, "first %d", 1);
    reason_add(&reason, "second");
    reason_add(&reason, "first %d", 1);
    assert_string_equal(reason.data, "first 1; second");
    for (int i = 0; i < 1000; i++)
        reason_add(&reason, "number %d of a long list", i);
    assert_true(reason.length < 1400);
    assert_string_equal(reason.data + reason.length - 5, "; ...");
    text_clear(&reason);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_find_step),
        cmocka_unit_test(test_placeholder),
        cmocka_unit_test(test_usable),
        cmocka_unit_test(test_spans),
        cmocka_unit_test(test_gap_over_the_edge),
        cmocka_unit_test(test_reason_list),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
