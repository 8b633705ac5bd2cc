#include "drivers/base/xml_bytes.h"

#include <string.h>

struct scan {
    const char *path;
    const char *begin, *end;
    size_t depth, n_namespaces;
};

static bool fault(const struct scan *scan, const char *at, struct error *e, const char *words)
{
    unsigned long line = 1;

    for (const char *p = scan->begin; p < at; p++)
        line += *p == '\n';
    return error_set(e, ERROR_INPUT, "%s:%lu: %s", scan->path, line, words);
}

static bool begins(const char *at, const char *end, const char *words)
{
    size_t length = strlen(words);

    return (size_t)(end - at) >= length && memcmp(at, words, length) == 0;
}

/* Behind the next `mark`; the end when there is none. */
static const char *behind(const char *at, const char *end, const char *mark)
{
    for (; (at = memchr(at, *mark, (size_t)(end - at))) != NULL; at++)
        if (begins(at, end, mark)) return at + strlen(mark);
    return end;
}

/* The '>' that ends the tag at `*at`, quotes respected; counts namespaces on the way. */
static bool find_tag_end(struct scan *scan, const char **at, struct error *e)
{
    const char *begin = *at;
    char quote = '\0';

    for (const char *p = begin; p < scan->end; p++) {
        if ((size_t)(p - begin) > CEILING_XML_TAG)
            return fault(scan, begin, e,
                         "the tag that begins here is too long: no element of such "
                         "a file has that much to say");
        if (quote) {
            if (*p == quote) quote = '\0';
            continue;
        }
        if (*p == '"' || *p == '\'') quote = *p;
        if (begins(p, scan->end, "xmlns") && ++scan->n_namespaces > CEILING_XML_NAMESPACES)
            return fault(scan, begin, e,
                         "declares too many namespaces: one, on the outermost element, is enough");
        if (*p != '>') continue;
        *at = p;
        return true;
    }
    *at = scan->end;
    return true;
}

/* One tag; `*at` moves behind it. */
static bool take_tag(struct scan *scan, const char **at, struct error *e)
{
    const char *begin = *at;

    if (!find_tag_end(scan, at, e)) return false;
    if (*at == scan->end) return true;
    if (begin[1] == '/') {
        if (scan->depth > 0) scan->depth--;
    } else if ((*at)[-1] != '/' && ++scan->depth > CEILING_XML_DEPTH) {
        return fault(scan, begin, e, "is nested deeper than such a file may be");
    }
    ++*at;
    return true;
}

bool xml_bytes_check(const char *path, const struct text *bytes, struct error *e)
{
    const char *at = text_words(bytes);
    struct scan scan = {.path = path, .begin = at, .end = at + bytes->length};
    const char *nul = memchr(at, '\0', bytes->length);

    if (nul) return fault(&scan, nul, e, "holds a NUL byte: save the file as XML in UTF-8");
    if (begins(at, scan.end, "\xEF\xBB\xBF")) at += 3;
    if (at < scan.end && !strchr("< \t\r\n", *at))
        return fault(&scan, at, e, "is not well-formed XML: in UTF-8 its first character is '<'");
    while ((at = memchr(at, '<', (size_t)(scan.end - at))) != NULL) {
        if (begins(at, scan.end, "<!--")) {
            at = behind(at + 4, scan.end, "-->");
        } else if (begins(at, scan.end, "<![CDATA[")) {
            at = behind(at, scan.end, "]]>");
        } else if (begins(at, scan.end, "<?")) {
            at = behind(at, scan.end, "?>");
        } else if (begins(at, scan.end, "<!")) {
            /* A DOCTYPE, or what the parser does not know: it stops there in either case. */
            return true;
        } else if (!take_tag(&scan, &at, e)) {
            return false;
        }
    }
    return true;
}
