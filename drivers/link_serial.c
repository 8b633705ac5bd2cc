/* Serial ports: naming, opening and line settings through libserialport, the only file that uses
 * it. The bytes go through the shared loop of link.c.
 *
 * What is done here beside the library's calls was measured with its versions 0.1.1 and 0.1.2:
 * - It leaves XON/XOFF as it found it, and terminals are born with it on: 0x11 and 0x13 would
 * vanish from binary replies, and a lone 0x13 would stop our output.
 * - It puts CRTSCTS into the wrong word and reports success.
 * - It leaves HUPCL on: DTR would drop at the end, and boards that reset by DTR would start anew.
 * - 0.1.1 opens without exclusivity, is inherited by other programs and refuses links such as those
 * of /dev/serial/by-id.
 * - Its own reads spin on a port that is gone, and its drain has no end.
 * - It refuses pseudo-terminals; these are opened raw. */
#include "drivers/link.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <termios.h>
#include <unistd.h>

#include "drivers/base/number.h"

/* Major numbers of UNIX98 pseudo-terminals (Linux's list of devices, from memory). */
#define PTY_MAJOR_FIRST 136
#define PTY_MAJOR_LAST 143
/* Bytes of the last message may wait so long for the line when a port is closed. */
#define CLOSE_WAIT_S 2.0
#define CLOSE_LOOK_S 0.005
/* A UART samples the middle of the last bit only while both clocks agree this well (common
 * practice: 2 to 3 percent). */
#define BAUD_TOLERANCE 0.025

#define WORD_LONGEST 16

/* `words` is "name=value"; true when the name fits, `*value` is then the rest. */
static bool names(const char *words, const char *name, const char **value)
{
    const size_t length = strlen(name);

    if (strncmp(words, name, length) != 0 || words[length] != '=') return false;
    *value = words + length + 1;
    return true;
}

static bool wrong_word(const char *port, const char *words, const char *what, struct error *e)
{
    return error_set(e, ERROR_USAGE, "%s: \"%s\" is not accepted: write %s", port, words, what);
}

static bool take_flow(const char *port, const char *words, const char *value,
                      struct link_line *line, struct error *e)
{
    if (strcmp(value, "xonxoff") == 0)
        return error_set(e, ERROR_USAGE,
                         "%s: flow=xonxoff is not accepted, because it takes the bytes 0x11 and "
                         "0x13 out of binary replies: write flow=none or flow=rtscts and set the "
                         "instrument alike",
                         port);
    if (strcmp(value, "none") != 0 && strcmp(value, "rtscts") != 0)
        return wrong_word(port, words, "flow=none or flow=rtscts", e);
    line->rts_cts = value[0] == 'r';
    return true;
}

enum { WORD_BAUD, WORD_DATA, WORD_PARITY, WORD_STOP, WORD_FLOW, WORDS };

/* One "name=value" into `line`; `seen` has a bit for each name that came before. */
static bool take_word(const char *port, const char *words, struct link_line *line, unsigned *seen,
                      struct error *e)
{
    static const char *const word_names[WORDS] = {"baud", "data", "parity", "stop", "flow"};
    const char *value = NULL;
    unsigned word = 0;

    while (word < WORDS && !names(words, word_names[word], &value))
        word++;
    if (word == WORDS)
        return wrong_word(port, words, "baud=, data=, parity=, stop= or flow=, with \"&\" between",
                          e);
    if (*seen & 1U << word)
        return error_set(e, ERROR_USAGE, "%s: %s is there twice: keep one of the two", port,
                         word_names[word]);
    *seen |= 1U << word;
    switch (word) {
    case WORD_BAUD:
        if (!number_parse_whole(value, CEILING_BAUD, &line->baud) || line->baud < 50)
            return wrong_word(port, words, "a whole number from 50 to 12000000, such as baud=9600",
                              e);
        return true;
    case WORD_DATA:
        if (strcmp(value, "7") != 0 && strcmp(value, "8") != 0)
            return wrong_word(port, words, "data=7 or data=8", e);
        line->data_bits = value[0] - '0';
        return true;
    case WORD_PARITY:
        if (strcmp(value, "none") != 0 && strcmp(value, "even") != 0 && strcmp(value, "odd") != 0)
            return wrong_word(port, words, "parity=none, parity=even or parity=odd", e);
        line->parity = value[0];
        return true;
    case WORD_STOP:
        if (strcmp(value, "1") != 0 && strcmp(value, "2") != 0)
            return wrong_word(port, words, "stop=1 or stop=2", e);
        line->stop_bits = value[0] - '0';
        return true;
    default: return take_flow(port, words, value, line, e);
    }
}

