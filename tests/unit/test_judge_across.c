/* Quantities that compare sweeps: slope, range, shift, phase. */
#include "limits/judge.h"

#include "tests/fixture.h"

#define SIMPLE "<decision rule=\"simple-acceptance\"/>"

/* Gain 14, 20, 23 dB at 1.8, 2.4, 3 V plus 0.01 dB a MHz; input reflection that turns with bias;
 * the angle of S21 turns by 10 degrees a volt. */
static void curved_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    double mhz = (frequency_hz - 169e6) / 1e6;
    double gain_db = bias_v < 2.1 ? 14 : bias_v < 2.7 ? 20 : 23;
    double magnitude = fixture_linear(gain_db + 0.01 * mhz), angle = 10 * bias_v * M_PI / 180;

    s[S11] = CMPLX(0.05 + 0.03 * (bias_v - 1.8), 0.001 * mhz);
    s[S12] = CMPLX(0.01, 1e-4 * mhz);
    s[S21] = CMPLX(magnitude * cos(angle), magnitude * sin(angle));
    s[S22] = CMPLX(0.2, 1e-4 * mhz);
}

struct bench_unit {
    struct limits limits;
    struct measurement m, reference;
    struct judgement judgement;
};

static void judge_unit(struct bench_unit *u, const char *element, bool with_reference)
{
    struct error e = {0};

    fixture_limits(&u->limits, SIMPLE, element);
    assert_done(judge(&u->limits, &u->m, with_reference ? &u->reference : NULL, &u->judgement, &e),
                &e);
}

static void clear_unit(struct bench_unit *u)
{
    judgement_clear(&u->judgement);
    measurement_clear(&u->m);
    measurement_clear(&u->reference);
    limits_clear(&u->limits);
}

static void add_step(struct bench_unit *u, double bias_v)
{
    (void)fixture_sweep(&u->m, curved_board, bias_v, 150e6, 1e6, 41);
}

static void three_steps(struct bench_unit *u)
{
    measurement_reset(&u->m, "A1", 1);
    add_step(u, 1.8);
    add_step(u, 2.4);
    add_step(u, 3.0);
}

/* Between neighbouring steps: 6 dB / 0.6 V = 10 dB/V, then 3 dB / 0.6 V = 5 dB/V. */
static void test_local_slope(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    three_steps(&u);
    judge_unit(&u,
               "<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"high\" method=\"local\" "
               "min=\"4 dB/V\" max=\"20 dB/V\"/>",
               false);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_PASS);
    assert_close(u.judgement.findings[0].value, 5, 1e-9);
    assert_close(u.judgement.findings[0].margin, 1, 1e-9);
    assert_close(u.judgement.findings[0].bias_v, 2.7, 1e-12);
    clear_unit(&u);
}

/* The slope divides by the bias as measured: 6 dB over 0.608 V. */
static void test_slope_uses_measured_bias(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    measurement_reset(&u.m, "A1", 1);
    add_step(&u, 1.796);
    add_step(&u, 2.404);
    judge_unit(&u,
               "<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"mid\" method=\"local\" "
               "max=\"20 dB/V\"/>",
               false);
    assert_close(u.judgement.findings[0].value, 6 / 0.608, 1e-9);
    clear_unit(&u);
}

/* The least-squares line through 14, 20, 23 dB: 9 dB over 1.2 V. */
static void test_fitted_slope(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    three_steps(&u);
    judge_unit(&u,
               "<gain-slope id=\"s\" band=\"working\" from=\"low\" to=\"high\" method=\"fit\" "
               "min=\"7 dB/V\"/>",
               false);
    assert_close(u.judgement.findings[0].value, 7.5, 1e-9);
    assert_close(u.judgement.findings[0].bias_v, 2.4, 1e-12);
    clear_unit(&u);
}

/* A missing step in the middle is never bridged: both its slopes are missing, and so is the fit. */
static void test_missing_step_is_not_bridged(void **state)
{
    static const char *const methods[] = {"local", "fit"};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct bench_unit u = {0};
        char element[256];

        measurement_reset(&u.m, "A1", 1);
        add_step(&u, 1.8);
        add_step(&u, 3.0);
        (void)snprintf(
            element, sizeof element,
            "<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"high\" method=\"%s\" "
            "max=\"20 dB/V\"/>",
            methods[i]);
        judge_unit(&u, element, false);
        assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
        assert_holds(u.judgement.reason, "no sweep at bias mid (2.4 V)");
        clear_unit(&u);
    }
}

/* A local slope that is seen to fail counts although another pair is missing. */
static void test_failing_pair_outweighs_missing(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    measurement_reset(&u.m, "A1", 1);
    add_step(&u, 1.8);
    add_step(&u, 2.4);
    judge_unit(&u,
               "<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"high\" method=\"local\" "
               "max=\"8 dB/V\"/>",
               false);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_FAIL);
    assert_holds(u.judgement.findings[0].reason, "missing too: no sweep at bias high (3 V)");
    clear_unit(&u);
}

