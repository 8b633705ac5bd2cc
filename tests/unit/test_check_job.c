/* Judging a whole archive: which judgement belongs to which unit, whatever the number of threads;
 * broken files, the reference unit, unit pages, and lack of memory. */
#include "tests/tree.h"

#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "runner/check_job.h"
#include "tests/fixture.h"

#define GAIN "<gain id=\"g\" bias=\"low,mid\" band=\"centre\" min=\"14 dB\"/>"
#define PHASE "<phase id=\"p\" bias=\"low\" band=\"centre\" min=\"-10 deg\" max=\"10 deg\"/>"

struct stage {
    struct limits limits;
    struct views views;
    struct archive archive;
    struct source source;
    struct progress progress;
    struct check_job job;
    char folder[4200]; /* of unit pages */
};

static void stage_open(struct stage *s, struct tree *tree, const char *layout, const char *elements)
{
    static const struct bias_name names[] = {{"low", 1.8}, {"mid", 2.4}, {"high", 3.0}};
    char *paths[] = {tree->top};
    const struct archive_request request = {
        .paths = paths, .n_paths = 1, .layout = layout, .biases = {names, 3, 0.01}};
    struct error e = {0};

    memset(s, 0, sizeof *s);
    fixture_limits(&s->limits, "", elements);
    assert_done(archive_open(&s->archive, &request, &e), &e);
    assert_done(source_of_archive(&s->source, &s->archive, &e), &e);
    progress_start(&s->progress, "judged", "units", 0);
    s->job = (struct check_job){
        .limits = &s->limits, .source = &s->source, .progress = &s->progress, .jobs = 1};
}

/* Wants a report, and unit pages in a folder of the tree, which is made unless it is there. */
static void want_report(struct stage *s, struct tree *tree, const char *folder)
{
    struct error e = {0};

    (void)snprintf(s->folder, sizeof s->folder, "%s", tree_path(tree, folder));
    if (access(s->folder, F_OK) != 0) assert_done(file_make_folder(s->folder, &e), &e);
    views_find(&s->views, &s->limits);
    s->job.views = &s->views;
    s->job.units_folder = s->folder;
}

static void stage_close(struct stage *s)
{
    check_job_clear(&s->job);
    source_clear(&s->source);
    archive_clear(&s->archive);
    limits_clear(&s->limits);
}

/* A sweep over 169 MHz with this S21 at all points. The two others of S21's points differ by a
 * hair, so that no trace is a placeholder. */
static void write_sweep(struct tree *tree, const char *name, double re, double im)
{
    char content[400];

    (void)snprintf(content, sizeof content,
                   "# MHz S RI R 50\n"
                   "168.5 0.1 0 %.6f %.6f 0.001 0 0.1 0\n"
                   "169.0 0.1 0.01 %.6f %.6f 0.001 0.0001 0.1 0.01\n"
                   "169.5 0.1 0.02 %.6f %.6f 0.001 0.0002 0.1 0.02\n",
                   re + 0.01, im, re, im, re + 0.01, im);
    tree_write(tree, name, content);
}

/* Units A (pass, two attempts, the first of which fails), B (fail), C (one file broken). S21 of 10
 * is 20 dB, of 2 is 6.02 dB. */
static void write_units(struct tree *tree)
{
    write_sweep(tree, "A/1/low.s2p", 2, 0);
    write_sweep(tree, "A/1/mid.s2p", 10, 0);
    write_sweep(tree, "A/2/low.s2p", 10, 0);
    write_sweep(tree, "A/2/mid.s2p", 10, 0);
    write_sweep(tree, "B/1/low.s2p", 10, 0);
    write_sweep(tree, "B/1/mid.s2p", 2, 0);
    write_sweep(tree, "C/1/low.s2p", 10, 0);
    tree_write(tree, "C/1/mid.s2p", "nothing of the kind\n");
}

#define LAYOUT "{serial}/{attempt}/{bias}.s2p"