/* "DEVICE?baud=9600&flow=none": the device into `device`, the words over what `line` has. */
static bool take_address(const char *port, const char *address, char device[PATH_MAX],
                         struct link_line *line, struct error *e)
{
    const size_t length = strcspn(address, "?");
    const char *at = address + length;
    unsigned seen = 0;

    if (length == 0 || length >= PATH_MAX)
        return error_set(e, ERROR_USAGE,
                         "%s: no device is named: write one such as serial:/dev/ttyUSB0?baud=9600",
                         port);
    memcpy(device, address, length);
    device[length] = '\0';
    while (*at) {
        const size_t n = strcspn(at + 1, "&");
        char words[WORD_LONGEST + 1];

        if (n == 0 || n > WORD_LONGEST)
            return error_set(e, ERROR_USAGE,
                             "%s: a setting behind the device is empty or too long: write such as "
                             "?baud=9600&parity=none",
                             port);
        memcpy(words, at + 1, n);
        words[n] = '\0';
        if (!take_word(port, words, line, &seen, e)) return false;
        at += n + 1;
    }
    return true;
}

static bool check(const char *port, const char *address, struct error *e)
{
    struct link_line line = {0};
    char device[PATH_MAX];

    return take_address(port, address, device, &line, e);
}

static void fill_line(struct link_line *line)
{
    if (line->baud == 0) line->baud = 9600;
    if (line->data_bits == 0) line->data_bits = 8;
    if (line->parity == 0) line->parity = 'n';
    if (line->stop_bits == 0) line->stop_bits = 1;
}

/* Why the system would not open the port, in words that help. */
static bool cannot_open(struct link *link, int number, struct error *e)
{
    switch (number) {
    case EBUSY:
    case EAGAIN:
        return link_fail(link, LINK_OTHER, e,
                         "in use by another program: close that program, then start again");
    case EACCES:
    case EPERM:
        return link_fail(link, LINK_OTHER, e,
                         "this user may not open it: become a member of the group that owns the "
                         "device (often dialout) and log in again");
    case ENOENT:
    case ENOTDIR:
    case ENODEV:
    case ENXIO:
    case EIO:
        return link_fail(link, LINK_GONE, e,
                         "not there: plug the instrument or its adapter in and switch it on (%s)",
                         strerror(number));
    case ENOTTY:
    case EISDIR:
        return link_fail(link, LINK_OTHER, e,
                         "not a serial port: name one such as /dev/ttyUSB0 or a link in "
                         "/dev/serial/by-id");
    default:
        return link_fail(link, LINK_OTHER, e, "cannot be opened (%s): look at the port's name",
                         strerror(number));
    }
}

/* The port for us alone, and not for programs that we start. Root may open what TIOCEXCL closes,
 * and not every program asks for the lock: so both. */
static bool take_alone(struct link *link, int fd, struct error *e)
{
    const int flags = fcntl(fd, F_GETFD);

    if (flock(fd, LOCK_EX | LOCK_NB) != 0) return cannot_open(link, errno, e);
    if (flags < 0 || fcntl(fd, F_SETFD, flags | FD_CLOEXEC) != 0 || ioctl(fd, TIOCEXCL) != 0)
        return cannot_open(link, errno, e);
    return true;
}

/* What the library leaves as it was or sets wrongly; and what it sets rightly once more, for
 * pseudo-terminals. Speed and framing stay. */
static bool set_bytes(struct link *link, int fd, const struct link_line *line, struct error *e)
{
    struct termios t;
    tcflag_t cflag;

    if (tcgetattr(fd, &t) != 0) return cannot_open(link, errno, e);
    cflag = t.c_cflag & ~(tcflag_t)(HUPCL | CRTSCTS);
    cfmakeraw(&t); /* takes the framing with it */
    t.c_cflag = cflag | CLOCAL | CREAD | (line->rts_cts ? CRTSCTS : 0);
    t.c_iflag &= ~(tcflag_t)(IXON | IXOFF | IXANY);
    /* A byte whose parity or stop bit is wrong comes as NUL, which no number holds; without this it
     * would come as some other digit. */
    t.c_iflag &= ~(tcflag_t)(IGNPAR | PARMRK);
    t.c_iflag |= INPCK;
    /* Nothing there is EAGAIN then, and 0 bytes mean a port that is gone. */
    t.c_cc[VMIN] = 1;
    t.c_cc[VTIME] = 0;
    if (tcsetattr(fd, TCSANOW, &t) != 0) return cannot_open(link, errno, e);
    return true;
}

