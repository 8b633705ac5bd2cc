#include "drivers/link.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/base/plain.h"
#include "drivers/reply.h"

/* Bytes of an answer shown in an error. */
#define SHOWN_BYTES 40

static const struct link_kind *const kinds[] = {&link_serial, &link_tcp, &link_usbtmc,
                                                &link_descriptor};

bool link_fail(struct link *link, enum link_fault fault, struct error *e, const char *format, ...)
{
    char words[CEILING_ERROR_TEXT];
    va_list arguments;

    va_start(arguments, format);
    (void)vsnprintf(words, sizeof words, format, arguments);
    va_end(arguments);
    link->fault = fault;
    return error_set(e, ERROR_BENCH, "%s: %s", link->port, words);
}

/* Seconds for a message, "2.5"; printf would follow the locale. */
static const char *seconds(double s, char out[NUMBER_FIXED_TEXT])
{
    (void)number_format_fixed(s, s < 1 ? 2 : s < 10 ? 1 : 0, out);
    return out;
}

/* Begins a call: what is gone stays gone. */
static bool begin(struct link *link, struct error *e)
{
    if (link->fault == LINK_GONE || link->descriptor < 0)
        return link_fail(link, LINK_GONE, e,
                         "nothing moves on this link any more: close it and open it again");
    link->fault = LINK_OK;
    return true;
}

/* ---- ports ---- */

static const struct link_kind *find_kind(const char *port, const char **address)
{
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        const size_t length = strlen(kinds[i]->scheme);

        if (strncmp(port, kinds[i]->scheme, length) != 0 || port[length] != ':') continue;
        *address = port + length + 1;
        return kinds[i];
    }
    return NULL;
}

static bool check_characters(const char *port, struct error *e)
{
    const char *p = port;
    size_t step = 1;

    while (*p && (step = plain_character(p)) > 0)
        p += step;
    if (step == 0)
        return error_set(e, ERROR_USAGE,
                         "the name of a port holds a control character or broken UTF-8 at byte "
                         "%zu: write it anew",
                         (size_t)(p - port) + 1);
    if ((size_t)(p - port) > CEILING_PORT)
        return error_set(e, ERROR_USAGE, "the name of a port has more than %zu bytes: shorten it",
                         CEILING_PORT);
    return true;
}

static bool check_words(const char *port, const struct link_kind **kind, const char **address,
                        struct error *e)
{
    if (!check_characters(port, e)) return false;
    *kind = find_kind(port, address);
    if (!*kind)
        return error_set(e, ERROR_USAGE,
                         "%s: not a port: write serial:PATH, tcp:HOST:PORT, usbtmc:PATH or fd:N",
                         port);
    if (**address == '\0')
        return error_set(e, ERROR_USAGE,
                         "%s: there is nothing behind the colon: write where the "
                         "instrument is",
                         port);
    return !(*kind)->check || (*kind)->check(port, *address, e);
}

bool link_check_port(const char *port, struct error *e)
{
    const struct link_kind *kind;
    const char *address;

    return check_words(port, &kind, &address, e);
}

struct link *link_open(const char *port, const struct link_line *line, struct deadline deadline,
                       struct error *e)
{
    const struct link_kind *kind;
    const char *address;
    struct link *link;

    if (!check_words(port, &kind, &address, e)) return NULL;
    link = memory_make(1, sizeof *link, e);
    if (!link) return NULL;
    link->kind = kind;
    link->descriptor = -1;
    if (line) link->line = *line;
    link->port = memory_copy_text(port, e);
    if (link->port) link->address = memory_copy_text(address, e);
    if (link->address && kind->open(link, link->address, &link->line, deadline, e)) return link;
    link_close(link);
    return NULL;
}

void link_close(struct link *link)
{
    if (!link) return;
    /* Without an address, `open` was never called. */
    if (link->address) link->kind->close(link);
    memory_free(link->address);
    memory_free(link->port);
    memory_free(link);
}

bool link_send(struct link *link, const char *bytes, size_t n, struct deadline deadline,
               struct error *e)
{
    if (!begin(link, e)) return false;
    return link->kind->write ? link->kind->write(link, bytes, n, deadline, e)
                             : link_write(link, bytes, n, deadline, e);
}

/* ---- receiving ---- */

static bool read_piece(struct link *link, char *bytes, size_t room, size_t *n,
                       struct deadline deadline, struct error *e)
{
    link->at_message_end = false;
    *n = 0;
    return link->kind->read ? link->kind->read(link, bytes, room, n, deadline, e)
                            : link_read(link, bytes, room, n, deadline, e);
}

/* What came so far, escaped, for a message; "" when there is no memory for it. */
static void show_bytes(struct text *shown, const struct text *got)
{
    reply_escape(shown, got->data, got->length, SHOWN_BYTES);
}

static bool fail_by_time(struct link *link, const struct text *got, double allowed_s,
                         double silent_s, struct error *e)
{
    char within[NUMBER_FIXED_TEXT], silent[NUMBER_FIXED_TEXT];
    struct text shown = {0};

    (void)seconds(allowed_s, within);
    if (got->length == 0)
        return link_fail(link, LINK_TIMEOUT, e,
                         "no answer within %s s: look whether the instrument is on, its cable, its "
                         "address and its line settings",
                         within);
    show_bytes(&shown, got);
    (void)link_fail(link, LINK_TIMEOUT, e,
                    "the answer was not complete within %s s: %zu bytes came (\"%s\"), then "
                    "silence for %s s; look at the terminator in the profile and at the time that "
                    "it allows",
                    within, got->length, text_words(&shown), seconds(silent_s, silent));
    text_clear(&shown);
    return false;
}

