/* USB instruments through the kernel's usbtmc driver, a character device that moves whole messages.
 *
 * Facts of the driver (read in its source, API 2 and 3):
 * - One write is one message; one read is one transfer, and the end of a message stands in
 *   MSG_IN_ATTR, not in a short read. A read of 0 bytes is a broken protocol, not an end.
 * - Its waits end by its own time-out only, at least 100 ms, and a read that times out leaves a
 *   transfer to abort. poll() tells nothing of answers. So an answer is waited for by asking for
 * the status byte, and read when it is there; a device without one is read with the time that is
 * left.
 * - READ_STB of one version succeeds without storing the byte.
 * - A device may never come out of an abort or a clear, and the driver waits for it without end:
 * these run in a thread, which is left alone when the time is over. */
#include "drivers/link_usbtmc.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <linux/usb/tmc.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/base/stop.h"

#define OLDEST_API 2
/* The driver's shortest time-out, and the longest time that a status byte may take. */
#define SHORTEST_MS 100
#define STATUS_MS 500
/* Between two looks at the status byte: short at first, for devices that answer at once. */
#define FIRST_LOOK_S 0.0005
#define LAST_LOOK_S 0.05
#define MESSAGE_AVAILABLE 0x10 /* bit 4 of the status byte, IEEE 488.2 (from memory) */
#define NOT_STORED 0xFF
#define END_OF_MESSAGE 0x01
/* An abort takes milliseconds and belongs to the call before, whose time is over: it gets this much
 * whatever the caller allows, since a device that misses it is given up. */
#define ABORT_S 1.0

struct usbtmc {
    const struct usbtmc_calls *calls;
    bool has_status; /* the status byte tells of answers */
    bool in_message; /* the last read did not reach the end of its message */
    /* A transfer was cut off: the next call begins with this request. 0: none. */
    unsigned long abort;
};

static int system_open(const char *path, int flags)
{
    return open(path, flags);
}

static int system_ioctl(int fd, unsigned long request, void *argument)
{
    return ioctl(fd, request, argument);
}

static const struct usbtmc_calls system_calls = {
    .open = system_open, .read = read, .write = write, .ioctl = system_ioctl};

static bool is_gone(int number)
{
    return number == ENODEV || number == ENXIO || number == ESHUTDOWN || number == EIO;
}

static bool fail_with(struct link *link, int number, const char *what, struct error *e)
{
    if (is_gone(number))
        return link_fail(link, LINK_GONE, e,
                         "the instrument is gone (%s): look at its cable and its power, then open "
                         "the link again",
                         strerror(number));
    return link_fail(link, LINK_OTHER, e, "%s failed (%s): clear the instrument and ask again",
                     what, strerror(number));
}

static bool set_timeout(struct link *link, int ms, struct error *e)
{
    struct usbtmc *own = link->own;
    __u32 timeout_ms = (__u32)(ms > SHORTEST_MS ? ms : SHORTEST_MS);

    if (own->calls->ioctl(link->descriptor, USBTMC_IOCTL_SET_TIMEOUT, &timeout_ms) == 0)
        return true;
    return fail_with(link, errno, "setting the time-out", e);
}

/* ---- calls that may never come back ---- */

/* Shared with the thread; whoever is last frees it. */
struct bounded {
    pthread_mutex_t mutex;
    pthread_cond_t done_now;
    bool done, left_alone;
    const struct usbtmc_calls *calls;
    int fd; /* of its own, so that closing the link takes nothing from under the call */
    unsigned long request;
    int result, number;
};

static void bounded_free(struct bounded *call)
{
    (void)close(call->fd);
    (void)pthread_cond_destroy(&call->done_now);
    (void)pthread_mutex_destroy(&call->mutex);
    memory_free(call);
}

static void *bounded_run(void *argument)
{
    struct bounded *call = argument;
    bool left_alone;

    call->result = call->calls->ioctl(call->fd, call->request, NULL);
    call->number = call->result == 0 ? 0 : errno;
    (void)pthread_mutex_lock(&call->mutex);
    call->done = true;
    left_alone = call->left_alone;
    (void)pthread_cond_signal(&call->done_now);
    (void)pthread_mutex_unlock(&call->mutex);
    if (left_alone) bounded_free(call);
    return NULL;
}

