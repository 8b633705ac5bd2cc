/* The other side of a link for tests: a script in a thread, a stopwatch, and processes to stop. */
#ifndef GAINSIEVE_TESTS_PEER_H
#define GAINSIEVE_TESTS_PEER_H

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "drivers/base/stop.h"
#include "drivers/link.h"
#include "tests/check.h"

/* How much later than its deadline a call may end where other work shares the processor. */
#define PEER_LATE_S 0.5

struct peer {
    pthread_t thread;
    int descriptor;
    void (*script)(int descriptor);
};

static inline double peer_clock_s(clockid_t clock)
{
    struct timespec now;

    (void)clock_gettime(clock, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static inline double peer_now_s(void)
{
    return peer_clock_s(CLOCK_MONOTONIC);
}

static inline void peer_sleep(double s)
{
    deadline_sleep(deadline_in(s));
}

static inline void peer_say_bytes(int descriptor, const char *bytes, size_t n)
{
    while (n > 0) {
        const ssize_t sent = write(descriptor, bytes, n);

        if (sent <= 0) return;
        bytes += sent;
        n -= (size_t)sent;
    }
}

static inline void peer_say(int descriptor, const char *words)
{
    peer_say_bytes(descriptor, words, strlen(words));
}

static inline void *peer_run(void *data)
{
    const struct peer *peer = data;

    peer->script(peer->descriptor);
    return NULL;
}

/* Runs `script` beside the test; it closes the descriptor if it wants to hang up. Writing to a link
 * that the test has closed is no reason to end the process. */
static inline void peer_start(struct peer *peer, int descriptor, void (*script)(int descriptor))
{
    *peer = (struct peer){.descriptor = descriptor, .script = script};
    (void)signal(SIGPIPE, SIG_IGN);
    assert_int_equal(pthread_create(&peer->thread, NULL, peer_run, peer), 0);
}

static inline void peer_end(struct peer *peer)
{
    assert_int_equal(pthread_join(peer->thread, NULL), 0);
}

/* A socket of 127.0.0.1 with a port that the system chose; the port's name goes into `port`. */
static inline int peer_listen(char *port, size_t size, int backlog)
{
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_addr = {.s_addr = htonl(INADDR_LOOPBACK)}};
    socklen_t length = sizeof address;
    const int one = 1, descriptor = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

    assert_true(descriptor >= 0);
    assert_int_equal(setsockopt(descriptor, SOL_SOCKET, SO_REUSEADDR, &one, sizeof one), 0);
    assert_int_equal(bind(descriptor, (struct sockaddr *)&address, length), 0);
    assert_int_equal(getsockname(descriptor, (struct sockaddr *)&address, &length), 0);
    assert_int_equal(listen(descriptor, backlog), 0);
    (void)snprintf(port, size, "tcp:127.0.0.1:%u", (unsigned)ntohs(address.sin_port));
    return descriptor;
}

/* The ways in which a test has a link with a real descriptor behind it. */
enum peer_wire { PEER_SOCKETS, PEER_PTY, PEER_TCP, PEER_WIRES };

static inline void peer_pty(int *near, int *far)
{
    struct termios raw;

    *far = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(*far >= 0);
    assert_int_equal(grantpt(*far), 0);
    assert_int_equal(unlockpt(*far), 0);
    *near = open(ptsname(*far), O_RDWR | O_NOCTTY);
    assert_true(*near >= 0);
    assert_int_equal(tcgetattr(*near, &raw), 0);
    cfmakeraw(&raw);
    assert_int_equal(tcsetattr(*near, TCSANOW, &raw), 0);
}

/* An open link; the other side is `*far`. */
static inline struct link *peer_link(enum peer_wire wire, int *far)
{
    struct error e = {0};
    struct link *link;
    int ends[2], listener = -1;
    char port[64];

    if (wire == PEER_TCP) {
        listener = peer_listen(port, sizeof port, 1);
    } else {
        if (wire == PEER_PTY)
            peer_pty(&ends[0], &ends[1]);
        else
            assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
        *far = ends[1];
        (void)snprintf(port, sizeof port, "fd:%d", ends[0]);
    }
    link = link_open(port, NULL, deadline_in(5), &e);
    assert_done(link != NULL, &e);
    if (wire == PEER_TCP) {
        *far = accept(listener, NULL, NULL);
        assert_true(*far >= 0);
        (void)close(listener);
    }
    return link;
}

/* Whether a process waits and does not want the processor (proc(5), the state behind the name). */
static inline bool peer_is_waiting(pid_t pid)
{
    char path[64], bytes[512] = "";
    const char *state;
    FILE *file;

    (void)snprintf(path, sizeof path, "/proc/%d/stat", (int)pid);
    file = fopen(path, "r");
    if (!file) return false;
    if (!fgets(bytes, sizeof bytes, file)) bytes[0] = '\0';
    (void)fclose(file);
    state = strrchr(bytes, ')');
    return state && state[1] == ' ' && state[2] == 'S';
}

/* Gives a process time to get to its wait: 0.2 s, and on a loaded machine what it takes. */
static inline void peer_let_wait(pid_t pid)
{
    peer_sleep(0.1);
    for (int i = 0, in_row = 0; i < 150 && in_row < 5; i++) {
        peer_sleep(0.02);
        in_row = peer_is_waiting(pid) ? in_row + 1 : 0;
    }
}

/* Seconds between the wish to stop and the end of a process that does `work`, which says whether
 * what it saw was right. It has a process of its own since the wish stays for the life of one. */
static inline double peer_stop_once(bool (*work)(void))
{
    double asked_s;
    pid_t child;
    int status, listens[2];
    char byte;

    assert_int_equal(pipe(listens), 0);
    child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        stop_listen();
        (void)alarm(60);
        if (write(listens[1], "", 1) != 1) _exit(2);
        _exit(work() ? 0 : 1);
    }
    assert_int_equal(read(listens[0], &byte, 1), 1);
    (void)close(listens[0]);
    (void)close(listens[1]);
    peer_let_wait(child);
    asked_s = peer_now_s();
    assert_int_equal(kill(child, SIGTERM), 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    return peer_now_s() - asked_s;
}

/* Within 100 ms; where other work has the processor, in one of ten tries. */
static inline void peer_stop_within(bool (*work)(void))
{
    double took_s = 1;

    for (int i = 0; i < 10 && took_s >= 0.1; i++)
        took_s = peer_stop_once(work);
    assert_true(took_s < 0.1);
}

/* An open link to a port that must be reachable. */
static inline struct link *peer_open(const char *port)
{
    struct error e = {0};
    struct link *link = link_open(port, NULL, deadline_in(5), &e);

    assert_done(link != NULL, &e);
    return link;
}

/* A frame that ends with a line feed. */
static inline size_t peer_line(void *context, const char *bytes, size_t n, bool ended,
                               struct error *e)
{
    const char *end = memchr(bytes, '\n', n);

    (void)context, (void)ended, (void)e;
    return end ? (size_t)(end - bytes) + 1 : 0;
}

/* Receives a line within `s`. */
static inline bool peer_receive(struct link *link, struct text *out, double s, struct error *e)
{
    return link_receive(link, peer_line, NULL, 1 << 20, out, deadline_in(s), e);
}

/* Fails unless the call ended with this fault and these words, naming the port. */
static inline void peer_check(bool ok, const struct link *link, enum link_fault fault,
                              const struct error *e, const char *words)
{
    assert_false(ok);
    assert_int_equal(e->kind, ERROR_BENCH);
    assert_holds(e->text, words);
    assert_true(strncmp(e->text, link->port, strlen(link->port)) == 0);
    assert_int_equal(link->fault, fault);
}

#endif
