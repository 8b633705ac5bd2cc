#include "reports/html.h"

#include <assert.h>
#include <libxml/xmlwriter.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/digest.h"
#include "drivers/base/embedded.h"
#include "drivers/base/memory.h"
#include "drivers/base/plain.h"

extern const struct embedded page_css, page_js;

#define DEEPEST 32

struct html {
    xmlBufferPtr buffer;
    xmlTextWriterPtr writer;
    const char *open[DEEPEST]; /* names of the open elements */
    size_t depth;
    struct text formatted; /* words of a format, before they are cleaned */
    struct text clean;     /* text on its way to the writer */
    const struct page_names *names;
    bool failed;
};

static const xmlChar *as_xml(const char *words)
{
    return (const xmlChar *)words;
}

static void check(struct html *h, int written)
{
    if (written < 0) h->failed = true;
}

/* The text with U+FFFD for every byte that may not stand on a page; borrowed until the next call.
 */
static const char *cleaned(struct html *h, const char *words)
{
    text_reset(&h->clean);
    text_add_plain(&h->clean, words, "\t\n\r");
    if (h->clean.failed) h->failed = true;
    return text_words(&h->clean);
}

void html_open(struct html *h, const char *element)
{
    assert(h->depth < DEEPEST);
    h->open[h->depth++] = element;
    check(h, xmlTextWriterStartElement(h->writer, as_xml(element)));
}

void html_attribute(struct html *h, const char *name, const char *value)
{
    check(h, xmlTextWriterWriteAttribute(h->writer, as_xml(name), as_xml(cleaned(h, value))));
}

/* The words of a format, however long; borrowed until the next call. */
static const char *formatted(struct html *h, const char *format, va_list arguments)
{
    va_list again;
    int length;

    text_reset(&h->formatted);
    va_copy(again, arguments);
    length = vsnprintf(NULL, 0, format, arguments);
    if (length < 0 || !text_reserve(&h->formatted, (size_t)length)) {
        h->failed = true;
    } else {
        (void)vsnprintf(h->formatted.data, (size_t)length + 1, format, again);
        h->formatted.length = (size_t)length;
    }
    va_end(again);
    return text_words(&h->formatted);
}

void html_attributef(struct html *h, const char *name, const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    html_attribute(h, name, formatted(h, format, arguments));
    va_end(arguments);
}

void html_text(struct html *h, const char *words)
{
    check(h, xmlTextWriterWriteString(h->writer, as_xml(cleaned(h, words))));
}

void html_textf(struct html *h, const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    html_text(h, formatted(h, format, arguments));
    va_end(arguments);
}

/* Elements that an HTML parser takes as closed at once, and SVG shapes, where "/>" closes. All
 * others get an end tag even when they are empty. */
static bool closes_itself(const char *element)
{
    static const char *const names[] = {"meta", "br",   "hr",     "input",
                                        "path", "line", "circle", "rect"};

    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strcmp(element, names[i]) == 0) return true;
    return false;
}

void html_close(struct html *h)
{
    assert(h->depth > 0);
    if (closes_itself(h->open[--h->depth]))
        check(h, xmlTextWriterEndElement(h->writer));
    else
        check(h, xmlTextWriterFullEndElement(h->writer));
}

void html_need(struct html *h, const struct text *words)
{
    if (words->failed) h->failed = true;
}

void html_use_names(struct html *h, const struct page_names *names)
{
    h->names = names;
}

const struct page_names *html_names(const struct html *h)
{
    return h->names;
}

void html_element(struct html *h, const char *element, const char *class_name, const char *words)
{
    html_open(h, element);
    if (class_name) html_attribute(h, "class", class_name);
    html_text(h, words);
    html_close(h);
}

static void write_meta(struct html *h, const char *name, const char *value, const char *content)
{
    html_open(h, "meta");
    html_attribute(h, name, value);
    if (content) html_attribute(h, "content", content);
    html_close(h);
}

static void add_digest(struct text *policy, const char *directive, const struct embedded *file)
{
    char digest[DIGEST_BASE64];

    digest_base64(file->bytes, file->length, digest);
    text_addf(policy, "; %s 'sha256-%s'", directive, digest);
}

static void write_policy(struct html *h, bool with_script)
{
    struct text policy = {0};

    text_add(&policy, "default-src 'none'; base-uri 'none'; form-action 'none'");
    add_digest(&policy, "style-src", &page_css);
    if (with_script) add_digest(&policy, "script-src", &page_js);
    write_meta(h, "http-equiv", "Content-Security-Policy", text_words(&policy));
    if (policy.failed) h->failed = true;
    text_clear(&policy);
}

/* Our own file and raw text to an HTML parser: the one thing that is not escaped. */
static void write_embedded(struct html *h, const char *element, const struct embedded *file)
{
    html_open(h, element);
    check(h, xmlTextWriterWriteRaw(h->writer, as_xml(file->bytes)));
    html_close(h);
}

static void write_head(struct html *h, const char *title, bool with_script)
{
    check(h, xmlTextWriterWriteDTD(h->writer, as_xml("html"), NULL, NULL, NULL));
    html_open(h, "html");
    html_attribute(h, "lang", "en");
    html_open(h, "head");
    write_meta(h, "charset", "utf-8", NULL);
    write_policy(h, with_script);
    write_meta(h, "name", "viewport", "width=device-width, initial-scale=1");
    write_meta(h, "name", "generator", HTML_GENERATOR);
    html_element(h, "title", NULL, title);
    write_embedded(h, "style", &page_css);
    if (with_script) write_embedded(h, "script", &page_js);
    html_close(h);
    html_open(h, "body");
}

struct html *html_start(const char *title, bool with_script, struct error *e)
{
    struct html *h = memory_make(1, sizeof *h, e);

    if (!h) return NULL;
    h->buffer = xmlBufferCreate();
    if (h->buffer) h->writer = xmlNewTextWriterMemory(h->buffer, 0);
    if (!h->writer) {
        html_free(h);
        (void)error_set(e, ERROR_MEMORY, "out of memory while writing a page");
        return NULL;
    }
    write_head(h, title, with_script);
    return h;
}

bool html_finish(struct html *h, struct text *out, struct error *e)
{
    while (h->depth > 0)
        html_close(h);
    check(h, xmlTextWriterEndDocument(h->writer));
    check(h, xmlTextWriterFlush(h->writer));
    if (h->failed) return error_set(e, ERROR_MEMORY, "out of memory while writing a page");
    text_add_bytes(out, (const char *)xmlBufferContent(h->buffer),
                   (size_t)xmlBufferLength(h->buffer));
    return text_ok(out, "a page", e);
}

void html_free(struct html *h)
{
    if (!h) return;
    if (h->writer) xmlFreeTextWriter(h->writer);
    if (h->buffer) xmlBufferFree(h->buffer);
    text_clear(&h->formatted);
    text_clear(&h->clean);
    memory_free(h);
}