/* Reason: units and attempts keep their places with any number of threads, also more than units;
 * one unreadable file makes its unit INCOMPLETE and nothing else. */
static void test_units_and_attempts(void **state)
{
    struct tree *tree = *state;

    write_units(tree);
    for (unsigned long jobs = 1; jobs <= 5; jobs += 2) {
        struct stage s;
        struct error e = {0};

        stage_open(&s, tree, LAYOUT, GAIN);
        s.job.jobs = jobs;
        assert_done(check_job_run(&s.job, &e), &e);
        assert_int_equal(s.job.n_units, 3);
        assert_int_equal(s.job.n_judgements, 4);
        assert_int_equal(s.job.unit_judgement[1], 2);
        assert_int_equal(s.job.unit_judgement[3], 4);
        assert_string_equal(s.job.judgements[0].serial, "A");
        assert_int_equal(s.job.judgements[0].verdict, VERDICT_FAIL);
        assert_int_equal(s.job.judgements[1].attempt, 2);
        assert_int_equal(s.job.judgements[1].verdict, VERDICT_PASS);
        assert_string_equal(s.job.judgements[2].serial, "B");
        assert_int_equal(s.job.judgements[2].verdict, VERDICT_FAIL);
        assert_close(s.job.judgements[2].findings[0].value, 20 * log10(2), 1e-12);
        assert_true(s.job.judgements[2].findings[0].bias_v == 2.4);
        assert_int_equal(s.job.judgements[3].verdict, VERDICT_INCOMPLETE);
        assert_holds(s.job.judgements[3].reason, "C/1/mid.s2p:1: ");
        /* Without a report there is nothing to draw. */
        assert_null(s.job.traces);
        stage_close(&s);
    }
}

/* Reason: the reference unit's last attempt is compared with; one that is not there is a mistake
 * on the command line. S21 = 10 + 1j is turned by atan(0.1) = 5.71 degrees. */
static void test_reference(void **state)
{
    struct tree *tree = *state;
    struct stage s;
    struct error e = {0}, e2 = {0};

    write_sweep(tree, "A/1/low.s2p", -10, 0);
    write_sweep(tree, "A/2/low.s2p", 10, 0);
    write_sweep(tree, "B/1/low.s2p", 10, 1);
    stage_open(&s, tree, LAYOUT, PHASE);
    s.job.reference_serial = "A";
    assert_done(check_job_run(&s.job, &e), &e);
    assert_int_equal(s.job.judgements[0].verdict, VERDICT_FAIL);
    assert_int_equal(s.job.judgements[1].verdict, VERDICT_PASS);
    assert_int_equal(s.job.judgements[2].verdict, VERDICT_PASS);
    assert_close(s.job.judgements[2].findings[0].value, atan(0.1) * 180 / M_PI, 1e-9);
    stage_close(&s);

    stage_open(&s, tree, LAYOUT, PHASE);
    s.job.reference_serial = "none";
    assert_false(check_job_run(&s.job, &e2));
    assert_int_equal(e2.kind, ERROR_USAGE);
    assert_holds(e2.text, "--reference none: the archive holds no such unit");
    stage_close(&s);
}

/* Reason: a page a unit, and what the batch's page draws: the last attempts, with lines for a small
 * batch. */
static void test_pages(void **state)
{
    struct tree *tree = *state;
    struct batch_unit *units;
    struct stage s;
    struct error e = {0};

    write_units(tree);
    stage_open(&s, tree, LAYOUT, GAIN);
    want_report(&s, tree, "out/units");
    s.job.jobs = 2;
    assert_done(check_job_run(&s.job, &e), &e);
    assert_int_equal(access(tree_path(tree, "out/units/A.html"), R_OK), 0);
    assert_int_equal(access(tree_path(tree, "out/units/B.html"), R_OK), 0);
    assert_int_equal(access(tree_path(tree, "out/units/C.html"), R_OK), 0);
    units = check_job_units(&s.job, &e);
    assert_non_null(units);
    assert_ptr_equal(units[0].judgement, &s.job.judgements[1]);
    assert_int_equal(units[0].n_attempts, 2);
    assert_ptr_equal(units[2].judgement, &s.job.judgements[3]);
    assert_int_equal(units[2].n_attempts, 1);
    assert_null(units[0].circumstances->operator_name);
    assert_int_equal(units[0].traces->n_biases, 3);
    assert_int_equal(units[0].traces->lines[0].n_points, 3);
    /* C's file at bias mid is broken. */
    assert_int_equal(units[2].traces->lines[1].n_points, 0);
    memory_free(units);
    stage_close(&s);
}