static struct bounded *bounded_make(struct link *link, unsigned long request, struct error *e)
{
    const struct usbtmc *own = link->own;
    struct bounded *call = memory_make(1, sizeof *call, e);
    pthread_condattr_t monotonic;

    if (!call) return NULL;
    call->calls = own->calls;
    call->request = request;
    call->fd = fcntl(link->descriptor, F_DUPFD_CLOEXEC, 3);
    if (call->fd < 0) {
        (void)fail_with(link, errno, "preparing a device clear", e);
        memory_free(call);
        return NULL;
    }
    (void)pthread_mutex_init(&call->mutex, NULL);
    (void)pthread_condattr_init(&monotonic);
    (void)pthread_condattr_setclock(&monotonic, CLOCK_MONOTONIC);
    (void)pthread_cond_init(&call->done_now, &monotonic);
    (void)pthread_condattr_destroy(&monotonic);
    return call;
}

static bool bounded_start(struct bounded *call)
{
    sigset_t all, before;
    pthread_attr_t detached;
    pthread_t thread;
    bool ok;

    /* Signals are for the thread that knows what to do with them. */
    (void)sigfillset(&all);
    (void)pthread_sigmask(SIG_SETMASK, &all, &before);
    (void)pthread_attr_init(&detached);
    (void)pthread_attr_setdetachstate(&detached, PTHREAD_CREATE_DETACHED);
    ok = pthread_create(&thread, &detached, bounded_run, call) == 0;
    (void)pthread_attr_destroy(&detached);
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
    return ok;
}

/* Runs a request without argument. False with `e` set when it did not come back in time, which is
 * final, or could not be started. `*number` is 0 or why the driver refused. */
static bool run_bounded(struct link *link, unsigned long request, int *number,
                        struct deadline deadline, struct error *e)
{
    const struct timespec until = {.tv_sec = (time_t)(deadline.at_ns / 1000000000),
                                   .tv_nsec = (long)(deadline.at_ns % 1000000000)};
    struct bounded *call = bounded_make(link, request, e);
    bool done;

    if (!call) return false;
    if (!bounded_start(call)) {
        bounded_free(call);
        return link_fail(link, LINK_OTHER, e, "no thread could be started: end other programs");
    }
    (void)pthread_mutex_lock(&call->mutex);
    while (!call->done &&
           pthread_cond_timedwait(&call->done_now, &call->mutex, &until) != ETIMEDOUT)
        continue;
    done = call->done;
    call->left_alone = !done;
    *number = call->number;
    (void)pthread_mutex_unlock(&call->mutex);
    if (done) {
        bounded_free(call);
        return true;
    }
    return link_fail(link, LINK_GONE, e,
                     "the instrument does not come out of a device clear: switch it off and on, "
                     "then open the link again");
}

static bool clear_device(struct link *link, struct deadline deadline, struct error *e)
{
    int number;

    if (!run_bounded(link, USBTMC_IOCTL_CLEAR, &number, deadline, e)) return false;
    return number == 0 || fail_with(link, number, "a device clear", e);
}

/* Ends what a transfer that was cut off left behind. */
static bool abort_if_due(struct link *link, struct deadline deadline, struct error *e)
{
    struct usbtmc *own = link->own;
    const unsigned long request = own->abort;
    int number;

    if (request == 0) return true;
    if (deadline_left_s(deadline) < ABORT_S) deadline = deadline_in(ABORT_S);
    own->abort = 0;
    own->in_message = false;
    if (!run_bounded(link, request, &number, deadline, e)) return false;
    if (number == 0) return true;
    if (is_gone(number)) return fail_with(link, number, "aborting a transfer", e);
    /* Firmware without a working abort has a working clear, mostly. */
    return clear_device(link, deadline, e);
}

/* ---- the kind ---- */

static bool check(const char *port, const char *address, struct error *e)
{
    if (*address && !strchr(address, '?')) return true;
    return error_set(e, ERROR_USAGE,
                     "%s: a USB device has a path and no settings: write such as "
                     "usbtmc:/dev/usbtmc0",
                     port);
}