/* tcsetattr() succeeds when it could do anything of what was asked: so look. */
static bool check_bytes(struct link *link, int fd, const struct link_line *line, struct error *e)
{
    struct termios t;
    const char *wrong = NULL;

    if (tcgetattr(fd, &t) != 0) return cannot_open(link, errno, e);
    if (t.c_iflag & (IXON | IXOFF)) wrong = "flow=none (XON/XOFF stays on)";
    if (t.c_iflag & (ISTRIP | ICRNL | INLCR | IGNCR | PARMRK) || t.c_oflag & OPOST ||
        t.c_lflag & (ICANON | ECHO | ISIG | IEXTEN))
        wrong = "bytes as they are";
    if (!(t.c_cflag & CRTSCTS) != !line->rts_cts)
        wrong = line->rts_cts ? "flow=rtscts" : "flow=none (RTS/CTS stays on)";
    if (t.c_cflag & HUPCL) wrong = "to leave DTR on at the end";
    if (!wrong) return true;
    return link_fail(link, LINK_OTHER, e,
                     "the port does not take the setting: %s: use another port or adapter", wrong);
}

static bool refuses_line(struct link *link, struct error *e)
{
    const struct link_line *line = &link->line;

    return link_fail(link, LINK_OTHER, e,
                     "the port does not take %lu baud, %d data bits, parity \"%c\" and %d stop "
                     "bits: use another port or adapter, or set the instrument to 9600 baud, 8 "
                     "bits, no parity",
                     line->baud, line->data_bits, line->parity, line->stop_bits);
}

static bool check_framing(struct link *link, int fd, struct error *e)
{
    const struct link_line *line = &link->line;
    struct termios t;
    char parity = 'n';

    if (tcgetattr(fd, &t) != 0) return cannot_open(link, errno, e);
    if (t.c_cflag & PARENB) parity = t.c_cflag & PARODD ? 'o' : 'e';
    if ((t.c_cflag & CSIZE) != (line->data_bits == 7 ? CS7 : CS8) || parity != line->parity ||
        !(t.c_cflag & CSTOPB) != (line->stop_bits == 1))
        return refuses_line(link, e);
    return true;
}

/* Adapters that cannot divide their clock to the rate take the nearest. */
static bool check_baud(struct link *link, struct sp_port *own, const struct link_line *line,
                       struct error *e)
{
    struct sp_port_config *config = NULL;
    const double asked = (double)line->baud;
    int baud = 0;
    bool ok = sp_new_config(&config) == SP_OK && sp_get_config(own, config) == SP_OK &&
              sp_get_config_baudrate(config, &baud) == SP_OK;

    if (config) sp_free_config(config);
    if (!ok) return cannot_open(link, errno, e);
    if (baud >= asked * (1 - BAUD_TOLERANCE) && baud <= asked * (1 + BAUD_TOLERANCE)) return true;
    return link_fail(link, LINK_OTHER, e,
                     "the port does not take baud=%lu but %d: choose another rate, at the "
                     "instrument too",
                     line->baud, baud);
}

/* The library's settings, flow control first: what it does not write it leaves as it was. */
static bool set_line(struct sp_port *own, const struct link_line *line)
{
    const enum sp_parity parity = line->parity == 'e'   ? SP_PARITY_EVEN
                                  : line->parity == 'o' ? SP_PARITY_ODD
                                                        : SP_PARITY_NONE;

    return sp_set_flowcontrol(own, SP_FLOWCONTROL_NONE) == SP_OK &&
           sp_set_baudrate(own, (int)line->baud) == SP_OK &&
           sp_set_bits(own, line->data_bits) == SP_OK && sp_set_parity(own, parity) == SP_OK &&
           sp_set_stopbits(own, line->stop_bits) == SP_OK &&
           /* Many USB boards say nothing while DTR is off. */
           sp_set_dtr(own, SP_DTR_ON) == SP_OK && sp_set_rts(own, SP_RTS_ON) == SP_OK;
}

/* Opens a port of this name through the library. False with the system's number of the reason;
 * ENOTTY when this is no port to the library. */
static bool library_opens(const char *device, struct sp_port **own, int *number)
{
    /* An environment variable would make it print over the operator's screen. */
    sp_set_debug_handler(NULL);
    *number = ENOTTY;
    if (sp_get_port_by_name(device, own) != SP_OK) return false;
    errno = 0;
    if (sp_open(*own, SP_MODE_READ_WRITE) == SP_OK) return true;
    *number = errno;
    sp_free_port(*own);
    *own = NULL;
    return false;
}

