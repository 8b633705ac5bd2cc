#include "drivers/base/value.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"

struct prefix {
    const char *name;
    int shift; /* power of ten that takes the named unit to the base */
};

/* The base comes last where prefixes are chosen by size: value_words() takes the first row whose
 * number is at least one. */
static const struct unit_row {
    const char *name;
    struct prefix prefixes[4];
    int decimals;        /* digits behind the point, for people */
    bool chooses_prefix; /* in words; the others keep to their base, which results.csv has too */
} units[] = {
    [UNIT_ONE] = {"1", {{"", 0}}, 4, false},
    [UNIT_HZ] = {"Hz", {{"GHz", 9}, {"MHz", 6}, {"kHz", 3}, {"Hz", 0}}, 0, true},
    [UNIT_V] = {"V", {{"V", 0}, {"mV", -3}}, 4, true},
    [UNIT_MA] = {"mA", {{"A", 3}, {"mA", 0}, {"uA", -3}}, 2, false},
    [UNIT_DB] = {"dB", {{"dB", 0}}, 2, false},
    [UNIT_DB_PER_V] = {"dB/V", {{"dB/V", 0}}, 2, false},
    [UNIT_OHM] = {"ohm", {{"ohm", 0}}, 2, false},
    [UNIT_DEG] = {"deg", {{"deg", 0}}, 2, false},
    [UNIT_NS] = {"ns", {{"us", 3}, {"ns", 0}, {"ps", -3}}, 3, false},
    [UNIT_S] = {"s", {{"s", 0}, {"ms", -3}}, 3, true},
    [UNIT_DBM] = {"dBm", {{"dBm", 0}}, 2, false},
};

const char *unit_name(enum unit unit)
{
    return units[unit].name;
}

bool value_parse(const char *text, enum unit unit, double *out)
{
    const char *end = text + strlen(text);
    const char *behind = text, *name;
    double x;

    if (!number_scan(&behind, end, &x)) return false;
    name = behind + strspn(behind, " ");
    for (size_t i = 0; i < 4 && units[unit].prefixes[i].name; i++) {
        const struct prefix *prefix = &units[unit].prefixes[i];
        const char *at = text;

        /* Blanks stand between a number and its unit, not behind a bare number. */
        if (strcmp(*prefix->name ? name : behind, prefix->name) != 0) continue;
        return number_scan_scaled(&at, end, prefix->shift, out);
    }
    return false;
}

/* x divided by ten to the power `shift`, as the decimal that value_parse() takes back to x. */
static bool write_exactly(double x, const struct prefix *prefix, enum unit unit, char *out)
{
    char digits[NUMBER_TEXT];
    double scaled = x * pow(10, -prefix->shift), back;

    (void)number_format(scaled, digits);
    if (prefix->shift != 0) {
        /* The product may be off by an ulp: prefer the 15-digit neighbour when it reads back. */
        char fixed[NUMBER_FIXED_TEXT];
        int decimals = 14 - (int)floor(log10(fabs(scaled)));

        (void)number_format_fixed(scaled, decimals < 0 ? 0 : decimals > 17 ? 17 : decimals, fixed);
        if (number_parse(fixed, &scaled)) (void)number_format(scaled, digits);
    }
    (void)snprintf(out, VALUE_TEXT, "%s%s%s", digits, *prefix->name ? " " : "", prefix->name);
    return value_parse(out, unit, &back) && back == x;
}

const char *value_words(double x, enum unit unit, char out[VALUE_TEXT])
{
    const struct unit_row *row = &units[unit];
    const struct prefix *base = row->prefixes;

    while (base->shift != 0)
        base++;
    if (row->chooses_prefix && isfinite(x) && x != 0) {
        for (size_t i = 0; i < 4 && row->prefixes[i].name; i++) {
            const struct prefix *prefix = &row->prefixes[i];

            if (fabs(x) < 0.9999999999 * pow(10, prefix->shift)) continue;
            if (write_exactly(x, prefix, unit, out)) return out;
            break;
        }
    }
    if (!write_exactly(x, base, unit, out)) {
        char digits[NUMBER_TEXT];

        (void)number_format(x, digits);
        (void)snprintf(out, VALUE_TEXT, "%s%s%s", digits, *base->name ? " " : "", base->name);
    }
    return out;
}

const char *value_rounded(double x, enum unit unit, char out[VALUE_TEXT])
{
    char digits[NUMBER_FIXED_TEXT];
    double rounded;

    if (!isfinite(x)) return value_words(x, unit, out);
    if (units[unit].chooses_prefix) {
        /* These are written with the prefix that reads best, without trailing zeros. */
        (void)number_format_fixed(x, units[unit].decimals, digits);
        if (number_parse(digits, &rounded)) return value_words(rounded, unit, out);
    }
    if (fabs(x) >= 1e15) return value_words(x, unit, out);
    (void)number_format_fixed(x, units[unit].decimals, digits);
    (void)snprintf(out, VALUE_TEXT, "%.40s%s%s", digits, unit == UNIT_ONE ? "" : " ",
                   unit == UNIT_ONE ? "" : units[unit].name);
    return out;
}
