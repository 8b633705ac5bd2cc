#include "drivers/emulator_serve.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include "drivers/base/deadline.h"
#include "drivers/base/stop.h"

/* One read: at most half as many queries, far fewer than may wait (CEILING_EMULATOR_ANSWERS). */
#define READ_BYTES 1024
/* Above this a controller asks and does not read: it is not heard until it does. */
#define MOST_WAITING 64
/* The longest sleep, in case the stop flag has no descriptor. */
#define LONGEST_MS 200
/* What a throttled line takes in advance: a tenth of a second's bytes would come in lumps. */
#define LUMP_S 0.002

static bool system_fault(struct error *e, const char *what, int number)
{
    return error_set(e, ERROR_BENCH,
                     "emulated bench: %s: %s: close other programs or use another "
                     "port",
                     what, strerror(number));
}

static bool set_nonblocking(int descriptor)
{
    const int flags = fcntl(descriptor, F_GETFL);

    return flags >= 0 && fcntl(descriptor, F_SETFL, flags | O_NONBLOCK) == 0 &&
           fcntl(descriptor, F_SETFD, FD_CLOEXEC) == 0;
}

/* Takes a port into the list, closing its descriptors when there is no room. */
static bool add(struct emulator_server *server, const struct emulator_port *port, struct error *e)
{
    if (server->n_ports < EMULATOR_PORTS) {
        server->ports[server->n_ports++] = *port;
        return true;
    }
    if (port->listening >= 0) (void)close(port->listening);
    if (port->descriptor >= 0) (void)close(port->descriptor);
    return error_set(e, ERROR_BENCH, "emulated bench: more than %d ports: leave some out",
                     EMULATOR_PORTS);
}

bool emulator_server_tcp(struct emulator_server *server, struct emulator_instrument *instrument,
                         unsigned tcp_port, struct error *e)
{
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_port = htons((uint16_t)tcp_port),
                                  .sin_addr = {htonl(INADDR_LOOPBACK)}};
    struct sockaddr *any = (struct sockaddr *)&address;
    socklen_t size = sizeof address;
    struct emulator_port port = {.kind = EMULATOR_PORT_TCP,
                                 .instrument = instrument,
                                 .descriptor = -1,
                                 .due_s = (double)INFINITY};
    const int yes = 1;

    port.listening = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (port.listening < 0) return system_fault(e, "no socket", errno);
    (void)setsockopt(port.listening, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (bind(port.listening, any, size) != 0 || listen(port.listening, 4) != 0 ||
        getsockname(port.listening, any, &size) != 0) {
        const int number = errno;

        (void)close(port.listening);
        return system_fault(e, "cannot listen on 127.0.0.1", number);
    }
    (void)snprintf(port.where, sizeof port.where, "tcp:127.0.0.1:%u",
                   (unsigned)ntohs(address.sin_port));
    return add(server, &port, e);
}

/* Opens the other end and makes it a plain line of bytes: no echo, nothing eaten. */
static int open_other_end(const char *path)
{
    const int other = open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct termios line;

    if (other < 0) return -1;
    if (tcgetattr(other, &line) == 0) {
        cfmakeraw(&line);
        if (tcsetattr(other, TCSANOW, &line) == 0) return other;
    }
    (void)close(other);
    return -1;
}

bool emulator_server_pty(struct emulator_server *server, struct emulator_instrument *instrument,
                         struct error *e)
{
    struct emulator_port port = {.kind = EMULATOR_PORT_PTY,
                                 .instrument = instrument,
                                 .listening = -1,
                                 .due_s = (double)INFINITY};
    char path[EMULATOR_WHERE - 16];

    port.descriptor = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (port.descriptor < 0) return system_fault(e, "no pseudo-terminal", errno);
    if (grantpt(port.descriptor) == 0 && unlockpt(port.descriptor) == 0 &&
        ptsname_r(port.descriptor, path, sizeof path) == 0 && set_nonblocking(port.descriptor))
        port.listening = open_other_end(path);
    if (port.listening < 0) {
        const int number = errno;

        (void)close(port.descriptor);
        return system_fault(e, "no pseudo-terminal", number);
    }
    (void)snprintf(port.where, sizeof port.where, "serial:%s", path);
    return add(server, &port, e);
}

bool emulator_server_open(struct emulator_server *server, struct emulator_instrument *instrument,
                          int descriptor, struct error *e)
{
    struct emulator_port port = {.kind = EMULATOR_PORT_OPEN,
                                 .instrument = instrument,
                                 .listening = -1,
                                 .descriptor = descriptor,
                                 .due_s = (double)INFINITY};

    if (!set_nonblocking(descriptor)) {
        const int number = errno;

        (void)close(descriptor);
        return system_fault(e, "the open link cannot be used", number);
    }
    (void)snprintf(port.where, sizeof port.where, "emulated:%s", instrument->kind->name);
    return add(server, &port, e);
}

static void hang_up(struct emulator_port *port)
{
    if (port->descriptor >= 0) (void)close(port->descriptor);
    port->descriptor = -1;
    if (port->kind == EMULATOR_PORT_PTY && port->listening >= 0) {
        /* A pulled cable: the path is gone with it. */
        (void)close(port->listening);
        port->listening = -1;
    }
    text_reset(&port->out);
    port->sent = 0;
    emulator_closed(port->instrument);
}

