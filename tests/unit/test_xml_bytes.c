#include "drivers/base/xml_bytes.h"

#include <stdlib.h>

#include "tests/check.h"

static bool check(const char *bytes, size_t length, struct error *e)
{
    struct text text = {0};
    bool ok;

    *e = (struct error){0};
    text_add_bytes(&text, bytes, length);
    ok = xml_bytes_check("f.xml", &text, e);
    text_clear(&text);
    return ok;
}

static void accept(const char *words)
{
    struct error e;

    assert_done(check(words, strlen(words), &e), &e);
}

static void refuse(const char *words, size_t length, const char *why)
{
    struct error e;

    assert_false(check(words, length, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, why);
}

/* Whether the rest is well formed is the parser's matter: a fault of form is let through. */
static void lets_everything_else_through(void **state)
{
    (void)state;
    accept("");
    accept("\xEF\xBB\xBF<a/>");
    accept(" \t\r\n<a/>");
    accept("<a b='>' c=\"<a><a><a>\"/>");
    accept("<a><!-- <a> ' \" <a> --><![CDATA[<a>]] ></a>]]></a>");
    accept("<?xml version='1.0'?><?x <a> ?><a/>");
    accept("<!DOCTYPE a><a/>");
    accept("<a");
    accept("<");
    accept("<!--");
    accept("<![CDATA[");
    accept("<?");
    accept("</a></a></a>");
    accept("<a b='");
}

/* Bytes that make the file something other than UTF-8, where '<' may be any byte. */
static void refuses_other_encodings(void **state)
{
    (void)state;
    refuse("<a>\n\0</a>", 9, "f.xml:2: holds a NUL byte: save the file as XML in UTF-8");
    refuse("\xFF\xFE<a", 4, "f.xml:1: is not well-formed XML");
    refuse("\x4C\x6F\xA7\x94", 4, "f.xml:1: is not well-formed XML");
    refuse("serial", 6, "f.xml:1: is not well-formed XML");
}

/* As deep as allowed, and one deeper; elements that end themselves count for nothing, and what
 * looks like a tag in quotes, comments and CDATA either. */
static void counts_depth(void **state)
{
    char words[64 * CEILING_XML_DEPTH] = "";
    size_t used = 0;

    (void)state;
    for (size_t i = 0; i + 1 < CEILING_XML_DEPTH; i++)
        used += (size_t)snprintf(words + used, sizeof words - used,
                                 "<a x='<y>'>\n<b/><c></c><!--<d>--><![CDATA[<e>]]>");
    used += (size_t)snprintf(words + used, sizeof words - used, "<a>");
    accept(words);
    (void)snprintf(words + used, sizeof words - used, "<b/>");
    accept(words);
    (void)snprintf(words + used, sizeof words - used, "<b>");
    refuse(words, strlen(words), "f.xml:32: is nested deeper than such a file may be");
}

/* A tag as long as allowed, and one byte longer; a quoted '>' does not end it. */
static void measures_tags(void **state)
{
    char *words = malloc(CEILING_XML_TAG + 16);

    (void)state;
    assert_non_null(words);
    memset(words, '>', CEILING_XML_TAG + 16);
    memcpy(words, "\n<a b='", 7);
    words[CEILING_XML_TAG] = '\'';
    words[CEILING_XML_TAG + 2] = '\0';
    accept(words);
    words[CEILING_XML_TAG] = '>';
    words[CEILING_XML_TAG + 1] = '\'';
    words[CEILING_XML_TAG + 2] = '>';
    words[CEILING_XML_TAG + 3] = '\0';
    refuse(words, strlen(words), "f.xml:2: the tag that begins here is too long");
    free(words);
}

/* Namespaces over the whole file; the word in a value or in text is none. */
static void counts_namespaces(void **state)
{
    char words[64 * CEILING_XML_NAMESPACES] = "<a>xmlns xmlns xmlns";
    size_t used = strlen(words);

    (void)state;
    for (size_t i = 0; i < CEILING_XML_NAMESPACES; i++)
        used += (size_t)snprintf(words + used, sizeof words - used, "<b xmlns:c='xmlns'></b>\n");
    accept(words);
    (void)snprintf(words + used, sizeof words - used, "<b xmlns=''/>");
    refuse(words, strlen(words), "f.xml:17: declares too many namespaces");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lets_everything_else_through),
        cmocka_unit_test(refuses_other_encodings),
        cmocka_unit_test(counts_depth),
        cmocka_unit_test(measures_tags),
        cmocka_unit_test(counts_namespaces),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
