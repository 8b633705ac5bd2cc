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
