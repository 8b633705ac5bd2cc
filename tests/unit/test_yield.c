#include "limits/yield.h"

#include "drivers/base/memory.h"
#include "tests/check.h"

static struct finding findings[8][2];

/* A judgement with two limits; `failed` is the set of limits that failed. */
static struct judgement unit(size_t place, const char *serial, unsigned long attempt,
                             enum verdict verdict, unsigned failed)
{
    struct judgement judgement = {.attempt = attempt,
                                  .verdict = verdict,
                                  .n_findings = 2,
                                  .findings = findings[place],
                                  .n_failed = (failed & 1) + (failed >> 1 & 1)};

    (void)snprintf(judgement.serial, sizeof judgement.serial, "%s", serial);
    for (size_t i = 0; i < 2; i++)
        findings[place][i] = (struct finding){
            .outcome = failed >> i & 1
                           ? OUTCOME_FAIL
                           : (verdict == VERDICT_INCOMPLETE ? OUTCOME_INCOMPLETE : OUTCOME_PASS),
            .accepted = !(failed >> i & 1) && verdict != VERDICT_INCOMPLETE};
    return judgement;
}

/* A unit counts once, by its last attempt; the first-pass count takes its first. */
static void test_counts(void **state)
{
    struct judgement batch[] = {
        unit(0, "A", 1, VERDICT_FAIL, 1), unit(1, "A", 2, VERDICT_PASS, 0),
        unit(2, "B", 1, VERDICT_PASS, 0), unit(3, "C", 1, VERDICT_INCOMPLETE, 0),
        unit(4, "D", 1, VERDICT_PASS, 0), unit(5, "D", 3, VERDICT_FAIL, 3)};
    struct batch_yield yield = {0};
    struct error e = {0};

    (void)state;
    assert_done(batch_yield_count(&yield, batch, 6, 2, &e), &e);
    assert_int_equal(yield.n_units, 4);
    assert_int_equal(yield.n_pass, 2);
    assert_int_equal(yield.n_fail, 1);
    assert_int_equal(yield.n_incomplete, 1);
    assert_int_equal(yield.n_first_pass, 2);
    assert_close(yield.yield, 0.5, 0);
    assert_int_equal(yield.failed_by_limit[0], 1);
    assert_int_equal(yield.failed_by_limit[1], 1);
    assert_false(judgement_is_last(batch, 6, 0));
    assert_true(judgement_is_last(batch, 6, 1));
    assert_true(judgement_is_last(batch, 6, 5));
    batch_yield_clear(&yield);
    batch_yield_clear(&yield);
    assert_null(yield.failed_by_limit);
}

/* Nothing was judged: no yield, and above all not 100 %. */
static void test_empty(void **state)
{
    struct batch_yield yield = {0};
    struct error e = {0};
    bool known;

    (void)state;
    assert_done(batch_yield_count(&yield, NULL, 0, 2, &e), &e);
    known = !isnan(yield.yield) || !isnan(yield.first);
    assert_false(known);
    assert_int_equal(yield.n_units, 0);
    batch_yield_clear(&yield);
}

/* 20 of 24: the exact interval at 95 %, 0.626158 to 0.952646 (computed with two other libraries).
 */
static void test_interval(void **state)
{
    struct judgement batch[24];
    struct batch_yield yield = {0};
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < 24; i++) {
        batch[i] = (struct judgement){.attempt = 1,
                                      .verdict = i < 20   ? VERDICT_PASS
                                                 : i < 23 ? VERDICT_FAIL
                                                          : VERDICT_INCOMPLETE};
        (void)snprintf(batch[i].serial, sizeof batch[i].serial, "K%02zu", i);
    }
    assert_done(batch_yield_count(&yield, batch, 24, 0, &e), &e);
    assert_int_equal(yield.n_units, 24);
    assert_int_equal(yield.n_incomplete, 1);
    assert_close(yield.yield, 20.0 / 24, 0);
    assert_close(yield.yield_low, 0.626158, 1e-6);
    assert_close(yield.yield_high, 0.952646, 1e-6);
    batch_yield_clear(&yield);
}

/* The probability of `k` or more successes out of `n`, summed term by term. */
static double at_least(size_t k, size_t n, double p)
{
    double sum = 0;

    for (size_t i = k; i <= n; i++) {
        double term = 1;

        for (size_t j = 0; j < i; j++)
            term *= (double)(n - j) / (double)(i - j) * p;
        sum += term * pow(1 - p, (double)(n - i));
    }
    return sum;
}

/* The first-pass yield has an interval of its own. By the definition of Clopper and Pearson: at its
 * lower end as many passes or more, at its upper end as many or fewer have 2.5 %. */
static void test_first_pass_interval(void **state)
{
    struct judgement batch[] = {
        unit(0, "A", 1, VERDICT_FAIL, 1), unit(1, "A", 2, VERDICT_PASS, 0),
        unit(2, "B", 1, VERDICT_PASS, 0), unit(3, "C", 1, VERDICT_INCOMPLETE, 0),
        unit(4, "C", 2, VERDICT_PASS, 0), unit(5, "D", 1, VERDICT_PASS, 0),
        unit(6, "D", 2, VERDICT_FAIL, 1), unit(7, "E", 3, VERDICT_PASS, 0)};
    struct batch_yield yield = {0};
    struct error e = {0};

    (void)state;
    assert_done(batch_yield_count(&yield, batch, 8, 2, &e), &e);
    assert_int_equal(yield.n_units, 5);
    assert_int_equal(yield.n_pass, 4);
    /* E's first attempt is not on record: nobody knows that it passed. */
    assert_int_equal(yield.n_first_pass, 2);
    assert_close(yield.yield, 0.8, 0);
    assert_close(yield.first, 0.4, 0);
    assert_close(at_least(2, 5, yield.first_low), 0.025, 1e-9);
    assert_close(1 - at_least(3, 5, yield.first_high), 0.025, 1e-9);
    assert_close(at_least(4, 5, yield.yield_low), 0.025, 1e-9);
    assert_close(1 - at_least(5, 5, yield.yield_high), 0.025, 1e-9);
    batch_yield_clear(&yield);
}