/* Gain at `to` minus gain at `from`, also downwards. */
static void test_range(void **state)
{
    struct bench_unit up = {0}, down = {0};

    (void)state;
    three_steps(&up);
    judge_unit(&up, "<gain-range id=\"r\" band=\"working\" from=\"low\" to=\"high\" min=\"8 dB\"/>",
               false);
    assert_close(up.judgement.findings[0].value, 9, 1e-9);
    assert_close(up.judgement.findings[0].bias_v, 3.0, 0);
    three_steps(&down);
    judge_unit(&down,
               "<gain-range id=\"r\" band=\"working\" from=\"high\" to=\"low\" max=\"0 dB\"/>",
               false);
    assert_close(down.judgement.findings[0].value, -9, 1e-9);
    assert_close(down.judgement.findings[0].bias_v, 1.8, 0);
    clear_unit(&up);
    clear_unit(&down);
}

/* abs(S11(bias) - S11(reference bias)): 0.03 a volt, 0.018 either way from the middle step. */
static void test_shift(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    three_steps(&u);
    judge_unit(&u, "<reflection-shift id=\"p\" band=\"working\" reference=\"mid\" max=\"0.02\"/>",
               false);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_PASS);
    assert_close(u.judgement.findings[0].value, 0.018, 1e-12);
    clear_unit(&u);
}

/* Sweeps on different grids are compared at the measured points of either. */
static void test_different_grids(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    measurement_reset(&u.m, "A1", 1);
    add_step(&u, 1.8);
    (void)fixture_sweep(&u.m, curved_board, 2.4, 150.25e6, 0.5e6, 70);
    /* An excursion at a point that only the second grid has. */
    fixture_set(&u.m.biases[1], 41, S21, fixture_linear(26)); /* 170.75 MHz */
    judge_unit(&u, "<gain-range id=\"r\" band=\"working\" from=\"low\" to=\"mid\" max=\"8 dB\"/>",
               false);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_FAIL);
    assert_close(u.judgement.findings[0].frequency_hz, 170.75e6, 0);
    assert_close(u.judgement.findings[0].value, 26 - 14.0175, 1e-3);
    clear_unit(&u);
}

/* Angle of S21 against the reference unit at the same bias, wrapped. */
static void leading_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    curved_board(frequency_hz, bias_v, s);
    /* 190 degrees ahead reads as 170 behind. */
    s[S21] *= CMPLX(cos(-190 * M_PI / 180), sin(-190 * M_PI / 180));
}

static void test_phase(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    three_steps(&u);
    measurement_reset(&u.reference, "REF", 1);
    (void)fixture_sweep(&u.reference, leading_board, 1.8, 150e6, 1e6, 41);
    judge_unit(&u,
               "<phase id=\"p\" bias=\"low\" band=\"working\" min=\"-175 deg\" max=\"175 deg\"/>",
               true);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_PASS);
    assert_close(u.judgement.findings[0].value, -170, 1e-9);
    clear_unit(&u);
}

/* The reference unit's own gaps make the limit incomplete, in its name. */
static void test_phase_without_reference_step(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    three_steps(&u);
    measurement_reset(&u.reference, "REF", 1);
    (void)fixture_sweep(&u.reference, leading_board, 1.8, 165e6, 1e6, 41);
    judge_unit(&u, "<phase id=\"p\" bias=\"low mid\" band=\"working\" max=\"175 deg\"/>", true);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    assert_holds(u.judgement.reason, "the reference unit REF: bias low (1.8 V): the sweep");
    assert_holds(u.judgement.reason, "the reference unit REF: no sweep at bias mid (2.4 V)");
    clear_unit(&u);
}

/* A slope fails between two steps and blames both and no other; a shift blames the step that is
 * shifted; a range both its ends. Gains 14, 20, 23 dB: slopes 10 and 5 dB/V. */
static void test_failed_steps(void **state)
{
    static const struct {
        const char *element;
        uint64_t failed;
    } cases[] = {
        {"<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"high\" method=\"local\" "
         "min=\"7 dB/V\"/>",
         6},
        {"<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"high\" method=\"local\" "
         "max=\"7 dB/V\"/>",
         3},
        {"<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"high\" method=\"fit\" "
         "max=\"7 dB/V\"/>",
         7},
        {"<gain-range id=\"r\" band=\"centre\" from=\"low\" to=\"high\" max=\"8 dB\"/>", 5},
        {"<reflection-shift id=\"d\" bias=\"mid,high\" band=\"working\" reference=\"low\" "
         "max=\"0.02\"/>",
         4},
        {"<reflection-shift id=\"d\" bias=\"mid,high\" band=\"working\" reference=\"low\" "
         "max=\"0.04\"/>",
         0},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct bench_unit u = {0};

        three_steps(&u);
        judge_unit(&u, cases[i].element, false);
        assert_int_equal(u.judgement.findings[0].failed_steps, cases[i].failed);
        clear_unit(&u);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_local_slope),
        cmocka_unit_test(test_slope_uses_measured_bias),
        cmocka_unit_test(test_fitted_slope),
        cmocka_unit_test(test_missing_step_is_not_bridged),
        cmocka_unit_test(test_failing_pair_outweighs_missing),
        cmocka_unit_test(test_range),
        cmocka_unit_test(test_shift),
        cmocka_unit_test(test_different_grids),
        cmocka_unit_test(test_phase),
        cmocka_unit_test(test_phase_without_reference_step),
        cmocka_unit_test(test_failed_steps),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
