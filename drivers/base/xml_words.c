#include "drivers/base/xml_words.h"

#include <string.h>

/* Enough to recognise a value by. */
#define LONGEST_QUOTE ((size_t)80)
/* libxml2 names no more than this many elements that could stand in a place. */
#define MOST_EXPECTED 10
#define NAMESPACE "{urn:gainsieve:"

/* A piece of the message, borrowed from it. */
struct piece {
    const char *at;
    size_t length;
};

struct complaint {
    struct piece element, attribute; /* attribute.length 0: the element's own content */
    struct piece rest;               /* behind the place */
};

void xml_words_add_quoted(struct text *out, const char *words, size_t length)
{
    size_t shown = length < LONGEST_QUOTE ? length : LONGEST_QUOTE;

    /* Bytes 10xxxxxx continue a character. */
    while (shown < length && shown > 0 && ((unsigned char)words[shown] & 0xC0) == 0x80)
        shown--;
    for (size_t i = 0; i < shown; i++) {
        bool control = (unsigned char)words[i] < 0x20 || words[i] == 0x7f;

        text_add_bytes(out, control ? " " : &words[i], 1);
    }
    if (shown < length) text_add(out, "...");
}

static void add_piece(struct text *out, struct piece piece)
{
    xml_words_add_quoted(out, piece.at, piece.length);
}

/* What stands between the first `before` and the first `after` behind it; length 0 when either is
 * not there. */
static struct piece between(const char *message, const char *before, const char *after)
{
    const char *from = strstr(message, before), *to;

    if (!from) return (struct piece){message, 0};
    from += strlen(before);
    to = strstr(from, after);
    return (struct piece){from, to ? (size_t)(to - from) : 0};
}

/* A name without the project's namespace in braces; another namespace is left to be seen. */
static struct piece local_name(struct piece name)
{
    const char *brace = memchr(name.at, '}', name.length);

    if (!brace || strncmp(name.at, NAMESPACE, strlen(NAMESPACE)) != 0) return name;
    return (struct piece){brace + 1, name.length - (size_t)(brace + 1 - name.at)};
}

/* "Element 'gain', attribute 'min': ..." taken apart. */
static struct complaint take_apart(const char *message)
{
    struct complaint c = {.rest = {message, strlen(message)}};
    const char *colon = strstr(message, "': ");

    if (strncmp(message, "Element '", 9) != 0 || !colon) return c;
    c.element = local_name(between(message, "Element '", "'"));
    if (strncmp(c.element.at + c.element.length, "', attribute '", 14) == 0)
        c.attribute = local_name(between(message, ", attribute '", "'"));
    c.rest = (struct piece){colon + 3, strlen(colon + 3)};
    return c;
}

static bool says(const struct complaint *c, const char *words)
{
    return strstr(c->rest.at, words) != NULL;
}

/* "min="22" " or, of an element's content, nothing. */
static void add_value(struct text *out, const struct complaint *c, struct piece value)
{
    if (c->attribute.length == 0) {
        text_add(out, "\"");
        add_piece(out, value);
        text_add(out, "\" ");
        return;
    }
    add_piece(out, c->attribute);
    text_add(out, "=\"");
    add_piece(out, value);
    text_add(out, "\" ");
}

/* 'a', 'b', 'c' with other marks: "a", "b" or "c". */
static void add_choices(struct text *out, struct piece set)
{
    const char *p = set.at, *end = set.at + set.length;

    while (p < end) {
        const char *open = memchr(p, '\'', (size_t)(end - p)), *close;

        close = open ? memchr(open + 1, '\'', (size_t)(end - open - 1)) : NULL;
        if (!close) break;
        if (p > set.at)
            text_add(out, memchr(close + 1, '\'', (size_t)(end - close - 1)) ? ", " : " or ");
        text_add(out, "\"");
        add_piece(out, (struct piece){open + 1, (size_t)(close - open - 1)});
        text_add(out, "\"");
        p = close + 1;
    }
}

/* "Expected is one of ( {urn:...}gain, ... )" as "<gain>, ...". False when nothing is expected. */
static bool add_expected(struct text *out, const struct complaint *c)
{
    struct piece list = between(c->rest.at, "( ", " )");
    size_t n = 0;

    if (memchr(list.at, ',', list.length)) text_add(out, "one of ");
    while (list.length > 0) {
        const char *comma = memchr(list.at, ',', list.length);
        size_t length = comma ? (size_t)(comma - list.at) : list.length;

        text_add(out, n++ ? ", <" : "<");
        add_piece(out, local_name((struct piece){list.at, length}));
        text_add(out, ">");
        length += comma ? 2 : 0;
        list = (struct piece){list.at + length, list.length > length ? list.length - length : 0};
    }
    if (n >= MOST_EXPECTED) text_add(out, " or others");
    return n > 0;
}

