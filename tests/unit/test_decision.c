#include "limits/decision.h"

#include "tests/check.h"

/* The conformance probability is Phi(2 margin / U) for one limit: the decision table of the formula
 * of JCGM 106:2012, exact values (computed, 15 digits). */
static void test_one_limit_table(void **state)
{
    static const double table[][2] = {
        {-1, 0.0227501319481792},  {-0.5, 0.158655253931457}, {0, 0.5},
        {0.83, 0.951542773733277}, {0.5, 0.841344746068543},  {0.8224268134757, 0.95},
        {1, 0.977249868051821},    {1.5, 0.998650101968370},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        const double uncertainty = 0.3;
        double margin = table[i][0] * uncertainty;

        assert_close(conformance_probability(20 + margin, 20, NAN, uncertainty), table[i][1],
                     1e-12);
        assert_close(conformance_probability(20 - margin, NAN, 20, uncertainty), table[i][1],
                     1e-12);
    }
}

/* JCGM 106:2012, single-item examples (from memory), with u = U / 2: a diode's breakdown voltage
 * (upper limit), a vessel's strength (lower limit), an oil's viscosity (both). */
static void test_jcgm_106_examples(void **state)
{
    (void)state;
    assert_close(conformance_probability(-5.47, NAN, -5.40, 2 * 0.05), 0.919243, 1e-6);
    assert_close(conformance_probability(509.7, 490, NAN, 2 * 8.6), 0.989010, 1e-6);
    assert_close(conformance_probability(13.6, 12.5, 16.3, 2 * 1.8), 0.662630, 1e-6);
}

/* Without any uncertainty the probability is certainty, and a value on the limit conforms. */
static void test_no_uncertainty(void **state)
{
    (void)state;
    assert_close(conformance_probability(20, 20, NAN, 0), 1, 0);
    assert_close(conformance_probability(19.999, 20, NAN, 0), 0, 0);
    assert_close(conformance_probability(21, NAN, 20, 0), 0, 0);
    assert_true(isnan(conformance_probability(NAN, 20, NAN, 0.1)));
}

/* The four outcomes and their edges: margin = gU is pass, 0 is conditional pass, -gU is fail. The
 * risks at the acceptance limit (50 % simple, 2.3 % guarded) are those that accredited bodies print
 * for ILAC-G8:09/2019. */
static void test_outcomes_at_their_edges(void **state)
{
    const double guard = 0.25;

    (void)state;
    assert_int_equal(decide(0.25, guard), OUTCOME_PASS);
    assert_int_equal(decide(nextafter(0.25, 0), guard), OUTCOME_CONDITIONAL_PASS);
    assert_int_equal(decide(0, guard), OUTCOME_CONDITIONAL_PASS);
    assert_int_equal(decide(-1e-300, guard), OUTCOME_CONDITIONAL_FAIL);
    assert_int_equal(decide(nextafter(-0.25, 0), guard), OUTCOME_CONDITIONAL_FAIL);
    assert_int_equal(decide(-0.25, guard), OUTCOME_FAIL);
    assert_close(1 - conformance_probability(20, NAN, 20, guard), 0.5, 1e-12);
    assert_close(1 - conformance_probability(20 - guard, NAN, 20, guard), 0.022750, 1e-6);
}

/* Without a guard band there is nothing conditional, and exactly on the limit is inside. */
static void test_no_guard_band(void **state)
{
    (void)state;
    assert_int_equal(decide(0, 0), OUTCOME_PASS);
    assert_int_equal(decide(-0.0, 0), OUTCOME_PASS);
    assert_int_equal(decide(-1e-300, 0), OUTCOME_FAIL);
}

/* A margin that is not a number may never read as anything but incomplete. */
static void test_nan_is_incomplete(void **state)
{
    (void)state;
    assert_int_equal(decide(NAN, 0.1), OUTCOME_INCOMPLETE);
    assert_int_equal(decide(0, NAN), OUTCOME_CONDITIONAL_PASS);
    assert_false(decision_accepts(SIMPLE_ACCEPTANCE, OUTCOME_INCOMPLETE));
}

/* Which outcomes each rule accepts. */
static void test_rules(void **state)
{
    (void)state;
    assert_true(decision_accepts(SIMPLE_ACCEPTANCE, OUTCOME_PASS));
    assert_true(decision_accepts(SIMPLE_ACCEPTANCE, OUTCOME_CONDITIONAL_PASS));
    assert_false(decision_accepts(SIMPLE_ACCEPTANCE, OUTCOME_CONDITIONAL_FAIL));
    assert_false(decision_accepts(SIMPLE_ACCEPTANCE, OUTCOME_FAIL));
    assert_true(decision_accepts(GUARDED_ACCEPTANCE, OUTCOME_PASS));
    assert_false(decision_accepts(GUARDED_ACCEPTANCE, OUTCOME_CONDITIONAL_PASS));
    assert_false(decision_accepts(GUARDED_ACCEPTANCE, OUTCOME_CONDITIONAL_FAIL));
    assert_false(decision_accepts(GUARDED_ACCEPTANCE, OUTCOME_FAIL));
}

/* Forgotten code must not say PASS: the zero of every kind of result is the safe one. */
static void test_zero_is_safe(void **state)
{
    struct judgement judgement = {0};
    struct finding finding = {0};

    (void)state;
    assert_int_equal(judgement.verdict, VERDICT_INCOMPLETE);
    assert_int_equal(finding.outcome, OUTCOME_INCOMPLETE);
    assert_false(finding.accepted);
}

/* The smallest margin that a rule accepts is where decide() and decision_accepts() turn: a picture
 * that dashes by the one may not contradict a verdict by the other. */
static void test_least_margin(void **state)
{
    static const double guards[] = {0, 0.1, 0.25, 3};

    (void)state;
    for (int rule = GUARDED_ACCEPTANCE; rule <= SIMPLE_ACCEPTANCE; rule++) {
        for (size_t i = 0; i < sizeof guards / sizeof *guards; i++) {
            const enum decision_rule r = (enum decision_rule)rule;
            const double least = decision_least_margin(r, guards[i]);

            assert_true(decision_accepts(r, decide(least, guards[i])));
            assert_false(decision_accepts(r, decide(nextafter(least, -1), guards[i])));
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_limit_table), cmocka_unit_test(test_jcgm_106_examples),
        cmocka_unit_test(test_no_uncertainty),  cmocka_unit_test(test_outcomes_at_their_edges),
        cmocka_unit_test(test_no_guard_band),   cmocka_unit_test(test_nan_is_incomplete),
        cmocka_unit_test(test_rules),           cmocka_unit_test(test_zero_is_safe),
        cmocka_unit_test(test_least_margin),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
