/* The whole judgement of a unit: verdicts, reasons, missing data, the worst limit. */
#include "limits/judge.h"

#include "drivers/base/memory.h"
#include "tests/fixture.h"

#define GUARDED "<decision rule=\"guarded-acceptance\" guard-factor=\"1\"/>"
#define SIMPLE "<decision rule=\"simple-acceptance\"/>"

/* 20 dB of gain at 1.8 V and 5 dB more per volt, -20 dB of input reflection; falls a little with
 * frequency so that no trace is the same number everywhere. */
static void plain_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    double tilt = (frequency_hz - 169e6) / 1e9;

    s[S11] = CMPLX(0.1, tilt * 0.01);
    s[S12] = CMPLX(0.01, tilt * 0.01);
    s[S21] = fixture_linear(20 + 5 * (bias_v - 1.8) - tilt);
    s[S22] = CMPLX(0.2, tilt * 0.01);
}

struct bench_unit {
    struct limits limits;
    struct measurement m;
    struct judgement judgement;
};

static void add_all_steps(struct bench_unit *u)
{
    measurement_reset(&u->m, "A1", 1);
    (void)fixture_sweep(&u->m, plain_board, 1.8, 150e6, 1e6, 41);
    (void)fixture_sweep(&u->m, plain_board, 2.4, 150e6, 1e6, 41);
    (void)fixture_sweep(&u->m, plain_board, 3.0, 150e6, 1e6, 41);
}

static void judge_unit(struct bench_unit *u)
{
    struct error e = {0};

    assert_done(judge(&u->limits, &u->m, NULL, &u->judgement, &e), &e);
}

static void clear_unit(struct bench_unit *u)
{
    judgement_clear(&u->judgement);
    measurement_clear(&u->m);
    limits_clear(&u->limits);
}

/* Every limit accepted: PASS, no reason, and the worst limit is the one with the least margin. */
static void test_pass(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(
        &u.limits, GUARDED,
        "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"19 dB\" uncertainty=\"0.2 dB\"/>"
        "<gain id=\"h\" bias=\"low\" band=\"working\" min=\"19.5 dB\" uncertainty=\"0.2 dB\"/>");
    add_all_steps(&u);
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_PASS);
    assert_null(u.judgement.reason);
    assert_int_equal(u.judgement.n_failed, 0);
    assert_string_equal(u.judgement.worst->limit->id, "h");
    assert_close(u.judgement.worst->margin, 0.5 - 0.009, 1e-9);
    assert_close(u.judgement.worst->frequency_hz, 178e6, 0);
    assert_close(u.judgement.worst->bias_v, 1.8, 0);
    clear_unit(&u);
}

/* One limit broken makes FAIL, whatever the others say, with value, bound and place in words. */
static void test_fail(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, GUARDED,
                   "<gain id=\"ok\" bias=\"low\" band=\"working\" min=\"15 dB\"/>"
                   "<gain id=\"bad\" bias=\"high\" band=\"working\" max=\"25 dB\"/>");
    add_all_steps(&u);
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_FAIL);
    assert_int_equal(u.judgement.n_failed, 1);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_PASS);
    assert_int_equal(u.judgement.findings[1].outcome, OUTCOME_FAIL);
    assert_string_equal(u.judgement.worst->limit->id, "bad");
    assert_holds(u.judgement.reason,
                 "bad: gain 26.01 dB at 160 MHz, bias 3 V: above 25 dB by 1.01 dB");
    clear_unit(&u);
}

/* Inside the limit but within the guard band: accepted by the simple rule only. */
static void test_conditional_pass_under_both_rules(void **state)
{
    static const char element[] =
        "<gain id=\"g\" bias=\"low\" band=\"centre\" min=\"19.9 dB\" uncertainty=\"0.2 dB\"/>";

    (void)state;
    for (int simple = 0; simple < 2; simple++) {
        struct bench_unit u = {0};

        fixture_limits(&u.limits, simple ? SIMPLE : GUARDED, element);
        add_all_steps(&u);
        judge_unit(&u);
        assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_CONDITIONAL_PASS);
        assert_int_equal(u.judgement.findings[0].accepted, simple);
        assert_int_equal(u.judgement.verdict, simple ? VERDICT_PASS : VERDICT_FAIL);
        /* margin 0.1 of U 0.2: Phi(1) */
        assert_close(u.judgement.findings[0].conformance_probability, 0.841344746068543, 1e-9);
        clear_unit(&u);
    }
}

/* A failure by less than the usual digits show is not "by 0.00 dB". */
static void test_failed_by_a_hair(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"low\" band=\"centre\" min=\"20.001 dB\"/>");
    add_all_steps(&u);
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_FAIL);
    assert_null(strstr(u.judgement.reason, "by 0.00 dB"));
    assert_holds(u.judgement.reason, "by 0.00");
    clear_unit(&u);
}

