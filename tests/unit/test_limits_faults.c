/* What the reader refuses of limit elements that the schema lets through. */
#include "drivers/base/xml.h"
#include "limits/limits_read.h"
#include "tests/limits_check.h"

#define POINT(at, value) "<point at=\"" at "\" value=\"" value "\"/>"
#define LOWER                                                       \
    "<lower>" POINT("160 MHz", "17.5 dB") POINT("169 MHz", "19 dB") \
        POINT("178 MHz", "17.5 dB") "</lower>"
#define UPPER "<upper>" POINT("150 MHz", "25 dB") POINT("190 MHz", "25 dB") "</upper>"

/* What no schema can say about a limit: every error of the reader, with its line. */
static const struct {
    unsigned long line;
    const char *elements, *words;
} senseless[] = {
    {11, "<gain id=\"x\" band=\"working\"/>",
     "the limit \"x\" bounds nothing: give min, max, <lower> or <upper>"},
    {11, "<bias-current id=\"x\"/>", "the limit \"x\" bounds nothing"},
    {11, "<gain id=\"x\" min=\"1 dB\"/>", "min needs a band to apply in: name one with band"},
    {12, "\n<gain id=\"x\" max=\"1 dB\" max-step=\"1 MHz\"/>", "max needs a band to apply in"},
    {11, "<gain id=\"x\" max=\"1 dB\">" LOWER "</gain>", "max needs a band to apply in"},
    {11, "<gain id=\"x\" band=\"working\" min=\"1 dB\">" LOWER "</gain>",
     "min and <lower> bound the same side: keep one"},
    {11, "<gain id=\"x\" band=\"working\" max=\"1 dB\">" UPPER "</gain>",
     "max and <upper> bound the same side: keep one"},
    {13,
     "<gain id=\"x\"><lower>\n" POINT("160 MHz", "1 dB") "\n" POINT("159 MHz",
                                                                    "1 dB") "\n"
                                                                            "</lower></gain>",
     "the mask runs backwards: its points must rise in frequency"},
    {12,
     "<gain id=\"x\"><upper>" POINT("160 MHz", "1 dB") "\n" POINT("0.16 GHz",
                                                                  "2 dB") "</upper></gain>",
     "the mask runs backwards"},
    {11,
     "<gain id=\"x\" band=\"working\"><lower>" POINT("150 MHz", "1 dB")
         POINT("159 MHz", "1 dB") "</lower></gain>",
     "the mask and the band \"working\" have no frequency in common"},
    {11,
     "<gain id=\"x\" band=\"centre\"><lower>" POINT("170 MHz", "1 dB")
         POINT("179 MHz", "1 dB") "</lower></gain>",
     "the mask and the band \"centre\" have no frequency in common"},
    {11, "<gain id=\"x\" band=\"working\" min=\"2 dB\" max=\"1 dB\"/>",
     "the min of \"x\" is above its max"},
    {11, "<bias-current id=\"x\" min=\"2 mA\" max=\"1999 uA\"/>",
     "the min of \"x\" is above its max"},
    {11, "<gain id=\"x\" band=\"working\" max=\"18 dB\">" LOWER "</gain>",
     "the lower bound of \"x\" is above its upper bound at 169 MHz"},
    {11,
     "<gain id=\"x\"><lower>" POINT("160 MHz", "1 dB")
         POINT("180 MHz", "3 dB") "</lower><upper>" POINT("150 MHz", "5 dB")
             POINT("170 MHz", "1.5 dB") POINT("190 MHz", "5 dB") "</upper></gain>",
     "the lower bound of \"x\" is above its upper bound at 170 MHz"},
    {11, "<gain id=\"x\" band=\"working\" min=\"1 dB\" max-step=\"1 MHz\"/>",
     "max-step belongs to the band \"working\"; here it is for masks without a band"},
    {11, "<gain id=\"x\" max-step=\"0 Hz\">" LOWER "</gain>", "max-step must be above 0 Hz"},
    {11, "<gain id=\"x\" bias=\"low middle\" band=\"working\" min=\"1 dB\"/>",
     "there is no bias step \"middle\": name one of <bias-steps>, or all"},
    {11, "<gain id=\"x\" bias=\"lo\" band=\"working\" min=\"1 dB\"/>",
     "there is no bias step \"lo\""},
    {11, "<gain id=\"x\" bias=\"low, all\" band=\"working\" min=\"1 dB\"/>",
     "\"all\" means every bias step: let it stand alone in bias"},
    {11, "<gain id=\"x\" bias=\" , \" band=\"working\" min=\"1 dB\"/>", "bias names no bias step"},
    {11, "<gain-slope id=\"x\" band=\"working\" from=\"mid\" to=\"mid\" min=\"1 dB/V\"/>",
     "a gain slope needs two bias steps: let from and to name different ones"},
    {11, "<gain-slope id=\"x\" band=\"working\" to=\"low\" min=\"1 dB/V\"/>",
     "a gain slope needs two bias steps"},
    {11, "<gain-range id=\"x\" band=\"working\" from=\"mid\" to=\"mid\" min=\"1 dB\"/>",
     "a gain range needs two bias steps"},
    {11, "<reflection-shift id=\"x\" bias=\"mid\" band=\"working\" reference=\"mid\" max=\"0.1\"/>",
     "a shift needs a bias step besides its reference"},
    /* One frequency is always flat: such a limit would pass every board. */
    {11, "<gain-flatness id=\"x\" band=\"centre\" max=\"1 dB\"/>",
     "a flatness needs a band with from and to: at one frequency every gain is flat"},
    {11, "<gain id=\"x\" band=\"working\" min=\"1e999 dB\"/>",
     "min=\"1e999 dB\" is not a number in dB"},
    {12,
     "<gain id=\"x\"><lower>\n" POINT("1e305 GHz", "1 dB") POINT("1 MHz", "1 dB") "</lower></gain>",
     "at=\"1e305 GHz\" is not a number in Hz"},
    {11,
     "<gain id=\"x\"><lower>" POINT("1 Hz", "1e999 dB") POINT("1 MHz", "1 dB") "</lower></gain>",
     "value=\"1e999 dB\" is not a number in dB"},
    {11, "<input-reflection id=\"x\" band=\"working\" max=\"1 dB\" uncertainty=\"1e999\"/>",
     "uncertainty=\"1e999\" is not a number in dB"},
};

