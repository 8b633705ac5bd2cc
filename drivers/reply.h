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
    char separator; /* of ASCII numbers: ',', ';', tab, or ' ' for a run of blanks; 0: ',' */
    size_t skip;    /* values to drop before the numbers; in ASCII they may be words */
};

/* What a frame function must know; the context of link_receive(). `expected_bytes` is the number of
 * data bytes of a block when it is known, dropped values included: only then is an indefinite block
 * taken on a link that does not tell the end. */
struct reply_frame {
    enum reply_terminator terminator;
    bool is_block;
    size_t expected_bytes; /* 0: not known */
    bool link_tells_end;   /* link->message_ends: an indefinite block is waited for */
};

/* The frame of link.h, with the terminator inside it. A text where a block is due, a block where a
 * text is due, an empty answer, a wrong length word, a length that is not the expected one or above
 * CEILING_REPLY, another terminator than the profile's, or bytes where a block's terminator is due:
 * ERROR_BENCH with the first 40 bytes, escaped.
 *
 * With TERMINATOR_ANY, line ends before the answer belong to the one before and are passed over;
 * all that are there behind it are taken. The LF of a CR LF that comes late is thus still to be
 * read when the frame is complete. Bytes behind a text's terminator are left to the caller, to whom
 * they say that questions and answers are out of step. */
size_t reply_frame(void *context, const char *bytes, size_t n, bool ended, struct error *e);

/* The head of a block. */
struct reply_block {
    size_t data;        /* where the data begin; 0: the head is not whole yet */
    size_t length;      /* bytes of data; 0 when indefinite */
    bool is_indefinite; /* "#0" */
};

/* Reads the head that begins at `bytes`; ERROR_BENCH when it is none, or announces more than
 * CEILING_REPLY bytes. */
bool reply_block_head(const char *bytes, size_t n, struct reply_block *out,
                      struct error *e) MUST_CHECK;

/* The text of a framed reply without its terminator, borrowed from `bytes`; an empty text, NUL
 * bytes and bytes above 126 are ERROR_BENCH (the last two say that line settings are wrong). Other
 * control characters stay: show such a text with reply_escape() only. */
bool reply_text(const char *bytes, size_t n, const char **out, size_t *length,
                struct error *e) MUST_CHECK;

/* One number, the whole of the text: NR1, NR2, NR3 with blanks around. Not hexadecimal, no "inf",
 * no comma, no unit. A value by which SCPI means infinity or not-a-number is ERROR_BENCH. */
bool reply_number(const char *text, size_t length, double *out, struct error *e) MUST_CHECK;

/* Exactly `n` numbers of a framed reply into `out`, after `skip`: fewer, more, an empty field or a
 * partial number is ERROR_BENCH, and all of `out` is NaN then. Values at which instruments mean "no
 * number" (abs(x) >= 9e37, NaN, infinity; in ASCII also NAN, INF and dashes) become NaN in `out`;
 * `*n_invalid` counts them. Of a reply longer than CEILING_REPLY nothing is read. */
bool reply_numbers(const char *bytes, size_t n_bytes, const struct reply_format *format,
                   double *out, size_t n, size_t *n_invalid, struct error *e) MUST_CHECK;

/* Whether `n_complex` pairs of parts can be S-parameters that an analyser measured. ERROR_BENCH,
 * with words on what it may be, for any |S| above 1e4, any below 1e-20 that is not zero, a median
 * below 1e-7 (the lower one of two), all points equal or zero, or none. Reals in the wrong byte
 * order look like a perfect match: nearly zero. Points with a NaN are not looked at: they were
 * counted. */
bool reply_is_plausible(const double *re_im, size_t n_complex, struct error *e) MUST_CHECK;

/* An entry of an error queue, `-113,"Undefined header;detail"`. `words` is at most 255 bytes, with
 * '?' for what is not printable ASCII; it may be empty. */
struct reply_error {
    long number; /* 0: the queue is empty */
    char words[256];
};
/* A lone number is an entry too, and quotes may be missing. Anything behind the closing quote is
 * ERROR_BENCH, as are a cut-off string and a number outside -32768..32767. */
bool reply_error_entry(const char *text, size_t length, struct reply_error *out,
                       struct error *e) MUST_CHECK;

/* Bytes for a message or a log: printable ASCII as it is, the rest as \xNN, at most `most` bytes of
 * input and "..." behind. */
void reply_escape(struct text *out, const char *bytes, size_t n, size_t most);

/* The same for the first 40 bytes, without an allocation. Returns `out`. */
#define REPLY_SHOWN 40
#define REPLY_SHOWN_TEXT (4 * REPLY_SHOWN + 4)
const char *reply_shown(const char *bytes, size_t n, char out[REPLY_SHOWN_TEXT]);

#endif