/* Outside the limit but within the guard band: fails under both rules, and says how close it is. */
static void test_conditional_fail(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(
        &u.limits, SIMPLE,
        "<gain id=\"g\" bias=\"low\" band=\"centre\" min=\"20.1 dB\" uncertainty=\"0.2 dB\"/>");
    add_all_steps(&u);
    judge_unit(&u);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_CONDITIONAL_FAIL);
    assert_int_equal(u.judgement.verdict, VERDICT_FAIL);
    assert_holds(u.judgement.reason, "below 20.1 dB by 0.1");
    assert_holds(u.judgement.reason, ", less than the guard band");
    clear_unit(&u);
}

/* A bias step that was never measured: INCOMPLETE with the reason, never PASS, and no numbers that
 * could be read as a result. */
static void test_missing_step_is_incomplete(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"all\" band=\"working\" min=\"10 dB\"/>");
    measurement_reset(&u.m, "A1", 1);
    (void)fixture_sweep(&u.m, plain_board, 1.8, 150e6, 1e6, 41);
    (void)fixture_sweep(&u.m, plain_board, 3.0, 150e6, 1e6, 41);
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_INCOMPLETE);
    assert_true(isnan(u.judgement.findings[0].value) != 0);
    assert_holds(u.judgement.reason, "g: no sweep at bias mid (2.4 V)");
    assert_null(u.judgement.worst);
    clear_unit(&u);
}

/* A failure that is seen outweighs data that are missing; the reason says both. */
static void test_failure_outweighs_missing(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"all\" band=\"working\" min=\"21 dB\"/>");
    measurement_reset(&u.m, "A1", 1);
    (void)fixture_sweep(&u.m, plain_board, 1.8, 150e6, 1e6, 41);
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_FAIL);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_FAIL);
    assert_holds(u.judgement.reason, "below 21 dB");
    assert_holds(u.judgement.reason, "missing too: no sweep at bias mid (2.4 V)");
    assert_holds(u.judgement.reason, "no sweep at bias high (3 V)");
    clear_unit(&u);
}

/* An accepted limit beside an incomplete one leaves the unit INCOMPLETE. */
static void test_one_incomplete_limit(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"10 dB\"/>"
                   "<bias-current id=\"i\" bias=\"low\" max=\"40 mA\"/>"
                   "<phase id=\"p\" bias=\"low\" band=\"centre\" min=\"-5 deg\" max=\"5 deg\"/>");
    add_all_steps(&u);
    judge_unit(&u);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_PASS);
    assert_int_equal(u.judgement.findings[1].outcome, OUTCOME_INCOMPLETE);
    assert_int_equal(u.judgement.findings[2].outcome, OUTCOME_INCOMPLETE);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    assert_holds(u.judgement.reason, "i: no supply reading at bias low (1.8 V)");
    assert_holds(u.judgement.reason, "p: no reference unit");
    clear_unit(&u);
}

/* The same reason for several limits is told once, with all their names. */
static void test_reasons_are_grouped(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"high\" band=\"working\" min=\"10 dB\"/>"
                   "<input-reflection id=\"m\" bias=\"high\" band=\"working\" max=\"-10 dB\"/>");
    measurement_reset(&u.m, "A1", 1);
    judge_unit(&u);
    assert_string_equal(u.judgement.reason, "g, m: no sweep at bias high (3 V)");
    clear_unit(&u);
}

/* A sweep that stops short of the band edge by 1 kHz does not cover it. */
static void test_short_sweep_is_incomplete(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"10 dB\"/>");
    measurement_reset(&u.m, "A1", 1);
    (void)fixture_sweep(&u.m, plain_board, 1.8, 150e6, 0.5e6, 56); /* to 177.5 MHz */
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    assert_holds(u.judgement.reason, "does not reach 178 MHz");
    clear_unit(&u);
}

/* Points further apart than max-step leave a hole that a resonance could hide in. */
static void test_wide_gap_is_incomplete(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"10 dB\"/>");
    measurement_reset(&u.m, "A1", 1);
    (void)fixture_sweep(&u.m, plain_board, 1.8, 150e6, 2e6, 21);
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    assert_holds(u.judgement.reason, "wider than 1 MHz");
    clear_unit(&u);
}

