/* What an instrument answers: IEEE 488.2 response messages, framed and read. Pure functions.
 *
 * IEEE 488.2-1992 and SCPI-1999 (from memory; quoted sources in docs/drivers.md). A reply is a text
 * up to its terminator, or a block "#NLLLdata" whose length is counted before any terminator is
 * looked for, since its bytes may be anything. */
#ifndef GAINSIEVE_REPLY_H
#define GAINSIEVE_REPLY_H

#include <stddef.h>

#include "drivers/base/error.h"
#include "drivers/base/text.h"

/* How replies end. ANY: LF, CR or CR LF; on links that tell the end, also nothing. */
enum reply_terminator { TERMINATOR_ANY = 0, TERMINATOR_LF, TERMINATOR_CR, TERMINATOR_CRLF };

enum reply_encoding { ENCODING_ASCII = 0, ENCODING_REAL32, ENCODING_REAL64 };
enum reply_order { ORDER_NONE = 0, ORDER_BIG, ORDER_LITTLE };

/* How a list of numbers is written. */
struct reply_format {
    enum reply_encoding encoding;
    enum reply_order order; /* needed for the two REALs; there is no default */
    char separator;         /* of ASCII numbers; 0: ',' */
    size_t skip;            /* header values to drop */
};

/* What a frame function must know; the context of link_receive(). `expected_bytes` is the number of
 * data bytes of a block when it is known: only then is an indefinite block taken on a link that does
 * not tell the end. */
struct reply_frame {
    enum reply_terminator terminator;
    bool is_block;
    size_t expected_bytes; /* 0: not known */
};

/* The frame of link.h, with the terminator inside it. A text where a block is due, a block where a
 * text is due, a wrong length word, a length that is not the expected one, or bytes where the
 * terminator is due: ERROR_BENCH with the first 40 bytes, escaped. */
size_t reply_frame(void *context, const char *bytes, size_t n, bool ended, struct error *e);

/* The text of a framed reply without its terminator, borrowed from `bytes`; NUL bytes and bytes above
 * 126 are ERROR_BENCH (they say that line settings are wrong). */
bool reply_text(const char *bytes, size_t n, const char **out, size_t *length,
                struct error *e) MUST_CHECK;

/* One number, the whole of the text: NR1, NR2, NR3 with blanks around. Not hexadecimal, no "inf", no
 * comma, no unit. */
bool reply_number(const char *text, size_t length, double *out, struct error *e) MUST_CHECK;

/* "0", "1", "ON", "OFF". */
bool reply_boolean(const char *text, size_t length, bool *out, struct error *e) MUST_CHECK;

/* Exactly `n` numbers of a framed reply into `out`, after `skip`: fewer, more, an empty field or a
 * partial number is ERROR_BENCH. Values at which instruments mean "no number" (abs(x) >= 9e37, NaN,
 * infinity) become NaN in `out`, and `*n_invalid` counts them. */
bool reply_numbers(const char *bytes, size_t n_bytes, const struct reply_format *format, double *out,
                   size_t n, size_t *n_invalid, struct error *e) MUST_CHECK;

/* The first entry of an error queue, `-113,"Undefined header;detail"`. `words` is at most 255
 * bytes, cleaned for a message. */
struct reply_error {
    long number; /* 0: the queue is empty */
    char words[256];
};
bool reply_error_entry(const char *text, size_t length, struct reply_error *out,
                       struct error *e) MUST_CHECK;

/* Bytes for a message or a log: printable ASCII as it is, the rest as \xNN, at most `most` bytes of
 * input and "..." behind. */
void reply_escape(struct text *out, const char *bytes, size_t n, size_t most);

#endif
