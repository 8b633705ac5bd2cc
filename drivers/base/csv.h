/* CSV rows in, with line numbers; RFC 4180 cells out.
 *
 * Reading is libcsv in its strict mode with what it lacks: line numbers, a byte-order mark, a
 * ceiling on cells and their size, and an error instead of a silently joined row. */
#ifndef GAINSIEVE_BASE_CSV_H
#define GAINSIEVE_BASE_CSV_H

#include <stddef.h>

#include "drivers/base/error.h"
#include "drivers/base/text.h"

/* One row: `n_cells` NUL-ended cells, borrowed for the call; blank lines are left out. `line` is
 * the 1-based line on which the row begins; a newline, a return or both end a line. Returning false
 * with `e` set ends the reading. */
typedef bool csv_row_function(void *context, unsigned long line, char *const *cells, size_t n_cells,
                              struct error *e);

/* Calls `take_row` for each row of `bytes`, which came from `path` (for messages). A NUL byte, a
 * stray or open quote, too many or too long cells are ERROR_INPUT with the line. */
bool csv_read(const char *path, const char *bytes, size_t length, csv_row_function *take_row,
              void *context, struct error *e) MUST_CHECK;

/* Adds one cell, plain (see plain.h), quoted where RFC 4180 asks for it and where blanks at its
 * ends must stay. Text that a spreadsheet would take for a formula (beginning with = + - @, tab or
 * return) gets an apostrophe in front. */
void csv_add_text(struct text *t, const char *cell);

/* Adds a number in its shortest form, or nothing when it is not finite. */
void csv_add_number(struct text *t, double x);

#endif
