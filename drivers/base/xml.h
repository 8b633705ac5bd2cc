/* Hardened XML in: bounded, no DOCTYPE, no network, valid against a built-in schema before anything
 * is read from it. Errors name file and line and, where a value is refused, what to write.
 *
 * The only file of the program that reads XML through libxml2. */
#ifndef GAINSIEVE_BASE_XML_H
#define GAINSIEVE_BASE_XML_H

#include "drivers/base/embedded.h"
#include "drivers/base/error.h"
#include "drivers/base/value.h"
#include "drivers/base/xml_words.h"

struct xml;      /* a loaded document */
struct xml_node; /* an element of it; borrowed, lives as long as the document */

/* Once at the start of the program, before any thread, and once at its end. */
void xml_start(void);
void xml_end(void);

/* Loads and validates; without a schema it only loads, to see what kind of file it is. ERROR_INPUT
 * with file and line on anything wrong. */
bool xml_load(struct xml **out, const char *path, const struct embedded *schema,
              const struct xml_hint *hints, struct error *e) MUST_CHECK;
/* NULL is harmless. */
void xml_free(struct xml *xml);

/* SHA-256 of the file's bytes as they were read, in hexadecimal digits. */
const char *xml_sha256(const struct xml *xml);

/* The outermost element. */
const struct xml_node *xml_root(const struct xml *xml);
/* The first child element called `name` (any, when NULL), and the next sibling; NULL at the end. */
const struct xml_node *xml_child(const struct xml_node *node, const char *name);
const struct xml_node *xml_next(const struct xml_node *node, const char *name);
/* The namespace of the element, borrowed, or "". */
const char *xml_namespace(const struct xml_node *node);
/* The element's name, borrowed, and the line on which its start tag ends. */
const char *xml_name(const struct xml_node *node);
unsigned long xml_line(const struct xml_node *node);

/* Whether the element has the attribute. */
bool xml_has(const struct xml_node *node, const char *attribute);

/* A copy of the attribute with blanks collapsed, or NULL when it is absent. Freed by the caller
 * with memory_free(). */
bool xml_attribute(const struct xml_node *node, const char *attribute, char **out,
                   struct error *e) MUST_CHECK;

/* The attribute as a value with unit, to the unit's base. `*out` unchanged when it is absent. */
bool xml_value(const struct xml *xml, const struct xml_node *node, const char *attribute,
               enum unit unit, double *out, struct error *e) MUST_CHECK;

/* A copy of the text inside the element with blanks collapsed. Freed by the caller. */
bool xml_content(const struct xml_node *node, char **out, struct error *e) MUST_CHECK;

/* Sets ERROR_INPUT, "FILE:LINE: ..."; returns false. */
bool xml_fault(const struct xml *xml, const struct xml_node *node, struct error *e,
               const char *format, ...) __attribute__((format(printf, 4, 5)));

#endif
