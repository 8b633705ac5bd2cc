/* The loop on a descriptor that the links share, and fd:N, which is nothing but that. */
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "drivers/base/number.h"
#include "drivers/base/stop.h"
#include "drivers/link.h"

/* Without a descriptor of the wish to stop, a wait looks for the flag so often. */
#define LOOK_MS 50

static bool fail_at_end(struct link *link, struct error *e)
{
    return link_fail(link, LINK_GONE, e,
                     "the instrument hung up: look at its cable and its power, then open the link "
                     "again");
}

/* A failed call in words: but for two that pass, what goes wrong with a device is final. */
static bool fail_with(struct link *link, int number, struct error *e)
{
    if (number == EAGAIN || number == EWOULDBLOCK) return fail_at_end(link, e);
    if (number == ENOMEM || number == ENOBUFS)
        return link_fail(link, LINK_OTHER, e, "bytes could not be moved (%s): try again",
                         strerror(number));
    return link_fail(link, LINK_GONE, e,
                     "the instrument hung up (%s): look at its cable and its power, then open the "
                     "link again",
                     strerror(number));
}

bool link_stopped(const struct link *link)
{
    return !link->ignores_stop && stop_wanted();
}

static bool stopped(struct link *link, struct error *e)
{
    link->fault = LINK_OTHER;
    return stop_error(e);
}

bool link_wait(struct link *link, short events, short *ready, struct deadline deadline,
               struct error *e)
{
    struct pollfd polled[2] = {
        {.fd = link->descriptor, .events = events},
        {.fd = link->ignores_stop ? -1 : stop_descriptor(), .events = POLLIN}};

    *ready = 0;
    for (;;) {
        const int left = deadline_left_ms(deadline);
        const bool looks = !link->ignores_stop && polled[1].fd < 0;
        int n;

        if (link_stopped(link)) return stopped(link, e);
        n = poll(polled, 2, looks && left > LOOK_MS ? LOOK_MS : left);
        if (n < 0 && errno != EINTR) return fail_with(link, errno, e);
        if (n > 0 && polled[1].revents) return stopped(link, e);
        if (n > 0) {
            *ready = polled[0].revents;
            return true;
        }
        if (left == 0) return true;
    }
}

/* Whether a call that moved nothing may be tried again. Where poll() saw a hang-up it may not: the
 * loop would spin. */
static bool may_try_again(int number, short ready)
{
    if (number == EINTR) return true;
    return (number == EAGAIN || number == EWOULDBLOCK) && !(ready & (POLLERR | POLLHUP | POLLNVAL));
}

bool link_read(struct link *link, char *bytes, size_t room, size_t *n, struct deadline deadline,
               struct error *e)
{
    *n = 0;
    for (;;) {
        short ready;
        ssize_t got;

        if (!link_wait(link, POLLIN, &ready, deadline, e)) return false;
        if (!ready) return true;
        got = read(link->descriptor, bytes, room);
        if (got > 0) {
            *n = (size_t)got;
            return true;
        }
        if (got == 0) return fail_at_end(link, e);
        if (!may_try_again(errno, ready)) return fail_with(link, errno, e);
    }
}

static ssize_t write_some(int descriptor, const char *bytes, size_t n)
{
    /* A socket whose peer is gone would end the process by SIGPIPE if written to. */
    const ssize_t sent = send(descriptor, bytes, n, MSG_NOSIGNAL | MSG_DONTWAIT);

    return sent < 0 && errno == ENOTSOCK ? write(descriptor, bytes, n) : sent;
}

/* A peer that closed its side takes bytes for a while and throws them away. */
static bool check_peer(struct link *link, struct error *e)
{
    struct pollfd polled = {.fd = link->descriptor, .events = POLLRDHUP};

    if (poll(&polled, 1, 0) <= 0) return true;
    return fail_at_end(link, e);
}

