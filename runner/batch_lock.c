#include "runner/batch_lock.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#include "drivers/base/plain.h"

/* "process 4711 on HOST", as the holder wrote it. */
static void add_holder(int fd, struct text *who)
{
    char words[128] = "";
    ssize_t got = pread(fd, words, sizeof words - 1, 0);

    words[got > 0 ? got : 0] = '\0';
    words[strcspn(words, "\n")] = '\0';
    if (*words)
        text_add_plain(who, words, "");
    else
        text_add(who, "another process");
}

/* For people only; that the lock is held does not depend on it. */
static void write_holder(int fd)
{
    char host[64] = "", words[128];
    int length;

    (void)gethostname(host, sizeof host - 1);
    length = snprintf(words, sizeof words, "process %ld on %s\n", (long)getpid(), host);
    if (ftruncate(fd, 0) != 0 || pwrite(fd, words, (size_t)length, 0) < 0) return;
}

enum batch_lock_state batch_lock_try(struct batch_lock *out, const char *folder, struct text *who)
{
    enum batch_lock_state state = BATCH_LOCK_TAKEN;
    int top = open(folder, O_PATH | O_DIRECTORY | O_CLOEXEC);
    int fd = -1;

    if (top >= 0)
        fd = openat(top, BATCH_LOCK_NAME, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0666);
    if (fd < 0) {
        text_add(who, strerror(errno));
        state = BATCH_LOCK_IMPOSSIBLE;
    } else if (flock(fd, LOCK_EX | LOCK_NB) != 0) {
        if (errno == EWOULDBLOCK) {
            add_holder(fd, who);
            state = BATCH_LOCK_ELSEWHERE;
        } else {
            text_add(who, strerror(errno));
            state = BATCH_LOCK_IMPOSSIBLE;
        }
        (void)close(fd);
    } else {
        write_holder(fd);
        *out = (struct batch_lock){true, fd};
    }
    if (top >= 0) (void)close(top);
    return state;
}

bool batch_lock_take(struct batch_lock *out, const char *folder, struct error *e)
{
    struct text who = {0};
    enum batch_lock_state state = batch_lock_try(out, folder, &who);

    if (state == BATCH_LOCK_ELSEWHERE)
        (void)error_set(e, ERROR_STORE,
                        "%s: %s is working on this batch: end it there, or choose another folder",
                        folder, text_words(&who));
    if (state == BATCH_LOCK_IMPOSSIBLE)
        (void)error_set(e, ERROR_STORE, "%s/" BATCH_LOCK_NAME ": the batch cannot be locked: %s",
                        folder, text_words(&who));
    text_clear(&who);
    return state == BATCH_LOCK_TAKEN;
}

void batch_lock_release(struct batch_lock *lock)
{
    if (!lock->held) return;
    (void)flock(lock->fd, LOCK_UN);
    (void)close(lock->fd);
    *lock = (struct batch_lock){0};
}
