/* Broken and hostile limits files: never a crash, always either a legal struct or one error line
 * that begins with the path. What is random comes from a seed that is printed. */
#include <stdlib.h>
#include <time.h>

#include "drivers/base/xml.h"
#include "limits/limits_words.h"
#include "tests/fixture.h"

#define SEED 20260714U
#define MUTATIONS 2000
/* Time that grows with the square shows well at this size: a tag as long kept a parser busy for a
 * minute. */
#define MUCH ((size_t)1 << 20)

/* One of each element, masks, lists, both kinds of uncertainty: something to break everywhere. */
static const char whole[] =
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
    "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"T\" revision=\"C\" impedance=\"50 ohm\">\n"
    "<!-- remark --><note>Words &amp; more &#xE4; <![CDATA[<as they are>]]></note>\n"
    "<serial-numbers pattern=\"K[0-9]{6}\" check-character=\"mod-37-36\"/>\n"
    "<bias-steps tolerance=\"10 mV\"><bias id=\"low\" at=\"1.8 V\"/><bias id=\"mid\" at=\"2.4 V\"/>"
    "<bias id=\"high\" at=\"3 V\"/></bias-steps>\n"
    "<bands><band id=\"w\" from=\"160 MHz\" to=\"178 MHz\" max-step=\"1 MHz\"/>"
    "<band id=\"c\" at=\"169 MHz\"/></bands>\n"
    "<decision rule=\"simple-acceptance\" guard-factor=\"1.5\"/>\n"
    "<gain id=\"a\" bias=\"low, high\" band=\"w\" min=\"22 dB\" max=\"26 dB\" uncertainty=\"0.1 "
    "dB\"><when-failed>Look.</when-failed></gain>\n"
    "<gain id=\"b\" band=\"w\"><lower><point at=\"150 MHz\" value=\"17 dB\"/><point at=\"169 MHz\" "
    "value=\"19 dB\"/><point at=\"190 MHz\" value=\"17 dB\"/></lower></gain>\n"
    "<gain-flatness id=\"d\" band=\"w\" max=\"2 dB\"/>\n"
    "<input-reflection id=\"e\" band=\"w\" max=\"-16 dB\" uncertainty=\"0.006\"/>\n"
    "<gain-slope id=\"f\" band=\"c\" from=\"low\" to=\"high\" method=\"fit\" min=\"3 dB/V\"/>\n"
    "<gain-range id=\"g\" band=\"c\" from=\"low\" to=\"high\" min=\"3 dB\"/>\n"
    "<reflection-shift id=\"h\" band=\"w\" reference=\"mid\" max=\"0.05\"/>\n"
    "<input-resistance id=\"i\" band=\"c\" min=\"40 ohm\" max=\"60 ohm\"/>\n"
    "<phase id=\"j\" band=\"c\" min=\"-5 deg\" max=\"5 deg\"/>\n"
    "<group-delay id=\"k\" band=\"c\" max=\"13 ns\"/>\n"
    "<stability id=\"l\" max-step=\"1 MHz\"><lower><point at=\"1 MHz\" value=\"1\"/><point at=\"2 "
    "GHz\" value=\"1\"/></lower></stability>\n"
    "<bias-current id=\"m\" bias=\"high\" min=\"6 mA\" max=\"7 mA\"/>\n"
    "</limits>\n";

/* One file that is written again and again. */
static char *path;

static int make_path(void **state)
{
    (void)state;
    xml_start();
    path = fixture_file("");
    return 0;
}

static int remove_path(void **state)
{
    (void)state;
    (void)unlink(path);
    free(path);
    xml_end();
    return 0;
}

static void write_file(const char *bytes, size_t length)
{
    FILE *file = fopen(path, "wb");

    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
}

static void check_line(const struct bound_line *line)
{
    for (size_t i = 0; i < line->n_points; i++) {
        assert_true(isfinite(line->frequency_hz[i]) && line->frequency_hz[i] >= 0);
        assert_true(isfinite(line->value[i]));
        if (i > 0) assert_true(line->frequency_hz[i] > line->frequency_hz[i - 1]);
    }
}

