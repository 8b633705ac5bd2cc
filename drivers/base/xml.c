#include "drivers/base/xml.h"

#include <libxml/parser.h>
#include <libxml/parserInternals.h>
#include <libxml/tree.h>
#include <libxml/xmlschemas.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/ceilings.h"
#include "drivers/base/file.h"
#include "drivers/base/memory.h"

struct xml {
    char *path;
    xmlDocPtr document;
};

/* The first complaint of the schema, and the one after it, which may name the type. */
struct complaints {
    size_t n;
    unsigned long line;
    char text[2][512];
};

void xml_start(void)
{
    xmlInitParser();
}

void xml_end(void)
{
    xmlCleanupParser();
}

static const xmlNode *inside(const struct xml_node *node)
{
    return (const xmlNode *)(const void *)node;
}

static const struct xml_node *outside(const xmlNode *node)
{
    return (const struct xml_node *)(const void *)node;
}

/* Copies a libxml2 message without the namespace in braces and without its line end. */
static void copy_message(char *to, size_t room, const char *from)
{
    size_t used = 0;

    while (from && *from && used + 1 < room) {
        if (*from == '{') {
            const char *closing = strchr(from, '}');

            if (closing && strncmp(from, "{urn:", 5) == 0) {
                from = closing + 1;
                continue;
            }
        }
        to[used++] = *from == '\n' ? ' ' : *from;
        from++;
    }
    while (used > 0 && (to[used - 1] == ' ' || to[used - 1] == '.'))
        used--;
    to[used] = '\0';
}

static void take_complaint(void *data, xmlErrorPtr error)
{
    struct complaints *c = data;

    if (c->n >= 2) return;
    if (c->n == 0)
        c->line = error->node ? (unsigned long)xmlGetLineNo(error->node)
                              : (unsigned long)(error->line > 0 ? error->line : 0);
    copy_message(c->text[c->n], sizeof c->text[c->n], error->message);
    c->n++;
}

static void refuse_doctype(void *data, const xmlChar *name, const xmlChar *external,
                           const xmlChar *system)
{
    xmlParserCtxtPtr parser = data;

    (void)name, (void)external, (void)system;
    /* The private slot carries the finding out; the parser stops before any entity is read. */
    *(bool *)parser->_private = true;
    xmlStopParser(parser);
}

static bool parse(struct xml *xml, const struct text *bytes, struct error *e)
{
    const int options =
        XML_PARSE_NONET | XML_PARSE_NOERROR | XML_PARSE_NOWARNING | XML_PARSE_BIG_LINES;
    xmlParserCtxtPtr parser = xmlNewParserCtxt();
    bool doctype = false, ok = true;

    if (!parser) return error_set(e, ERROR_MEMORY, "out of memory while reading %s", xml->path);
    parser->sax->internalSubset = refuse_doctype;
    parser->_private = &doctype;
    xml->document = xmlCtxtReadMemory(parser, bytes->data ? bytes->data : "", (int)bytes->length,
                                      NULL, NULL, options);
    if (doctype) {
        ok = error_set(e, ERROR_INPUT,
                       "%s:%d: holds a DOCTYPE, which is refused: remove it and every entity that "
                       "it declares",
                       xml->path, parser->input ? parser->input->line : 1);
    } else if (!xml->document) {
        const xmlError *last = xmlCtxtGetLastError(parser);
        char words[512];

        copy_message(words, sizeof words, last && last->message ? last->message : "not XML");
        ok = error_set(e, ERROR_INPUT, "%s:%d: is not well-formed XML: %s", xml->path,
                       last ? last->line : 1, words);
    }
    xmlFreeParserCtxt(parser);
    return ok;
}

/* The hint that fits the complaint, or NULL. The pattern is then cut off the complaint: the hint
 * says the same in words. */
static const char *find_hint(struct complaints *c, const struct xml_hint *hints)
{
    for (; hints && hints->part; hints++) {
        char *pattern;

        if (!strstr(c->text[0], hints->part) && !strstr(c->text[1], hints->part)) continue;
        pattern = strstr(c->text[0], " by the pattern");
        if (pattern) *pattern = '\0';
        return hints->words;
    }
    return NULL;
}

