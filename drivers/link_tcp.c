#include <errno.h>
#include <limits.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdint.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <unistd.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/base/stop.h"
#include "drivers/link.h"

/* A name of the domain system, with its NUL (RFC 1035: 253 characters; from memory). */
#define HOST_SIZE 254
#define LARGEST_PORT 65535UL

/* A pulled cable shows within these times, not after the system's hours: an idle connection is
 * asked after KEEP_IDLE_S, and unanswered bytes end it after UNANSWERED_MS. */
#define KEEP_IDLE_S 5
#define KEEP_INTERVAL_S 5
#define UNANSWERED_MS 15000

/* How long to leave an instrument that still holds the old connection, the only one it has. Short
 * enough to sleep through when somebody asks to stop. */
#define AGAIN_S 0.05

/* Telnet, RFC 854 (from memory): IAC, then WILL, WON'T, DO or DON'T. */
#define TELNET_IAC 0xFF
#define TELNET_WILL 0xFB
#define TELNET_DONT 0xFE

struct place {
    char host[HOST_SIZE];
    char service[6];
};

/* Of a link: the first two bytes that the other side ever sent. */
struct beginning {
    unsigned char bytes[2];
    size_t n;
};

/* ---- the words of an address ---- */

/* A name or numbers with dots; in brackets an IPv6 address, and "%eth0" behind it where it is valid
 * on one network only. */
static bool is_host(const char *host, size_t length, bool bracketed)
{
    static const char allowed[] = "-._%:"
                                  "0123456789"
                                  "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz";

    return length > 0 && length < HOST_SIZE && strspn(host, allowed) >= length &&
           (bracketed || strcspn(host, "%:") >= length);
}

/* "HOST:PORT" or "[HOST]:PORT" in parts; false when it is neither. */
static bool split(const char *address, struct place *out)
{
    const bool bracketed = *address == '[';
    const char *colon = strrchr(address, ':');
    const char *host = address + bracketed;
    size_t length;
    unsigned long port;

    if (!colon || colon < host + bracketed) return false;
    if (bracketed && colon[-1] != ']') return false;
    length = (size_t)(colon - host) - bracketed;
    if (!is_host(host, length, bracketed)) return false;
    if (!number_parse_whole(colon + 1, LARGEST_PORT, &port) || port == 0) return false;
    if (strlen(colon + 1) >= sizeof out->service) return false;
    *out = (struct place){0};
    memcpy(out->host, host, length);
    memcpy(out->service, colon + 1, strlen(colon + 1));
    return true;
}

static bool tcp_check(const char *port, const char *address, struct error *e)
{
    struct place place;

    if (split(address, &place)) return true;
    return error_set(e, ERROR_USAGE,
                     "%s: not an address in the network: write tcp:HOST:PORT, as in "
                     "tcp:192.0.2.7:5025, with an IPv6 address in brackets, as in "
                     "tcp:[2001:db8::7]:5025",
                     port);
}

/* ---- names ---- */

/* A question to the system's resolver, which has its own ideas of time. A thread asks; who waits
 * for the answer may leave, then the thread clears up. */
struct lookup {
    struct place place;
    pthread_mutex_t lock;
    bool done, left; /* under the lock */
    int answered;    /* readable when done */
    int result;      /* of getaddrinfo() */
    struct addrinfo *found;
};

static int ask(const struct place *place, int flags, struct addrinfo **found)
{
    const struct addrinfo hints = {
        .ai_flags = flags | AI_NUMERICSERV, .ai_family = AF_UNSPEC, .ai_socktype = SOCK_STREAM};

    *found = NULL;
    return getaddrinfo(place->host, place->service, &hints, found);
}

static void lookup_free(struct lookup *lookup)
{
    if (lookup->found) freeaddrinfo(lookup->found);
    if (lookup->answered >= 0) (void)close(lookup->answered);
    (void)pthread_mutex_destroy(&lookup->lock);
    memory_free(lookup);
}

static void *look_up(void *data)
{
    struct lookup *lookup = data;
    struct addrinfo *found;
    const int result = ask(&lookup->place, 0, &found);
    bool left;

    (void)pthread_mutex_lock(&lookup->lock);
    lookup->result = result;
    lookup->found = result == 0 ? found : NULL;
    lookup->done = true;
    left = lookup->left;
    if (!left) (void)eventfd_write(lookup->answered, 1);
    (void)pthread_mutex_unlock(&lookup->lock);
    if (left) lookup_free(lookup);
    return NULL;
}

/* The thread takes no signals: the handler's work is to end a wait, and this is not the waiting
 * thread. */
static int start_quietly(pthread_t *thread, struct lookup *lookup)
{
    sigset_t all, before;
    int failed;

    (void)sigfillset(&all);
    (void)pthread_sigmask(SIG_SETMASK, &all, &before);
    failed = pthread_create(thread, NULL, look_up, lookup);
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
    return failed;
}

