#include "runner/guardian.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "drivers/base/deadline.h"

/* Messages of a safe step and their bytes: the longest shipped one has two of ten bytes each. */
#define MOST_MESSAGES 16
#define MOST_BYTES 2048
/* An instrument that takes no bytes is given up after this, a pause is no longer than
 * profile_read() allows, and what it still says is read for this long: a TCP connection that is
 * closed with unread bytes in it throws away what was sent last. */
#define SEND_MS 300
#define LISTEN_MS 300
#define LISTEN_MOST_S 1.0
/* A device that keeps a write to itself for ever is left with its process after this. */
#define MOST_S 10

/* One packet: an instrument to hold, or the goodbye. */
struct packet {
    enum { HOLD = 0, GOODBYE, SEND_AND_GO } kind;
    unsigned slot, n_messages;
    unsigned length[MOST_MESSAGES]; /* of each message; 0: a pause */
    unsigned pause_ms[MOST_MESSAGES];
    char bytes[MOST_BYTES]; /* one behind the other */
};

static bool send_bytes(int fd, const char *bytes, size_t n)
{
    struct pollfd polled = {fd, POLLOUT, 0};

    while (n > 0) {
        const ssize_t sent = write(fd, bytes, n);

        if (sent > 0) {
            bytes += sent;
            n -= (size_t)sent;
        } else if (!(sent < 0 && (errno == EAGAIN || errno == EINTR)) ||
                   poll(&polled, 1, SEND_MS) <= 0) {
            return false;
        }
    }
    return true;
}

static void listen_a_while(int fd)
{
    const struct deadline most = deadline_in(LISTEN_MOST_S);
    struct pollfd polled = {fd, POLLIN, 0};
    char bytes[512];

    while (!deadline_passed(most) && poll(&polled, 1, LISTEN_MS) > 0)
        if (read(fd, bytes, sizeof bytes) <= 0) return;
}

/* Gives an instrument up that takes nothing. */
static void send_all(const struct packet *packet, int fd)
{
    const char *at = packet->bytes;
    const int flags = fcntl(fd, F_GETFL);

    if (flags >= 0) (void)fcntl(fd, F_SETFL, flags | O_NONBLOCK);
    for (unsigned k = 0; k < packet->n_messages; k++) {
        if (packet->length[k] == 0) (void)poll(NULL, 0, (int)packet->pause_ms[k]);
        if (!send_bytes(fd, at, packet->length[k])) return;
        at += packet->length[k];
    }
}

/* One packet and the descriptor beside it, -1 without. False at the end: the main process is gone.
 */
static bool take(int socket, struct packet *out, int *fd)
{
    union {
        char bytes[CMSG_SPACE(sizeof(int))];
        struct cmsghdr align;
    } control = {{0}};
    struct iovec part = {out, sizeof *out};
    struct msghdr message = {.msg_iov = &part,
                             .msg_iovlen = 1,
                             .msg_control = control.bytes,
                             .msg_controllen = sizeof control.bytes};
    struct cmsghdr *head;
    ssize_t n;

    do {
        n = recvmsg(socket, &message, MSG_CMSG_CLOEXEC);
    } while (n < 0 && errno == EINTR);
    *fd = -1;
    head = n > 0 ? CMSG_FIRSTHDR(&message) : NULL;
    if (head && head->cmsg_type == SCM_RIGHTS) memcpy(fd, CMSG_DATA(head), sizeof *fd);
    return n == (ssize_t)sizeof *out;
}

/* Each instrument in a process of its own: neither a pause nor a device that is stuck puts off the
 * other one. When none can be made, one behind the other. */
static void switch_off(const struct packet *packet, int fd)
{
    const pid_t pid = fork();

    if (pid > 0) return;
    if (pid == 0) (void)alarm(MOST_S);
    send_all(packet, fd);
    listen_a_while(fd);
    if (pid == 0) _exit(0);
}

static void guard(int socket)
{
    static struct packet held[GUARDIAN_SLOTS], packet;
    int fds[GUARDIAN_SLOTS] = {-1, -1}, fd;
    bool is_expected = false;
    static const char words[] =
        "gainsieve: the program ended without a word; RF and bias were told to "
        "switch off, but nobody saw that they did: look at the supply, and "
        "switch it off by hand before the board is touched\n";

    while (take(socket, &packet, &fd)) {
        if (packet.kind == GOODBYE) return;
        is_expected = packet.kind == SEND_AND_GO;
        if (packet.slot >= GUARDIAN_SLOTS || fd < 0) continue;
        if (fds[packet.slot] >= 0) (void)close(fds[packet.slot]);
        held[packet.slot] = packet;
        fds[packet.slot] = fd;
    }
    for (unsigned slot = 0; slot < GUARDIAN_SLOTS; slot++)
        if (fds[slot] >= 0) switch_off(&held[slot], fds[slot]);
    if (!is_expected && (fds[0] >= 0 || fds[1] >= 0))
        (void)!write(STDERR_FILENO, words, sizeof words - 1);
    while (waitpid(-1, NULL, 0) > 0 || errno == EINTR)
        continue;
}

