#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "drivers/base/number.h"
#include "drivers/reply.h"

/* SCPI-1999, volume 1, 7.2.1.4 and 7.2.1.5 (from memory): 9.9E37 is infinity, -9.9E37 negative
 * infinity, 9.91E37 not-a-number. As 32-bit reals they are a little off, so all from 9e37 on is
 * taken as one of them. */
#define NO_NUMBER_FROM 9e37
#define BETWEEN_INFINITY_AND_NAN 9.905e37

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

/* A piece of a reply. */
struct field {
    const char *at;
    size_t length;
};

static struct field trim(const char *at, size_t length)
{
    while (length > 0 && is_blank(at[0])) {
        at++;
        length--;
    }
    while (length > 0 && is_blank(at[length - 1]))
        length--;
    return (struct field){at, length};
}

static bool field_is(struct field field, const char *word)
{
    return field.length == strlen(word) && strncasecmp(field.at, word, field.length) == 0;
}

/* The field is a decimal number and nothing else. It is copied, since number_scan() wants a text
 * that ends where the number does. */
static bool parse(struct field field, double *out)
{
    char copy[CEILING_REPLY_NUMBER + 1];

    if (field.length > CEILING_REPLY_NUMBER) return false;
    memcpy(copy, field.at, field.length);
    copy[field.length] = '\0';
    return strlen(copy) == field.length && number_parse(copy, out);
}

static bool is_no_number(double x)
{
    return !isfinite(x) || fabs(x) >= NO_NUMBER_FROM;
}

/* What instruments write in a list instead of a number, in words of SCPI and of common practice. */
static bool is_no_number_word(struct field field)
{
    static const char *const words[] = {"NAN", "INF", "INFINITY", "NINF", "NINFINITY"};
    size_t dashes = 0;

    while (dashes < field.length && field.at[dashes] == '-')
        dashes++;
    if (dashes == field.length) return dashes > 1;
    if (field.length > 1 && (field.at[0] == '+' || field.at[0] == '-')) {
        field.at++;
        field.length--;
    }
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (field_is(field, words[i])) return true;
    return false;
}

static bool refuse_number(const char *text, size_t length, struct error *e)
{
    char shown[REPLY_SHOWN_TEXT];

    return error_set(e, ERROR_BENCH, "the answer \"%s\" is not a number and nothing else",
                     reply_shown(text, length, shown));
}

bool reply_number(const char *text, size_t length, double *out, struct error *e)
{
    char shown[REPLY_SHOWN_TEXT];
    double x;

    if (!parse(trim(text, length), &x)) return refuse_number(text, length, e);
    if (is_no_number(x))
        return error_set(e, ERROR_BENCH,
                         "the answer \"%s\" means %s: the instrument has no reading",
                         reply_shown(text, length, shown),
                         x < 0                          ? "minus infinity"
                         : x < BETWEEN_INFINITY_AND_NAN ? "infinity"
                                                        : "not-a-number");
    *out = x;
    return true;
}

/* `n` bytes, the most significant first or last, as a whole number. */
static uint64_t assemble(const unsigned char *bytes, size_t n, enum reply_order order)
{
    uint64_t word = 0;

    for (size_t i = 0; i < n; i++)
        word = word << 8 | bytes[order == ORDER_BIG ? i : n - 1 - i];
    return word;
}

/* The value of an IEEE 754 binary number of `bits` bits with `fraction_bits` of them behind the
 * point (from memory); a 32-bit one is exact in a double. Computed, so that nothing depends on how
 * this machine holds a double. */
static double value_of(uint64_t word, int bits, int fraction_bits)
{
    const int exponent_bits = bits - 1 - fraction_bits;
    const int largest = (1 << exponent_bits) - 1, bias = largest / 2;
    const int exponent = (int)(word >> fraction_bits & (uint64_t)largest);
    uint64_t fraction = word & (((uint64_t)1 << fraction_bits) - 1);
    double x;

    if (exponent == largest) return NAN; /* infinity too: no number either way */
    if (exponent > 0) fraction |= (uint64_t)1 << fraction_bits;
    x = ldexp((double)fraction, (exponent > 0 ? exponent : 1) - bias - fraction_bits);
    return word >> (bits - 1) & 1 ? -x : x;
}

static void keep(double x, double *out, size_t *n_invalid)
{
    if (is_no_number(x)) {
        x = NAN;
        (*n_invalid)++;
    }
    *out = x;
}

static bool refuse_count(size_t got, const struct reply_format *format, size_t n, struct error *e)
{
    return error_set(
        e, ERROR_BENCH,
        "the answer holds %zu numbers where %zu were due: look at the number of points, "
        "and at the layout and the values to skip in the profile",
        got, format->skip + n);
}

/* The data of a block that is framed already: counted by its head, or, when that has no count, as
 * many as are due. */
static bool find_data(const char *bytes, size_t n_bytes, size_t due, struct field *data,
                      struct error *e)
{
    struct reply_block block;
    char shown[REPLY_SHOWN_TEXT];
    size_t at;

