#include "drivers/emulator_numbers.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/base/number.h"

void emulator_add_nr3(struct text *out, double x)
{
    char shortest[NUMBER_TEXT], digits[NUMBER_TEXT] = {0};
    const char *at = shortest;
    size_t n = 0;
    long exponent = -1; /* of 0.DIGITS, less one */
    bool point = false;

    if (isnan(x)) x = 9.91e37;
    if (isinf(x)) x = x > 0 ? 9.9e37 : -9.9e37;
    (void)number_format(fabs(x), shortest);
    for (; *at && *at != 'e' && *at != 'E'; at++) {
        if (*at == '.') {
            point = true;
        } else if (*at == '0' && n == 0) {
            exponent -= point; /* a zero in front */
        } else {
            digits[n++] = *at;
            exponent += !point;
        }
    }
    if (*at) {
        const bool negative = at[1] == '-';
        long written = 0;

        for (at += at[1] == '-' || at[1] == '+' ? 2 : 1; *at; at++)
            written = 10 * written + (*at - '0');
        exponent += negative ? -written : written;
    }
    while (n > 1 && digits[n - 1] == '0')
        n--;
    if (n == 0) {
        digits[n++] = '0';
        exponent = 0;
    }
    text_addf(out, "%c%c.", signbit(x) ? '-' : '+', digits[0]);
    text_add_bytes(out, n > 1 ? digits + 1 : "0", n > 1 ? n - 1 : 1);
    text_addf(out, "E%c%02ld", exponent < 0 ? '-' : '+', labs(exponent));
}

static uint64_t bits_of(double x, size_t size)
{
    const float narrow = (float)x;
    uint32_t narrow_bits;
    uint64_t bits;

    memcpy(&narrow_bits, &narrow, sizeof narrow_bits);
    memcpy(&bits, &x, sizeof bits);
    return size == 4 ? narrow_bits : bits;
}

/* "#", how many digits the length has, the length; or what a fault makes of it. */
static void add_block_head(struct text *out, size_t n_bytes, const bool *now)
{
    char digits[24] = {0};
    int n_digits;

    if (now[EMULATOR_BLOCK_INDEFINITE]) {
        text_add(out, "#0");
        return;
    }
    if (now[EMULATOR_BLOCK_LONG]) n_bytes += 4;
    if (now[EMULATOR_BLOCK_SHORT] && n_bytes >= 4) n_bytes -= 4;
    if (now[EMULATOR_BLOCK_HUGE]) n_bytes = 999999999;
    n_digits = snprintf(digits, sizeof digits, "%zu", n_bytes);
    if (now[EMULATOR_BLOCK_DIGITS]) digits[n_digits - 1] = 'x';
    if (now[EMULATOR_BLOCK_LETTER])
        text_addf(out, "#x%s", digits);
    else
        text_addf(out, "#%d%s", n_digits, digits);
}

static void add_block(struct text *out, const double *x, size_t n, enum emulator_format format,
                      bool swapped, const bool *now)
{
    size_t size = format == EMULATOR_REAL32 ? 4 : 8;

    if (now[EMULATOR_OTHER_REAL]) size = 12 - size;
    if (now[EMULATOR_SWAPPED]) swapped = !swapped;
    add_block_head(out, n * size, now);
    for (size_t i = 0; i < n; i++) {
        const uint64_t bits = bits_of(x[i], size);
        char bytes[8];

        for (size_t k = 0; k < size; k++)
            bytes[swapped ? k : size - 1 - k] = (char)(unsigned char)(bits >> 8 * k & 0xff);
        text_add_bytes(out, bytes, size);
    }
}

/* What stands for the number in the middle of a list, or NULL. */
static const char *odd_word(const bool *now)
{
    static const struct {
        enum emulator_fault fault;
        const char *word;
    } words[] = {{EMULATOR_EMPTY_FIELD, ""}, {EMULATOR_TWO_POINTS, "1.2.3"},
                 {EMULATOR_HEX, "0x1p-3"},   {EMULATOR_WORD_NAN, "NAN"},
                 {EMULATOR_WORD_INF, "INF"}, {EMULATOR_DASHES, "----"}};

    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (now[words[i].fault]) return words[i].word;
    return NULL;
}

static void add_list(struct text *out, const double *x, size_t n, const bool *now)
{
    const char *separator = now[EMULATOR_BLANK_SEPARATED]  ? " "
                            : now[EMULATOR_LINE_SEPARATED] ? "\n"
                                                           : ",";
    const char *odd = odd_word(now);
    const size_t begin = out->length;

    for (size_t i = 0; i < n; i++) {
        if (i > 0) text_add(out, separator);
        if (odd && i == n / 2)
            text_add(out, odd);
        else
            emulator_add_nr3(out, x[i]);
    }
    if (now[EMULATOR_TRAILING_COMMA]) text_add(out, ",");
    for (size_t i = begin; i < out->length && now[EMULATOR_DECIMAL_COMMA]; i++)
        if (out->data[i] == '.') out->data[i] = ',';
}

void emulator_add_numbers(struct text *out, const double *x, size_t n, enum emulator_format format,
                          bool swapped, const struct emulator_faults *faults)
{
    if (format == EMULATOR_ASCII || faults->now[EMULATOR_TEXT_FOR_BLOCK])
        add_list(out, x, n, faults->now);
    else
        add_block(out, x, n, format, swapped, faults->now);
}
