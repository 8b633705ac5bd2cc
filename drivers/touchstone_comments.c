#include <stdbool.h>
#include <string.h>

#include "drivers/touchstone.h"

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '!';
}

/* What stands for words that were cut off. */
#define CUT_MARK "\u2026"

/* Adds one comment without the blanks and marks around it, as far as there is room: false when that
 * is not all of it. */
static bool add_comment(struct text *out, size_t before, const char *from, const char *to)
{
    size_t length, room = CEILING_COMMENTS - (out->length - before);

    while (from < to && is_blank(*from))
        from++;
    while (to > from && is_blank(to[-1]))
        to--;
    length = (size_t)(to - from);
    if (length == 0) return true;
    if (room == 0) return false;
    if (out->length > before) {
        text_add(out, "\n");
        room--;
    }
    text_add_bytes(out, from, length < room ? length : room);
    return length <= room;
}

/* Ends the words, which fill all their room, with a mark in the place of the last letters. */
static void mark_cut(struct text *out, size_t before)
{
    const size_t least = before + CEILING_COMMENTS - sizeof CUT_MARK + 1;

    if (out->failed) return;
    while (out->length > least ||
           (out->length > before && ((unsigned char)out->data[out->length] & 0xc0) == 0x80))
        out->length--;
    out->data[out->length] = '\0';
    text_add(out, CUT_MARK);
}

void touchstone_add_comments(const char *bytes, size_t length, struct text *out)
{
    const char *const end = bytes + length;
    const size_t before = out->length;

    while (bytes < end) {
        const char *stop = bytes;

        while (stop < end && *stop != '\n' && *stop != '\r')
            stop++;
        while (bytes < stop && (*bytes == ' ' || *bytes == '\t'))
            bytes++;
        /* Data begin with a digit, a sign or a dot; options and keywords do not. */
        if (bytes < stop && strchr("0123456789+-.", *bytes)) return;
        if (bytes < stop && *bytes == '!' && !add_comment(out, before, bytes, stop)) {
            mark_cut(out, before);
            return;
        }
        bytes = stop < end ? stop + 1 : end;
    }
}
