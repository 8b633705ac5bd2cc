/* What the tests of link_usbtmc.c need: the system calls as a table, since no computer without an
 * instrument has such a device. */
#ifndef GAINSIEVE_LINK_USBTMC_H
#define GAINSIEVE_LINK_USBTMC_H

#include <sys/types.h>

#include "drivers/link.h"

/* As the system has them; `ioctl` gets a pointer to what its request moves, or NULL. Each may be
 * called from a thread of ours. */
struct usbtmc_calls {
    int (*open)(const char *path, int flags);
    ssize_t (*read)(int fd, void *bytes, size_t room);
    ssize_t (*write)(int fd, const void *bytes, size_t n);
    int (*ioctl)(int fd, unsigned long request, void *argument);
};

/* The `open` of link_usbtmc with these calls, which must outlive the link and a device clear that
 * never ends. */
bool usbtmc_open_with(struct link *link, const char *path, const struct usbtmc_calls *calls,
                      struct error *e) MUST_CHECK;

#endif
