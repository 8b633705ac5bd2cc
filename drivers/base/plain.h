/* Text from outside that may be shown: UTF-8 without what could harm a screen, a table or a page.
 *
 * Not plain are broken UTF-8, control characters (line ends and tabs too), what XML forbids, and
 * the invisible marks of Unicode that turn the direction of the text around them. Letters of
 * scripts that run from right to left are plain. */
#ifndef GAINSIEVE_BASE_PLAIN_H
#define GAINSIEVE_BASE_PLAIN_H

#include <stdbool.h>
#include <stddef.h>

#include "drivers/base/text.h"

/* Bytes of the plain character at `p`, a NUL-ended text that has not ended; 0 when it is not plain.
 */
size_t plain_character(const char *p);

/* Whether the plain character at `p` is a blank other than ' ' or cannot be seen at all: two names
 * that differ by it alone look the same. */
bool plain_is_unseen(const char *p);

/* Adds the text with U+FFFD for every byte that is not part of a plain character, but for those of
 * the NUL-ended list `kept`, such as "\n". */
void text_add_plain(struct text *t, const char *words, const char *kept);

#endif