/* Reason: fewer pages when they are not wanted; a unit that is INCOMPLETE is one of those that need
 * a look. */
static void test_fewer_pages(void **state)
{
    struct tree *tree = *state;
    struct stage s;
    struct error e = {0};

    write_units(tree);
    stage_open(&s, tree, LAYOUT, GAIN);
    want_report(&s, tree, "failed");
    s.job.unit_pages = UNIT_PAGES_FAILED;
    assert_done(check_job_run(&s.job, &e), &e);
    assert_int_not_equal(access(tree_path(tree, "failed/A.html"), F_OK), 0);
    assert_int_equal(access(tree_path(tree, "failed/B.html"), R_OK), 0);
    assert_int_equal(access(tree_path(tree, "failed/C.html"), R_OK), 0);
    stage_close(&s);

    stage_open(&s, tree, LAYOUT, GAIN);
    want_report(&s, tree, "none");
    s.job.unit_pages = UNIT_PAGES_NONE;
    assert_done(check_job_run(&s.job, &e), &e);
    assert_int_not_equal(access(tree_path(tree, "none/B.html"), F_OK), 0);
    assert_non_null(s.job.traces[1].lines);
    stage_close(&s);
}

/* Reason: a folder that is none, or something in the way of a page, ends the work as "not stored".
 */
