/* A schema's complaint in plain words: "gain: min="22" is not accepted: write a number and dB". */
#ifndef GAINSIEVE_BASE_XML_WORDS_H
#define GAINSIEVE_BASE_XML_WORDS_H

#include "drivers/base/text.h"

/* What to write instead of something that the schema refuses. A list ends with a NULL part. */
struct xml_hint {
    const char *part;  /* of the schema's message: the end of a pattern, a type's or key's name */
    const char *words; /* behind "write": "a number and dB, such as \"22 dB\"" */
};

/* Adds `message`, as libxml2's schema validator wrote it, to `out` in words of one line. A keyref
 * of the schema must bear the name of its attribute. A message of an unknown kind keeps its own
 * words. `hints` may be NULL; the first that fits is taken. */
void xml_words_add(struct text *out, const char *message, const struct xml_hint *hints);

/* Adds at most 80 bytes of `words`, control characters as blanks, cut between characters. */
void xml_words_add_quoted(struct text *out, const char *words, size_t length);

#endif