/* The device is gone, which stands in `e` with its cause; within an answer there is more to say. */
static void tell_what_came(struct link *link, const struct text *got, double silent_s,
                           struct error *e)
{
    const size_t length = strlen(e->text);
    char silent[NUMBER_FIXED_TEXT];
    struct text shown = {0};

    if (link->fault != LINK_GONE || got->length == 0) return;
    show_bytes(&shown, got);
    (void)snprintf(e->text + length, sizeof e->text - length,
                   " (within an answer: %zu bytes came, \"%s\", then silence for %s s)",
                   got->length, text_words(&shown), seconds(silent_s, silent));
    text_clear(&shown);
}

/* Looks at what came: 1 complete, 0 more must come, -1 a fault. */
static int look(struct link *link, link_frame *frame, void *context, size_t most, struct text *got,
                struct error *e)
{
    const bool ended = link->message_ends && link->at_message_end;
    const size_t length = got->length ? frame(context, got->data, got->length, ended, e) : 0;

    if (e->kind != ERROR_NONE) {
        link->fault = LINK_OTHER;
        return -1;
    }
    if (length > most || (length == 0 && got->length > most)) {
        (void)link_fail(link, LINK_TOO_LONG, e,
                        "the answer is longer than the %zu bytes that are expected: look at the "
                        "number of points and at the format of the reply",
                        most);
        return -1;
    }
    if (length > 0) {
        link->n_waiting = got->length - length;
        /* A frame grows with what comes, and one piece at most came since it was looked at. */
        assert(length <= got->length && link->n_waiting <= sizeof link->waiting);
        memcpy(link->waiting, got->data + length, link->n_waiting);
        got->length = length;
        got->data[length] = '\0';
        return 1;
    }
    if (!ended) return 0;
    (void)link_fail(link, LINK_OTHER, e,
                    "the instrument ended its message after %zu bytes, before the answer was "
                    "complete",
                    got->length);
    return -1;
}

/* Reads one piece behind what is there. False at a fault or the deadline. */
static bool receive_more(struct link *link, size_t most, struct text *got, double allowed_s,
                         double *last_left_s, struct deadline deadline, struct error *e)
{
    /* One byte over the limit proves that there are too many. */
    const size_t room = most - got->length < LINK_PIECE ? most - got->length + 1 : LINK_PIECE;
    size_t n;

    if (!text_reserve(got, got->length + room)) return text_ok(got, "an answer", e);
    if (!read_piece(link, got->data + got->length, room, &n, deadline, e)) {
        tell_what_came(link, got, *last_left_s - deadline_left_s(deadline), e);
        return false;
    }
    if (n == 0) return fail_by_time(link, got, allowed_s, *last_left_s, e);
    got->length += n;
    got->data[got->length] = '\0';
    *last_left_s = deadline_left_s(deadline);
    return true;
}

bool link_receive(struct link *link, link_frame *frame, void *context, size_t most,
                  struct text *out, struct deadline deadline, struct error *e)
{
    const double allowed_s = deadline_left_s(deadline);
    double last_left_s = allowed_s;
    bool may_wait = true;
    int seen;

    text_reset(out);
    /* Room for the longest answer and for what waits; "most" is the limit that is told. */
    out->ceiling = most < CEILING_OUTPUT ? most + LINK_PIECE : CEILING_OUTPUT;
    if (!begin(link, e)) return false;
    /* The end of the last message is news only for bytes of it that still wait. */
    if (link->n_waiting == 0) link->at_message_end = false;
    text_add_bytes(out, link->waiting, link->n_waiting);
    link->n_waiting = 0;
    while ((seen = look(link, frame, context, most, out, e)) == 0) {
        /* Bytes that never end must not carry the loop past the deadline. */
        if (!may_wait) return fail_by_time(link, out, allowed_s, last_left_s, e);
        may_wait = !deadline_passed(deadline);
        if (!receive_more(link, most, out, allowed_s, &last_left_s, deadline, e)) {
            if (link->fault == LINK_OK) link->fault = LINK_OTHER;
            return false;
        }
    }
    return seen > 0;
}

bool link_has_bytes(struct link *link)
{
    int n = 0;

    if (link->n_waiting > 0) return true;
    /* What tells the ends of its messages gives bytes only when it is asked. */
    if (link->descriptor < 0 || link->fault == LINK_GONE || link->message_ends) return false;
    return ioctl(link->descriptor, FIONREAD, &n) == 0 && n > 0;
}

bool link_drain(struct link *link, double silence_s, size_t *n, struct deadline deadline,
                struct error *e)
{
    char piece[LINK_PIECE];
    size_t got;

    *n = link->n_waiting;
    link->n_waiting = 0;
    if (!begin(link, e)) return false;
    for (;;) {
        const struct deadline silent = deadline_in(silence_s);

        if (!read_piece(link, piece, sizeof piece, &got, deadline_first(silent, deadline), e))
            return false;
        *n += got;
        if (got == 0 && (*n == 0 || deadline_passed(silent))) break;
        if (got == 0 || deadline_passed(deadline)) {
            char words[NUMBER_FIXED_TEXT];

            return link_fail(link, LINK_TIMEOUT, e,
                             "the instrument does not stop sending: %zu bytes came and there was "
                             "no silence of %s s; look whether it sends by itself",
                             *n, seconds(silence_s, words));
        }
    }
    link->at_message_end = false;
    return true;
}

bool link_clear(struct link *link, struct deadline deadline, struct error *e)
{
    link->n_waiting = 0;
    link->at_message_end = false;
    if (!begin(link, e)) return false;
    return !link->kind->clear || link->kind->clear(link, deadline, e);
}
