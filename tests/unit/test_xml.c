#include "drivers/base/xml.h"

#include <stdlib.h>
#include <time.h>

#include "drivers/base/memory.h"
#include "tests/fixture.h"

/* A schema for these tests: a root with items that have a size in dB, any text, and any depth. */
static const char schema_words[] =
    "<xs:schema xmlns:xs='http://www.w3.org/2001/XMLSchema' xmlns:t='urn:t' "
    "targetNamespace='urn:t' "
    "elementFormDefault='qualified'>"
    "<xs:simpleType name='decibels'><xs:restriction base='xs:token'><xs:pattern value='[0-9]+ "
    "*dB'/>"
    "</xs:restriction></xs:simpleType>"
    "<xs:element name='item'><xs:complexType mixed='true'><xs:sequence>"
    "<xs:element ref='t:item' minOccurs='0' maxOccurs='unbounded'/></xs:sequence>"
    "<xs:attribute name='size' type='t:decibels'/><xs:attribute name='name' type='xs:string'/>"
    "</xs:complexType></xs:element></xs:schema>";
static const struct embedded schema = {schema_words, sizeof schema_words - 1};
static const struct xml_hint hints[] = {{"*dB'", "a number and dB"}, {NULL, NULL}};

static bool load(const char *content, struct xml **out, struct error *e)
{
    char *path = fixture_file(content);
    bool ok = xml_load(out, path, &schema, hints, e);

    (void)unlink(path);
    free(path);
    return ok;
}