    while (n_bytes > 0 && (bytes[0] == '\n' || bytes[0] == '\r')) {
        bytes++;
        n_bytes--;
    }
    if (!reply_block_head(bytes, n_bytes, &block, e)) return false;
    if (block.is_indefinite) block.length = due;
    if (block.data == 0 || n_bytes - block.data < block.length)
        return error_set(e, ERROR_BENCH, "the answer is a block that is cut off: \"%s\"",
                         reply_shown(bytes, n_bytes, shown));
    for (at = block.data + block.length; at < n_bytes; at++)
        if (bytes[at] != '\n' && bytes[at] != '\r')
            return error_set(e, ERROR_BENCH,
                             "the answer goes on behind the %zu bytes of its block: \"%s\"",
                             block.length, reply_shown(bytes + at, n_bytes - at, shown));
    *data = (struct field){bytes + block.data, block.length};
    return true;
}

static bool take_reals(const char *bytes, size_t n_bytes, const struct reply_format *format,
                       double *out, size_t n, size_t *n_invalid, struct error *e)
{
    const bool wide = format->encoding == ENCODING_REAL64;
    const size_t size = wide ? 8 : 4, due = format->skip + n;
    struct field data = {0};
    const unsigned char *at;

    if (format->order != ORDER_BIG && format->order != ORDER_LITTLE)
        return error_set(e, ERROR_BENCH,
                         "the byte order of the reals is not known: state it in the profile");
    if (!find_data(bytes, n_bytes, due * size, &data, e)) return false;
    if (data.length % size != 0)
        return error_set(
            e, ERROR_BENCH,
            "the answer is a block of %zu bytes, which are not reals of %zu bytes: look at "
            "the encoding in the profile",
            data.length, size);
    if (data.length / size != due) return refuse_count(data.length / size, format, n, e);
    at = (const unsigned char *)data.at + format->skip * size;
    for (size_t i = 0; i < n; i++, at += size)
        keep(value_of(assemble(at, size, format->order), wide ? 64 : 32, wide ? 52 : 23), &out[i],
             n_invalid);
    return true;
}

/* Takes the next field off `rest`; false when there was none left. A separator at the end leaves an
 * empty one behind it, but for blanks. */
static bool next_field(struct field *rest, char separator, struct field *field)
{
    size_t length = 0, used;

    if (!rest->at) return false;
    while (length < rest->length && rest->at[length] != separator &&
           !(separator == ' ' && is_blank(rest->at[length])))
        length++;
    *field = trim(rest->at, length);
    used = length;
    if (separator == ' ')
        while (used < rest->length && is_blank(rest->at[used]))
            used++;
    else if (length < rest->length)
        used++;
    if (length == rest->length)
        *rest = (struct field){0};
    else
        *rest = (struct field){rest->at + used, rest->length - used};
    return true;
}

static bool take_field(struct field field, size_t number, double *out, size_t *n_invalid,
                       struct error *e)
{
    char shown[REPLY_SHOWN_TEXT];
    double x;

    if (field.length == 0)
        return error_set(e, ERROR_BENCH, "number %zu of the answer is empty", number);
    if (is_no_number_word(field))
        x = NAN;
    else if (!parse(field, &x))
        return error_set(
            e, ERROR_BENCH,
            "number %zu of the answer, \"%s\", is not a number and nothing else: look at "
            "the separator and the encoding in the profile",
            number, reply_shown(field.at, field.length, shown));
    keep(x, out, n_invalid);
    return true;
}

static bool take_decimals(const char *bytes, size_t n_bytes, const struct reply_format *format,
                          double *out, size_t n, size_t *n_invalid, struct error *e)
{
    const char separator = format->separator ? format->separator : ',';
    struct field rest = {0}, field;
    size_t count = 0;

    if (!reply_text(bytes, n_bytes, &rest.at, &rest.length, e)) return false;
    if (separator == ' ') rest = trim(rest.at, rest.length);
    for (; next_field(&rest, separator, &field); count++) {
        if (count < format->skip || count >= format->skip + n) {
            if (field.length == 0)
                return error_set(e, ERROR_BENCH, "number %zu of the answer is empty", count + 1);
        } else if (!take_field(field, count + 1, &out[count - format->skip], n_invalid, e)) {
            return false;
        }
    }
    return count == format->skip + n || refuse_count(count, format, n, e);
}

static void fill_with_nan(double *out, size_t n)
{
    for (size_t i = 0; i < n; i++)
        out[i] = NAN;
}

bool reply_numbers(const char *bytes, size_t n_bytes, const struct reply_format *format,
                   double *out, size_t n, size_t *n_invalid, struct error *e)
{
    size_t invalid = 0;
    bool ok;

    /* A number has a byte at least, so what is due beyond the ceiling cannot be there; and sums and
     * products of the sizes stay small. */
    if (n_bytes > CEILING_REPLY + 64 || n > CEILING_REPLY || format->skip > CEILING_REPLY)
        ok = error_set(e, ERROR_BENCH,
                       "the answer is, or should be, more than the %zu bytes that any sweep "
                       "needs",
                       CEILING_REPLY);
    else if (format->encoding == ENCODING_ASCII)
        ok = take_decimals(bytes, n_bytes, format, out, n, &invalid, e);
    else
        ok = take_reals(bytes, n_bytes, format, out, n, &invalid, e);
    if (!ok) {
        fill_with_nan(out, n);
        invalid = n;
    }
    *n_invalid = invalid;
    return ok;
}