static struct lookup *lookup_start(const struct place *place, pthread_t *thread, struct link *link,
                                   struct error *e)
{
    struct lookup *lookup = memory_make(1, sizeof *lookup, e);
    int failed;

    if (!lookup) return NULL;
    lookup->place = *place;
    (void)pthread_mutex_init(&lookup->lock, NULL);
    lookup->answered = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    failed = lookup->answered < 0 ? errno : start_quietly(thread, lookup);
    if (!failed) return lookup;
    (void)link_fail(link, LINK_OTHER, e, "the host name could not be looked up (%s): try again",
                    strerror(failed));
    lookup_free(lookup);
    return NULL;
}

static bool fail_to_find(struct link *link, const struct place *place, int result, struct error *e)
{
    return link_fail(link, LINK_OTHER, e,
                     "the host name \"%s\" is not known (%s): correct it or write the address in "
                     "numbers",
                     place->host, gai_strerror(result));
}

/* The addresses of a place, in the system's order. */
static bool find(struct link *link, const struct place *place, struct addrinfo **out,
                 struct deadline deadline, struct error *e)
{
    struct lookup *lookup;
    pthread_t thread;
    int result;
    short ready;
    bool ok, done;

    /* Numbers need no resolver. */
    if (ask(place, AI_NUMERICHOST, out) == 0) return true;
    lookup = lookup_start(place, &thread, link, e);
    if (!lookup) return false;
    link->descriptor = lookup->answered;
    ok = link_wait(link, POLLIN, &ready, deadline, e);
    link->descriptor = -1;
    (void)pthread_mutex_lock(&lookup->lock);
    done = lookup->done;
    lookup->left = !done;
    (void)pthread_mutex_unlock(&lookup->lock);
    if (!done) {
        (void)pthread_detach(thread);
        return ok && link_fail(link, LINK_TIMEOUT, e,
                               "the host name \"%s\" was not found in time: write the address in "
                               "numbers, or look at the network",
                               place->host);
    }
    (void)pthread_join(thread, NULL);
    result = lookup->result;
    *out = lookup->found;
    lookup->found = NULL;
    lookup_free(lookup);
    if (ok && result == 0) return true;
    if (*out) freeaddrinfo(*out);
    return ok && fail_to_find(link, place, result, e);
}

/* ---- connecting ---- */

static void set_up(int descriptor)
{
    static const struct {
        int level, name, value;
    } options[] = {
        {IPPROTO_TCP, TCP_NODELAY, 1},
        {SOL_SOCKET, SO_KEEPALIVE, 1},
        {IPPROTO_TCP, TCP_KEEPIDLE, KEEP_IDLE_S},
        {IPPROTO_TCP, TCP_KEEPINTVL, KEEP_INTERVAL_S},
        {IPPROTO_TCP, TCP_USER_TIMEOUT, UNANSWERED_MS},
    };

    /* They make a link faster and faults seen sooner; it works without them. */
    for (size_t i = 0; i < sizeof options / sizeof options[0]; i++)
        (void)setsockopt(descriptor, options[i].level, options[i].name, &options[i].value,
                         sizeof options[i].value);
}

/* A port of this computer that nobody listens on can connect to itself, when it is chosen for the
 * near end as well; what is sent then comes back as the answer. */
static bool talks_to_itself(int descriptor)
{
    struct sockaddr_storage near = {0}, far = {0};
    socklen_t n_near = sizeof near, n_far = sizeof far;

    return getsockname(descriptor, (struct sockaddr *)&near, &n_near) == 0 &&
           getpeername(descriptor, (struct sockaddr *)&far, &n_far) == 0 && n_near == n_far &&
           memcmp(&near, &far, n_near) == 0;
}

static void hang_up(struct link *link)
{
    if (link->descriptor >= 0) (void)close(link->descriptor);
    link->descriptor = -1;
}

/* Waits for a connection that has begun. False with `*number` or, when stopped, with `e`. */
static bool finish_connecting(struct link *link, int *number, struct deadline deadline,
                              struct error *e)
{
    socklen_t size = sizeof *number;
    short ready;

    if (!link_wait(link, POLLOUT, &ready, deadline, e)) return false;
    *number = 0;
    if (!ready)
        *number = ETIMEDOUT;
    else if (getsockopt(link->descriptor, SOL_SOCKET, SO_ERROR, number, &size) != 0)
        *number = errno;
    else if (*number == 0 && talks_to_itself(link->descriptor))
        *number = ECONNREFUSED;
    return *number == 0;
}

