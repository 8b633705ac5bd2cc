#include <string.h>

#include "runner/screen_parts.h"

/* Upright strokes are two columns wide, because a character is about twice as high as wide. */
struct glyph {
    char letter;
    const char *rows[SCREEN_LETTER_ROWS];
};

static const struct glyph alphabet[] = {
    {'A', {" #### ", "##  ##", "##  ##", "######", "##  ##", "##  ##", "##  ##"}},
    {'C', {" #####", "##    ", "##    ", "##    ", "##    ", "##    ", " #####"}},
    {'D', {"##### ", "##  ##", "##  ##", "##  ##", "##  ##", "##  ##", "##### "}},
    {'E', {"######", "##    ", "##    ", "##### ", "##    ", "##    ", "######"}},
    {'F', {"######", "##    ", "##    ", "##### ", "##    ", "##    ", "##    "}},
    {'I', {"####", " ## ", " ## ", " ## ", " ## ", " ## ", "####"}},
    {'L', {"##    ", "##    ", "##    ", "##    ", "##    ", "##    ", "######"}},
    {'M', {"##    ##", "###  ###", "########", "## ## ##", "##    ##", "##    ##", "##    ##"}},
    {'N', {"##   ##", "###  ##", "#### ##", "## ####", "##  ###", "##   ##", "##   ##"}},
    {'O', {" #### ", "##  ##", "##  ##", "##  ##", "##  ##", "##  ##", " #### "}},
    {'P', {"##### ", "##  ##", "##  ##", "##### ", "##    ", "##    ", "##    "}},
    {'R', {"##### ", "##  ##", "##  ##", "##### ", "## ## ", "##  ##", "##  ##"}},
    {'S', {" #####", "##    ", "##    ", " #### ", "    ##", "    ##", "##### "}},
    {'T', {"######", "  ##  ", "  ##  ", "  ##  ", "  ##  ", "  ##  ", "  ##  "}},
    {'W', {"##    ##", "##    ##", "##    ##", "## ## ##", "########", "###  ###", "##    ##"}},
};

static const struct glyph gap = {' ', {"   ", "   ", "   ", "   ", "   ", "   ", "   "}};

static const struct glyph tick = {
    0, {"       #", "      ##", "     ## ", "#   ##  ", "## ##   ", " ###    ", "  #     "}};
static const struct glyph cross = {
    0, {"##    ##", " ##  ## ", "  ####  ", "   ##   ", "  ####  ", " ##  ## ", "##    ##"}};
static const struct glyph question = {
    0, {" ##### ", "##   ##", "     ##", "   ### ", "   ##  ", "       ", "   ##  "}};

static const struct glyph *glyph_of(char letter)
{
    for (size_t i = 0; i < sizeof alphabet / sizeof *alphabet; i++)
        if (alphabet[i].letter == letter) return &alphabet[i];
    return &gap;
}

static const struct glyph *shape_of(const char *word)
{
    if (strcmp(word, verdict_name(VERDICT_PASS)) == 0) return &tick;
    if (strcmp(word, verdict_name(VERDICT_FAIL)) == 0) return &cross;
    if (strcmp(word, verdict_name(VERDICT_INCOMPLETE)) == 0) return &question;
    return NULL;
}

unsigned screen_letters_width(const char *word)
{
    const struct glyph *shape = shape_of(word);
    size_t width = 0;

    for (const char *p = word; *p; p++)
        width += strlen(glyph_of(*p)->rows[0]) + (p[1] ? 1 : 0);
    if (shape) width += 2 + strlen(shape->rows[0]);
    return (unsigned)width;
}

static void add_scaled(struct text *out, const char *columns, unsigned scale)
{
    for (const char *p = columns; *p; p++)
        for (unsigned i = 0; i < scale; i++)
            text_add_bytes(out, p, 1);
}

void screen_letters_row(struct text *out, const char *word, unsigned row, unsigned scale)
{
    const struct glyph *shape = shape_of(word);

    if (row >= SCREEN_LETTER_ROWS) return;
    for (const char *p = word; *p; p++) {
        add_scaled(out, glyph_of(*p)->rows[row], scale);
        if (p[1]) add_scaled(out, " ", scale);
    }
    if (!shape) return;
    add_scaled(out, "  ", scale);
    add_scaled(out, shape->rows[row], scale);
}
