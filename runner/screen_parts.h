/* What the files of screen.h share, and nobody else needs. */
#ifndef GAINSIEVE_SCREEN_PARTS_H
#define GAINSIEVE_SCREEN_PARTS_H

#include "runner/screen.h"

/* Bytes of a typed line: a note of a few sentences. */
#define CEILING_LINE ((size_t)512)

/* screen_show() with what is being typed. */
bool screen_show_typed(struct screen *screen, const struct screen_view *view, const char *line,
                       struct error *e) MUST_CHECK;

/* Writes to standard output or the terminal. On a terminal that takes nothing for a second, the
 * rest is given up, and the next drawing starts afresh: a frozen window may not hold the bench. */
bool screen_write(struct screen *screen, const char *bytes, size_t length,
                  struct error *e) MUST_CHECK;

/* Adds the text as printable ASCII; NULL is empty. */
void screen_ascii(struct text *out, const char *words);

/* The attempt of the last verdict; 0: not known. */
unsigned long screen_verdict_attempt(const struct screen_view *view);

/* A page under construction: rows of printable ASCII, each ended by a line feed. `style` are the
 * numbers of a graphic rendition, "7", or NULL. */
struct screen_page {
    struct text *out;
    unsigned columns;
    unsigned left; /* rows not yet drawn; what is drawn beyond them is nothing */
};
/* A row, cut with dots. */
void screen_page_row(struct screen_page *page, const char *style, const char *words);
void screen_page_blank(struct screen_page *page, unsigned rows);
/* "-- words ------", over the whole width. */
void screen_page_rule(struct screen_page *page, const char *style, const char *words);
/* Draws `words` behind `prefix` on at most `most` rows, broken at blanks, later ones indented, cut
 * with dots, and returns the rows it took. Without a page it only counts. */
unsigned screen_page_wrap(struct screen_page *page, unsigned columns, const char *style,
                          const char *prefix, const char *words, unsigned most);
/* A word in large letters in the middle of the page, each of `height` rows a letter's row and
 * `scale` columns a letter's column; only the strokes carry the style. */
void screen_page_letters(struct screen_page *page, const char *word, const char *style,
                         unsigned scale, unsigned height);
/* Ends a text of the page's. A page that lacks something for want of memory has failed, since half
 * of one would mislead. */
void screen_page_finish(struct screen_page *page, struct text *t);

/* The plain form: adds the lines that are new since `said`, and renews `said`. */
void screen_lines(const struct screen_view *view, struct text *said, struct text *out);

/* Large letters of seven rows, in '#', with a shape behind the word: a tick behind PASS, a cross
 * behind FAIL, a question mark behind INCOMPLETE, none behind other words. At scale 1 the longest
 * takes 79 columns. */
#define SCREEN_LETTER_ROWS 7
/* Columns at a scale of 1. */
unsigned screen_letters_width(const char *word);
/* Adds one row, 0 to 6, each column `scale` times; an unknown letter is a gap. */
void screen_letters_row(struct text *out, const char *word, unsigned row, unsigned scale);

#endif