/* In the child: alone, deaf to what ends its parent, holding nothing but its socket. */
static _Noreturn void live(int socket)
{
    static const int deaf[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGTSTP, SIGPIPE, SIGTTOU};
    const int own = STDERR_FILENO + 1;

    (void)setsid();
    for (size_t k = 0; k < sizeof deaf / sizeof *deaf; k++)
        (void)signal(deaf[k], SIG_IGN);
    (void)prctl(PR_SET_NAME, "gainsieve-guard");
    if (socket != own && dup2(socket, own) != own) _exit(1);
    (void)close_range((unsigned)own + 1, ~0U, 0);
    (void)close(STDIN_FILENO);
    guard(own);
    _exit(0);
}

bool guardian_start(struct guardian *out, struct error *e)
{
    int pair[2];
    pid_t pid;

    *out = (struct guardian){-1, 0};
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair) != 0)
        return error_set(e, ERROR_BENCH, "the guardian cannot be started: %s", strerror(errno));
    pid = fork();
    if (pid == 0) {
        (void)close(pair[0]);
        live(pair[1]);
    }
    (void)close(pair[1]);
    if (pid < 0) {
        (void)close(pair[0]);
        return error_set(e, ERROR_BENCH, "the guardian cannot be started: %s", strerror(errno));
    }
    *out = (struct guardian){pair[0], pid};
    return true;
}

static bool is_gone(int number, struct error *e)
{
    return error_set(
        e, ERROR_BENCH,
        "the guardian, which switches the bench off when the program dies, is gone (%s): "
        "start anew",
        strerror(number));
}

static bool hand_over(struct guardian *g, const struct packet *packet, int fd, struct error *e)
{
    union {
        char bytes[CMSG_SPACE(sizeof(int))];
        struct cmsghdr align;
    } control = {{0}};
    struct packet copy = *packet;
    struct iovec part = {&copy, sizeof copy};
    struct msghdr message = {.msg_iov = &part, .msg_iovlen = 1};

    if (fd >= 0) {
        struct cmsghdr *head;

        message.msg_control = control.bytes;
        message.msg_controllen = sizeof control.bytes;
        head = CMSG_FIRSTHDR(&message);
        head->cmsg_level = SOL_SOCKET;
        head->cmsg_type = SCM_RIGHTS;
        head->cmsg_len = CMSG_LEN(sizeof fd);
        memcpy(CMSG_DATA(head), &fd, sizeof fd);
    }
    if (sendmsg(g->socket, &message, MSG_NOSIGNAL) == (ssize_t)sizeof *packet) return true;
    return is_gone(errno, e);
}

static bool add_message(struct packet *packet, size_t *used, const char *bytes, size_t n,
                        double pause_s)
{
    if (packet->n_messages == MOST_MESSAGES || n > sizeof packet->bytes - *used) return false;
    packet->length[packet->n_messages] = (unsigned)n;
    packet->pause_ms[packet->n_messages++] = (unsigned)(pause_s * 1e3);
    memcpy(packet->bytes + *used, bytes, n);
    *used += n;
    return true;
}

bool guardian_hold(struct guardian *g, unsigned slot, const struct instrument *i, struct error *e)
{
    const struct profile_actions *actions = &i->profile->steps[STEP_SAFE];
    struct profile_values values = profile_no_values();
    struct packet packet = {.slot = slot};
    struct text words = {0};
    size_t used = 0;
    bool fits, ok = true;

    if (!g || g->socket < 0 || g->pid <= 0)
        return error_set(e, ERROR_BENCH, "the guardian was not started");
    if (slot >= GUARDIAN_SLOTS)
        return error_set(e, ERROR_BENCH, "the guardian holds %d instruments at most",
                         GUARDIAN_SLOTS);
    values.channel = i->channel;
    /* A message that was half sent becomes an error instead of a shorter number. */
    text_add(&words, "@");
    text_add(&words, i->profile->terminator);
    fits = add_message(&packet, &used, text_words(&words), words.length, 0);
    for (size_t k = 0; ok && fits && k < actions->n; k++) {
        text_reset(&words);
        if (actions->actions[k].kind == ACTION_PAUSE) {
            fits = add_message(&packet, &used, "", 0, actions->actions[k].pause_s);
            continue;
        }
        ok = profile_render(i->profile, actions->actions[k].text, &values, &words, e);
        text_add(&words, i->profile->terminator);
        ok = ok && text_ok(&words, "a message", e);
        fits = ok && add_message(&packet, &used, text_words(&words), words.length, 0);
    }
    text_clear(&words);
    if (!ok) return false;
    if (!fits)
        return error_set(e, ERROR_BENCH,
                         "%s: the safe step is too long for the guardian: %d messages "
                         "of %d bytes in all at most",
                         i->profile->path, MOST_MESSAGES - 1, MOST_BYTES);
    return hand_over(g, &packet, i->link->descriptor, e);
}

bool guardian_check(const struct guardian *g, struct error *e)
{
    struct pollfd polled = {g->socket, 0, 0};

    /* The other end of its socket is closed with it. */
    return poll(&polled, 1, 0) == 0 || is_gone(EPIPE, e);
}

void guardian_end(struct guardian *g, bool is_off)
{
    const struct packet goodbye = {.kind = is_off ? GOODBYE : SEND_AND_GO};
    struct error ignored = {0};

    if (g->pid <= 0) return;
    (void)!hand_over(g, &goodbye, -1, &ignored);
    (void)close(g->socket);
    while (waitpid(g->pid, NULL, 0) < 0 && errno == EINTR)
        continue;
    *g = (struct guardian){-1, 0};
}
