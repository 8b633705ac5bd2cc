/* Which serial numbers can stand in every table and on every page as they are. */
#include <string.h>

#include "drivers/archive_name.h"
#include "drivers/base/memory.h"

/* Bytes of the UTF-8 character at `p`; 0 for none, for control characters and for the marks that
 * turn the direction of the text around them, which no page shows. */
static size_t character_length(const unsigned char *p)
{
    static const unsigned long smallest[] = {0, 0x20, 0xA0, 0x800, 0x10000};
    size_t n = *p < 0x80 ? 1 : *p < 0xC0 ? 0 : *p < 0xE0 ? 2 : *p < 0xF0 ? 3 : *p < 0xF8 ? 4 : 0;
    unsigned long code = n > 1 ? *p & (0x7Fu >> n) : *p;

    for (size_t i = 1; i < n; i++) {
        if ((p[i] & 0xC0) != 0x80) return 0;
        code = code << 6 | (p[i] & 0x3F);
    }
    if (code < smallest[n] || code == 0x7F || code > 0x10FFFF) return 0;
    if ((code >= 0xD800 && code <= 0xDFFF) || code == 0xFFFE || code == 0xFFFF) return 0;
    if ((code >= 0x202A && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069)) return 0;
    return n;
}

/* The characters of a serial number that may be printed, '?' for the bytes that may not. Returns
 * how many were not. */
static size_t printable_serial(const char *serial, char out[CEILING_SERIAL + 1])
{
    size_t n = 0, n_bad = 0;

    while (*serial) {
        size_t length = character_length((const unsigned char *)serial);

        if (n + (length ? length : 1) > CEILING_SERIAL) break;
        memcpy(out + n, length ? serial : "?", length ? length : 1);
        n += length ? length : 1;
        serial += length ? length : 1;
        n_bad += length == 0;
    }
    out[n] = '\0';
    return n_bad;
}

char *archive_serial_copy(struct name_part serial, const char *where, struct error *e)
{
    char *copy = memory_copy_bytes(serial.length ? serial.at : "", serial.length, e);
    char printed[CEILING_SERIAL + 1];
    bool usable;

    if (!copy) return NULL;
    usable = printable_serial(copy, printed) == 0 && serial.length > 0 &&
             serial.length <= CEILING_SERIAL && copy[serial.length - 1] != ' ' &&
             strcmp(copy, ".") != 0 && strcmp(copy, "..") != 0;
    /* A cell that begins so would be a formula to a spreadsheet, and the column must stay exact. */
    if (usable && !strchr("=+-@ ", *copy)) return copy;
    (void)error_set(e, ERROR_INPUT,
                    "%s: the serial number \"%s\" cannot be used: it must have 1 to %zu bytes of "
                    "UTF-8 without control characters, may not be . or .., nor begin with = + - @ "
                    "or a blank, nor end with a blank",
                    where, printed, CEILING_SERIAL);
    memory_free(copy);
    return NULL;
}
