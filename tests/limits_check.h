/* For tests of the limits reader: a file from parts, read or refused. */
#ifndef GAINSIEVE_TESTS_LIMITS_CHECK_H
#define GAINSIEVE_TESTS_LIMITS_CHECK_H

#include "tests/fixture.h"

#define LIMITS_HEAD "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"P\" impedance=\"50 ohm\">\n"
#define LIMITS_STEPS                                                                      \
    "<bias-steps tolerance=\"10 mV\">\n<bias id=\"low\" at=\"1.80 V\"/><bias id=\"mid\" " \
    "at=\"2.40 V\"/><bias id=\"high\" at=\"3.00 V\"/></bias-steps>\n"
#define LIMITS_BANDS                                                                           \
    "<bands>\n<band id=\"working\" from=\"160 MHz\" to=\"178 MHz\" max-step=\"1 MHz\"/><band " \
    "id=\"centre\" at=\"169 MHz\"/></bands>\n"
/* Lines 1 to 5 are the head, steps and bands: a limit that follows stands on line 6. */
#define LIMITS_FRONT LIMITS_HEAD LIMITS_STEPS LIMITS_BANDS
#define LIMITS_END "\n</limits>\n"

static inline void limits_take(struct limits *out, const char *content)
{
    char *path = fixture_file(content);
    struct error e = {0};

    assert_done(limits_read(out, path, &e), &e);
    (void)unlink(path);
    free(path);
}

/* Refused with one line that begins with the file's name, a colon and `line`, and holds `words`. */
static inline void limits_refuse(const char *content, unsigned long line, const char *words)
{
    char *path = fixture_file(content), where[96];
    struct limits limits = {0};
    struct error e = {0};

    assert_false(limits_read(&limits, path, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    (void)snprintf(where, sizeof where, "%s:%lu: ", path, line);
    if (strncmp(e.text, where, strlen(where)) != 0) print_error("want %s in: %s\n", where, e.text);
    assert_memory_equal(e.text, where, strlen(where));
    assert_holds(e.text, words);
    assert_null(strchr(e.text, '\n'));
    assert_null(limits.limits);
    (void)unlink(path);
    free(path);
}

#endif
