/* A library for LD_PRELOAD, for tests only: makes pseudo-terminals look like serial ports, so that
 * the real libserialport runs over a real pty.
 *
 * libserialport asks /sys/class/tty whether a name is a port, and the kernel for the modem lines; a
 * pty has neither. Here the first is answered for names of /sys/class/tty/pts, the second from
 * memory when the kernel says ENOTTY. A test finds what became of the lines by dlsym(). */
#include <asm/ioctls.h>
#include <asm/termbits.h>
#include <dlfcn.h>
#include <errno.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>

#define PTS "/sys/class/tty/pts/"
#define TARGET "../../devices/virtual/tty/ptm"
#define LINE_DTR 0x002
#define LINE_RTS 0x004

/* The kernel raises both when a port is opened. */
int pty_shim_lines = LINE_DTR | LINE_RTS;
/* Calls that touched the lines, and how often one went down. */
int pty_shim_calls;
int pty_shim_drops;

/* Bytes that flow control holds back for ever, unless 0. */
int pty_shim_held_back;

unsigned pty_shim_baud(int fd);
int ioctl(int fd, unsigned long request, ...);
int __lxstat(int version, const char *path, struct stat *status);
int lstat(const char *path, struct stat *status);
ssize_t readlink(const char *path, char *target, size_t room);

typedef int ioctl_function(int, unsigned long, ...);
typedef int lxstat_function(int, const char *, struct stat *);
typedef ssize_t readlink_function(const char *, char *, size_t);

/* ISO C knows no way from an object pointer to a function. */
static void find(void *function, const char *name)
{
    void *found = dlsym(RTLD_NEXT, name);

    memcpy(function, &found, sizeof found);
}

static int change_lines(unsigned long request, int *bits)
{
    int lines = pty_shim_lines;

    pty_shim_calls++;
    switch (request) {
    case TIOCMGET: *bits = lines; return 0;
    case TIOCMSET: lines = *bits; break;
    case TIOCMBIS: lines |= *bits; break;
    default: lines &= ~*bits; break;
    }
    if (pty_shim_lines & ~lines) pty_shim_drops++;
    pty_shim_lines = lines;
    return 0;
}

int ioctl(int fd, unsigned long request, ...)
{
    ioctl_function *real;
    va_list arguments;
    void *argument;
    int result;

    va_start(arguments, request);
    argument = va_arg(arguments, void *);
    va_end(arguments);
    find(&real, "ioctl");
    result = real(fd, request, argument);
    if (result == 0 && request == TIOCOUTQ && pty_shim_held_back) {
        memcpy(argument, &pty_shim_held_back, sizeof pty_shim_held_back);
        return 0;
    }
    if (result == 0 || errno != ENOTTY) return result;
    if (request != TIOCMGET && request != TIOCMSET && request != TIOCMBIS && request != TIOCMBIC)
        return result;
    return change_lines(request, argument);
}

static int is_pts(const char *path)
{
    return strncmp(path, PTS, strlen(PTS)) == 0;
}

static int be_link(struct stat *status)
{
    memset(status, 0, sizeof *status);
    status->st_mode = S_IFLNK | 0777;
    return 0;
}

/* What programs built against older C libraries call. */
int __lxstat(int version, const char *path, struct stat *status)
{
    lxstat_function *real;

    if (is_pts(path)) return be_link(status);
    find(&real, "__lxstat");
    return real(version, path, status);
}

int lstat(const char *path, struct stat *status)
{
    int (*real)(const char *, struct stat *);

    if (is_pts(path)) return be_link(status);
    find(&real, "lstat");
    return real(path, status);
}

ssize_t readlink(const char *path, char *target, size_t room)
{
    const size_t length = strlen(TARGET);
    readlink_function *real;

    if (is_pts(path)) {
        memcpy(target, TARGET, length < room ? length : room);
        return (ssize_t)(length < room ? length : room);
    }
    find(&real, "readlink");
    return real(path, target, room);
}

/* The speed of a terminal as a number, which <termios.h> does not tell for all of them. */
unsigned pty_shim_baud(int fd)
{
    struct termios2 t;

    return ioctl(fd, TCGETS2, &t) == 0 ? t.c_ospeed : 0;
}