/* What everything that judges relies on. */
static void check_legal(const struct limits *limits)
{
    assert_non_null(limits->product);
    assert_true(limits->impedance_ohm > 0 && isfinite(limits->impedance_ohm));
    assert_true(limits->n_biases >= 1 && limits->n_biases <= CEILING_BIAS_STEPS);
    assert_true(limits->n_limits >= 1 && limits->n_limits <= CEILING_LIMITS);
    assert_true(limits->guard_factor >= 0 && isfinite(limits->guard_factor));
    assert_true(limits->bias_tolerance_v >= 0);
    for (size_t i = 1; i < limits->n_biases; i++)
        assert_true(limits->biases[i].at_v > limits->biases[i - 1].at_v);
    for (size_t i = 0; i < limits->n_bands; i++)
        assert_true(limits->bands[i].from_hz <= limits->bands[i].to_hz);
    for (size_t i = 0; i < limits->n_limits; i++) {
        const struct limit *limit = &limits->limits[i];

        assert_non_null(limit->id);
        assert_non_null(limit->quantity);
        assert_true(limit->lower.n_points + limit->upper.n_points > 0);
        check_line(&limit->lower);
        check_line(&limit->upper);
        assert_true(limit->from < limits->n_biases && limit->to < limits->n_biases);
        assert_true(limit->reference < limits->n_biases);
        assert_int_equal(limit->biases & ~(UINT64_MAX >> (64 - limits->n_biases)), 0);
        assert_true(limit->uncertainty >= 0 && isfinite(limit->uncertainty));
        assert_true(limit->max_step_hz >= 0);
    }
}

/* Reads the file; true when it was accepted. Either way the result must be in order. */
static bool read_file(struct error *e)
{
    struct limits limits = {0};
    struct text words = {0};
    bool ok = limits_read(&limits, path, e);

    if (ok) {
        check_legal(&limits);
        limits_words(&limits, &words);
        assert_done(text_ok(&words, "the words", e), e);
        text_clear(&words);
    } else {
        assert_int_equal(e->kind, ERROR_INPUT);
        assert_memory_equal(e->text, path, strlen(path));
        assert_int_equal(e->text[strlen(path)], ':');
        for (const char *p = e->text; *p; p++)
            assert_true((unsigned char)*p >= 0x20);
        assert_null(limits.limits);
    }
    limits_clear(&limits);
    return ok;
}

static void refuse(const char *bytes, size_t length, const char *words)
{
    struct error e = {0};

    write_file(bytes, length);
    assert_false(read_file(&e));
    assert_holds(e.text, words);
}

static uint32_t next_random(uint32_t *state)
{
    *state = *state * 1664525U + 1013904223U;
    return *state >> 8;
}

/* Breaks a copy of the file in one of several ways; returns its new length. */
static size_t mutate(char *bytes, size_t length, uint32_t *random)
{
    static const char *const pieces[] = {
        "\"",
        "<",
        ">",
        "/>",
        "&",
        "&#10;",
        "&#x0;",
        "<!--",
        "]]>",
        "<![CDATA[",
        "<?x ?>",
        "-",
        "1e308",
        "999999999999",
        " ",
        "\xC3",
        "\xFF",
        "all",
        " id=\"a\"",
        "<gain",
        "</limits>",
        "xmlns:x=\"u\"",
        "0",
        "e",
        "low",
        "<!DOCTYPE x>",
        "<point at=\"1 Hz\" value=\"1\"/>",
    };
    size_t at = next_random(random) % length, n = 1 + next_random(random) % 40, to;
    const char *piece = pieces[next_random(random) % (sizeof pieces / sizeof *pieces)];

    if (n > length - at) n = length - at;
    switch (next_random(random) % 5) {
    case 0: /* a byte that is any */ bytes[at] = (char)(next_random(random) & 0xFF); return length;
    case 1: /* cut short */ return at;
    case 2: /* a piece taken out */
        memmove(bytes + at, bytes + at + n, length - at - n);
        return length - n;
    case 3: /* a piece of the file once more, elsewhere */
        to = next_random(random) % length;
        memmove(bytes + to + n, bytes + to, length - to);
        memmove(bytes + to, bytes + (at >= to ? at + n : at), n);
        return length + n;
    default: /* something that matters to XML, or to a value */
        n = strlen(piece);
        memmove(bytes + at + n, bytes + at, length - at);
        memcpy(bytes + at, piece, n);
        return length + n;
    }
}

/* Up to three of those at once. Both sides must occur, or the test tests nothing. */
static void survives_mutations(void **state)
{
    uint32_t random = SEED;
    size_t n_accepted = 0;
    char *bytes = malloc(sizeof whole + 200);

    (void)state;
    assert_non_null(bytes);
    print_message("seed %u\n", SEED);
    for (size_t i = 0; i < MUTATIONS; i++) {
        struct error e = {0};
        size_t length = sizeof whole - 1, n = 1 + next_random(&random) % 3;

        memcpy(bytes, whole, length);
        for (size_t k = 0; k < n && length > 0; k++)
            length = mutate(bytes, length, &random);
        write_file(bytes, length);
        n_accepted += read_file(&e);
    }
    free(bytes);
    assert_true(n_accepted > MUTATIONS / 100);
    assert_true(n_accepted < MUTATIONS / 2);
}

/* Every beginning of the file is refused, whatever it is cut off from. */
static void refuses_every_beginning(void **state)
{
    (void)state;
    for (size_t length = 0; length + 20 < sizeof whole; length += 7) {
        struct error e = {0};

        write_file(whole, length);
        assert_false(read_file(&e));
    }
}