/* A single NaN among good points: INCOMPLETE, not skipped. */
static void test_nan_is_never_skipped(void **state)
{
    static const char *const elements[] = {
        "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"10 dB\"/>",
        ("<gain id=\"g\" bias=\"low\"><lower><point at=\"160 MHz\" value=\"10 dB\"/>"
         "<point at=\"178 MHz\" value=\"11 dB\"/></lower></gain>"),
        "<gain-flatness id=\"g\" bias=\"low\" band=\"working\" max=\"3 dB\"/>",
        "<group-delay id=\"g\" bias=\"low\" band=\"working\" max=\"300 ns\"/>",
        "<gain-slope id=\"g\" from=\"low\" to=\"mid\" band=\"working\" max=\"30 dB/V\"/>",
        "<gain-range id=\"g\" from=\"low\" to=\"mid\" band=\"working\" max=\"30 dB\"/>",
    };

    (void)state;
    for (size_t i = 0; i < sizeof elements / sizeof *elements; i++) {
        struct bench_unit u = {0};

        fixture_limits(&u.limits, SIMPLE, elements[i]);
        add_all_steps(&u);
        fixture_set(&u.m.biases[0], 20, S21, CMPLX(NAN, 0));
        judge_unit(&u);
        assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
        assert_holds(u.judgement.reason, "not a finite number");
        clear_unit(&u);
    }
}

/* What files hold where nothing was measured, zeros or one number everywhere, would be a perfect
 * match: it counts as missing. */
static void test_placeholder_is_missing(void **state)
{
    static const double placeholders[] = {0, 1e-7, 0.05};

    (void)state;
    for (size_t k = 0; k < 3; k++) {
        struct bench_unit u = {0};

        fixture_limits(&u.limits, SIMPLE,
                       "<input-reflection id=\"m\" bias=\"low\" band=\"working\" max=\"-16 dB\"/>");
        add_all_steps(&u);
        for (size_t i = 0; i < 41; i++)
            fixture_set(&u.m.biases[0], i, S11, placeholders[k]);
        judge_unit(&u);
        assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
        assert_holds(u.judgement.reason, "S11 is a placeholder");
        clear_unit(&u);
    }
}

/* Quiet in the whole band but for a louder point outside it: still nothing that was measured. */
static void test_placeholder_within_the_band(void **state)
{
    static const char *const elements[] = {
        "<input-reflection id=\"m\" bias=\"low\" band=\"working\" max=\"-16 dB\"/>",
        ("<input-reflection id=\"m\" bias=\"low\"><upper><point at=\"160 MHz\" value=\"-16 dB\"/>"
         "<point at=\"178 MHz\" value=\"-15 dB\"/></upper></input-reflection>"),
    };

    (void)state;
    for (size_t k = 0; k < 2; k++) {
        struct bench_unit u = {0};

        fixture_limits(&u.limits, SIMPLE, elements[k]);
        add_all_steps(&u);
        for (size_t i = 1; i < 41; i++)
            fixture_set(&u.m.biases[0], i, S11, 0);
        judge_unit(&u);
        assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
        assert_holds(u.judgement.reason, "below -120 dB at every point");
        clear_unit(&u);
    }
}

/* A sweep that could not be read carries its own reason into the verdict. */
static void test_unreadable_sweep(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"10 dB\"/>");
    add_all_steps(&u);
    sweep_reset(&u.m.biases[0].sweep);
    text_add(&u.m.biases[0].missing, "a.s2p:7: half a row");
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    assert_holds(u.judgement.reason, "bias low (1.8 V): a.s2p:7: half a row");
    clear_unit(&u);
}

/* A sweep that cannot be read makes the unit INCOMPLETE even when no limit needs it. */
static void test_unreadable_sweep_that_no_limit_needs(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"high\" band=\"working\" min=\"10 dB\"/>");
    add_all_steps(&u);
    sweep_reset(&u.m.biases[0].sweep);
    text_add(&u.m.biases[0].missing, "a.s2p:7: half a row");
    judge_unit(&u);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_PASS);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    assert_string_equal(u.judgement.reason, "a.s2p:7: half a row");
    clear_unit(&u);
}

/* Good numbers under a serial number that cannot be right are not a PASS: they may belong to
 * another board. */
static void test_wrong_serial_is_incomplete(void **state)
{
    struct bench_unit u = {0};
    struct error e = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"10 dB\"/>");
    assert_done(serial_rule_make(&u.limits.serial, "KW[0-9]{6}", CHECK_NONE, &e), &e);
    add_all_steps(&u);
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    assert_holds(u.judgement.reason, "does not follow the pattern");
    clear_unit(&u);
}

/* No measurement at all: every limit is incomplete. */
static void test_nothing_measured(void **state)
{
    struct bench_unit u = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE, "<gain id=\"g\" band=\"working\" min=\"10 dB\"/>");
    measurement_reset(&u.m, "A1", 1);
    judge_unit(&u);
    assert_int_equal(u.judgement.verdict, VERDICT_INCOMPLETE);
    clear_unit(&u);
}

