#include "limits/yield.h"

#include "drivers/base/memory.h"
#include "tests/check.h"

static struct finding findings[8][2];

/* A judgement with two limits; `failed` is the set of limits that failed. */
static struct judgement unit(size_t place, const char *serial, unsigned long attempt,
                             enum verdict verdict, unsigned failed)
{
    struct judgement judgement = {
        .attempt = attempt, .verdict = verdict, .n_findings = 2, .findings = findings[place]};

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
}

/* Nothing was judged: no yield, and above all not 100 %. */
static void test_empty(void **state)
{
    struct batch_yield yield = {0};
    struct error e = {0};
    bool known;

    (void)state;
    assert_done(batch_yield_count(&yield, NULL, 0, 2, &e), &e);
    known = !isnan(yield.yield);
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
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_counts), cmocka_unit_test(test_empty),
                                       cmocka_unit_test(test_interval),
                                       cmocka_unit_test(test_conditional),
                                       cmocka_unit_test(test_no_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
