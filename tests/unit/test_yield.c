#include "limits/yield.h"

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

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_counts), cmocka_unit_test(test_empty)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