static bool connect_one(struct link *link, const struct addrinfo *to, int *number,
                        struct deadline deadline, struct error *e)
{
    link->descriptor = socket(to->ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (link->descriptor < 0) {
        *number = errno;
        return false;
    }
    set_up(link->descriptor);
    if (connect(link->descriptor, to->ai_addr, to->ai_addrlen) != 0 && errno != EINPROGRESS &&
        errno != EINTR)
        *number = errno;
    else if (finish_connecting(link, number, deadline, e))
        return true;
    hang_up(link);
    return false;
}

/* Tries each address. Those that are left share the time that is left, so that one which swallows
 * everything does not hide the next. */
static bool connect_any(struct link *link, const struct addrinfo *found, int *number,
                        struct deadline deadline, struct error *e)
{
    int n = 0;

    *number = EADDRNOTAVAIL;
    for (const struct addrinfo *a = found; a; a = a->ai_next)
        n++;
    for (const struct addrinfo *a = found; a && e->kind == ERROR_NONE; a = a->ai_next, n--) {
        const struct deadline share = n > 1 ? deadline_in(deadline_left_s(deadline) / n) : deadline;

        if (connect_one(link, a, number, share, e)) return true;
    }
    return false;
}

static bool fail_to_connect(struct link *link, int number, struct error *e)
{
    if (number == ETIMEDOUT)
        return link_fail(link, LINK_TIMEOUT, e,
                         "no connection in time: look whether the instrument is on, at its address "
                         "and at the network cable");
    if (number == ECONNREFUSED)
        return link_fail(link, LINK_OTHER, e,
                         "the connection was refused (%s): look at the port's number, and whether "
                         "another program holds the only connection that the instrument has",
                         strerror(number));
    return link_fail(link, LINK_OTHER, e,
                     "no connection (%s): look at the instrument's address and at the network",
                     strerror(number));
}

/* Connects; with `patient`, an instrument that refuses is asked again until the deadline. */
static bool reach(struct link *link, const char *address, bool patient, struct deadline deadline,
                  struct error *e)
{
    struct place place;
    struct addrinfo *found = NULL;
    int number = 0;
    bool ok;

    if (!split(address, &place)) return tcp_check(link->port, address, e);
    if (!find(link, &place, &found, deadline, e)) return false;
    ok = connect_any(link, found, &number, deadline, e);
    while (!ok && e->kind == ERROR_NONE && patient && number == ECONNREFUSED &&
           !deadline_passed(deadline)) {
        deadline_sleep(deadline_first(deadline, deadline_in(AGAIN_S)));
        ok = link_stopped(link) ? stop_error(e) : connect_any(link, found, &number, deadline, e);
    }
    freeaddrinfo(found);
    if (!ok && e->kind == ERROR_NONE) return fail_to_connect(link, number, e);
    return ok;
}

/* ---- the link ---- */

static bool tcp_open(struct link *link, const char *address, const struct link_line *line,
                     struct deadline deadline, struct error *e)
{
    (void)line;
    link->own = memory_make(1, sizeof(struct beginning), e);
    return link->own && reach(link, address, false, deadline, e);
}

static void tcp_close(struct link *link)
{
    hang_up(link);
    memory_free(link->own);
    link->own = NULL;
}

/* A raw connection has no device clear; a new one has nothing of the old in it. */
static bool tcp_clear(struct link *link, struct deadline deadline, struct error *e)
{
    /* Closing alone would leave it open for a forked process that shares it. */
    (void)shutdown(link->descriptor, SHUT_RDWR);
    hang_up(link);
    *(struct beginning *)link->own = (struct beginning){0};
    return reach(link, link->address, true, deadline, e);
}

static bool is_telnet(const struct beginning *first)
{
    return first->n == 2 && first->bytes[0] == TELNET_IAC && first->bytes[1] >= TELNET_WILL &&
           first->bytes[1] <= TELNET_DONT;
}

static bool tcp_read(struct link *link, char *bytes, size_t room, size_t *n,
                     struct deadline deadline, struct error *e)
{
    struct beginning *first = link->own;

    *n = 0;
    if (!is_telnet(first) && !link_read(link, bytes, room, n, deadline, e)) return false;
    for (size_t i = 0; i < *n && first->n < sizeof first->bytes; i++)
        first->bytes[first->n++] = (unsigned char)bytes[i];
    if (!is_telnet(first)) return true;
    return link_fail(link, LINK_OTHER, e,
                     "the other side speaks Telnet (its first bytes are FF %02X): use the port for "
                     "raw bytes, mostly 5025, or set a device server to raw",
                     (unsigned)first->bytes[1]);
}

const struct link_kind link_tcp = {
    .scheme = "tcp",
    .open = tcp_open,
    .read = tcp_read,
    .clear = tcp_clear,
    .close = tcp_close,
    .check = tcp_check,
};
