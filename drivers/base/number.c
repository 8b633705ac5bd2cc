#include "drivers/base/number.h"

#include <assert.h>
#include <float.h>
#include <locale.h>
#include <math.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static_assert(FLT_EVAL_METHOD == 0, "the exact path needs double arithmetic without excess");

static const double power_of_ten[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                      1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                      1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* Longest mantissa of a number that is scaled and needs strtod; longer ones are refused. */
#define SHIFTED_TEXT 1000

static pthread_once_t locale_once = PTHREAD_ONCE_INIT;
static locale_t c_locale;

static void make_c_locale(void)
{
    c_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
}

/* The C locale; made once. NULL should that fail: the global locale then serves, which this program
 * never changes from "C". */
static locale_t get_c_locale(void)
{
    (void)pthread_once(&locale_once, make_c_locale);
    return c_locale;
}

static double convert(const char *text)
{
    locale_t locale = get_c_locale();

    return locale ? strtod_l(text, NULL, locale) : strtod(text, NULL);
}

/* A decimal as scanned: digits * 10^exponent, unless `inexact` says that digits were dropped. */
struct decimal {
    uint64_t digits;
    int exponent;
    bool negative, inexact;
    const char *end;
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static const char *scan_exponent(const char *p, const char *end, int *exponent)
{
    const char *q = p + 1;
    bool negative = false;
    int value = 0;

    if (q < end && (*q == '+' || *q == '-')) negative = *q++ == '-';
    if (q >= end || !is_digit(*q)) return p;
    for (; q < end && is_digit(*q); q++)
        if (value < 100000) value = value * 10 + (*q - '0');
    *exponent += negative ? -value : value;
    return q;
}

static bool scan_decimal(const char *p, const char *end, struct decimal *d)
{
    const uint64_t room = (UINT64_MAX - 9) / 10;
    bool any = false;

    *d = (struct decimal){0};
    if (p < end && (*p == '+' || *p == '-')) d->negative = *p++ == '-';
    for (; p < end && is_digit(*p); p++, any = true) {
        if (d->digits <= room)
            d->digits = d->digits * 10 + (uint64_t)(*p - '0');
        else
            d->inexact = true;
    }
    if (p < end && *p == '.') {
        for (p++; p < end && is_digit(*p); p++, any = true) {
            if (d->digits <= room) {
                d->digits = d->digits * 10 + (uint64_t)(*p - '0');
                d->exponent--;
            } else {
                d->inexact = true;
            }
        }
    }
    if (!any) return false;
    if (p < end && (*p == 'e' || *p == 'E')) p = scan_exponent(p, end, &d->exponent);
    d->end = p;
    return true;
}

/* A shifted number that needs strtod: the same text with its exponent raised. */
static double convert_shifted(const char *start, const char *end, int shift)
{
    const char *p = start;
    char copy[SHIFTED_TEXT + 24];
    int exponent = 0;

    while (p < end && *p != 'e' && *p != 'E')
        p++;
    if (p < end) (void)scan_exponent(p, end, &exponent);
    if (p - start > SHIFTED_TEXT) return NAN;
    memcpy(copy, start, (size_t)(p - start));
    (void)snprintf(copy + (p - start), 24, "e%d", exponent + shift);
    return convert(copy);
}

bool number_scan_scaled(const char **at, const char *end, int shift, double *out)
{
    struct decimal d;
    int exponent;
    double x;

    if (!scan_decimal(*at, end, &d)) return false;
    exponent = d.exponent + shift;
    if (!d.inexact && d.digits <= (uint64_t)1 << 53 && exponent >= -22 && exponent <= 22) {
        x = (double)d.digits;
        x = exponent < 0 ? x / power_of_ten[-exponent] : x * power_of_ten[exponent];
        if (d.negative) x = -x;
    } else if (shift == 0) {
        x = convert(*at);
    } else {
        x = convert_shifted(*at, d.end, shift);
    }
    if (!isfinite(x)) return false;
    *at = d.end;
    *out = x;
    return true;
}

bool number_scan(const char **at, const char *end, double *out)
{
    return number_scan_scaled(at, end, 0, out);
}

bool number_parse(const char *text, double *out)
{
    const char *at = text, *end = text + strlen(text);
    double x;

    if (!number_scan(&at, end, &x) || at != end) return false;
    *out = x;
    return true;
}

bool number_parse_whole(const char *text, unsigned long largest, unsigned long *out)
{
    unsigned long value = 0;

    if (!is_digit(*text)) return false;
    for (; is_digit(*text); text++) {
        unsigned long digit = (unsigned long)(*text - '0');

        if (value > (largest - digit) / 10 || digit > largest) return false;
        value = value * 10 + digit;
    }
    if (*text) return false;
    *out = value;
    return true;
}

static bool reads_back(const char *digits, double x)
{
    double again;

    return number_parse(digits, &again) && again == x;
}

/* Raises the last digit before the exponent by one; false when that would carry: the decimal would
 * then be one of 15 digits, which was tried. */
static bool raise_last_digit(char *digits)
{
    char *last = strchr(digits, 'e') - 1;

    if (*last == '9') return false;
    (*last)++;
    return true;
}

static void print_shortest(double x, char *out)
{
    /* Every decimal of 15 digits survives a normal double, so "%.15g" is the shortest if it reads
     * back; subnormals hold fewer digits and are tried from one digit on. */
    int precision = fabs(x) < DBL_MIN ? 1 : 15, exponent;

    for (; precision < 17; precision++) {
        (void)snprintf(out, NUMBER_TEXT, "%.*g", precision, x);
        if (reads_back(out, x)) return;
    }
    /* Below a power of two the neighbouring doubles are twice as near as above it, so the nearest
     * 16-digit decimal may read back wrongly where the next one above is right. With all its
     * digits, for "%g" leaves zeros out. No power of two that "%g" writes without an exponent needs
     * this. */
    if (frexp(fabs(x), &exponent) == 0.5) {
        (void)snprintf(out, NUMBER_TEXT, "%.15e", x);
        if (raise_last_digit(out) && reads_back(out, x)) return;
    }
    (void)snprintf(out, NUMBER_TEXT, "%.17g", x);
}

size_t number_format(double x, char out[NUMBER_TEXT])
{
    locale_t before = uselocale(get_c_locale());

    if (isfinite(x))
        print_shortest(x, out);
    else
        (void)snprintf(out, NUMBER_TEXT, "%s", isnan(x) ? "nan" : x > 0 ? "inf" : "-inf");
    (void)uselocale(before);
    return strlen(out);
}

size_t number_format_fixed(double x, int decimals, char out[NUMBER_FIXED_TEXT])
{
    locale_t before;

    assert(decimals >= 0 && decimals <= 17);
    if (!isfinite(x)) return number_format(x, out);
    before = uselocale(get_c_locale());
    (void)snprintf(out, NUMBER_FIXED_TEXT, "%.*f", decimals, x);
    (void)uselocale(before);
    if (out[0] == '-' && strspn(out + 1, "0.") == strlen(out + 1))
        memmove(out, out + 1, strlen(out));
    return strlen(out);
}
