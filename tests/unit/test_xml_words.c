/* The messages are those of libxml2 2.9.14, seen from this program's own schemas. */
#include "drivers/base/xml_words.h"

#include "tests/check.h"

#define NS "{urn:gainsieve:limits:1}"

static const struct xml_hint hints[] = {
    {" *dB'", "a number and dB"},
    {"keyref '" NS "band'", "the id of a <band>"},
    {"reflection-uncertainty'", "dB or a bare number"},
    {NULL, NULL},
};

static void check(const char *message, const char *want)
{
    struct text words = {0};

    xml_words_add(&words, message, hints);
    assert_string_equal(text_words(&words), want);
    text_clear(&words);
}

/* Values: what stands there and what to write, without the pattern. */
static void words_about_values(void **state)
{
    (void)state;
    check("Element '" NS "gain', attribute 'min': [facet 'pattern'] The value '22' is not accepted "
          "by the pattern '[+\\-]?([0-9]+) *dB'.\n",
          "gain: min=\"22\" is not accepted: write a number and dB");
    check("Element '" NS "input-reflection', attribute 'uncertainty': '1 mV' is not a valid value "
          "of the union type '" NS "reflection-uncertainty'.\n",
          "input-reflection: uncertainty=\"1 mV\" is not accepted: write dB or a bare number");
    check("Element '" NS "decision', attribute 'rule': [facet 'enumeration'] The value 'x' is not "
          "an element of the set {'a', 'b', 'c'}.\n",
          "decision: rule=\"x\" is not known: write \"a\", \"b\" or \"c\"");
    check("Element '" NS "decision', attribute 'rule': [facet 'enumeration'] The value '' is not "
          "an element of the set {'a'}.\n",
          "decision: rule=\"\" is not known: write \"a\"");
    check("Element '" NS "limits', attribute 'product': [facet 'maxLength'] The value 'xxx' has a "
          "length of '3'; this exceeds the allowed maximum length of '2'.\n",
          "limits: product is longer than 2 characters: shorten it");
    check("Element '" NS "note': [facet 'maxLength'] The value 'xxx' has a length of '3'; this "
          "exceeds the allowed maximum length of '2'.\n",
          "note: the text is longer than 2 characters: shorten it");
    check("Element '" NS "gain', attribute 'bias': [facet 'minLength'] The value '' has a length "
          "of '0'; this underruns the allowed minimum length of '1'.\n",
          "gain: bias is empty: write something or leave it out");
    check("Element '" NS "size': [facet 'pattern'] The value '1' is not accepted by the pattern "
          "'[0-9]+ *dB'.\n",
          "size: \"1\" is not accepted: write a number and dB");
}

/* Names that lead nowhere or stand twice; a keyref bears its attribute's name. */
static void words_about_keys(void **state)
{
    (void)state;
    check("Element '" NS "gain-slope': No match found for key-sequence ['center'] of keyref '" NS
          "band'.\n",
          "gain-slope: band=\"center\" names nothing: write the id of a <band>");
    check("Element '" NS "gain': Duplicate key-sequence ['a'] in unique identity-constraint '" NS
          "limit-ids'.\n",
          "gain: \"a\" stands twice");
}

/* Elements and attributes in the wrong place, or not in the right one. */
static void words_about_content(void **state)
{
    (void)state;
    check("Element '" NS "gain': The attribute 'id' is required but missing.\n",
          "gain: needs the attribute id: write id=\"...\"");
    check("Element '" NS "gain', attribute 'bnad': The attribute 'bnad' is not allowed.\n",
          "gain: has no attribute bnad: correct its name or remove it");
    check("Element '" NS "gian': This element is not expected. Expected is one of ( " NS "gain, " NS
          "phase ).\n",
          "gian: is unknown or out of place here: what may stand here is one of <gain>, <phase>");
    check("Element '" NS "lower': This element is not expected. Expected is ( " NS
          "when-failed ).\n",
          "lower: is unknown or out of place here: what may stand here is <when-failed>");
    check("Element '" NS "bias': This element is not expected.\n",
          "bias: is unknown or out of place here: what may stand here is nothing, or as many as "
          "are allowed stand here");
    check("Element '{urn:other}gain': This element is not expected. Expected is ( " NS "gain ).\n",
          "{urn:other}gain: is unknown or out of place here: what may stand here is <gain>");
    /* The library names ten at most: there may be others. */
    check("Element '" NS "x': This element is not expected. Expected is one of ( " NS "a, " NS
          "b, " NS "c, " NS "d, " NS "e, " NS "f, " NS "g, " NS "h, " NS "i, " NS "j ).\n",
          "x: is unknown or out of place here: what may stand here is one of <a>, <b>, <c>, <d>, "
          "<e>, <f>, <g>, <h>, <i>, <j> or others");
    check("Element '" NS "upper': Missing child element(s). Expected is ( " NS "point ).\n",
          "upper: ends too early: it still needs <point>");
    check("Element '" NS "gain': Character content other than whitespace is not allowed because "
          "the content type is 'element-only'.\n",
          "gain: holds text where none may stand: remove the text");
    check("Element '" NS "note': Element content is not allowed, because the type definition is "
          "simple.\n",
          "note: holds elements where none may stand: remove them");
    check("Element 'limits': No matching global declaration available for the validation root.\n",
          "limits: is not how such a file begins");
}

/* A message that is not known keeps its own words, in one line and without its end. */
static void keeps_what_it_does_not_know(void **state)
{
    (void)state;
    check("Element '" NS "gain': Something\nnew.\n", "gain: Something new");
    check("Something else.\n", "Something else");
    check("", "");
    check("Element '", "Element '");
    check("Element 'a', attribute '", "Element 'a', attribute '");
    check("Element 'a', attribute 'b': ", "a: ");
    check("Element '" NS "a': [facet 'enumeration'] The value 'x' is not an element of the set {'",
          "a: \"x\" is not known: write ");
}

/* A value of any length and any bytes is shown in part, cut between characters. */
static void shortens_long_values(void **state)
{
    struct text words = {0};
    char message[600] = "Element '" NS "gain', attribute 'min': [facet 'pattern'] The value '";
    size_t used = strlen(message);

    (void)state;
    for (size_t i = 0; i < 100; i++)
        used += (size_t)snprintf(message + used, sizeof message - used, "\n\xE2\x82\xAC");
    (void)snprintf(message + used, sizeof message - used, "' is not accepted by the pattern 'x'.");
    xml_words_add(&words, message, NULL);
    assert_holds(text_words(&words), "gain: min=\" \xE2\x82\xAC \xE2\x82\xAC ");
    assert_holds(text_words(&words), " \xE2\x82\xAC...\" is not accepted");
    assert_true(words.length < 120);
    assert_null(strchr(text_words(&words), '\n'));
    text_clear(&words);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(words_about_values),   cmocka_unit_test(words_about_keys),
        cmocka_unit_test(words_about_content),  cmocka_unit_test(keeps_what_it_does_not_know),
        cmocka_unit_test(shortens_long_values),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
