/* One program at a time works on a batch: a lock that the kernel drops with the process, however it
 * ends. The file says who holds it. */
#ifndef GAINSIEVE_BATCH_LOCK_H
#define GAINSIEVE_BATCH_LOCK_H

#include "drivers/base/error.h"
#include "drivers/base/text.h"

#define BATCH_LOCK_NAME "batch.lock"

/* Born `= {0}`. A forked child shares the lock, and the batch stays locked until the child ends
 * too: processes that live on are made before it is taken. */
struct batch_lock {
    bool held;
    int fd;
};

enum batch_lock_state {
    BATCH_LOCK_TAKEN = 0,
    BATCH_LOCK_ELSEWHERE,  /* another process holds it */
    BATCH_LOCK_IMPOSSIBLE, /* the folder cannot be written: nobody can hold it */
};

/* Tries, without waiting. `who` takes words for the two other states. */
enum batch_lock_state batch_lock_try(struct batch_lock *out, const char *folder, struct text *who);

/* Takes the lock or fails with ERROR_STORE that names its holder. */
bool batch_lock_take(struct batch_lock *out, const char *folder, struct error *e) MUST_CHECK;

/* Lets it go; harmless on zero and twice. */
void batch_lock_release(struct batch_lock *lock);

#endif
