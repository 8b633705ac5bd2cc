/* A look at an XML file's bytes before a parser sees them.
 *
 * libxml2 compares every attribute of a tag with all before it, and every prefix with every
 * namespace in scope: a tag of one megabyte kept it busy for a minute. */
#ifndef GAINSIEVE_BASE_XML_BYTES_H
#define GAINSIEVE_BASE_XML_BYTES_H

#include "drivers/base/error.h"
#include "drivers/base/text.h"

/* ERROR_INPUT with file and line for NUL bytes, a first character that no XML file in UTF-8 has, a
 * tag longer than CEILING_XML_TAG, elements nested deeper than CEILING_XML_DEPTH and more than
 * CEILING_XML_NAMESPACES declarations. Whether the rest is well formed is the parser's matter; what
 * is said here holds up to the parser's first error only. */
bool xml_bytes_check(const char *path, const struct text *bytes, struct error *e) MUST_CHECK;

#endif