/* The file before it is broken is accepted: otherwise nothing above means anything. */
static void accepts_the_file_itself(void **state)
{
    struct error e = {0};

    (void)state;
    write_file(whole, sizeof whole - 1);
    assert_done(read_file(&e), &e);
}

#define REFUSE(text, words) refuse(text, sizeof(text) - 1, words)

/* Whatever a DOCTYPE brings is refused before it is read: nothing is expanded, opened or fetched.
 */
static void refuses_every_doctype(void **state)
{
    (void)state;
    REFUSE("<!DOCTYPE limits>\n<limits/>", ":1: holds a DOCTYPE, which is refused");
    REFUSE("<?xml version=\"1.0\"?>\n\n<!DOCTYPE limits [\n<!ENTITY a \"aaaaaaaaaa\">"
           "<!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;\"><!ENTITY c \"&b;&b;&b;&b;&b;&b;&b;&b;\">"
           "<!ENTITY d \"&c;&c;&c;&c;&c;&c;&c;&c;&c;\"><!ENTITY e \"&d;&d;&d;&d;&d;&d;&d;&d;\">\n"
           "]><limits product=\"&e;\">&e;</limits>",
           ": holds a DOCTYPE, which is refused");
    REFUSE("<!DOCTYPE limits [<!ENTITY x SYSTEM \"file:///etc/passwd\">]><limits>&x;</limits>",
           ":1: holds a DOCTYPE");
    REFUSE("<!DOCTYPE limits SYSTEM \"http://192.0.2.1/limits.dtd\"><limits/>",
           ":1: holds a DOCTYPE");
    REFUSE("<!DOCTYPE limits PUBLIC \"-//x//y\" \"ftp://192.0.2.1/limits.dtd\"><limits/>",
           ":1: holds a DOCTYPE");
    REFUSE("<!DOCTYPE limits [<!ENTITY % p SYSTEM \"http://192.0.2.1/p\"> %p;]><limits/>",
           ":1: holds a DOCTYPE");
}

/* Other ways to point outside: none is followed. 192.0.2.1 is an address that no one has (RFC 5737,
 * from memory), so that following one would also take long. */
static void follows_no_reference(void **state)
{
    static const char with_location[] =
        "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"T\" impedance=\"50 ohm\" "
        "xmlns:xsi=\"http://www.w3.org/2001/XMLSchema-instance\" "
        "xsi:schemaLocation=\"urn:gainsieve:limits:1 http://192.0.2.1/limits.xsd\">"
        "<bias-steps><bias id=\"a\" at=\"1 V\"/></bias-steps>"
        "<bias-current id=\"b\" max=\"1 mA\"/></limits>";
    struct error e = {0};

    (void)state;
    REFUSE("<limits xmlns=\"urn:gainsieve:limits:1\" product=\"T\" impedance=\"50 ohm\">\n"
           "<xi:include xmlns:xi=\"http://www.w3.org/2001/XInclude\" href=\"http://192.0.2.1/\"/>"
           "</limits>",
           ":2: {http://www.w3.org/2001/XInclude}include: is unknown or out of place here");
    REFUSE("<limits xmlns=\"urn:gainsieve:limits:1\" product=\"&e;\"/>", ":1: is not well-formed");
    /* A hint where a schema lies is legal XML; the built-in one is used. */
    write_file(with_location, sizeof with_location - 1);
    assert_done(read_file(&e), &e);
}

/* Fills `bytes` with copies of a piece; returns the length. */
static size_t fill(char *bytes, size_t room, const char *piece)
{
    size_t length = 0, n = strlen(piece);

    for (; length + n <= room; length += n)
        memcpy(bytes + length, piece, n);
    return length;
}

/* A megabyte of one thing only: depth, attributes, namespaces, elements,
 * points, text, references, a comment without an end. A parser's time may not grow with the square
 * of any of them. */
