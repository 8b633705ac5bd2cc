#include "drivers/base/plain.h"

#include <string.h>

/* Marks, embeddings, overrides and isolates that turn the direction of the text around them. */
static bool turns_direction(unsigned long code)
{
    return code == 0x061C || code == 0x200E || code == 0x200F ||
           (code >= 0x202A && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069);
}

size_t plain_character(const char *p)
{
    static const unsigned long smallest[] = {0, 0x20, 0xA0, 0x800, 0x10000};
    const unsigned char *byte = (const unsigned char *)p;
    size_t n = *byte < 0x80   ? 1
               : *byte < 0xC2 ? 0
               : *byte < 0xE0 ? 2
               : *byte < 0xF0 ? 3
               : *byte < 0xF5 ? 4
                              : 0;
    unsigned long code = n > 1 ? *byte & (0x7Fu >> n) : *byte;

    for (size_t i = 1; i < n; i++) {
        if ((byte[i] & 0xC0) != 0x80) return 0;
        code = code << 6 | (byte[i] & 0x3F);
    }
    if (code < smallest[n] || code == 0x7F || code > 0x10FFFF) return 0;
    if ((code >= 0xD800 && code <= 0xDFFF) || code == 0xFFFE || code == 0xFFFF) return 0;
    return turns_direction(code) ? 0 : n;
}

bool plain_is_unseen(const char *p)
{
    /* UTF-8 of soft hyphen and joiners, blanks of every width, line separators, fillers. */
    static const char *const unseen[] = {
        "\xC2\xA0",     "\xC2\xAD",     "\xCD\x8F",     "\xE1\x85\x9F", "\xE1\x85\xA0",
        "\xE1\x9A\x80", "\xE1\xA0\x8E", "\xE2\x80\xA8", "\xE2\x80\xA9", "\xE2\x80\xAF",
        "\xE2\x81\x9F", "\xE3\x80\x80", "\xE3\x85\xA4", "\xEF\xBB\xBF", "\xEF\xBE\xA0"};

    for (size_t i = 0; i < sizeof unseen / sizeof *unseen; i++)
        if (strncmp(p, unseen[i], strlen(unseen[i])) == 0) return true;
    /* U+2000 to U+200D, U+2060 to U+2065. */
    return (strncmp(p, "\xE2\x80", 2) == 0 && (unsigned char)p[2] <= 0x8D) ||
           (strncmp(p, "\xE2\x81", 2) == 0 && (unsigned char)p[2] >= 0xA0 &&
            (unsigned char)p[2] <= 0xA5);
}

void text_add_plain(struct text *t, const char *words, const char *kept)
{
    while (*words) {
        const char *run = words;
        size_t n;

        while (*words && (n = strchr(kept, *words) ? 1 : plain_character(words)) > 0)
            words += n;
        text_add_bytes(t, run, (size_t)(words - run));
        if (!*words) break;
        text_add(t, "\xEF\xBF\xBD");
        words++;
    }
}