static void refuses_limits_without_sense(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof senseless / sizeof *senseless; i++) {
        char xml[4096];

        (void)snprintf(xml, sizeof xml, "%s%s%s", LIMITS_FRONT, senseless[i].elements, LIMITS_END);
        limits_refuse(xml, senseless[i].line, senseless[i].words);
    }
}

/* A slope or a shift in a file with a single bias step. */
static void refuses_comparisons_over_a_single_step(void **state)
{
    (void)state;
    limits_refuse(LIMITS_HEAD "<bias-steps><bias id=\"a\" at=\"5 V\"/></bias-steps>\n" LIMITS_BANDS
                              "<gain-slope id=\"g\" band=\"working\" min=\"1 dB/V\"/>" LIMITS_END,
                  7, "a gain slope needs two bias steps");
    limits_refuse(
        LIMITS_HEAD
        "<bias-steps><bias id=\"a\" at=\"5 V\"/></bias-steps>\n" LIMITS_BANDS
        "<reflection-shift id=\"g\" band=\"working\" reference=\"a\" max=\"1\"/>" LIMITS_END,
        7, "a shift needs a bias step besides its reference");
}

/* The schema's key refuses an unknown band first; should the schema ever let one through, the
 * reader may not judge without a band. */
static void refuses_an_unknown_band_without_the_schema(void **state)
{
    static const char lax[] =
        "<xs:schema xmlns:xs=\"http://www.w3.org/2001/XMLSchema\" "
        "targetNamespace=\"urn:gainsieve:limits:1\" elementFormDefault=\"qualified\">"
        "<xs:element name=\"limits\"><xs:complexType><xs:sequence>"
        "<xs:any maxOccurs=\"unbounded\" processContents=\"skip\"/></xs:sequence>"
        "<xs:anyAttribute processContents=\"skip\"/></xs:complexType></xs:element></xs:schema>";
    const struct embedded schema = {lax, sizeof lax - 1};
    char *path = fixture_file("<limits xmlns=\"urn:gainsieve:limits:1\">\n"
                              "<gain id=\"x\" band=\"nowhere\" min=\"1 dB\"/></limits>");
    struct limits limits = {0};
    struct limit *limit = calloc(1, sizeof *limit);
    struct error e = {0};
    struct xml *xml = NULL;

    (void)state;
    assert_non_null(limit);
    assert_done(xml_load(&xml, path, &schema, NULL, &e), &e);
    assert_false(limits_read_limit(limit, &limits, xml, xml_child(xml_root(xml), "gain"), &e));
    assert_holds(e.text, ":2: there is no band \"nowhere\"");
    limits.n_limits = 1;
    limits.limits = limit;
    limits_clear(&limits);
    xml_free(xml);
    (void)unlink(path);
    free(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(refuses_limits_without_sense),
        cmocka_unit_test(refuses_comparisons_over_a_single_step),
        cmocka_unit_test(refuses_an_unknown_band_without_the_schema),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
