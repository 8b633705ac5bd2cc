#include <stdbool.h>
#include <string.h>

#include "drivers/touchstone.h"

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '!';
}

/* Adds one comment without the blanks and marks around it. */
static void add_comment(struct text *out, size_t before, const char *from, const char *to)
{
    size_t length, room = CEILING_COMMENTS - (out->length - before);

    while (from < to && is_blank(*from))
        from++;
    while (to > from && is_blank(to[-1]))
        to--;
    length = (size_t)(to - from);
    if (length == 0 || room == 0) return;
    if (out->length > before) {
        text_add(out, "\n");
        room--;
    }
    text_add_bytes(out, from, length < room ? length : room);
}

void touchstone_add_comments(const char *bytes, size_t length, struct text *out)
{
    const char *const end = bytes + length;
    const size_t before = out->length;

    while (bytes < end && out->length - before < CEILING_COMMENTS) {
        const char *stop = bytes;

        while (stop < end && *stop != '\n' && *stop != '\r')
            stop++;
        while (bytes < stop && (*bytes == ' ' || *bytes == '\t'))
            bytes++;
        /* Data begin with a digit, a sign or a dot; options and keywords do not. */
        if (bytes < stop && strchr("0123456789+-.", *bytes)) return;
        if (bytes < stop && *bytes == '!') add_comment(out, before, bytes, stop);
        bytes = stop < end ? stop + 1 : end;
    }
}
