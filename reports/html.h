/* Builds an HTML page on libxml2's writer: text and attributes are always escaped, by construction.
 *
 * What no page may hold (control characters, invalid UTF-8, marks that turn the direction of text)
 * is replaced by U+FFFD, so that any serial number or file name stays harmless and readable. A page
 * that could not be built says so once, in html_finish(). Element and attribute names are literals
 * of ours. */
#ifndef GAINSIEVE_HTML_H
#define GAINSIEVE_HTML_H

#include "drivers/base/error.h"
#include "drivers/base/text.h"

struct html;

/* Named in the head of every page, by which our own pages are known again. */
#define HTML_GENERATOR "gainsieve"

/* Begins a page: head with title, style sheet, the script when it is wanted, and a content policy
 * that allows these two by their digests and nothing else; and an open body. NULL with `e` set when
 * there is no memory. */
struct html *html_start(const char *title, bool with_script, struct error *e) MUST_CHECK;

/* Opens an element; `element` is kept until it is closed. */
void html_open(struct html *h, const char *element);
/* Attributes of the element just opened. */
void html_attribute(struct html *h, const char *name, const char *value);
void html_attributef(struct html *h, const char *name, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* Text inside the open element. */
void html_text(struct html *h, const char *words);
void html_textf(struct html *h, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* Closes the element opened last. */
void html_close(struct html *h);

/* Text that was put together for the page: when it could not be, the page cannot be finished. */
void html_need(struct html *h, const struct text *words);

/* An element with a class (or NULL) and text, opened and closed. */
void html_element(struct html *h, const char *element, const char *class_name, const char *words);

/* The names of the files that the page's links lead to, for page_unit_href(); borrowed. NULL before
 * any were given: no two serial numbers differ in case alone. */
struct page_names;
void html_use_names(struct html *h, const struct page_names *names);
const struct page_names *html_names(const struct html *h);

/* Ends the page and adds it to `out`. */
bool html_finish(struct html *h, struct text *out, struct error *e) MUST_CHECK;
void html_free(struct html *h);

#endif
