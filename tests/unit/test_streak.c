/* Boards in a row with one fault. */
#include "runner/streak.h"
#include "tests/check.h"

/* A board whose limits failed ('x'), passed ('.') or were not judged ('?'). */
static void take(struct streak *streak, const char *serial, const char *limits, bool refused)
{
    struct finding findings[8] = {{0}};
    struct judgement judgement = {.findings = findings, .n_findings = strlen(limits)};

    (void)snprintf(judgement.serial, sizeof judgement.serial, "%s", serial);
    for (size_t k = 0; k < judgement.n_findings; k++) {
        findings[k].accepted = limits[k] == '.';
        findings[k].outcome = limits[k] == '.'   ? OUTCOME_PASS
                              : limits[k] == 'x' ? OUTCOME_FAIL
                                                 : OUTCOME_INCOMPLETE;
    }
    streak_take(streak, &judgement, refused);
}

static void assert_longest(const struct streak *streak, unsigned long n, size_t which)
{
    size_t found;

    assert_int_equal(streak_longest(streak, &found), n);
    if (n > 0) assert_int_equal(found, which);
}

/* A limit that all of them failed counts, whichever was the worst of each. */
static void test_shared_limit(void **state)
{
    struct streak streak = {0};

    (void)state;
    assert_longest(&streak, 0, 0);
    take(&streak, "A", "xx.", false);
    take(&streak, "B", ".xx", false);
    take(&streak, "C", "xx.", false);
    assert_longest(&streak, 3, 1);
}

/* A board that passes the limit ends its row, and so does one on which it was not judged. */
static void test_ends(void **state)
{
    struct streak streak = {0};

    (void)state;
    take(&streak, "A", "x", false);
    take(&streak, "B", "x", false);
    take(&streak, "C", ".", false);
    assert_longest(&streak, 0, 0);
    take(&streak, "D", "x", false);
    take(&streak, "E", "?", false);
    assert_longest(&streak, 0, 0);
}

/* A retest is the same board; when it passes, the bench has shown that it can. */
static void test_retest(void **state)
{
    struct streak streak = {0};

    (void)state;
    take(&streak, "A", "x", false);
    take(&streak, "A", "x", false);
    assert_longest(&streak, 1, 0);
    take(&streak, "B", "x", false);
    assert_longest(&streak, 2, 0);
    take(&streak, "B", ".", false);
    assert_longest(&streak, 0, 0);
}

/* Boards that the supply cut off have no values, and are a row of their own. */
static void test_refused(void **state)
{
    struct streak streak = {0};

    (void)state;
    take(&streak, "A", "x?", true);
    take(&streak, "B", "??", true);
    assert_longest(&streak, 2, STREAK_REFUSED);
    take(&streak, "C", "x.", false);
    assert_longest(&streak, 1, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shared_limit),
        cmocka_unit_test(test_ends),
        cmocka_unit_test(test_retest),
        cmocka_unit_test(test_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
