#include "runner/workers.h"

#include <errno.h>
#include <pthread.h>
#include <string.h>
#include <time.h>

#include "drivers/base/memory.h"
#include "drivers/base/stop.h"

struct crew {
    const struct work *work;
    pthread_mutex_t lock;
    pthread_cond_t moved; /* an item was done or a thread has ended */
    size_t next, n_done;  /* under the lock, like all below */
    size_t n_running;
    size_t failed_item; /* lowest item that failed; n_items without */
    struct error failure;
};

/* The next item, or n_items when there is none left to do. */
static size_t take_item(struct crew *crew)
{
    size_t item = crew->work->n_items;

    (void)pthread_mutex_lock(&crew->lock);
    if (crew->failure.kind == ERROR_NONE && !stop_wanted() && crew->next < crew->work->n_items)
        item = crew->next++;
    (void)pthread_mutex_unlock(&crew->lock);
    return item;
}

static void note_failure(struct crew *crew, size_t item, const struct error *e)
{
    if (item >= crew->failed_item) return;
    crew->failed_item = item;
    crew->failure = *e;
}

static void *work_on(void *data)
{
    struct crew *crew = data;
    const struct work *work = crew->work;
    struct error e = {0};
    void *own = memory_make(1, work->own_size, &e);
    size_t item = own ? take_item(crew) : 0;

    while (own && item < work->n_items) {
        bool ok = work->do_item(work->job, own, item, &e);

        (void)pthread_mutex_lock(&crew->lock);
        crew->n_done += ok;
        if (!ok) note_failure(crew, item, &e);
        (void)pthread_cond_signal(&crew->moved);
        (void)pthread_mutex_unlock(&crew->lock);
        if (!ok) break;
        item = take_item(crew);
    }
    if (own && work->own_clear) work->own_clear(own);
    memory_free(own);
    (void)pthread_mutex_lock(&crew->lock);
    if (!own) note_failure(crew, 0, &e);
    crew->n_running--;
    (void)pthread_cond_signal(&crew->moved);
    (void)pthread_mutex_unlock(&crew->lock);
    return NULL;
}

static void wait_for_all(struct crew *crew)
{
    (void)pthread_mutex_lock(&crew->lock);
    while (crew->n_running > 0) {
        struct timespec until;

        (void)clock_gettime(CLOCK_REALTIME, &until);
        until.tv_nsec += 200000000;
        if (until.tv_nsec >= 1000000000) {
            until.tv_nsec -= 1000000000;
            until.tv_sec++;
        }
        (void)pthread_cond_timedwait(&crew->moved, &crew->lock, &until);
        if (crew->work->progress) progress_show(crew->work->progress, crew->n_done);
    }
    (void)pthread_mutex_unlock(&crew->lock);
}

static bool start_threads(struct crew *crew, pthread_t *threads, size_t *n_started, struct error *e)
{
    for (unsigned long i = 0; i < crew->work->jobs; i++) {
        int failed;

        (void)pthread_mutex_lock(&crew->lock);
        crew->n_running++;
        (void)pthread_mutex_unlock(&crew->lock);
        failed = pthread_create(&threads[i], NULL, work_on, crew);
        if (!failed) {
            (*n_started)++;
            continue;
        }
        (void)pthread_mutex_lock(&crew->lock);
        crew->n_running--;
        (void)pthread_mutex_unlock(&crew->lock);
        /* Fewer threads than wanted still do all the work. */
        if (*n_started > 0) return true;
        return error_set(e, ERROR_MEMORY, "no thread could be started: %s", strerror(failed));
    }
    return true;
}

bool workers_run(const struct work *work, struct error *e)
{
    struct crew crew = {.work = work, .failed_item = work->n_items + 1};
    pthread_t threads[CEILING_JOBS];
    size_t n_started = 0;
    bool ok;

    (void)pthread_mutex_init(&crew.lock, NULL);
    (void)pthread_cond_init(&crew.moved, NULL);
    ok = start_threads(&crew, threads, &n_started, e);
    wait_for_all(&crew);
    for (size_t i = 0; i < n_started; i++)
        (void)pthread_join(threads[i], NULL);
    (void)pthread_cond_destroy(&crew.moved);
    (void)pthread_mutex_destroy(&crew.lock);
    if (work->progress) progress_end(work->progress);
    if (!ok) return false;
    if (crew.failure.kind != ERROR_NONE)
        return error_set(e, crew.failure.kind, "%s", crew.failure.text);
    if (crew.n_done < work->n_items) return stop_error(e);
    return true;
}