static void refuses_much_of_anything_at_once(void **state)
{
    static const struct {
        const char *head, *piece, *words;
    } list[] = {
        {"", "<a>", "is nested deeper than such a file may be"},
        {"<limits xmlns=\"urn:gainsieve:limits:1\">", "<gain>", "is nested deeper"},
        {"<limits xmlns=\"urn:gainsieve:limits:1\" ", " a=\"\"", "the tag that begins here is too"},
        {"<limits ", " xmlns:abc=\"u\"", "declares too many namespaces"},
        {"<limits xmlns=\"urn:gainsieve:limits:1\">", "<a xmlns:b=\"u\"/>", "too many namespaces"},
        {"<limits xmlns=\"urn:gainsieve:limits:1\">", "<gain id=\"a\"/>", ": is not well-formed"},
        {"<limits xmlns=\"urn:gainsieve:limits:1\">", "&amp;", ": is not well-formed"},
        {"<limits xmlns=\"urn:gainsieve:limits:1\">", "&a", ": is not well-formed"},
        {"<", "a", "the tag that begins here is too long"},
        {"<a b=\"", "c", "the tag that begins here is too long"},
        {"<!-- ", "-", ": is not well-formed"},
        {"<?a ", "?", ": is not well-formed"},
        {"", "<", "the tag that begins here is too long"},
        {"", ">", "is not well-formed"},
        {"", "\n", "is not well-formed"},
        {"<a>", "</a>", "is not well-formed"},
    };
    char *bytes = malloc(MUCH);

    (void)state;
    assert_non_null(bytes);
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        size_t length = strlen(list[i].head);

        memcpy(bytes, list[i].head, length);
        length += fill(bytes + length, MUCH - length, list[i].piece);
        refuse(bytes, length, list[i].words);
    }
    free(bytes);
}

/* Well-formed to the end and too much for the schema: more limits, points and steps than allowed.
 */
static void refuses_more_than_the_schema_allows(void **state)
{
    static const struct {
        const char *head, *piece, *tail, *words;
    } list[] = {
        {"", "<gain id=\"a\" band=\"b\" min=\"1 dB\"/>", "", "gain: "},
        {"<gain id=\"a\"><lower>", "<point at=\"1 Hz\" value=\"1 dB\"/>", "</lower></gain>",
         "point: is unknown or out of place here"},
        {"<bias-steps>", "<bias id=\"a\" at=\"1 V\"/>", "</bias-steps>", "bias"},
        {"<note>", "words ", "</note>", "note: "},
    };
    static const char head[] =
        "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"T\" impedance=\"50 ohm\">";
    static const char steps[] = "<bias-steps><bias id=\"low\" at=\"1 V\"/></bias-steps>";
    char *bytes = malloc(MUCH);

    (void)state;
    assert_non_null(bytes);
    for (size_t i = 0; i < sizeof list / sizeof *list; i++) {
        size_t length =
            (size_t)snprintf(bytes, MUCH, "%s%s%s", head, i < 2 ? steps : "", list[i].head);

        length += fill(bytes + length, MUCH - length - 100, list[i].piece);
        length += (size_t)snprintf(bytes + length, MUCH - length, "%s</limits>", list[i].tail);
        refuse(bytes, length, list[i].words);
    }
    free(bytes);
}

/* A gigabyte is refused by its size, without being read. */
static void refuses_a_huge_file_unread(void **state)
{
    struct error e = {0};

    (void)state;
    write_file("<", 1);
    assert_int_equal(truncate(path, (off_t)1 << 30), 0);
    assert_false(read_file(&e));
    assert_holds(e.text, ": longer than ");
    assert_int_equal(truncate(path, 0), 0);
}

/* Bytes that no editor of limits files writes. */
static void refuses_what_is_not_utf8(void **state)
{
    (void)state;
    REFUSE("\xFF\xFE<\0l\0i\0m\0i\0t\0s\0/\0>\0", ":1: holds a NUL byte");
    REFUSE("<limits>\n\0</limits>", ":2: holds a NUL byte");
    REFUSE("\x4C\x6F\xA7\x94\x93", ":1: is not well-formed XML");
    REFUSE("<limits product=\"\xE4\"/>", ":1: is not well-formed XML");
    REFUSE("<?xml version=\"1.0\" encoding=\"UTF-7\"?>\n+ADw-limits/+AD4-", ": is not well-formed");
}

static clock_t started;

/* All of this in the time of a blink: the sanitizers and valgrind are allowed more. */
static void took_less_than_three_seconds(void **state)
{
    double seconds = (double)(clock() - started) / CLOCKS_PER_SEC;

    (void)state;
#if defined(__SANITIZE_ADDRESS__)
    seconds /= 10;
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
    seconds /= 10;
#endif
#endif
    if (getenv("GAINSIEVE_TEST_SHORT")) seconds /= 60;
    if (seconds >= 3) print_error("%.3f s\n", seconds);
    assert_true(seconds < 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(accepts_the_file_itself),
        cmocka_unit_test(survives_mutations),
        cmocka_unit_test(refuses_every_beginning),
        cmocka_unit_test(refuses_every_doctype),
        cmocka_unit_test(follows_no_reference),
        cmocka_unit_test(refuses_much_of_anything_at_once),
        cmocka_unit_test(refuses_more_than_the_schema_allows),
        cmocka_unit_test(refuses_a_huge_file_unread),
        cmocka_unit_test(refuses_what_is_not_utf8),
        cmocka_unit_test(took_less_than_three_seconds),
    };

    started = clock();
    return cmocka_run_group_tests(tests, make_path, remove_path);
}