static bool validate(const struct xml *xml, const struct embedded *schema_file,
                     const struct xml_hint *hints, struct error *e)
{
    xmlSchemaParserCtxtPtr parser = NULL;
    xmlSchemaPtr schema = NULL;
    xmlSchemaValidCtxtPtr validator = NULL;
    struct complaints found = {0};
    bool ok = false;

    parser = xmlSchemaNewMemParserCtxt(schema_file->bytes, (int)schema_file->length);
    if (!parser) goto no_memory;
    xmlSchemaSetParserStructuredErrors(parser, take_complaint, &found);
    schema = xmlSchemaParse(parser);
    if (!schema) {
        (void)error_set(e, ERROR_INPUT, "the built-in schema cannot be used: line %lu: %s",
                        found.line, found.text[0]);
        goto done;
    }
    validator = xmlSchemaNewValidCtxt(schema);
    if (!validator) goto no_memory;
    xmlSchemaSetValidStructuredErrors(validator, take_complaint, &found);
    ok = xmlSchemaValidateDoc(validator, xml->document) == 0;
    if (!ok) {
        const char *hint = find_hint(&found, hints);

        (void)error_set(e, ERROR_INPUT, "%s:%lu: %s%s%s", xml->path, found.line,
                        found.n ? found.text[0] : "does not fit the schema", hint ? ": write " : "",
                        hint ? hint : "");
    }
    goto done;
no_memory:
    (void)error_set(e, ERROR_MEMORY, "out of memory while reading %s", xml->path);
done:
    xmlSchemaFreeValidCtxt(validator);
    xmlSchemaFree(schema);
    xmlSchemaFreeParserCtxt(parser);
    return ok;
}

bool xml_load(struct xml **out, const char *path, const struct embedded *schema,
              const struct xml_hint *hints, struct error *e)
{
    struct text bytes = {0};
    struct xml *xml = memory_make(1, sizeof *xml, e);
    bool ok = false;

    if (!xml) return false;
    xml->path = memory_copy_text(path, e);
    if (!xml->path) goto done;
    if (!file_read(path, CEILING_XML_FILE, &bytes, e)) goto done;
    if (!parse(xml, &bytes, e)) goto done;
    if (!validate(xml, schema, hints, e)) goto done;
    *out = xml;
    xml = NULL;
    ok = true;
done:
    text_clear(&bytes);
    xml_free(xml);
    return ok;
}

void xml_free(struct xml *xml)
{
    if (!xml) return;
    xmlFreeDoc(xml->document);
    memory_free(xml->path);
    memory_free(xml);
}

const struct xml_node *xml_root(const struct xml *xml)
{
    return outside(xmlDocGetRootElement(xml->document));
}

static const struct xml_node *first_element(const xmlNode *node, const char *name)
{
    for (; node; node = node->next)
        if (node->type == XML_ELEMENT_NODE && (!name || !strcmp((const char *)node->name, name)))
            return outside(node);
    return NULL;
}

const struct xml_node *xml_child(const struct xml_node *node, const char *name)
{
    return first_element(inside(node)->children, name);
}

const struct xml_node *xml_next(const struct xml_node *node, const char *name)
{
    return first_element(inside(node)->next, name);
}

const char *xml_name(const struct xml_node *node)
{
    return (const char *)inside(node)->name;
}

unsigned long xml_line(const struct xml_node *node)
{
    long line = xmlGetLineNo(inside(node));

    return line > 0 ? (unsigned long)line : 0;
}

bool xml_has(const struct xml_node *node, const char *attribute)
{
    return xmlHasProp(inside(node), (const xmlChar *)attribute) != NULL;
}

/* Moves the text to the left end, blanks collapsed to one, none at the ends. */
static void collapse(char *text)
{
    char *to = text;

    for (const char *from = text; *from; from++) {
        bool blank = strchr(" \t\r\n", *from) != NULL;

        if (!blank)
            *to++ = *from;
        else if (to > text && to[-1] != ' ')
            *to++ = ' ';
    }
    if (to > text && to[-1] == ' ') to--;
    *to = '\0';
}

static bool copy_out(xmlChar *text, char **out, struct error *e)
{
    char *copy = memory_copy_text(text ? (const char *)text : "", e);

    xmlFree(text);
    if (!copy) return false;
    collapse(copy);
    *out = copy;
    return true;
}

bool xml_attribute(const struct xml_node *node, const char *attribute, char **out, struct error *e)
{
    *out = NULL;
    if (!xml_has(node, attribute)) return true;
    return copy_out(xmlGetNoNsProp(inside(node), (const xmlChar *)attribute), out, e);
}

bool xml_content(const struct xml_node *node, char **out, struct error *e)
{
    return copy_out(xmlNodeGetContent(inside(node)), out, e);
}

bool xml_value(const struct xml *xml, const struct xml_node *node, const char *attribute,
               enum unit unit, double *out, struct error *e)
{
    char *text = NULL;
    bool ok = true;

    if (!xml_attribute(node, attribute, &text, e)) return false;
    if (text && !value_parse(text, unit, out))
        ok = xml_fault(xml, node, e, "%s=\"%s\" is not a number%s%s", attribute, text,
                       unit == UNIT_ONE ? "" : " in ", unit == UNIT_ONE ? "" : unit_name(unit));
    memory_free(text);
    return ok;
}

bool xml_fault(const struct xml *xml, const struct xml_node *node, struct error *e,
               const char *format, ...)
{
    char words[CEILING_ERROR_TEXT / 2];
    va_list arguments;

    va_start(arguments, format);
    (void)vsnprintf(words, sizeof words, format, arguments);
    va_end(arguments);
    return error_set(e, ERROR_INPUT, "%s:%lu: %s", xml->path, xml_line(node), words);
}
