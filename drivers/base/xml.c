#include "drivers/base/xml.h"

#include <libxml/SAX2.h>
#include <libxml/parser.h>
#include <libxml/parserInternals.h>
#include <libxml/tree.h>
#include <libxml/xmlschemas.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/ceilings.h"
#include "drivers/base/digest.h"
#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "drivers/base/xml_bytes.h"

struct xml {
    char sha256[DIGEST_HEX];
    char *path;
    xmlDocPtr document;
};

/* The first complaint of the schema, in words. */
struct complaint {
    const struct xml_hint *hints;
    unsigned long line;
    struct text words;
};

/* The first fault that the parser found. */
struct finding {
    bool doctype;
    unsigned long line;
    struct text words;
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

/* The line of an element, or of the one that holds the node. */
static unsigned long line_of(const xmlNode *node)
{
    while (node && node->type != XML_ELEMENT_NODE)
        node = node->parent;
    return node ? (unsigned long)(uintptr_t)node->_private : 0;
}

/* The library keeps lines up to 65535 and guesses those above from the text around. The private
 * slot of an element holds its own. */
static void start_element(void *data, const xmlChar *name, const xmlChar *prefix,
                          const xmlChar *uri, int n_namespaces, const xmlChar **namespaces,
                          int n_attributes, int n_defaulted, const xmlChar **attributes)
{
    xmlParserCtxtPtr parser = data;

    xmlSAX2StartElementNs(data, name, prefix, uri, n_namespaces, namespaces, n_attributes,
                          n_defaulted, attributes);
    if (parser->node && parser->input)
        parser->node->_private = (void *)(uintptr_t)parser->input->line;
}

static void take_complaint(void *data, xmlErrorPtr error)
{
    struct complaint *c = data;

    if (c->line > 0 || c->words.length > 0) return;
    /* Complaints about the schema itself have its own nodes, which carry no line of ours. */
    c->line = line_of(error->node);
    if (c->line == 0 && error->line > 0) c->line = (unsigned long)error->line;
    xml_words_add(&c->words, error->message ? error->message : "is not valid", c->hints);
}

/* The first fault ends the parsing: what would follow it is guesswork, and may take long. */
static void stop_at_error(void *data, xmlErrorPtr error)
{
    xmlParserCtxtPtr parser = data;
    struct finding *found = parser->_private;
    const char *words = error->message ? error->message : "it cannot be read";
    const char *end = strstr(words, " use XML_PARSE_HUGE");

    if (error->level < XML_ERR_ERROR || found->words.length > 0) return;
    found->line = error->line > 0 ? (unsigned long)error->line : 1;
    if (!end) end = words + strcspn(words, "\n");
    xml_words_add_quoted(&found->words, words, (size_t)(end - words));
    xmlStopParser(parser);
}

static void refuse_doctype(void *data, const xmlChar *name, const xmlChar *external,
                           const xmlChar *system)
{
    xmlParserCtxtPtr parser = data;
    struct finding *found = parser->_private;

    (void)name, (void)external, (void)system;
    /* The private slot carries the finding out; the parser stops before any entity is read. */
    found->doctype = true;
    found->line = parser->input ? (unsigned long)parser->input->line : 1;
    xmlStopParser(parser);
}

static bool parse(struct xml *xml, const struct text *bytes, struct error *e)
{
    /* A declared encoding is not obeyed: the bytes were looked at as UTF-8. */
    const int options =
        XML_PARSE_NONET | XML_PARSE_NOERROR | XML_PARSE_NOWARNING | XML_PARSE_IGNORE_ENC;
    xmlParserCtxtPtr parser = xmlNewParserCtxt();
    struct finding found = {0};
    bool ok = true;

    if (!parser) return error_set(e, ERROR_MEMORY, "out of memory while reading %s", xml->path);
    parser->sax->internalSubset = refuse_doctype;
    parser->sax->startElementNs = start_element;
    parser->sax->serror = stop_at_error;
    parser->_private = &found;
    xml->document =
        xmlCtxtReadMemory(parser, text_words(bytes), (int)bytes->length, NULL, NULL, options);
    if (found.doctype)
        ok = error_set(e, ERROR_INPUT,
                       "%s:%lu: holds a DOCTYPE, which is refused: remove it and every entity that "
                       "it declares",
                       xml->path, found.line);
    else if (found.words.length > 0 || !xml->document)
        ok = error_set(e, ERROR_INPUT, "%s:%lu: is not well-formed XML: %s", xml->path,
                       found.line ? found.line : 1,
                       found.words.length ? found.words.data : "it cannot be read");
    text_clear(&found.words);
    xmlFreeParserCtxt(parser);
    return ok;
}

static bool validate(const struct xml *xml, const struct embedded *schema_file,
                     const struct xml_hint *hints, struct error *e)
{
    xmlSchemaParserCtxtPtr parser = NULL;
    xmlSchemaPtr schema = NULL;
    xmlSchemaValidCtxtPtr validator = NULL;
    struct complaint found = {.hints = hints};
    bool ok = false;

    parser = xmlSchemaNewMemParserCtxt(schema_file->bytes, (int)schema_file->length);
    if (!parser) goto no_memory;
    xmlSchemaSetParserStructuredErrors(parser, take_complaint, &found);
    schema = xmlSchemaParse(parser);
    if (!schema) {
        (void)error_set(e, ERROR_INPUT, "the built-in schema cannot be used: line %lu: %s",
                        found.line, text_words(&found.words));
        goto done;
    }
    validator = xmlSchemaNewValidCtxt(schema);
    if (!validator) goto no_memory;
    xmlSchemaSetValidStructuredErrors(validator, take_complaint, &found);
    ok = xmlSchemaValidateDoc(validator, xml->document) == 0;
    if (!ok)
        (void)error_set(e, ERROR_INPUT, "%s:%lu: %s", xml->path, found.line,
                        found.words.length ? found.words.data : "does not fit the schema");
    goto done;
no_memory:
    (void)error_set(e, ERROR_MEMORY, "out of memory while reading %s", xml->path);
done:
    text_clear(&found.words);
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
    digest_hex(text_words(&bytes), bytes.length, xml->sha256);
    if (!xml_bytes_check(path, &bytes, e)) goto done;
    if (!parse(xml, &bytes, e)) goto done;
    if (schema && !validate(xml, schema, hints, e)) goto done;
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

const char *xml_sha256(const struct xml *xml)
{
    return xml->sha256;
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

const char *xml_namespace(const struct xml_node *node)
{
    const xmlNs *space = inside(node)->ns;

    return space && space->href ? (const char *)space->href : "";
}

const char *xml_name(const struct xml_node *node)
{
    return (const char *)inside(node)->name;
}

unsigned long xml_line(const struct xml_node *node)
{
    return line_of(inside(node));
}

bool xml_has(const struct xml_node *node, const char *attribute)
{
    return xmlHasNsProp(inside(node), (const xmlChar *)attribute, NULL) != NULL;
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