bool link_write(struct link *link, const char *bytes, size_t n, struct deadline deadline,
                struct error *e)
{
    const double allowed_s = deadline_left_s(deadline);
    size_t sent = 0;
    short ready = 0;

    if (!check_peer(link, e)) return false;
    while (sent < n) {
        const ssize_t more = write_some(link->descriptor, bytes + sent, n - sent);
        char words[NUMBER_FIXED_TEXT];

        if (more > 0) {
            sent += (size_t)more;
            if (sent == n) break;
        } else if (more < 0 && !may_try_again(errno, ready)) {
            return fail_with(link, errno, e);
        }
        if (!link_wait(link, POLLOUT | POLLRDHUP, &ready, deadline, e)) return false;
        if (ready & POLLRDHUP) return fail_at_end(link, e);
        if (ready && !deadline_passed(deadline)) continue;
        (void)number_format_fixed(allowed_s, allowed_s < 10 ? 2 : 0, words);
        return link_fail(link, LINK_TIMEOUT, e,
                         "only %zu of %zu bytes could be sent within %s s: the instrument does "
                         "not take them; look at its cable and at flow control",
                         sent, n, words);
    }
    return true;
}

/* ---- fd:N ---- */

/* "N" or "N=NAME": the name is what messages call it. */
static bool read_address(const char *address, int *number, const char **name)
{
    const char *equals = strchr(address, '=');
    const size_t length = equals ? (size_t)(equals - address) : strlen(address);
    char digits[16];
    unsigned long n;

    if (length >= sizeof digits || (equals && equals[1] == '\0')) return false;
    memcpy(digits, address, length);
    digits[length] = '\0';
    if (!number_parse_whole(digits, INT_MAX, &n) || n <= 2) return false;
    *number = (int)n;
    *name = equals ? equals + 1 : NULL;
    return true;
}

static bool descriptor_check(const char *port, const char *address, struct error *e)
{
    const char *name;
    int number;

    if (read_address(address, &number, &name)) return true;
    return error_set(e, ERROR_USAGE,
                     "%s: not an open descriptor: write a whole number from 3 on; 0 to 2 are the "
                     "terminal's",
                     port);
}

/* What has a name is somebody's, who may want it opened again: a copy is used and closed. */
static bool borrow(struct link *link, const char *name, struct error *e)
{
    const int copy = fcntl(link->descriptor, F_DUPFD_CLOEXEC, 3);

    link->descriptor = copy;
    if (copy < 0)
        return link_fail(link, LINK_OTHER, e, "the descriptor cannot be copied (%s)",
                         strerror(errno));
    /* `port` is ours alone, and long enough: the name is its end. */
    memmove(link->port, name, strlen(name) + 1);
    return true;
}

static bool descriptor_open(struct link *link, const char *address, const struct link_line *line,
                            struct deadline deadline, struct error *e)
{
    const char *name = NULL;
    int number = -1, flags;

    (void)line, (void)deadline;
    if (!read_address(address, &number, &name)) return descriptor_check(link->port, address, e);
    flags = fcntl(number, F_GETFL);
    if (flags < 0)
        return link_fail(link, LINK_OTHER, e, "the descriptor is not open (%s)", strerror(errno));
    if ((flags & O_ACCMODE) != O_RDWR)
        return link_fail(link, LINK_OTHER, e, "the descriptor does not go both ways");
    if (fcntl(number, F_SETFL, flags | O_NONBLOCK) < 0 || fcntl(number, F_SETFD, FD_CLOEXEC) < 0)
        return link_fail(link, LINK_OTHER, e, "the descriptor cannot be set up (%s)",
                         strerror(errno));
    link->descriptor = number;
    return !name || borrow(link, name, e);
}

static void descriptor_close(struct link *link)
{
    if (link->descriptor >= 0) (void)close(link->descriptor);
    link->descriptor = -1;
}

const struct link_kind link_descriptor = {
    .scheme = "fd",
    .open = descriptor_open,
    .close = descriptor_close,
    .check = descriptor_check,
};