/* Complaints about a value. */
static bool add_about_value(struct text *out, const struct complaint *c)
{
    if (says(c, "is not accepted by the pattern '")) {
        add_value(out, c, between(c->rest.at, "The value '", "' is not accepted by"));
        text_add(out, "is not accepted");
    } else if (says(c, "is not a valid value of the union type")) {
        add_value(out, c, between(c->rest.at, "'", "' is not a valid value"));
        text_add(out, "is not accepted");
    } else if (says(c, "is not an element of the set {")) {
        add_value(out, c, between(c->rest.at, "The value '", "' is not an element"));
        text_add(out, "is not known: write ");
        add_choices(out, between(c->rest.at, "of the set {", "}"));
    } else if (says(c, "this exceeds the allowed maximum length of '")) {
        add_piece(out, c->attribute.length ? c->attribute : (struct piece){"the text", 8});
        text_add(out, " is longer than ");
        add_piece(out, between(c->rest.at, "maximum length of '", "'"));
        text_add(out, " characters: shorten it");
    } else if (says(c, "this underruns the allowed minimum length of '1'")) {
        add_piece(out, c->attribute.length ? c->attribute : (struct piece){"the text", 8});
        text_add(out, " is empty: write something or leave it out");
    } else {
        return false;
    }
    return true;
}

/* Complaints about names that must or must not be there twice. */
static bool add_about_keys(struct text *out, const struct complaint *c)
{
    if (says(c, "No match found for key-sequence [")) {
        add_piece(out, local_name(between(c->rest.at, "of keyref '", "'")));
        text_add(out, "=\"");
        add_piece(out, between(c->rest.at, "key-sequence ['", "'] of keyref"));
        text_add(out, "\" names nothing");
    } else if (says(c, "Duplicate key-sequence [")) {
        text_add(out, "\"");
        add_piece(out, between(c->rest.at, "key-sequence ['", "'] in "));
        text_add(out, "\" stands twice");
    } else {
        return false;
    }
    return true;
}

/* Complaints about what may stand in an element. */
static bool add_about_content(struct text *out, const struct complaint *c)
{
    if (says(c, "is required but missing")) {
        struct piece name = between(c->rest.at, "The attribute '", "' is required");

        text_add(out, "needs the attribute ");
        add_piece(out, name);
        text_add(out, ": write ");
        add_piece(out, name);
        text_add(out, "=\"...\"");
    } else if (c->attribute.length > 0 && says(c, "' is not allowed")) {
        text_add(out, "has no attribute ");
        add_piece(out, c->attribute);
        text_add(out, ": correct its name or remove it");
    } else if (says(c, "This element is not expected")) {
        text_add(out, "is unknown or out of place here: what may stand here is ");
        if (!add_expected(out, c)) text_add(out, "nothing, or as many as are allowed stand here");
    } else if (says(c, "Missing child element")) {
        text_add(out, "ends too early: it still needs ");
        if (!add_expected(out, c)) text_add(out, "something inside");
    } else if (says(c, "Character content")) {
        text_add(out, "holds text where none may stand: remove the text");
    } else if (says(c, "Element content is not allowed")) {
        text_add(out, "holds elements where none may stand: remove them");
    } else if (says(c, "No matching global declaration")) {
        text_add(out, "is not how such a file begins");
    } else {
        return false;
    }
    return true;
}

static void add_hint(struct text *out, const char *message, const struct xml_hint *hints)
{
    for (; hints && hints->part; hints++) {
        if (!strstr(message, hints->part)) continue;
        text_addf(out, ": write %s", hints->words);
        return;
    }
}

void xml_words_add(struct text *out, const char *message, const struct xml_hint *hints)
{
    struct complaint c = take_apart(message);

    if (c.element.length > 0) {
        add_piece(out, c.element);
        text_add(out, ": ");
    }
    if (!add_about_value(out, &c) && !add_about_keys(out, &c) && !add_about_content(out, &c)) {
        while (c.rest.length > 0 && strchr(" .\n", c.rest.at[c.rest.length - 1]))
            c.rest.length--;
        add_piece(out, c.rest);
    }
    add_hint(out, message, hints);
}
