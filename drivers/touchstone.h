/* Touchstone files, versions 1.0, 1.1, 2.0 and 2.1, of one and two ports.
 *
 * Source: Touchstone File Format Specification, Version 2.1, IBIS Open Forum, 26 January 2024, and
 * Touchstone Specification Rev 1.1 (what everyone calls 1.1 is Version 1.0 there).
 * docs/formats.md tells where this reader is stricter. */
#ifndef GAINSIEVE_TOUCHSTONE_H
#define GAINSIEVE_TOUCHSTONE_H

#include "drivers/base/error.h"
#include "drivers/base/text.h"
#include "drivers/sweep.h"

/* Reads the `length` bytes at `bytes` (a NUL stands behind them) of the file `path` into `out`,
 * whose memory is reused. Y, Z, G and H are converted to S at the file's resistance. Every fault is
 * ERROR_INPUT, one line "FILE:LINE: what is wrong and what to do"; `out` is then empty.
 * The number of ports of a version 1 file comes from the shape of its data and must agree with the
 * file name's ending, when that is .sNp; so must [Number of Ports]. */
bool touchstone_read(const char *path, const char *bytes, size_t length, struct sweep *out,
                     struct error *e) MUST_CHECK;

/* Adds the comments before the first data row, where instruments tell who they are, their settings
 * and their correction: without the '!', empty ones left out, a line end between, at most
 * CEILING_COMMENTS bytes, an ellipsis at their end when that is not all. The bytes may be anything
 * that was read. */
void touchstone_add_comments(const char *bytes, size_t length, struct text *out);

/* Adds the sweep as a version 2.0 file: Hz, S, RI, shortest digits that read back the same,
 * [Two-Port Data Order] 12_21, [Reference] for each port. Needs all parameters of its ports,
 * and finite ones (ERROR_INPUT otherwise; `out` is then unchanged). `comment` (may be NULL) becomes
 * the first line; what is not printable ASCII in it becomes '?'. */
bool touchstone_write(const struct sweep *sweep, const char *comment, struct text *out,
                      struct error *e) MUST_CHECK;

#endif