static void check_refused(const char *content, const char *words)
{
    struct xml *xml = NULL;
    struct error e = {0};

    assert_false(load(content, &xml, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, words);
    assert_null(strchr(e.text, '\n'));
    assert_null(xml);
}

/* Elements, attributes with blanks collapsed, values with units, content, lines. */
static void test_reading(void **state)
{
    struct xml *xml = NULL;
    struct error e = {0};
    const struct xml_node *item;
    char *name = NULL, *words = NULL;
    double size = 0;

    (void)state;
    assert_done(load("<item xmlns='urn:t'>\n<!-- x --><item name='  a \n b '/>\n"
                     "<item size='12 dB'>some  words\n&amp; more</item></item>",
                     &xml, &e),
                &e);
    item = xml_child(xml_root(xml), "item");
    assert_string_equal(xml_name(item), "item");
    assert_int_equal(xml_line(item), 3);
    assert_done(xml_attribute(item, "name", &name, &e), &e);
    assert_string_equal(name, "a b");
    memory_free(name);
    assert_false(xml_has(item, "size"));
    assert_done(xml_attribute(item, "size", &name, &e), &e);
    assert_null(name);
    item = xml_next(item, NULL);
    assert_done(xml_value(xml, item, "size", UNIT_DB, &size, &e), &e);
    assert_close(size, 12, 0);
    assert_done(xml_content(item, &words, &e), &e);
    assert_string_equal(words, "some words & more");
    memory_free(words);
    assert_null(xml_next(item, NULL));
    assert_null(xml_child(item, "other"));
    assert_false(xml_fault(xml, item, &e, "is %s", "odd"));
    assert_holds(e.text, ":4: is odd");
    xml_free(xml);
    xml_free(NULL);
}

/* Every kind of DOCTYPE is refused before anything in it is read: entity bombs, files and addresses
 * outside, attributes that no element carries. */
static void test_doctype_is_refused(void **state)
{
    static const char *const cases[] = {
        "<!DOCTYPE item>\n<item xmlns='urn:t'/>",
        "<!DOCTYPE item SYSTEM 'http://localhost:1/x.dtd'><item xmlns='urn:t'/>",
        "<!DOCTYPE item [<!ENTITY x SYSTEM 'file:///etc/passwd'>]><item xmlns='urn:t'>&x;</item>",
        "<!DOCTYPE item [<!ENTITY % x SYSTEM 'file:///etc/passwd'> %x;]><item xmlns='urn:t'/>",
        "<!DOCTYPE item [<!ATTLIST item size CDATA '99 dB'>]><item xmlns='urn:t'/>",
        ("<!DOCTYPE item [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;'>"
         "<!ENTITY c '&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;'>]><item xmlns='urn:t'>&c;&c;&c;</item>"),
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        check_refused(cases[i], "holds a DOCTYPE, which is refused");
}

/* The same in UTF-16, where a search for the word in bytes would see nothing: the NUL bytes of such
 * a file are refused before the parser sees it. */
static void test_doctype_in_utf16(void **state)
{
    static const char text[] = "<?xml version='1.0' encoding='UTF-16'?><!DOCTYPE item [<!ENTITY x "
                               "'y'>]><item xmlns='urn:t'>&x;</item>";
    char wide[2 * sizeof text + 2], *path = fixture_file("");
    FILE *file = fopen(path, "wb");
    struct xml *xml = NULL;
    struct error e = {0};

    (void)state;
    assert_non_null(file);
    wide[0] = (char)0xFF;
    wide[1] = (char)0xFE;
    for (size_t i = 0; i + 1 < sizeof text; i++) {
        wide[2 + 2 * i] = text[i];
        wide[3 + 2 * i] = 0;
    }
    assert_int_equal(fwrite(wide, 1, 2 * sizeof text, file), 2 * sizeof text);
    assert_int_equal(fclose(file), 0);
    assert_false(xml_load(&xml, path, &schema, hints, &e));
    assert_holds(e.text, ":1: holds a NUL byte: save the file as XML in UTF-8");
    (void)unlink(path);
    free(path);
}

/* Deep nesting is refused at once, not followed. */
static void test_nesting(void **state)
{
    size_t n = 100000, used = 0;
    char *deep = malloc(n * 7 + 64);
    clock_t started = clock();

    (void)state;
    assert_non_null(deep);
    used += (size_t)snprintf(deep, 64, "<item xmlns='urn:t'>");
    for (size_t i = 0; i < n; i++)
        used += (size_t)snprintf(deep + used, 8, "<item>");
    check_refused(deep, ":1: is nested deeper than such a file may be");
    /* Valgrind is allowed more. */
    assert_true((double)(clock() - started) / CLOCKS_PER_SEC <
                (getenv("GAINSIEVE_TEST_SHORT") ? 60 : 2));
    free(deep);
}

/* A file over the ceiling is refused before it is read. */
static void test_huge_file(void **state)
{
    char *path = fixture_file("");
    struct xml *xml = NULL;
    struct error e = {0};

    (void)state;
    assert_int_equal(truncate(path, (off_t)1 << 30), 0);
    assert_false(xml_load(&xml, path, &schema, hints, &e));
    assert_holds(e.text, "longer than");
    (void)unlink(path);
    free(path);
}

/* Not XML at all, cut off, wrongly closed: with the line. */
static void test_not_well_formed(void **state)
{
    (void)state;
    check_refused("", "is not well-formed XML");
    check_refused("serial,attempt\n", "is not well-formed XML");
    check_refused("<item xmlns='urn:t'>\n<item>\n</item>\n", ":4: is not well-formed XML");
    check_refused("<item xmlns='urn:t'>\n</itm>", ":2: is not well-formed XML");
    check_refused("<item xmlns='urn:t'>&undefined;</item>", "is not well-formed XML");
}

/* A value that the schema refuses: the line, what it was, and what to write instead. */
static void test_schema_faults(void **state)
{
    (void)state;
    check_refused("<item xmlns='urn:t'>\n\n<item size='12'/></item>",
                  "item: size=\"12\" is not accepted");
    check_refused("<item xmlns='urn:t'>\n\n<item size='12'/></item>", ":3: ");
    check_refused("<item xmlns='urn:t'>\n\n<item size='12'/></item>", ": write a number and dB");
    check_refused("<item xmlns='urn:t'><other/></item>", ":1: ");
    check_refused("<item/>", ":1: ");
    check_refused("<item xmlns='urn:t' colour='red'/>", "colour");
}

/* Lines above 65535, where the library's own field ends. */
static void test_many_lines(void **state)
{
    size_t n = 70000;
    char *content = malloc(n + 256), words[32];

    (void)state;
    assert_non_null(content);
    (void)snprintf(content, 64, "<item xmlns='urn:t'>");
    memset(content + strlen("<item xmlns='urn:t'>"), '\n', n);
    (void)snprintf(content + strlen("<item xmlns='urn:t'>") + n, 64, "<item size='x'/></item>");
    (void)snprintf(words, sizeof words, ":%zu: ", n + 1);
    check_refused(content, words);
    free(content);
}

/* ... of every element, with neighbours, children and tags of several lines around: each carries
 * its own line in `name`, and so does the fault, wherever it is. */
static void test_lines_above_the_library_s(void **state)
{
    const size_t n = 70000;
    char *content = malloc(n + 1024), *name = NULL;
    struct xml *xml = NULL;
    struct error e = {0};
    size_t used;

    (void)state;
    assert_non_null(content);
    used = (size_t)snprintf(content, 64, "<item xmlns='urn:t'>\n");
    memset(content + used, '\n', n);
    used += n;
    (void)snprintf(content + used, 512,
                   "<item name='70002'/>\n<item name='70003'/><item name='70003'/>\n"
                   "<item\n name='70005'>\n\n<item/>\n</item>\n<item name='70009'/>\n</item>");
    assert_done(load(content, &xml, &e), &e);
    for (const struct xml_node *item = xml_child(xml_root(xml), NULL); item;
         item = xml_next(item, NULL)) {
        char line[32];

        assert_done(xml_attribute(item, "name", &name, &e), &e);
        (void)snprintf(line, sizeof line, "%lu", xml_line(item));
        assert_string_equal(line, name);
        memory_free(name);
    }
    xml_free(xml);
    (void)snprintf(content + used, 512,
                   "<item/>\n<item><item/></item>\n<item>\n<item size='x'/>\n</item>\n</item>");
    check_refused(content, ":70005: ");
    free(content);
}

/* An attribute of another namespace is another attribute. */
static void test_foreign_attribute(void **state)
{
    struct xml *xml = NULL;
    struct error e = {0};
    char *words = NULL;

    (void)state;
    assert_done(load("<item xmlns='urn:t' xmlns:xsi='http://www.w3.org/2001/XMLSchema-instance' "
                     "xsi:schemaLocation='urn:t x.xsd'/>",
                     &xml, &e),
                &e);
    assert_false(xml_has(xml_root(xml), "schemaLocation"));
    assert_done(xml_attribute(xml_root(xml), "schemaLocation", &words, &e), &e);
    assert_null(words);
    memory_free(words);
    xml_free(xml);
}

/* An include stays what it is: an element that the schema does not know. */
static void test_include_is_not_followed(void **state)
{
    (void)state;
    check_refused("<item xmlns='urn:t' xmlns:xi='http://www.w3.org/2001/XInclude'>"
                  "<xi:include href='/etc/passwd' parse='text'/></item>",
                  "include");
}

/* A schema that the file itself names is not fetched. */
static void test_schema_location_is_ignored(void **state)
{
    struct xml *xml = NULL;
    struct error e = {0};

    (void)state;
    assert_done(load("<item xmlns='urn:t' xmlns:xsi='http://www.w3.org/2001/XMLSchema-instance' "
                     "xsi:schemaLocation='urn:t http://localhost:1/x.xsd'/>",
                     &xml, &e),
                &e);
    xml_free(xml);
}

/* Without a schema a file tells its namespace, and is still refused where it could do harm. */
static void test_namespace_of_any_file(void **state)
{
    static const struct {
        const char *content, *want;
    } cases[] = {
        {"<a xmlns='urn:x'/>", "urn:x"}, {"<p:a xmlns:p='urn:y' xmlns='urn:x'/>", "urn:y"},
        {"<a xmlns:p='urn:y'/>", ""},    {"<!DOCTYPE a><a xmlns='urn:x'/>", NULL},
        {"<a xmlns='urn:x'>", NULL},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *path = fixture_file(cases[i].content);
        struct xml *xml = NULL;
        struct error e = {0};
        bool ok = xml_load(&xml, path, NULL, NULL, &e);

        (void)unlink(path);
        free(path);
        assert_int_equal(ok, cases[i].want != NULL);
        if (ok) assert_string_equal(xml_namespace(xml_root(xml)), cases[i].want);
        xml_free(xml);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_reading),
                                       cmocka_unit_test(test_doctype_is_refused),
                                       cmocka_unit_test(test_doctype_in_utf16),
                                       cmocka_unit_test(test_nesting),
                                       cmocka_unit_test(test_huge_file),
                                       cmocka_unit_test(test_not_well_formed),
                                       cmocka_unit_test(test_schema_faults),
                                       cmocka_unit_test(test_many_lines),
                                       cmocka_unit_test(test_lines_above_the_library_s),
                                       cmocka_unit_test(test_foreign_attribute),
                                       cmocka_unit_test(test_include_is_not_followed),
                                       cmocka_unit_test(test_schema_location_is_ignored),
                                       cmocka_unit_test(test_namespace_of_any_file)};
    int failed;

    xml_start();
    failed = cmocka_run_group_tests(tests, NULL, NULL);
    xml_end();
    return failed;
}
