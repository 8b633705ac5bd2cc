/* A USB instrument for tests: a pair of SOCK_SEQPACKET sockets stands for the device, a record is a
 * transfer, its first byte says whether the message ends there. Before it stand calls that behave
 * as the kernel's driver does (read in its source), with its faults on demand. */
#ifndef GAINSIEVE_TESTS_USBTMC_DEVICE_H
#define GAINSIEVE_TESTS_USBTMC_DEVICE_H

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdatomic.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <unistd.h>

#include <linux/usb/tmc.h>

#include "drivers/base/memory.h"
#include "drivers/link_usbtmc.h"
#include "tests/check.h"

#define MORE "\x00"
#define END "\x01"
#define BROKEN "\x80" /* the driver finds a wrong header and returns 0 */

/* The device and the driver before it; one at a time. */
static struct device {
    int host, instrument; /* the two ends; -1: unplugged */
    char rest[8192];      /* of a transfer that was longer than what was asked for */
    size_t n_rest;
    bool rest_ends;
    unsigned char attributes, abilities;
    unsigned version, timeout_ms;
    int status_errno; /* of READ_STB */
    bool status_is_not_stored;
    int write_errno;
    size_t write_takes; /* 0: all */
    int abort_errno, api_errno, timeout_errno;
    bool is_file; /* the descriptor is a file's: for locks only */
    atomic_bool clear_hangs;
    atomic_int aborts_in, aborts_out, clears, looks, reads, ended_threads;
} device;

static inline void device_make(void)
{
    int ends[2];

    device = (struct device){.abilities = USBTMC488_CAPABILITY_488_DOT_2, .version = 3};
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends), 0);
    device.host = ends[0];
    device.instrument = ends[1];
    device.timeout_ms = 5000;
}

static inline void device_unplug(void)
{
    (void)close(device.instrument);
    device.instrument = -1;
}

static inline void device_end(void)
{
    if (device.instrument >= 0) device_unplug();
    (void)close(device.host);
}

/* The instrument puts one transfer out; `flag` is MORE, END or BROKEN. */
static inline void device_says(const char *flag, const char *bytes, size_t n)
{
    char record[8192];

    record[0] = *flag;
    memcpy(record + 1, bytes, n);
    assert_int_equal(send(device.instrument, record, n + 1, 0), n + 1);
}

static inline bool device_has(int fd, int wait_ms)
{
    struct pollfd polled = {.fd = fd, .events = POLLIN};

    return device.n_rest > 0 || poll(&polled, 1, wait_ms) > 0;
}

static inline bool unplugged(int fd)
{
    char byte;

    return recv(fd, &byte, 1, MSG_PEEK | MSG_DONTWAIT) == 0;
}

static inline int device_open(const char *path, int flags)
{
    assert_true(flags & O_CLOEXEC);
    /* A file has a lock of its own at each opening; two descriptors of a socket share one. */
    if (*path == '/') return open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    return fcntl(device.host, F_DUPFD_CLOEXEC, 3);
}

static inline int refuse(int number)
{
    errno = number;
    return -1;
}

static inline ssize_t device_read(int fd, void *bytes, size_t room)
{
    device.reads++;
    if (!device_has(fd, (int)device.timeout_ms)) return refuse(ETIMEDOUT);
    if (device.n_rest == 0) {
        char record[8192];
        const ssize_t n = recv(fd, record, sizeof record, 0);

        if (n <= 0) return refuse(ENODEV);
        if (record[0] == *BROKEN) return 0;
        device.n_rest = (size_t)n - 1;
        device.rest_ends = record[0] == *END;
        memcpy(device.rest, record + 1, device.n_rest);
    }
    if (room > device.n_rest) room = device.n_rest;
    memcpy(bytes, device.rest, room);
    device.n_rest -= room;
    memmove(device.rest, device.rest + room, device.n_rest);
    device.attributes = device.n_rest == 0 && device.rest_ends;
    return (ssize_t)room;
}

static inline ssize_t device_write(int fd, const void *bytes, size_t n)
{
    if (device.write_errno) return refuse(device.write_errno);
    if (device.write_takes && device.write_takes < n) return (ssize_t)device.write_takes;
    if (send(fd, bytes, n, MSG_NOSIGNAL) < 0) return refuse(ENODEV);
    return (ssize_t)n;
}

