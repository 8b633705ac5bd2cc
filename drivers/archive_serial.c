/* Which serial numbers can stand in every table and on every page as they are. */
#include <string.h>

#include "drivers/archive_name.h"
#include "drivers/base/memory.h"
#include "drivers/base/plain.h"

/* The characters of a serial number that may be printed, '?' for the bytes that may not. Returns
 * how many were not. */
static size_t printable_serial(const char *serial, char out[CEILING_SERIAL + 1])
{
    size_t n = 0, n_bad = 0;

    while (*serial) {
        size_t length = plain_is_unseen(serial) ? 0 : plain_character(serial);

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
    (void)error_set(
        e, ERROR_INPUT,
        "%s: the serial number \"%s\" cannot be used: it must have 1 to %zu bytes of "
        "UTF-8 without control or invisible characters, may not be . or .., nor begin with = + - @ "
        "or a blank, nor end with a blank",
        where, printed, CEILING_SERIAL);
    memory_free(copy);
    return NULL;
}
