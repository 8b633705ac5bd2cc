/* Limits files as text, with known line numbers, for the tests of their reader. */
#ifndef GAINSIEVE_TESTS_LIMITS_CHECK_H
#define GAINSIEVE_TESTS_LIMITS_CHECK_H

#include "tests/fixture.h"

/* Line 1, lines 2 to 6, lines 7 to 10: what follows begins on line 11. */
#define LIMITS_HEAD "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"P\" impedance=\"50 ohm\">\n"
#define LIMITS_STEPS                      \
    "<bias-steps tolerance=\"10 mV\">\n"  \
    "<bias id=\"low\" at=\"1.80 V\"/>\n"  \
    "<bias id=\"mid\" at=\"2.40 V\"/>\n"  \
    "<bias id=\"high\" at=\"3.00 V\"/>\n" \
    "</bias-steps>\n"
#define LIMITS_BANDS                                                              \
    "<bands>\n"                                                                   \
    "<band id=\"working\" from=\"160 MHz\" to=\"178 MHz\" max-step=\"1 MHz\"/>\n" \
    "<band id=\"centre\" at=\"169 MHz\"/>\n"                                      \
    "</bands>\n"
#define LIMITS_GAIN "<gain id=\"g\" band=\"working\" min=\"22 dB\"/>\n"
#define LIMITS_END "</limits>\n"
#define LIMITS_FRONT LIMITS_HEAD LIMITS_STEPS LIMITS_BANDS
#define LIMITS_FILE(rest) LIMITS_FRONT rest LIMITS_END

/* Reads the text as a limits file, which must succeed. */
static inline void limits_take(struct limits *out, const char *xml)
{
    struct error e = {0};
    char *path = fixture_file(xml);
    bool ok = limits_read(out, path, &e);

    (void)unlink(path);
    free(path);
    assert_done(ok, &e);
}

/* Fails unless reading the text is refused with "PATH:LINE: ..." that holds `words`, in one line,
 * and with the struct untouched. */
static inline void limits_refuse(const char *xml, unsigned long line, const char *words)
{
    struct limits out = {.n_limits = 77};
    struct error e = {0};
    char *path = fixture_file(xml);
    bool ok = limits_read(&out, path, &e);
    char *where = malloc(strlen(path) + 32);

    assert_non_null(where);
    (void)snprintf(where, strlen(path) + 32, "%s:%lu: ", path, line);
    (void)unlink(path);
    free(path);
    if (ok) print_error("accepted, though \"%s\" was expected\n", words);
    assert_false(ok);
    assert_int_equal(e.kind, ERROR_INPUT);
    if (strncmp(e.text, where, strlen(where)) != 0 || !strstr(e.text, words) ||
        strpbrk(e.text, "\n\r"))
        print_error("\"%s\" is not \"%s... %s ...\"\n", e.text, where, words);
    assert_true(strncmp(e.text, where, strlen(where)) == 0);
    assert_holds(e.text, words);
    assert_null(strpbrk(e.text, "\n\r"));
    assert_int_equal(out.n_limits, 77);
    free(where);
}

#endif
