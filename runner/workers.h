/* The same work on many items by several threads; each item's result has its own place, so that the
 * outcome does not depend on the number of threads. */
#ifndef GAINSIEVE_WORKERS_H
#define GAINSIEVE_WORKERS_H

#include <stddef.h>

#include "drivers/base/error.h"
#include "runner/progress.h"

struct work {
    size_t n_items;
    unsigned long jobs; /* threads, at least 1 */
    /* Does one item. `job` is shared and read only but for the item's own place; `own` is the
     * thread's own zeroed memory of `own_size` bytes, ended by own_clear(). */
    bool (*do_item)(void *job, void *own, size_t item, struct error *e);
    void *job;
    size_t own_size;
    void (*own_clear)(void *own);
    struct progress *progress; /* shown by the calling thread */
};

/* Does every item, or stops at the first error or when the operator asks (ERROR_STOPPED). Of
 * several errors the one of the lowest item is kept. */
bool workers_run(const struct work *work, struct error *e) MUST_CHECK;

#endif