static bool is_pty(int fd)
{
    struct stat status;

    return fstat(fd, &status) == 0 && S_ISCHR(status.st_mode) &&
           major(status.st_rdev) >= PTY_MAJOR_FIRST && major(status.st_rdev) <= PTY_MAJOR_LAST;
}

/* Settings of a port that the library has opened. */
static bool set_up(struct link *link, struct sp_port *own, struct error *e)
{
    const struct link_line *line = &link->line;
    const struct link_line no_flow_control = {0};
    int fd = -1;

    errno = 0;
    if (sp_get_port_handle(own, &fd) != SP_OK) return cannot_open(link, errno, e);
    /* While CRTSCTS is on, the library refuses to touch RTS. */
    if (!take_alone(link, fd, e) || !set_bytes(link, fd, &no_flow_control, e)) return false;
    if (!set_line(own, line)) return refuses_line(link, e);
    if (!set_bytes(link, fd, line, e) || !check_bytes(link, fd, line, e) ||
        !check_framing(link, fd, e) || !check_baud(link, own, line, e))
        return false;
    link->descriptor = fd;
    link->own = own;
    return true;
}

/* A pseudo-terminal has neither speed nor framing. */
static bool set_up_pty(struct link *link, int fd, struct error *e)
{
    if (!take_alone(link, fd, e) || !set_bytes(link, fd, &link->line, e) ||
        !check_bytes(link, fd, &link->line, e))
        return false;
    link->descriptor = fd;
    return true;
}

/* Opens `device`, whose links are resolved, while `held` keeps it: the library writes its settings
 * before one can ask for the lock, into the middle of another program's work. */
static bool open_held(struct link *link, const char *device, int *held, struct error *e)
{
    struct sp_port *own = NULL;
    struct termios unused;
    int number;

    if (flock(*held, LOCK_EX | LOCK_NB) != 0) return cannot_open(link, errno, e);
    if (tcgetattr(*held, &unused) != 0) return cannot_open(link, errno, e);
    (void)flock(*held, LOCK_UN); /* 0.1.2 asks for the lock itself */
    if (library_opens(device, &own, &number)) {
        if (set_up(link, own, e)) return true;
        (void)sp_close(own);
        sp_free_port(own);
        return false;
    }
    if (number != ENOTTY || !is_pty(*held)) return cannot_open(link, number, e);
    if (!set_up_pty(link, *held, e)) return false;
    *held = -1;
    return true;
}

static bool open_port(struct link *link, const char *address, const struct link_line *line,
                      struct deadline deadline, struct error *e)
{
    struct link_line asked = *line;
    char named[PATH_MAX], device[PATH_MAX];
    struct stat status;
    bool ok;
    int held;

    (void)deadline; /* nothing here waits */
    if (!take_address(link->port, address, named, &asked, e)) return false;
    fill_line(&asked);
    link->line = asked;
    if (!realpath(named, device) || stat(device, &status) != 0) return cannot_open(link, errno, e);
    if (!S_ISCHR(status.st_mode)) return cannot_open(link, ENOTTY, e);
    held = open(device, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (held < 0) return cannot_open(link, errno, e);
    ok = open_held(link, device, &held, e);
    if (held >= 0) (void)close(held);
    return ok;
}

/* Closing a port waits for its last bytes, half a minute where flow control holds them back. So
 * they get some time here, an "off" may be among them, and then what is left is thrown away. */
static void let_bytes_leave(int fd)
{
    const struct deadline deadline = deadline_in(CLOSE_WAIT_S);
    int n = 0;

    while (ioctl(fd, TIOCOUTQ, &n) == 0 && n > 0) {
        if (deadline_passed(deadline)) {
            (void)tcflush(fd, TCOFLUSH);
            return;
        }
        deadline_sleep(deadline_in(CLOSE_LOOK_S));
    }
}

static void close_port(struct link *link)
{
    if (link->descriptor < 0) return;
    let_bytes_leave(link->descriptor);
    (void)ioctl(link->descriptor, TIOCNXCL);
    /* A copy in another process, the guardian's, would keep the lock after the close. */
    (void)flock(link->descriptor, LOCK_UN);
    if (link->own) {
        struct sp_port *own = link->own;

        (void)sp_close(own);
        sp_free_port(own);
    } else {
        (void)close(link->descriptor);
    }
    link->own = NULL;
    link->descriptor = -1;
}

const struct link_kind link_serial = {
    .scheme = "serial",
    .open = open_port,
    .close = close_port,
    .check = check,
};
