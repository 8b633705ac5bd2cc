/* Threads: every item once, own memory, which error is kept, and the stop. */
#include "tests/check.h"

#include <signal.h>
#include <stdatomic.h>
#include <unistd.h>

#include "drivers/base/memory.h"
#include "drivers/base/stop.h"
#include "runner/workers.h"

#define ITEMS 500

struct job {
    atomic_int times[ITEMS];
    atomic_int n_owns, n_cleared, n_not_zero;
    size_t failing[2];  /* items that fail; ITEMS for none */
    atomic_bool failed; /* one of them has */
    size_t stopping;    /* item that asks for the stop */
};

struct own {
    struct job *job;
    void *memory;
};

static void job_start(struct job *job)
{
    memset(job, 0, sizeof *job);
    job->failing[0] = job->failing[1] = job->stopping = ITEMS;
}

static bool do_item(void *data, void *own_data, size_t item, struct error *e)
{
    struct job *job = data;
    struct own *own = own_data;

    if (!own->job) {
        if (own->memory) job->n_not_zero++;
        own->job = job;
        own->memory = memory_make(1, 8, e);
        if (!own->memory) return false;
        job->n_owns++;
    }
    job->times[item]++;
    if (item == job->failing[1]) {
        job->failed = true;
        return error_set(e, ERROR_STORE, "item %zu", item);
    }
    if (item == job->failing[0]) {
        /* Fails last, though it is the lower one. */
        for (int i = 0; i < 2000 && !job->failed; i++)
            (void)usleep(1000);
        (void)usleep(20000);
        return error_set(e, ERROR_INPUT, "item %zu", item);
    }
    if (item == job->stopping) (void)raise(SIGTERM);
    return true;
}

static void own_clear(void *data)
{
    struct own *own = data;

    if (own->job) own->job->n_cleared++;
    memory_free(own->memory);
}

static bool run(struct job *job, unsigned long jobs, size_t n_items, struct error *e)
{
    const struct work work = {.n_items = n_items,
                              .jobs = jobs,
                              .do_item = do_item,
                              .job = job,
                              .own_size = sizeof(struct own),
                              .own_clear = own_clear};

    return workers_run(&work, e);
}

/* Reason: with any number of threads each item is done once, each thread has zeroed memory of its
 * own, and all of it is cleared. */
static void test_every_item_once(void **state)
{
    static const unsigned long jobs[] = {1, 2, 7, CEILING_JOBS};

    (void)state;
    for (size_t k = 0; k < sizeof jobs / sizeof *jobs; k++) {
        struct job job;
        struct error e = {0};

        job_start(&job);
        assert_done(run(&job, jobs[k], ITEMS, &e), &e);
        for (size_t i = 0; i < ITEMS; i++)
            assert_int_equal(job.times[i], 1);
        assert_int_equal(job.n_not_zero, 0);
        assert_in_range(job.n_owns, 1, jobs[k]);
        assert_int_equal(job.n_cleared, job.n_owns);
    }
}

/* Reason: no work is done at once; more threads than items are harmless. */
static void test_few_items(void **state)
{
    struct job job;
    struct error e = {0};

    (void)state;
    job_start(&job);
    assert_done(run(&job, 3, 0, &e), &e);
    assert_done(run(&job, 5, 1, &e), &e);
    assert_int_equal(job.times[0], 1);
    assert_int_equal(job.times[1], 0);
}

/* Reason: an error ends the work soon and is handed on as it is. */
static void test_error(void **state)
{
    struct job job;
    struct error e = {0};

    (void)state;
    job_start(&job);
    job.failing[1] = 3;
    assert_false(run(&job, 1, ITEMS, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_string_equal(e.text, "item 3");
    assert_int_equal(job.times[3], 1);
    assert_int_equal(job.times[4], 0);
    assert_int_equal(job.n_cleared, job.n_owns);
}

/* Reason: which of two errors is told may not hang on which thread was faster: item 0 fails after
 * item 1 has, and is still the one. */
static void test_lowest_error(void **state)
{
    struct job job;
    struct error e = {0};

    (void)state;
    job_start(&job);
    job.failing[0] = 0;
    job.failing[1] = 1;
    assert_false(run(&job, 2, ITEMS, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_string_equal(e.text, "item 0");
}

/* Reason: no memory for a thread's own is an error like others, not an item left out. */
static void test_no_memory(void **state)
{
    struct job job;
    struct error e = {0}, e2 = {0};

    (void)state;
    job_start(&job);
    memory_fail_at(1);
    assert_false(run(&job, 1, ITEMS, &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_int_equal(job.times[0], 0);
    memory_fail_at(2);
    assert_false(run(&job, 1, ITEMS, &e2));
    memory_fail_at(0);
    assert_int_equal(e2.kind, ERROR_MEMORY);
}

/* Reason: when the operator asks to stop, no new item begins and the outcome says so; work whose
 * last item is done by then is done. This stays the last test: the flag cannot be taken back. */
static void test_stop(void **state)
{
    struct job job;
    struct error e = {0};

    (void)state;
    stop_listen();
    job_start(&job);
    job.stopping = 9;
    assert_done(run(&job, 1, 10, &e), &e);
    job_start(&job);
    assert_false(run(&job, 2, ITEMS, &e));
    assert_int_equal(e.kind, ERROR_STOPPED);
    for (size_t i = 0; i < ITEMS; i++)
        assert_int_equal(job.times[i], 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_item_once), cmocka_unit_test(test_few_items),
        cmocka_unit_test(test_error),           cmocka_unit_test(test_lowest_error),
        cmocka_unit_test(test_no_memory),       cmocka_unit_test(test_stop),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