static bool cannot_open(struct link *link, int number, struct error *e)
{
    switch (number) {
    case EWOULDBLOCK:
    case EBUSY:
        return link_fail(link, LINK_OTHER, e,
                         "in use by another program: close that program, then start again");
    case EACCES:
    case EPERM:
        return link_fail(link, LINK_OTHER, e,
                         "this user may not open it: let an udev rule give the device to a group "
                         "that you are a member of");
    case ENOENT:
    case ENOTDIR:
    case ENODEV:
    case ENXIO:
        return link_fail(link, LINK_GONE, e,
                         "not there: plug the instrument in and switch it on (%s)",
                         strerror(number));
    case ENOTTY:
    case EINVAL:
        return link_fail(link, LINK_OTHER, e,
                         "not a USB instrument, or Linux is too old to tell where its messages "
                         "end: name a device such as /dev/usbtmc0");
    default:
        return link_fail(link, LINK_OTHER, e, "cannot be opened (%s): look at the path",
                         strerror(number));
    }
}

/* Asks the driver, not the device. */
static bool look_at_driver(struct link *link, struct error *e)
{
    struct usbtmc *own = link->own;
    unsigned char abilities = 0, attributes = 0;
    __u32 version = 0;

    if (own->calls->ioctl(link->descriptor, USBTMC_IOCTL_API_VERSION, &version) != 0)
        return cannot_open(link, errno, e);
    if (version < OLDEST_API) return cannot_open(link, ENOTTY, e);
    if (own->calls->ioctl(link->descriptor, USBTMC_IOCTL_MSG_IN_ATTR, &attributes) != 0)
        return cannot_open(link, errno, e);
    /* A device of the plain class has no status byte. */
    own->has_status =
        own->calls->ioctl(link->descriptor, USBTMC488_IOCTL_GET_CAPS, &abilities) == 0 &&
        abilities != 0;
    return true;
}

bool usbtmc_open_with(struct link *link, const char *path, const struct usbtmc_calls *calls,
                      struct error *e)
{
    struct usbtmc *own = memory_make(1, sizeof *own, e);

    if (!own) return false;
    own->calls = calls;
    link->own = own;
    link->message_ends = true;
    link->descriptor = calls->open(path, O_RDWR | O_CLOEXEC);
    if (link->descriptor < 0) return cannot_open(link, errno, e);
    /* The driver lets two programs in, and their messages mix. */
    if (flock(link->descriptor, LOCK_EX | LOCK_NB) != 0) return cannot_open(link, errno, e);
    return look_at_driver(link, e);
}

static bool usbtmc_open(struct link *link, const char *address, const struct link_line *line,
                        struct deadline deadline, struct error *e)
{
    char path[PATH_MAX];
    struct stat status;

    (void)line, (void)deadline; /* nothing here waits */
    if (!check(link->port, address, e)) return false;
    if (!realpath(address, path) || stat(path, &status) != 0) return cannot_open(link, errno, e);
    if (!S_ISCHR(status.st_mode)) return cannot_open(link, ENOTTY, e);
    return usbtmc_open_with(link, path, &system_calls, e);
}

static void usbtmc_close(struct link *link)
{
    if (link->descriptor >= 0) (void)close(link->descriptor);
    link->descriptor = -1;
    memory_free(link->own);
    link->own = NULL;
}

static bool usbtmc_write(struct link *link, const char *bytes, size_t n, struct deadline deadline,
                         struct error *e)
{
    struct usbtmc *own = link->own;
    const double allowed_s = deadline_left_s(deadline);
    char seconds[NUMBER_FIXED_TEXT];
    ssize_t sent = 0;

    if (n == 0) return true;
    if (!abort_if_due(link, deadline, e)) return false;
    (void)number_format_fixed(allowed_s, 1, seconds);
    if (!deadline_passed(deadline)) {
        if (!set_timeout(link, deadline_left_ms(deadline), e)) return false;
        own->in_message = false; /* a new message ends the old answer */
        sent = own->calls->write(link->descriptor, bytes, n);
        if (sent == (ssize_t)n) return true;
        own->abort = USBTMC_IOCTL_ABORT_BULK_OUT;
        if (sent < 0 && errno != ETIMEDOUT && errno != EINTR)
            return fail_with(link, errno, "sending", e);
    }
    /* The rest would go out as a message of its own: never send it. */
    return link_fail(link, LINK_TIMEOUT, e,
                     "the instrument took %zd of %zu bytes within %s s: clear it and look at its "
                     "state before sending again",
                     sent > 0 ? sent : 0, n, seconds);
}