/* A 75 ohm sweep is brought to the limits' 50 ohm before it is judged: a one-port of 0.2 + j0.1 at
 * 75 ohm is 0.386321626617 + j0.088724584104 at 50 (computed from the definition). */
static void test_other_impedance(void **state)
{
    struct bench_unit u = {0};
    struct error e = {0};
    double want_db = 20 * log10(hypot(0.386321626617, 0.088724584104));

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<input-reflection id=\"m\" bias=\"low\" band=\"centre\" max=\"-5 dB\"/>");
    measurement_reset(&u.m, "A1", 1);
    (void)fixture_sweep(&u.m, plain_board, 1.8, 168e6, 1e6, 3);
    u.m.biases[0].sweep.n_ports = 1;
    u.m.biases[0].sweep.measured = S_BIT(S11);
    u.m.biases[0].sweep.z0_ohm[0] = u.m.biases[0].sweep.z0_ohm[1] = 75;
    fixture_set(&u.m.biases[0], 1, S11, CMPLX(0.2, 0.1));
    assert_done(measurement_prepare(&u.m, u.limits.impedance_ohm, &e), &e);
    judge_unit(&u);
    assert_close(u.judgement.findings[0].value, want_db, 1e-9);
    clear_unit(&u);
}

/* A placeholder in a 75 ohm two-port would be mixed with the measured parameters by the change of
 * impedance, look like a trace, and could pass: the sweep counts as missing instead. */
static void test_placeholder_is_found_before_renormalising(void **state)
{
    struct bench_unit u = {0};
    struct error e = {0};

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<input-reflection id=\"m\" bias=\"low\" band=\"working\" max=\"-1 dB\"/>"
                   "<output-reflection id=\"o\" bias=\"low\" band=\"working\" max=\"-1 dB\"/>");
    add_all_steps(&u);
    u.m.biases[0].sweep.z0_ohm[0] = u.m.biases[0].sweep.z0_ohm[1] = 75;
    for (size_t i = 0; i < 41; i++)
        fixture_set(&u.m.biases[0], i, S22, 0);
    assert_done(measurement_prepare(&u.m, u.limits.impedance_ohm, &e), &e);
    judge_unit(&u);
    assert_int_equal(u.judgement.findings[0].outcome, OUTCOME_INCOMPLETE);
    assert_int_equal(u.judgement.findings[1].outcome, OUTCOME_INCOMPLETE);
    assert_holds(u.judgement.reason, "S22 is a placeholder");
    clear_unit(&u);
}

/* Running out of memory at any allocation is an error, never a verdict. */
static void test_every_allocation_may_fail(void **state)
{
    struct bench_unit u = {0};
    bool ok = false;

    (void)state;
    fixture_limits(&u.limits, SIMPLE,
                   "<gain id=\"g\" band=\"working\" min=\"30 dB\"/>"
                   "<bias-current id=\"i\" max=\"40 mA\"/>");
    add_all_steps(&u);
    for (unsigned long nth = 1; !ok; nth++) {
        struct error e = {0};

        assert_true(nth < 1000);
        memory_fail_at(nth);
        ok = judge(&u.limits, &u.m, NULL, &u.judgement, &e);
        memory_fail_at(0);
        assert_int_equal(ok ? ERROR_NONE : ERROR_MEMORY, e.kind);
    }
    assert_int_equal(u.judgement.verdict, VERDICT_FAIL);
    clear_unit(&u);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pass),
        cmocka_unit_test(test_fail),
        cmocka_unit_test(test_conditional_pass_under_both_rules),
        cmocka_unit_test(test_failed_by_a_hair),
        cmocka_unit_test(test_conditional_fail),
        cmocka_unit_test(test_missing_step_is_incomplete),
        cmocka_unit_test(test_failure_outweighs_missing),
        cmocka_unit_test(test_one_incomplete_limit),
        cmocka_unit_test(test_reasons_are_grouped),
        cmocka_unit_test(test_short_sweep_is_incomplete),
        cmocka_unit_test(test_wide_gap_is_incomplete),
        cmocka_unit_test(test_nan_is_never_skipped),
        cmocka_unit_test(test_placeholder_is_missing),
        cmocka_unit_test(test_placeholder_within_the_band),
        cmocka_unit_test(test_unreadable_sweep),
        cmocka_unit_test(test_unreadable_sweep_that_no_limit_needs),
        cmocka_unit_test(test_wrong_serial_is_incomplete),
        cmocka_unit_test(test_nothing_measured),
        cmocka_unit_test(test_other_impedance),
        cmocka_unit_test(test_placeholder_is_found_before_renormalising),
        cmocka_unit_test(test_every_allocation_may_fail),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
