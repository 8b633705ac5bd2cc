/* Bytes to and from an instrument, each call with a deadline for the whole of it.
 *
 * The table of links in link.c has a row for each way in which bytes move. A port is written
 *
 *     serial:/dev/ttyUSB0?baud=115200      also data, parity, stop, flow (none or rtscts)
 *     tcp:HOST:5025                        [HOST] for an IPv6 address
 *     usbtmc:/dev/usbtmc0
 *     fd:N                                 an open descriptor, closed with the link; for tests
 *     fd:N=NAME                            a copy of it, called NAME; for emulated instruments
 *
 * The contract, tested for every row:
 * - `open` says nothing to the device and switches nothing on.
 * - A message is sent with one write where the link allows it. What could not be sent whole by the
 *   deadline is an error that says how much was.
 * - Receiving ends when the caller's frame is complete, at the deadline, or when somebody asks to
 *   stop (ERROR_STOPPED), whichever comes first; never later, however the bytes dribble. Sending
 *   looks for a wish to stop only where it must wait, so that a short "off" always goes out.
 * - A device that is gone (hang-up, end of file, EIO, ENODEV, ENXIO) is an error at once, without
 *   spinning, and stays one: close the link and open it again. What came before the hang-up can
 *   still be received.
 * - No function prints, exits or keeps file-scope state. All faults are ERROR_BENCH and name the
 *   port as the user wrote it. */
#ifndef GAINSIEVE_LINK_H
#define GAINSIEVE_LINK_H

#include <stddef.h>

#include "drivers/base/deadline.h"
#include "drivers/base/error.h"
#include "drivers/base/text.h"

/* How the last call ended; the words are in the error. */
enum link_fault {
    LINK_OK = 0,
    LINK_TIMEOUT,  /* the deadline passed */
    LINK_GONE,     /* unplugged, switched off, closed: final */
    LINK_TOO_LONG, /* more bytes than the caller allows */
    LINK_OTHER,
};

/* Line settings of a serial port; from the profile, the port's own words win. */
struct link_line {
    unsigned long baud; /* 0: 9600 */
    int data_bits;      /* 0: 8 */
    char parity;        /* 'n', 'e', 'o'; 0: 'n' */
    int stop_bits;      /* 0: 1 */
    bool rts_cts;       /* XON/XOFF is never used: it eats bytes of binary replies */
};

struct link;

/* One row of the table. `read` and `write` may be NULL: then the shared loop on the descriptor is
 * used. */
struct link_kind {
    const char *scheme;
    bool (*open)(struct link *link, const char *address, const struct link_line *line,
                 struct deadline deadline, struct error *e);
    /* Reads what is there, waits for no more than something; 0 bytes only at the deadline. */
    bool (*read)(struct link *link, char *bytes, size_t room, size_t *n, struct deadline deadline,
                 struct error *e);
    bool (*write)(struct link *link, const char *bytes, size_t n, struct deadline deadline,
                  struct error *e);
    /* Device clear where the link has one (USBTMC); TCP closes and opens again; else nothing. */
    bool (*clear)(struct link *link, struct deadline deadline, struct error *e);
    void (*close)(struct link *link);
    /* The words of an address, nothing opened: ERROR_USAGE that begins with `port`. NULL: any that
     * is not empty will do. Called before `open`, too. */
    bool (*check)(const char *port, const char *address, struct error *e);
};

/* Bytes of one read; so many may lie behind a complete frame. */
#define LINK_PIECE 4096

struct link {
    const struct link_kind *kind;
    char *port;    /* as the user wrote it */
    char *address; /* behind the scheme */
    struct link_line line;
    int descriptor; /* -1: closed */
    enum link_fault fault;
    bool message_ends;   /* the link itself tells where a message ends (USBTMC) */
    bool at_message_end; /* ... and the last read reached it */
    void *own;           /* of the kind */
    /* Set by whoever switches the bench off: from then on only deadlines end a wait. Without it,
     * what was read back after Ctrl-C would be "stopped" and never "off". */
    bool ignores_stop;
    /* Bytes that came behind a complete frame: the next exchange sees them. */
    char waiting[LINK_PIECE];
    size_t n_waiting;
};

/* Opens a port. NULL with `e` set: ERROR_USAGE for an unknown scheme or a wrong address,
 * ERROR_BENCH otherwise. Freed with link_close(). */
struct link *link_open(const char *port, const struct link_line *line, struct deadline deadline,
                       struct error *e) MUST_CHECK;
/* Closes and frees; NULL is harmless. */
void link_close(struct link *link);

/* Checks a port's words without opening it. ERROR_USAGE. */
bool link_check_port(const char *port, struct error *e) MUST_CHECK;

/* Sends `n` bytes as one message. */
bool link_send(struct link *link, const char *bytes, size_t n, struct deadline deadline,
               struct error *e) MUST_CHECK;

/* Looks at what has come so far. Returns how many bytes the frame has when it is complete, 0 when
 * more must come; sets `e` and returns 0 when it can never become one. `ended` is true when the
 * link said that the message is over. */
typedef size_t link_frame(void *context, const char *bytes, size_t n, bool ended, struct error *e);

/* Receives one frame into `out` (replaced), at most `most` bytes. On LINK_TIMEOUT and LINK_GONE
 * `out` holds what came, and the error says how many bytes and how long the silence was. */
bool link_receive(struct link *link, link_frame *frame, void *context, size_t most,
                  struct text *out, struct deadline deadline, struct error *e) MUST_CHECK;

/* Whether bytes are there that nobody asked for. */
bool link_has_bytes(struct link *link);

/* Throws away what comes until it was silent for `silence_s`, or until the deadline: LINK_TIMEOUT
 * when bytes were still coming then. `*n` counts. */
bool link_drain(struct link *link, double silence_s, size_t *n, struct deadline deadline,
                struct error *e) MUST_CHECK;

/* Device clear, as the kind has it; forgets the bytes that wait. The descriptor of a TCP link is
 * another one afterwards, and the connection that a forked process shared is closed. */
bool link_clear(struct link *link, struct deadline deadline, struct error *e) MUST_CHECK;

/* For the kinds: sets link->fault and ERROR_BENCH "PORT: ...", returns false. */
bool link_fail(struct link *link, enum link_fault fault, struct error *e, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* For the kinds: whether somebody asked to stop and the link listens to that. */
bool link_stopped(const struct link *link);

/* For the kinds: waits for poll() events on the descriptor. `*ready` is what came, errors and
 * hang-ups too, 0 at the deadline. False when stopped. */
bool link_wait(struct link *link, short events, short *ready, struct deadline deadline,
               struct error *e) MUST_CHECK;

/* For the kinds: what a `read` and a `write` that are NULL stand for. */
bool link_read(struct link *link, char *bytes, size_t room, size_t *n, struct deadline deadline,
               struct error *e) MUST_CHECK;
bool link_write(struct link *link, const char *bytes, size_t n, struct deadline deadline,
                struct error *e) MUST_CHECK;

extern const struct link_kind link_tcp, link_serial, link_usbtmc, link_descriptor;

#endif
