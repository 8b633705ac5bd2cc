#include "runner/report_write.h"

#include "tests/batch_fixture.h"
#include "tests/capture.h"

static void test_options(void **state)
{
    unsigned long jobs = 0;
    enum unit_pages pages = UNIT_PAGES_ALL;
    struct error e = {0};

    (void)state;
    assert_done(report_read_jobs("7", &jobs, &e), &e);
    assert_int_equal(jobs, 7);
    assert_done(report_read_jobs(NULL, &jobs, &e), &e);
    assert_in_range(jobs, 1, CEILING_JOBS);
    assert_false(report_read_jobs("0", &jobs, &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    assert_done(report_read_pages(NULL, &pages, &e), &e);
    assert_int_equal(pages, UNIT_PAGES_ALL);
    assert_done(report_read_pages("failed", &pages, &e), &e);
    assert_int_equal(pages, UNIT_PAGES_FAILED);
    e = (struct error){0};
    assert_false(report_read_pages("some", &pages, &e));
    assert_holds(e.text, "--unit-pages some");
}

/* Two judgements of one unit, no limits: what the summary says of it. */
static void summarise(struct check_job *job, size_t n, const struct batch_yield *yield,
                      struct capture *c)
{
    job->n_judgements = n;
    capture_begin(c);
    report_print_summary(job, "out", yield);
    capture_end(c);
}

/* Units that are not PASS are named by their last attempt; without units there is no yield. */
static void test_summary(void **state)
{
    char reason[] = "gain: too low";
    struct judgement judgements[3] = {
        {.serial = "KW1", .attempt = 1, .verdict = VERDICT_FAIL, .reason = reason},
        {.serial = "KW1", .attempt = 2, .verdict = VERDICT_PASS},
        {.serial = "KW2", .attempt = 1, .verdict = VERDICT_FAIL, .reason = reason}};
    const struct batch_yield yield = {
        .n_units = 2, .n_pass = 1, .n_fail = 1, .yield = 0.5, .yield_low = 0.1, .yield_high = 0.9};
    const struct batch_yield none = {.yield = NAN};
    struct check_job job = {.judgements = judgements};
    struct capture c;

    (void)state;
    summarise(&job, 3, &yield, &c);
    assert_string_equal(c.words,
                        "FAIL       KW2  gain: too low\n"
                        "2 units: 1 PASS, 1 FAIL, 0 INCOMPLETE; yield 50.0 % (95 % interval 10.0 "
                        "to 90.0 %)\nReport: out/report.html\n");
    summarise(&job, 0, &none, &c);
    assert_string_equal(c.words, "no units\nReport: out/report.html\n");
}

/* A file that cannot be written is "not stored". */
static void test_not_stored(void **state)
{
    struct tree *tree = *state;
    struct text words = {0};
    struct error e = {0};
    char content[8] = "";

    text_add(&words, "abc");
    assert_done(report_write_file(tree->top, "a.csv", &words, &e), &e);
    FILE *file = fopen(tree_path(tree, "a.csv"), "r");
    assert_non_null(file);
    assert_int_equal(fread(content, 1, sizeof content, file), 3);
    assert_int_equal(fclose(file), 0);
    assert_string_equal(content, "abc");
    assert_false(report_write_file(tree_path(tree, "absent"), "a.csv", &words, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    text_clear(&words);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_options),
        cmocka_unit_test(test_summary),
        cmocka_unit_test_setup_teardown(test_not_stored, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
