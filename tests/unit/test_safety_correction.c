/* How old the correction may be: safety_check_correction(). */
#include <stdlib.h>
#include <time.h>

#include "runner/safety.h"
#include "tests/check.h"

static char path[] = "bench.xml";

static bool check(const char *done, double valid_days, const char *today, struct error *e)
{
    char copy[16];
    const struct bench_file file = {
        .path = path, .correction = {.done = done ? copy : NULL, .valid_days = valid_days}};

    if (done) (void)snprintf(copy, sizeof copy, "%s", done);
    *e = (struct error){0};
    return safety_check_correction(&file, today, e);
}

/* Fails unless so many days are between the two: valid for as many, and not for one less. */
static void assert_days(const char *done, const char *today, long days)
{
    struct error e;
    char words[64];

    if (!check(done, (double)days, today, &e)) print_error("%s, %s: %ld\n", done, today, days);
    assert_true(check(done, (double)days, today, &e));
    if (days == 0) return;
    assert_false(check(done, (double)days - 1, today, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    (void)snprintf(words, sizeof words, "%ld days ago", days);
    assert_holds(e.text, words);
    assert_holds(e.text, "bench.xml: ");
    assert_holds(e.text, done);
}

/* Ends of months and years, and which years have a leap day (ISO 8601's calendar, from memory). */
static void test_calendar(void **state)
{
    (void)state;
    assert_days("2026-11-25", "2026-11-25", 0);
    assert_days("2026-11-25", "2026-11-26", 1);
    assert_days("2025-12-31", "2026-01-01", 1);
    assert_days("2026-02-28", "2026-03-01", 1);
    assert_days("2024-02-28", "2024-03-01", 2);
    assert_days("2000-02-28", "2000-03-01", 2);
    assert_days("2100-02-28", "2100-03-01", 1);
    assert_days("2025-11-25", "2026-11-25", 365);
    assert_days("2023-11-25", "2024-11-25", 366);
}

/* Any two days, counted by the system's own calendar. */
static void test_random_days(void **state)
{
    const unsigned seed = (unsigned)time(NULL);

    (void)state;
    print_message("seed %u\n", seed);
    srand(seed);
    for (unsigned k = 0; k < 2000; k++) {
        const time_t first = (time_t)86400 * (rand() % 40000);
        const long days = rand() % 3000;
        const time_t second = first + 86400 * days;
        struct tm a, b;
        char done[16], today[16];

        assert_non_null(gmtime_r(&first, &a));
        assert_non_null(gmtime_r(&second, &b));
        assert_int_equal(strftime(done, sizeof done, "%Y-%m-%d", &a), 10);
        assert_int_equal(strftime(today, sizeof today, "%Y-%m-%d", &b), 10);
        assert_days(done, today, days);
    }
}

/* After today: a clock is wrong, however long it would be valid. */
static void test_future(void **state)
{
    struct error e;

    (void)state;
    /* ... but for the day that has begun east of Greenwich. */
    assert_true(check("2026-11-26", 1000, "2026-11-25", &e));
    assert_false(check("2026-11-27", 1000, "2026-11-25", &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "clock");
    assert_holds(e.text, "2026-11-27");
    assert_holds(e.text, "2026-11-25");
}

/* No day, or no end of its validity: nothing to check. */
static void test_not_stated(void **state)
{
    struct error e;

    (void)state;
    assert_true(check(NULL, 30, "2026-11-25", &e));
    assert_true(check("1999-01-01", NAN, "2026-11-25", &e));
}

/* What is no day cannot be compared, and counts as nothing. */
static void test_no_day(void **state)
{
    static const char *const days[] = {"",           "2026",       "2026-1-1",   "2026-00-10",
                                       "2026-13-10", "2026-10-00", "2026-10-32", "abcd-10-10"};
    struct error e;

    (void)state;
    for (size_t k = 0; k < sizeof days / sizeof *days; k++) {
        assert_false(check(days[k], 1e9, "2026-11-25", &e));
        assert_int_equal(e.kind, ERROR_BENCH);
        assert_false(check("2026-11-25", 1e9, days[k], &e));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_calendar), cmocka_unit_test(test_random_days),
        cmocka_unit_test(test_future),   cmocka_unit_test(test_not_stated),
        cmocka_unit_test(test_no_day),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