static bool take_controller(struct emulator_port *port, double at_s, struct error *e)
{
    const int yes = 1;
    const int descriptor = accept4(port->listening, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);

    if (descriptor < 0) return true; /* gone again before it was taken */
    (void)setsockopt(descriptor, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    port->descriptor = descriptor;
    port->due_s = at_s; /* a banner, perhaps */
    return emulator_opened(port->instrument, at_s, e);
}

/* Reads once. */
static bool hear(struct emulator_port *port, double at_s, struct error *e)
{
    char bytes[READ_BYTES];
    const ssize_t n = read(port->descriptor, bytes, sizeof bytes);

    if (n > 0) return emulator_feed(port->instrument, bytes, (size_t)n, at_s, e);
    if (n < 0 && (errno == EAGAIN || errno == EINTR)) return true;
    hang_up(port);
    return true;
}

/* How many of the waiting bytes the line takes now. */
static size_t line_room(const struct emulator_port *port, double at_s)
{
    const size_t waiting = port->out.length - port->sent;
    double n;

    if (port->bytes_per_s <= 0) return waiting;
    if (at_s < port->free_s) return 0;
    n = fmax(1, floor(LUMP_S * port->bytes_per_s));
    return n < (double)waiting ? (size_t)n : waiting;
}

/* Writes once what the other side takes; says false when it is gone. */
static bool say(struct emulator_port *port, double at_s)
{
    const size_t room = line_room(port, at_s);
    ssize_t n;

    if (room == 0) return true;
    n = port->kind == EMULATOR_PORT_PTY
            ? write(port->descriptor, port->out.data + port->sent, room)
            : send(port->descriptor, port->out.data + port->sent, room, MSG_NOSIGNAL);
    if (n < 0) return errno == EAGAIN || errno == EINTR;
    port->sent += (size_t)n;
    if (port->bytes_per_s > 0)
        port->free_s = fmax(port->free_s, at_s - LUMP_S) + (double)n / port->bytes_per_s;
    if (port->sent == port->out.length) {
        text_reset(&port->out);
        port->sent = 0;
    }
    return true;
}

static bool speak(struct emulator_port *port, double at_s, struct error *e)
{
    bool gone = false;

    port->due_s = emulator_take(port->instrument, at_s, &port->out, &gone);
    if (!text_ok(&port->out, "an answer", e)) return false;
    if (!say(port, at_s) || gone) hang_up(port);
    return true;
}

static bool serve_port(struct emulator_port *port, short events, double at_s, struct error *e)
{
    if (port->descriptor < 0)
        return port->listening < 0 || !(events & POLLIN) || take_controller(port, at_s, e);
    if (events & POLLIN) {
        if (!hear(port, at_s, e)) return false;
    } else if (events & (POLLHUP | POLLERR | POLLNVAL)) {
        hang_up(port);
    }
    return port->descriptor < 0 || speak(port, at_s, e);
}

/* What to wait for at a port, and until when at most. */
static struct pollfd interest(const struct emulator_port *port, double at_s, double *until_s)
{
    struct pollfd poll_for = {port->descriptor, 0, 0};

    if (port->descriptor < 0) {
        poll_for.fd = port->kind == EMULATOR_PORT_TCP ? port->listening : -1;
        poll_for.events = POLLIN;
        return poll_for;
    }
    if (!port->instrument->deaf && port->instrument->n_chunks < MOST_WAITING)
        poll_for.events = POLLIN;
    if (port->out.length > port->sent) {
        if (line_room(port, at_s) > 0)
            poll_for.events |= POLLOUT;
        else
            *until_s = fmin(*until_s, port->free_s);
    }
    *until_s = fmin(*until_s, port->due_s);
    return poll_for;
}

static bool serve_once(struct emulator_server *server, bool *goes_on, struct error *e)
{
    struct pollfd polled[EMULATOR_PORTS + 2];
    const nfds_t n = server->n_ports;
    double at_s = deadline_now_s(), until_s = at_s + LONGEST_MS / 1e3;
    bool any = false;

    for (unsigned i = 0; i < n; i++) {
        polled[i] = interest(&server->ports[i], at_s, &until_s);
        any = any || polled[i].fd >= 0;
    }
    polled[n] = (struct pollfd){server->ignores_stop ? -1 : stop_descriptor(), POLLIN, 0};
    polled[n + 1] = (struct pollfd){server->has_stop ? server->stop : -1, POLLIN, 0};
    *goes_on = any;
    if (!any) return true;
    if (poll(polled, n + 2, (int)ceil(fmax(0, until_s - at_s) * 1e3)) < 0) {
        if (errno == EINTR) return true;
        return system_fault(e, "cannot wait", errno);
    }
    if (polled[n + 1].revents) {
        *goes_on = false;
        return true;
    }
    at_s = deadline_now_s();
    for (unsigned i = 0; i < n; i++)
        if (!serve_port(&server->ports[i], polled[i].revents, at_s, e)) return false;
    return true;
}

bool emulator_serve(struct emulator_server *server, struct error *e)
{
    bool goes_on = true;

    for (unsigned i = 0; i < server->n_ports; i++) {
        struct emulator_port *port = &server->ports[i];

        if (port->kind == EMULATOR_PORT_TCP) continue;
        port->due_s = deadline_now_s();
        if (!emulator_opened(port->instrument, port->due_s, e)) return false;
    }
    while (goes_on && (server->ignores_stop || !stop_wanted()))
        if (!serve_once(server, &goes_on, e)) return false;
    return true;
}

void emulator_server_clear(struct emulator_server *server)
{
    for (unsigned i = 0; i < server->n_ports; i++) {
        struct emulator_port *port = &server->ports[i];

        if (port->descriptor >= 0) (void)close(port->descriptor);
        if (port->listening >= 0) (void)close(port->listening);
        text_clear(&port->out);
    }
    *server = (struct emulator_server){0};
}
