#include "drivers/reply.h"

#include <stdio.h>
#include <string.h>

static bool is_line_end(char c)
{
    return c == '\n' || c == '\r';
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Bytes of the escaped form of `c`; `out` has room for five. */
static size_t escape_byte(char c, char *out)
{
    static const char digits[] = "0123456789ABCDEF";
    const unsigned byte = (unsigned char)c;

    if (byte >= 0x20 && byte < 0x7f) {
        out[0] = c;
        out[1] = '\0';
        return 1;
    }
    out[0] = '\\';
    out[1] = 'x';
    out[2] = digits[byte >> 4];
    out[3] = digits[byte & 15];
    out[4] = '\0';
    return 4;
}

void reply_escape(struct text *out, const char *bytes, size_t n, size_t most)
{
    char escaped[5];

    for (size_t i = 0; i < n && i < most; i++)
        text_add_bytes(out, escaped, escape_byte(bytes[i], escaped));
    if (n > most) text_add(out, "...");
}

const char *reply_shown(const char *bytes, size_t n, char out[REPLY_SHOWN_TEXT])
{
    size_t length = 0;

    for (size_t i = 0; i < n && i < REPLY_SHOWN; i++)
        length += escape_byte(bytes[i], out + length);
    (void)snprintf(out + length, REPLY_SHOWN_TEXT - length, "%s", n > REPLY_SHOWN ? "..." : "");
    return out;
}

/* Where the first CR or LF stands; `n` when there is none. Two memchr() keep this fast for a long
 * list of numbers that comes in many pieces and is looked at each time. */
static size_t find_line_end(const char *bytes, size_t n)
{
    const char *found = memchr(bytes, '\n', n);

    if (found) n = (size_t)(found - bytes);
    found = memchr(bytes, '\r', n);
    return found ? (size_t)(found - bytes) : n;
}

static size_t count_line_ends(const char *bytes, size_t n)
{
    size_t count = 0;

    while (count < n && is_line_end(bytes[count]))
        count++;
    return count;
}

/* For the functions that return a size: sets the error and gives 0. */
static size_t refuse(struct error *e, const char *words, const char *bytes, size_t n)
{
    char shown[REPLY_SHOWN_TEXT];

    (void)error_set(e, ERROR_BENCH, "%s: \"%s\"", words, reply_shown(bytes, n, shown));
    return 0;
}

static const char *terminator_name(enum reply_terminator terminator)
{
    switch (terminator) {
    case TERMINATOR_LF: return "LF";
    case TERMINATOR_CR: return "CR";
    case TERMINATOR_CRLF: return "CR LF";
    case TERMINATOR_ANY: break;
    }
    return "CR or LF";
}

/* What stands at `at`, a CR or LF, as the frame's terminator: where it ends, 0 when more must come
 * or when it is another one, which sets `e`. */
static size_t take_terminator(const struct reply_frame *frame, const char *bytes, size_t n,
                              size_t at, struct error *e)
{
    const size_t there = count_line_ends(bytes + at, n - at);
    const char *const is = bytes + at;
    char shown[REPLY_SHOWN_TEXT];
    bool right = false;

    switch (frame->terminator) {
    case TERMINATOR_ANY: return at + there;
    case TERMINATOR_LF: right = there == 1 && is[0] == '\n'; break;
    case TERMINATOR_CR: right = there == 1 && is[0] == '\r'; break;
    case TERMINATOR_CRLF:
        if (there == 1 && is[0] == '\r' && at + 1 == n) return 0;
        right = there == 2 && is[0] == '\r' && is[1] == '\n';
        break;
    }
    if (right) return at + there;
    (void)error_set(e, ERROR_BENCH,
                    "the answer ends with \"%s\" where the profile says %s: set its answer "
                    "terminator to what the instrument sends, or to any",
                    reply_shown(is, there, shown), terminator_name(frame->terminator));
    return 0;
}

/* The link said that the message is over, and there is no whole terminator. */
static size_t end_without_terminator(const struct reply_frame *frame, const char *bytes, size_t n,
                                     struct error *e)
{
    char shown[REPLY_SHOWN_TEXT];

    if (frame->terminator == TERMINATOR_ANY) return n;
    (void)error_set(e, ERROR_BENCH,
                    "the message ended without its terminator %s: set the profile's answer "
                    "terminator to any: \"%s\"",
                    terminator_name(frame->terminator), reply_shown(bytes, n, shown));
    return 0;
}

static size_t frame_text(const struct reply_frame *frame, const char *bytes, size_t n, bool ended,
                         struct error *e)
{
    const size_t at = find_line_end(bytes, n);
    size_t end;

    if (bytes[0] == '#')
        return refuse(e,
                      "the answer is a block where a text was due: look at the encoding in the "
                      "profile and at the data format that it sets",
                      bytes, n);
    if (at == n) return ended ? end_without_terminator(frame, bytes, n, e) : 0;
    if (at == 0) return refuse(e, "the answer is empty", bytes, n);
    end = take_terminator(frame, bytes, n, at, e);
    if (end == 0 && e->kind == ERROR_NONE && ended)
        return end_without_terminator(frame, bytes, n, e);
    return end;
}

bool reply_block_head(const char *bytes, size_t n, struct reply_block *out, struct error *e)
{
    char shown[REPLY_SHOWN_TEXT];
    size_t n_digits, length = 0;

    *out = (struct reply_block){0};
    if (n < 1) return true;
    if (bytes[0] != '#') goto wrong;
    if (n < 2) return true;
    if (!is_digit(bytes[1])) goto wrong;
    n_digits = (size_t)(bytes[1] - '0');
    for (size_t i = 0; i < n_digits && i + 2 < n; i++) {
        if (!is_digit(bytes[i + 2])) goto wrong;
        length = length * 10 + (size_t)(bytes[i + 2] - '0');
    }
    if (n < n_digits + 2) return true;
    if (length > CEILING_REPLY)
        return error_set(
            e, ERROR_BENCH,
            "the answer announces a block of %zu bytes, more than the %zu that any sweep "
            "needs: \"%s\"",
            length, CEILING_REPLY, reply_shown(bytes, n, shown));
    *out = (struct reply_block){
        .data = n_digits + 2, .length = length, .is_indefinite = n_digits == 0};
    return true;
wrong:
    return error_set(e, ERROR_BENCH,
                     "the answer has no block head, '#' and the count of its bytes: \"%s\"",
                     reply_shown(bytes, n, shown));
}

/* A block's data end at `at`. What stands behind its terminator puts its length in doubt, other
 * than behind a text. */
static size_t frame_behind_data(const struct reply_frame *frame, const char *bytes, size_t n,
                                size_t at, bool ended, struct error *e)
{
    size_t end;

    if (at < n && !is_line_end(bytes[at]))
        return refuse(
            e,
            "bytes stand where the terminator of the block is due, so its count is wrong or "
            "the encoding is another than the profile says",
            bytes + at, n - at);
    end = at < n ? take_terminator(frame, bytes, n, at, e) : 0;
    if (e->kind != ERROR_NONE) return 0;
    if (end == 0) return ended ? end_without_terminator(frame, bytes, n, e) : 0;
    if (end < n)
        return refuse(e,
                      "bytes stand behind the terminator of the block, so its count is wrong or "
                      "answers are out of step",
                      bytes + end, n - end);
    return end;
}

static size_t refuse_length(const struct reply_frame *frame, size_t length, struct error *e)
{
    const char *hint = "";

    if (length == 2 * frame->expected_bytes || 2 * length == frame->expected_bytes)
        hint = ", as with reals of the other width";
    (void)error_set(e, ERROR_BENCH,
                    "the answer announces a block of %zu bytes where %zu were due%s: look at the "
                    "number of points and at the encoding in the profile",
                    length, frame->expected_bytes, hint);
    return 0;
}

/* A text where a block is due. Waits for its first bytes, which are usually the instrument's own
 * complaint, but not for its end: noise has none. */
static size_t refuse_text(const char *bytes, size_t n, bool ended, struct error *e)
{
    const size_t line = find_line_end(bytes, n);

    if (n < REPLY_SHOWN && line == n && !ended) return 0;
    return refuse(e, "the answer is a text where a block was due", bytes, n);
}

static size_t frame_block(const struct reply_frame *frame, const char *bytes, size_t n, bool ended,
                          struct error *e)
{
    struct reply_block block;

    if (bytes[0] != '#') return refuse_text(bytes, n, ended, e);
    if (!reply_block_head(bytes, n, &block, e)) return 0;
    if (block.data == 0)
        return ended ? refuse(e, "the message ended inside the head of a block", bytes, n) : 0;
    if (block.is_indefinite && frame->expected_bytes == 0) {
        if (ended) return n;
        if (frame->link_tells_end) return 0;
        return refuse(
            e,
            "the answer is a block without a count (#0), and this link does not tell where "
            "it ends",
            bytes, n);
    }
    if (block.is_indefinite) block.length = frame->expected_bytes;
    if (frame->expected_bytes > 0 && block.length != frame->expected_bytes)
        return refuse_length(frame, block.length, e);
    if (n - block.data < block.length) {
        if (ended)
            (void)error_set(e, ERROR_BENCH,
                            "the message ended after %zu of the %zu bytes of its block",
                            n - block.data, block.length);
        return 0;
    }
    return frame_behind_data(frame, bytes, n, block.data + block.length, ended, e);
}

size_t reply_frame(void *context, const char *bytes, size_t n, bool ended, struct error *e)
{
    const struct reply_frame *frame = context;
    size_t begin = 0, length;

    if (frame->terminator == TERMINATOR_ANY) begin = count_line_ends(bytes, n);
    if (begin == n) return ended ? refuse(e, "the answer is empty", bytes, n) : 0;
    length = frame->is_block ? frame_block(frame, bytes + begin, n - begin, ended, e)
                             : frame_text(frame, bytes + begin, n - begin, ended, e);
    return length > 0 ? begin + length : 0;
}

bool reply_text(const char *bytes, size_t n, const char **out, size_t *length, struct error *e)
{
    size_t begin = count_line_ends(bytes, n), end = n;
    char shown[REPLY_SHOWN_TEXT];

    while (end > begin && is_line_end(bytes[end - 1]))
        end--;
    if (begin == end) return error_set(e, ERROR_BENCH, "the answer is empty");
    for (size_t i = begin; i < end; i++) {
        if (bytes[i] > 0 && bytes[i] < 0x7f) continue;
        return error_set(
            e, ERROR_BENCH,
            "the answer holds bytes that no text has, as with a wrong baud rate, parity "
            "or number of data bits: \"%s\"",
            reply_shown(bytes + begin, end - begin, shown));
    }
    *out = bytes + begin;
    *length = end - begin;
    return true;
}

/* The string behind an entry's number: quotes off, doubled ones single; false when it is cut off or
 * something follows. */
static bool take_words(const char *text, size_t length, char words[256])
{
    const bool quoted = length > 0 && text[0] == '"';
    size_t n = 0, i = quoted ? 1 : 0;

    for (; i < length; i++) {
        if (quoted && text[i] == '"') {
            if (i + 1 == length || text[i + 1] != '"') break;
            i++;
        }
        if (n < 255) words[n++] = text[i] >= 0x20 && text[i] < 0x7f ? text[i] : '?';
    }
    words[n] = '\0';
    return quoted ? i + 1 == length : true;
}

static size_t skip_blanks(const char *text, size_t length, size_t at)
{
    while (at < length && (text[at] == ' ' || text[at] == '\t'))
        at++;
    return at;
}

bool reply_error_entry(const char *text, size_t length, struct reply_error *out, struct error *e)
{
    struct reply_error made = {0};
    char shown[REPLY_SHOWN_TEXT];
    size_t at = skip_blanks(text, length, 0), first;
    bool negative = false, ok;

    while (length > at && (text[length - 1] == ' ' || text[length - 1] == '\t'))
        length--;
    if (at < length && (text[at] == '+' || text[at] == '-')) negative = text[at++] == '-';
    for (first = at; at < length && is_digit(text[at]) && made.number <= 32768; at++)
        made.number = made.number * 10 + (text[at] - '0');
    ok = at > first && made.number <= (negative ? 32768 : 32767);
    if (negative) made.number = -made.number;
    at = skip_blanks(text, length, at);
    if (ok && at < length) {
        ok = text[at] == ',';
        at = skip_blanks(text, length, at + 1);
        ok = ok && at < length && take_words(text + at, length - at, made.words);
    }
    if (!ok)
        return error_set(e, ERROR_BENCH,
                         "the answer is no entry of an error queue, a number and a text in quotes: "
                         "\"%s\"",
                         reply_shown(text, length, shown));
    *out = made;
    return true;
}
