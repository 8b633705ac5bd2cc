/* Bench files as text for tests: one that is right, and those with one place changed. */
#ifndef GAINSIEVE_TESTS_BENCH_FILE_H
#define GAINSIEVE_TESTS_BENCH_FILE_H

#include "drivers/bench_file.h"
#include "tests/profile_file.h"

/* Every element and attribute but <reference-unit>, each element on a line of its own. */
#define BENCH_FILE                                                                               \
    "<bench xmlns=\"urn:gainsieve:bench:1\" label=\"Bench 7\">\n"                                \
    "<note>By the window</note>\n"                                                               \
    "<analyser profile=\"a.xml\" port=\"tcp:192.0.2.7:5025\" channel=\"2\"/>\n"                  \
    "<supply profile=\"s.xml\" port=\"serial:/dev/ttyUSB0?baud=9600\" channel=\"(@1)\"/>\n"      \
    "<fixture port=\"tcp:192.0.2.7:5027\"/>\n"                                                   \
    "<sweep from=\"150 MHz\" to=\"0.19 GHz\" points=\"401\" if-bandwidth=\"10 kHz\" "            \
    "averages=\"4\" power=\"-20 dBm\" setup=\"3\"/>\n"                                           \
    "<levels pad=\"20 dB\" pad-rating=\"33 dBm\" saturated-output=\"27 dBm\" "                   \
    "highest-gain=\"31 dB\" receiver-damage=\"19 dBm\" receiver-linear=\"-1 dBm\" "              \
    "reserve=\"7 dB\"/>\n"                                                                       \
    "<bias current-limit=\"120 mA\" voltage-trip=\"3.6 V\" most=\"3.2 V\" ramp-step=\"300 mV\" " \
    "ramp-interval=\"5 ms\" settling=\"12 ms\" tolerance=\"20 mV\" off-below=\"0.4 V\" "         \
    "longest=\"60 s\"/>\n"                                                                       \
    "<correction required=\"yes\" done=\"2026-11-20\" valid-days=\"30\"/>\n"                     \
    "<attempts most=\"4\"/>\n"                                                                   \
    "<streak stop-after=\"5\"/>\n"                                                               \
    "</bench>\n"

/* Nothing but what is needed. */
#define BENCH_SHORT                                                                  \
    "<bench xmlns=\"urn:gainsieve:bench:1\" label=\"B\">\n"                          \
    "<analyser profile=\"a.xml\" port=\"emulated:analyser?seed=7\"/>\n"              \
    "<supply profile=\"s.xml\" port=\"emulated:supply\"/>\n"                         \
    "<sweep from=\"150 MHz\" to=\"190 MHz\" points=\"401\" if-bandwidth=\"10 kHz\" " \
    "power=\"-30 dBm\"/>\n"                                                          \
    "<levels pad=\"0 dB\" saturated-output=\"3 dBm\"/>\n"                            \
    "<bias current-limit=\"20 mA\" most=\"3 V\"/>\n"                                 \
    "</bench>\n"

#define BENCH_REFERENCE                                                                      \
    "<reference-unit serial=\"KW000100\" sweeps=\"ref/KW000100\" gain-tolerance=\"0.3 dB\" " \
    "reflection-tolerance=\"0.02\" every-units=\"50\" every-hours=\"4.5\"/>\n"

/* Reads the text as a bench file, which must succeed. */
static inline void bench_take(struct bench_file *out, const char *xml)
{
    struct error e = {0};
    char *path = fixture_file(xml);
    bool ok = bench_file_read(out, path, &e);

    (void)unlink(path);
    free(path);
    assert_done(ok, &e);
}

/* The same of a file with one place changed. */
static inline void bench_take_with(struct bench_file *out, const char *file, const char *from,
                                   const char *to)
{
    char *xml = profile_with(file, from, to);

    bench_take(out, xml);
    free(xml);
}

/* Fails unless reading `file` with `from` replaced by `to` is refused with "PATH:LINE: ..." that
 * holds `words`, in one line, with the struct untouched; LINE is the one on which `to` ends. */
static inline void bench_refuse(const char *file, const char *from, const char *to,
                                const char *words)
{
    struct bench_file out = {.streak = 77};
    struct error e = {0};
    char *xml = profile_with(file, from, to), *path = fixture_file(xml);
    const char *end = xml + (strstr(file, from) - file) + strlen(to);
    char where[512];
    unsigned long line = 1;
    bool ok = bench_file_read(&out, path, &e);

    for (const char *p = xml; p < end; p++)
        line += *p == '\n';
    (void)snprintf(where, sizeof where, "%s:%lu: ", path, line);
    (void)unlink(path);
    free(path);
    free(xml);
    if (ok) print_error("accepted: \"%s\"\n", to);
    assert_false(ok);
    assert_int_equal(e.kind, ERROR_INPUT);
    if (strncmp(e.text, where, strlen(where)) != 0 || !strstr(e.text, words))
        print_error("\"%s\" is not \"%s... %s ...\"\n", e.text, where, words);
    assert_true(strncmp(e.text, where, strlen(where)) == 0);
    assert_holds(e.text, words);
    assert_null(strpbrk(e.text, "\n\r"));
    assert_int_equal(out.streak, 77);
}

#endif