/* Asks for the status byte. Gives up asking this device when it cannot tell. */
static bool look_for_answer(struct link *link, bool *there, struct deadline deadline,
                            struct error *e)
{
    struct usbtmc *own = link->own;
    const int left = deadline_left_ms(deadline);
    unsigned char status = NOT_STORED;
    int number = 0;

    *there = false;
    if (!set_timeout(link, left < STATUS_MS ? left : STATUS_MS, e)) return false;
    if (own->calls->ioctl(link->descriptor, USBTMC488_IOCTL_READ_STB, &status) != 0) number = errno;
    if (is_gone(number)) return fail_with(link, number, "asking for the status byte", e);
    if (number == ETIMEDOUT || number == EINTR || number == EAGAIN) return true; /* busy */
    if (number != 0 || status == NOT_STORED) own->has_status = false;
    *there = own->has_status && status & MESSAGE_AVAILABLE;
    return true;
}

/* Waits until an answer is there, or until the deadline (`*there` is false then). A passed deadline
 * gets one look. Without a status byte there is nothing to wait for: the read itself must. */
static bool wait_for_answer(struct link *link, bool *there, struct deadline deadline,
                            struct error *e)
{
    const struct usbtmc *own = link->own;
    double pause_s = FIRST_LOOK_S;

    while (own->has_status) {
        struct deadline next;

        if (!look_for_answer(link, there, deadline, e)) return false;
        if (*there || (own->has_status && deadline_passed(deadline))) return true;
        if (link_stopped(link)) {
            link->fault = LINK_OTHER;
            return stop_error(e);
        }
        next = deadline_first(deadline, deadline_in(pause_s));
        if (link->ignores_stop)
            deadline_sleep(next);
        else
            (void)deadline_wait(next); /* the next round sees a wish to stop */
        pause_s = pause_s * 2 < LAST_LOOK_S ? pause_s * 2 : LAST_LOOK_S;
    }
    *there = !deadline_passed(deadline);
    return true;
}

/* What a read that moved nothing means. True with no bytes when its time was over. */
static bool read_failed(struct link *link, ssize_t got, int number, struct error *e)
{
    struct usbtmc *own = link->own;

    own->in_message = false;
    own->abort = USBTMC_IOCTL_ABORT_BULK_IN;
    if (got == 0)
        return link_fail(link, LINK_OTHER, e,
                         "the instrument broke the USBTMC protocol (a transfer that was not what "
                         "was asked for): clear it and ask again");
    if (number == ETIMEDOUT) return true;
    if (number == EINTR && link_stopped(link)) {
        link->fault = LINK_OTHER;
        return stop_error(e);
    }
    return fail_with(link, number, "receiving", e);
}

static bool usbtmc_read(struct link *link, char *bytes, size_t room, size_t *n,
                        struct deadline deadline, struct error *e)
{
    struct usbtmc *own = link->own;
    unsigned char attributes = 0;
    bool there = true;
    ssize_t got;

    *n = 0;
    link->at_message_end = false;
    if (!abort_if_due(link, deadline, e)) return false;
    if (own->in_message)
        there = !deadline_passed(deadline);
    else if (!wait_for_answer(link, &there, deadline, e))
        return false;
    if (!there) return true;
    if (!set_timeout(link, deadline_left_ms(deadline), e)) return false;
    got = own->calls->read(link->descriptor, bytes, room);
    if (got <= 0) return read_failed(link, got, errno, e);
    if (own->calls->ioctl(link->descriptor, USBTMC_IOCTL_MSG_IN_ATTR, &attributes) != 0)
        return fail_with(link, errno, "asking for the end of the message", e);
    *n = (size_t)got;
    link->at_message_end = attributes & END_OF_MESSAGE;
    own->in_message = !link->at_message_end;
    return true;
}

static bool usbtmc_clear(struct link *link, struct deadline deadline, struct error *e)
{
    struct usbtmc *own = link->own;
    const unsigned long request = own->abort;
    int number; /* of an abort, which the clear makes good */

    own->abort = 0;
    own->in_message = false;
    if (request != 0 && !run_bounded(link, request, &number, deadline, e)) return false;
    return clear_device(link, deadline, e);
}

const struct link_kind link_usbtmc = {
    .scheme = "usbtmc",
    .open = usbtmc_open,
    .read = usbtmc_read,
    .write = usbtmc_write,
    .clear = usbtmc_clear,
    .close = usbtmc_close,
    .check = check,
};