/* What each limit costs by itself and with others: A fails the first alone, B both, C the second
 * alone, D both in its last attempt only; what an earlier attempt failed counts nowhere. */
static void test_alone_and_together(void **state)
{
    struct judgement batch[] = {unit(0, "A", 1, VERDICT_FAIL, 1), unit(1, "B", 1, VERDICT_FAIL, 3),
                                unit(2, "C", 1, VERDICT_FAIL, 2), unit(3, "D", 1, VERDICT_FAIL, 2),
                                unit(4, "D", 2, VERDICT_FAIL, 3), unit(5, "E", 1, VERDICT_FAIL, 1),
                                unit(6, "E", 2, VERDICT_PASS, 0), unit(7, "F", 1, VERDICT_FAIL, 1)};
    const size_t together[] = {4, 2, 2, 3};
    struct batch_yield yield = {0};
    struct error e = {0};

    (void)state;
    assert_done(batch_yield_count(&yield, batch, 8, 2, &e), &e);
    assert_int_equal(yield.n_limits, 2);
    assert_int_equal(yield.failed_by_limit[0], 4);
    assert_int_equal(yield.failed_by_limit[1], 3);
    assert_int_equal(yield.failed_alone[0], 2);
    assert_int_equal(yield.failed_alone[1], 1);
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(yield.failed_together[i], together[i]);
    batch_yield_clear(&yield);
}

/* A limit that could not be judged did not fail: it neither counts nor makes another one fail in
 * company. */
static void test_incomplete_is_not_failed(void **state)
{
    struct finding found[2] = {{.outcome = OUTCOME_FAIL}, {.outcome = OUTCOME_INCOMPLETE}};
    struct judgement batch[] = {{.serial = "A",
                                 .attempt = 1,
                                 .verdict = VERDICT_FAIL,
                                 .n_findings = 2,
                                 .findings = found,
                                 .n_failed = 1}};
    struct batch_yield yield = {0};
    struct error e = {0};

    (void)state;
    assert_done(batch_yield_count(&yield, batch, 1, 2, &e), &e);
    assert_int_equal(yield.failed_by_limit[0], 1);
    assert_int_equal(yield.failed_alone[0], 1);
    assert_int_equal(yield.failed_by_limit[1], 0);
    assert_int_equal(yield.failed_together[1], 0);
    batch_yield_clear(&yield);
}

/* Failed is what was seen outside: neither accepted nor incomplete, whatever its name. */
static void test_has_failed(void **state)
{
    (void)state;
    for (int outcome = OUTCOME_INCOMPLETE; outcome <= OUTCOME_PASS; outcome++) {
        struct finding finding = {.outcome = (enum outcome)outcome};

        assert_int_equal(finding_has_failed(&finding), outcome != OUTCOME_INCOMPLETE);
        finding.accepted = true;
        assert_false(finding_has_failed(&finding));
    }
}

/* The costliest limit comes first, equal ones stay in the file's order, and each stands once. */
static void test_rank(void **state)
{
    static size_t failed[] = {3, 0, 7, 3, 7, 1, 0, 9};
    static const size_t want[] = {7, 2, 4, 0, 3, 5, 1, 6};
    const struct batch_yield yield = {.n_limits = 8, .failed_by_limit = failed};
    const struct batch_yield none = {0};
    size_t rank[8];

    (void)state;
    batch_yield_rank(&yield, rank);
    for (size_t i = 0; i < 8; i++)
        assert_int_equal(rank[i], want[i]);
    rank[0] = 42;
    batch_yield_rank(&none, rank);
    assert_int_equal(rank[0], 42);
}

/* A limit failed conditionally counts where the rule does not accept it, and not where it does. */
static void test_conditional(void **state)
{
    struct finding found[2] = {{.outcome = OUTCOME_CONDITIONAL_FAIL, .accepted = false},
                               {.outcome = OUTCOME_CONDITIONAL_PASS, .accepted = true}};
    struct judgement batch[] = {
        {.serial = "A", .attempt = 1, .verdict = VERDICT_FAIL, .n_findings = 2, .findings = found}};
    struct batch_yield yield = {0};
    struct error e = {0};

    (void)state;
    assert_done(batch_yield_count(&yield, batch, 1, 2, &e), &e);
    assert_int_equal(yield.failed_by_limit[0], 1);
    assert_int_equal(yield.failed_by_limit[1], 0);
    batch_yield_clear(&yield);
}

/* Without memory nothing is counted, rather than half of it. */
static void test_no_memory(void **state)
{
    struct batch_yield yield = {0};
    struct error e = {0};

    (void)state;
    memory_fail_at(1);
    assert_false(batch_yield_count(&yield, NULL, 0, 2, &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_null(yield.failed_by_limit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counts),
        cmocka_unit_test(test_empty),
        cmocka_unit_test(test_interval),
        cmocka_unit_test(test_first_pass_interval),
        cmocka_unit_test(test_alone_and_together),
        cmocka_unit_test(test_incomplete_is_not_failed),
        cmocka_unit_test(test_has_failed),
        cmocka_unit_test(test_rank),
        cmocka_unit_test(test_conditional),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
