#include "runner/carry.h"

#include "drivers/base/memory.h"
#include "tests/fixture.h"

#define GAIN(id, min) "<gain id=\"" id "\" bias=\"low\" band=\"centre\" min=\"" min "\"/>"

static void board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    (void)bias_v;
    for (int p = 0; p < S_PARAMETERS; p++)
        s[p] = CMPLX(0.1, frequency_hz / 1e11);
    s[S21] = CMPLX(10, frequency_hz / 1e9);
}

static void judge_by(const struct limits *limits, struct judgement *out)
{
    struct measurement m = {0};
    struct error e = {0};

    measurement_reset(&m, "KW1", 3);
    (void)fixture_sweep(&m, board, 1.8, 168e6, 1e6, 3);
    assert_done(judge(limits, &m, NULL, out, &e), &e);
    measurement_clear(&m);
}

/* The verdict stays that of the night. A limit that is the same in both files keeps its figures,
 * wherever it stands; one with another bound, and a new one, have none. */
static void test_carry(void **state)
{
    struct limits then, now;
    struct judgement night = {0}, anew = {0}, out = {0};
    struct error e = {0};

    (void)state;
    fixture_limits(&then, "", GAIN("a", "30 dB") GAIN("b", "10 dB") GAIN("c", "40 dB"));
    fixture_limits(&now, "", GAIN("new", "1 dB") GAIN("b", "10 dB") GAIN("a", "12 dB"));
    judge_by(&then, &night);
    judge_by(&now, &anew);
    assert_int_equal(night.verdict, VERDICT_FAIL);
    assert_int_equal(anew.verdict, VERDICT_PASS);
    assert_done(carry_judgement(&out, &night, &anew, &e), &e);
    assert_string_equal(out.serial, "KW1");
    assert_int_equal(out.attempt, 3);
    assert_int_equal(out.verdict, VERDICT_FAIL);
    assert_string_equal(out.reason, night.reason);
    assert_int_equal(out.n_failed, 2);
    assert_ptr_equal(out.worst, night.worst);
    assert_int_equal(out.n_findings, 3);
    for (size_t i = 0; i < 3; i++)
        assert_ptr_equal(out.findings[i].limit, &now.limits[i]);
    assert_int_equal(out.findings[0].outcome, OUTCOME_INCOMPLETE);
    assert_false(out.findings[0].accepted);
    assert_holds(out.findings[0].reason, "earlier limits");
    assert_int_equal(out.findings[1].outcome, OUTCOME_PASS);
    assert_true(out.findings[1].accepted);
    assert_true(out.findings[1].value == night.findings[1].value);
    assert_int_equal(out.findings[2].outcome, OUTCOME_INCOMPLETE);
    assert_true(isnan(out.findings[2].value) && isnan(out.findings[2].lower_margin));
    judgement_clear(&out);
    /* Memory may end at any place. */
    for (unsigned long n = 1;; n++) {
        struct error none = {0};
        bool ok;

        memory_fail_at(n);
        ok = carry_judgement(&out, &night, &anew, &none);
        memory_fail_at(0);
        if (ok) break;
        assert_int_equal(none.kind, ERROR_MEMORY);
        assert_null(out.findings);
        assert_in_range(n, 1, 20);
    }
    judgement_clear(&out);
    judgement_clear(&night);
    judgement_clear(&anew);
    limits_clear(&then);
    limits_clear(&now);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_carry)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
