#include <string.h>

#include "runner/screen_parts.h"

/* Longer lines are hard to read, however wide the terminal is. */
#define READABLE 100

void screen_ascii(struct text *out, const char *words)
{
    for (const char *p = words ? words : ""; *p; p++) {
        unsigned char byte = (unsigned char)*p;

        if (byte >= 0x20 && byte < 0x7F) {
            text_add_bytes(out, p, 1);
        } else {
            text_add(out, byte == '\n' || byte == '\t' ? " " : "?");
            /* The whole of a character is one question mark. */
            while (byte >= 0xC0 && ((unsigned char)p[1] & 0xC0) == 0x80)
                p++;
        }
    }
}

void screen_page_finish(struct screen_page *page, struct text *t)
{
    if (t->failed) page->out->failed = true;
    if (t->no_memory) page->out->no_memory = true;
    text_clear(t);
}

void screen_page_row(struct screen_page *page, const char *style, const char *words)
{
    size_t length = strlen(words), room = page->columns;

    if (page->left == 0) return;
    page->left--;
    if (style && length) text_addf(page->out, "\033[%sm", style);
    if (length <= room) {
        text_add_bytes(page->out, words, length);
    } else {
        size_t dots = room > 6 ? 3 : 0;

        text_add_bytes(page->out, words, room - dots);
        text_add_bytes(page->out, "...", dots);
    }
    if (style && length) text_add(page->out, "\033[0m");
    text_add(page->out, "\n");
}

void screen_page_blank(struct screen_page *page, unsigned rows)
{
    for (unsigned i = 0; i < rows; i++)
        screen_page_row(page, NULL, "");
}

/* Bytes of `words` that go on a row of `room`, broken at a blank where there is one. */
static size_t row_of(const char *words, size_t room)
{
    size_t n = strlen(words);

    if (n <= room) return n;
    n = room;
    while (n > 0 && words[n] != ' ')
        n--;
    return n > 0 ? n : room;
}

unsigned screen_page_wrap(struct screen_page *page, unsigned columns, const char *style,
                          const char *prefix, const char *words, unsigned most)
{
    size_t width = columns < READABLE ? columns : READABLE;
    size_t indent = strlen(prefix) + 8 < width ? strlen(prefix) : 0;
    unsigned rows = 0;

    while (rows < most && *words) {
        size_t n = row_of(words, width > indent ? width - indent : 1);
        bool last = rows + 1 == most && words[n] != '\0';
        struct text row = {0};

        if (rows == 0 && indent)
            text_add(&row, prefix);
        else
            text_addf(&row, "%*s", (int)indent, "");
        text_add_bytes(&row, words, n);
        /* There is more, so that the row is cut with dots. */
        if (last && row.length > 3) {
            size_t keep = row.length + 3 <= columns ? row.length : columns - 3;

            if (columns > 6) {
                row.length = keep;
                text_add(&row, "...");
            }
        }
        if (page) {
            screen_page_row(page, style, text_words(&row));
            screen_page_finish(page, &row);
        }
        text_clear(&row);
        words += n;
        words += strspn(words, " ");
        rows++;
    }
    return rows;
}

void screen_page_rule(struct screen_page *page, const char *style, const char *words)
{
    struct text row = {0};

    text_addf(&row, "--%s%s%s", *words ? " " : "", words, *words ? " " : "");
    while (row.length < page->columns && !row.failed)
        text_add(&row, "-");
    screen_page_row(page, style, text_words(&row));
    screen_page_finish(page, &row);
}

void screen_page_letters(struct screen_page *page, const char *word, const char *style,
                         unsigned scale, unsigned height)
{
    unsigned width = screen_letters_width(word) * scale;
    unsigned margin = page->columns > width ? (page->columns - width) / 2 : 0;

    for (unsigned y = 0; y < SCREEN_LETTER_ROWS * height && page->left > 0; y++, page->left--) {
        struct text row = {0};

        screen_letters_row(&row, word, y / height, scale);
        /* Blanks at the end are not worth sending. */
        while (row.length > 0 && row.data[row.length - 1] == ' ')
            row.data[--row.length] = '\0';
        text_addf(page->out, "%*s", (int)margin, "");
        for (const char *p = text_words(&row); *p;) {
            size_t blanks = strspn(p, " "), strokes = strspn(p + blanks, "#");

            text_add_bytes(page->out, p, blanks);
            text_addf(page->out, "\033[%sm%.*s\033[0m", style, (int)strokes, p + blanks);
            p += blanks + strokes;
        }
        text_add(page->out, "\n");
        screen_page_finish(page, &row);
    }
}