static inline int read_status(int fd, unsigned char *status)
{
    device.looks++;
    if (unplugged(fd)) return refuse(ENODEV);
    if (device.status_errno) return refuse(device.status_errno);
    if (device.status_is_not_stored) return 0;
    *status = device_has(fd, 0) ? 0x10 : 0;
    return 0;
}

static inline int device_clear(void)
{
    char record[8192];

    device.clears++;
    while (device.clear_hangs)
        deadline_sleep(deadline_in(0.01));
    while (recv(device.host, record, sizeof record, MSG_DONTWAIT) > 0)
        continue;
    device.n_rest = 0;
    device.ended_threads++;
    return 0;
}

static inline int device_ioctl(int fd, unsigned long request, void *argument)
{
    if (!device.is_file && unplugged(fd)) return refuse(ENODEV);
    switch (request) {
    case USBTMC_IOCTL_API_VERSION:
        if (device.api_errno) return refuse(device.api_errno);
        *(__u32 *)argument = device.version;
        return 0;
    case USBTMC_IOCTL_SET_TIMEOUT:
        if (device.timeout_errno) return refuse(device.timeout_errno);
        if (*(__u32 *)argument < 100) return refuse(EINVAL);
        device.timeout_ms = *(__u32 *)argument;
        return 0;
    case USBTMC_IOCTL_MSG_IN_ATTR: *(__u8 *)argument = device.attributes; return 0;
    case USBTMC488_IOCTL_GET_CAPS: *(unsigned char *)argument = device.abilities; return 0;
    case USBTMC488_IOCTL_READ_STB: return read_status(fd, argument);
    case USBTMC_IOCTL_ABORT_BULK_IN:
        device.aborts_in++;
        return device.abort_errno ? refuse(device.abort_errno) : 0;
    case USBTMC_IOCTL_ABORT_BULK_OUT:
        deadline_sleep(deadline_in(0.02)); /* control transfers take a while */
        device.aborts_out++;
        return 0;
    case USBTMC_IOCTL_CLEAR: return device_clear();
    default: return refuse(ENOTTY);
    }
}

static const struct usbtmc_calls calls = {device_open, device_read, device_write, device_ioctl};

/* A link with these calls; NULL with `e` set. */
static inline struct link *open_path(const char *path, struct error *e)
{
    struct link *link = memory_make(1, sizeof *link, e);

    if (!link) return NULL;
    link->kind = &link_usbtmc;
    link->descriptor = -1;
    link->port = memory_copy_text("usbtmc:/dev/usbtmc7", e);
    if (link->port) link->address = memory_copy_text(path, e);
    if (link->address && usbtmc_open_with(link, path, &calls, e)) return link;
    link_close(link);
    return NULL;
}

static inline struct link *must_open(void)
{
    struct error e = {0};
    struct link *link = open_path("the device", &e);

    assert_done(link != NULL, &e);
    return link;
}

static inline size_t frame_to_end(void *context, const char *bytes, size_t n, bool ended,
                                  struct error *e)
{
    (void)context, (void)bytes, (void)e;
    return ended ? n : 0;
}

/* Receives one message, which must be `want`. */
static inline void check_receives(struct link *link, const char *want, size_t n)
{
    struct text got = {0};
    struct error e = {0};

    assert_done(link_receive(link, frame_to_end, NULL, 65536, &got, deadline_in(2), &e), &e);
    assert_int_equal(got.length, n);
    assert_memory_equal(got.data, want, n);
    text_clear(&got);
}

/* Receiving must fail so, after `least_s` to `most_s` seconds. */
static inline void check_fails(struct link *link, double allowed_s, enum link_fault fault,
                               const char *words, double least_s, double most_s)
{
    const struct deadline start = deadline_in(100);
    struct text got = {0};
    struct error e = {0};
    double took_s;

    assert_false(link_receive(link, frame_to_end, NULL, 65536, &got, deadline_in(allowed_s), &e));
    took_s = 100 - deadline_left_s(start);
    assert_holds(e.text, words);
    assert_holds(e.text, "usbtmc:/dev/usbtmc7: ");
    assert_int_equal(link->fault, fault);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_true(took_s >= least_s && took_s < most_s);
    text_clear(&got);
}

static inline void must_clear(struct link *link)
{
    struct error e = {0};

    assert_done(link_clear(link, deadline_in(2), &e), &e);
}

#endif