static void test_pages_not_stored(void **state)
{
    struct tree *tree = *state;
    struct stage s;
    struct error e = {0}, e2 = {0};

    write_units(tree);
    tree_write(tree, "file", "");
    stage_open(&s, tree, LAYOUT, GAIN);
    want_report(&s, tree, "file");
    assert_false(check_job_run(&s.job, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    stage_close(&s);

    tree_folders(tree, "units/B.html/x");
    stage_open(&s, tree, LAYOUT, GAIN);
    want_report(&s, tree, "units");
    assert_false(check_job_run(&s.job, &e2));
    assert_int_equal(e2.kind, ERROR_STORE);
    assert_holds(e2.text, "units/B.html: cannot be written");
    stage_close(&s);
}

/* Reason: of many units lines are kept only for those that are not PASS, so that memory stays
 * bounded; each keeps its place with several threads. */
static void test_many_units(void **state)
{
    struct tree *tree = *state;
    char name[64];
    struct stage s;
    struct error e = {0};

    for (int i = 0; i < 130; i++) {
        (void)snprintf(name, sizeof name, "in/K%03d/low.s2p", i);
        write_sweep(tree, name, i % 10 == 3 ? 2 : 10, 0);
        (void)snprintf(name, sizeof name, "in/K%03d/mid.s2p", i);
        write_sweep(tree, name, 10, 0);
    }
    stage_open(&s, tree, NULL, GAIN);
    want_report(&s, tree, "units");
    s.job.jobs = 4;
    assert_done(check_job_run(&s.job, &e), &e);
    assert_int_equal(s.job.n_units, 130);
    for (size_t i = 0; i < s.job.n_judgements; i++) {
        const bool failed = i % 10 == 3;

        (void)snprintf(name, sizeof name, "K%03zu", i);
        assert_string_equal(s.job.judgements[i].serial, name);
        assert_int_equal(s.job.judgements[i].verdict, failed ? VERDICT_FAIL : VERDICT_PASS);
        assert_true((s.job.traces[i].lines != NULL) == failed);
        assert_close((double)s.job.traces[i].gain_db[0], failed ? 20 * log10(2) : 20, 1e-6);
    }
    stage_close(&s);
}

/* Reason: a unit may have been judged by other limits, of another list: its verdict is theirs, its
 * page too, and the report's limits count only what both say alike. */
static void test_other_limits(void **state)
{
    struct tree *tree = *state;
    struct stage s;
    struct limits other;
    struct batch_yield yield = {0};
    struct batch_unit *units;
    struct error e = {0};

    write_units(tree);
    fixture_limits(&other, "",
                   "<gain id=\"x\" bias=\"low\" band=\"centre\" min=\"1 dB\"/>" GAIN
                   "<gain id=\"y\" bias=\"low\" band=\"centre\" min=\"30 dB\"/>");
    stage_open(&s, tree, LAYOUT, GAIN);
    for (size_t i = 0; i < 2; i++)
        s.source.attempts[i].limits = &other;
    want_report(&s, tree, "pages");
    assert_done(check_job_run(&s.job, &e), &e);
    /* A has 20 dB, which is less than 30 dB; its own limits have three rows. */
    assert_int_equal(s.job.judgements[1].verdict, VERDICT_FAIL);
    assert_int_equal(s.job.judgements[1].n_findings, 3);
    units = check_job_units(&s.job, &e);
    assert_non_null(units);
    assert_int_equal(units[0].judgement->verdict, VERDICT_FAIL);
    assert_int_equal(units[0].judgement->n_findings, 1);
    assert_int_equal(units[0].judgement->findings[0].outcome, OUTCOME_PASS);
    assert_ptr_equal(units[1].judgement, &s.job.judgements[2]);
    assert_done(check_job_yield(&s.job, &yield, &e), &e);
    assert_int_equal(yield.n_units, 3);
    assert_int_equal(yield.n_fail, 2);
    assert_int_equal(yield.failed_by_limit[0], 1);
    assert_int_equal(access(tree_path(tree, "pages/A.html"), R_OK), 0);
    batch_yield_clear(&yield);
    memory_free(units);
    stage_close(&s);
    limits_clear(&other);
}

/* Reason: memory may end at any place; each gives that error and leaks nothing. */
static void test_out_of_memory(void **state)
{
    struct tree *tree = *state;
    bool ok = false;
    unsigned long n = 1;

    write_sweep(tree, "in/A/low.s2p", 10, 0);
    write_sweep(tree, "in/A/mid.s2p", 2, 0);
    for (; !ok; n++) {
        struct stage s;
        struct error e = {0};

        stage_open(&s, tree, NULL, GAIN);
        want_report(&s, tree, "units");
        s.job.reference_serial = "A";
        memory_fail_at(n);
        ok = check_job_run(&s.job, &e);
        memory_fail_at(0);
        if (!ok && e.kind != ERROR_MEMORY) fail_msg("allocation %lu: %s", n, e.text);
        stage_close(&s);
        assert_in_range(n, 1, 5000);
    }
    assert_true(n > 20);
}

/* Reason: clearing twice and clearing what never ran are harmless. */
static void test_clear(void **state)
{
    struct tree *tree = *state;
    struct stage s;
    struct error e = {0};

    write_units(tree);
    stage_open(&s, tree, LAYOUT, GAIN);
    check_job_clear(&s.job);
    assert_done(check_job_run(&s.job, &e), &e);
    check_job_clear(&s.job);
    assert_null(s.job.judgements);
    assert_int_equal(s.job.n_units, 0);
    check_job_clear(&s.job);
    stage_close(&s);
}

#define with_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_tree(test_units_and_attempts),
        with_tree(test_reference),
        with_tree(test_pages),
        with_tree(test_fewer_pages),
        with_tree(test_pages_not_stored),
        with_tree(test_many_units),
        with_tree(test_other_limits),
        with_tree(test_out_of_memory),
        with_tree(test_clear),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
