/* Profiles as text for the tests of their reader: small ones that are right, and those with one
 * place changed. */
#ifndef GAINSIEVE_TESTS_PROFILE_FILE_H
#define GAINSIEVE_TESTS_PROFILE_FILE_H

#include "drivers/profile.h"
#include "tests/fixture.h"

/* Each element on a line of its own, so that a line is found again by counting. */
#define PROFILE_ANALYSER_FILE                                                                  \
    "<profile xmlns=\"urn:gainsieve:profile:1\" kind=\"analyser\" label=\"A\">\n"              \
    "<link terminator=\"LF\" timeout=\"3 s\">\n"                                               \
    "<serial baud=\"115200\" data-bits=\"8\" flow=\"none\"/></link>\n"                         \
    "<rating min-frequency=\"100 kHz\" damage-power=\"20 dBm\" linear-power=\"0 dBm\"/>\n"     \
    "<parameter name=\"S21\" text=\"B,A\"/>\n"                                                 \
    "<step name=\"identify\">\n"                                                               \
    "<ask text=\"*IDN?\"><text match=\"^[^,]+,\"/></ask></step>\n"                             \
    "<step name=\"set-sweep\">\n"                                                              \
    "<send text=\"FREQ {start_hz/1e6:.6f},{stop_hz/1e6:.6f}\"/>\n"                             \
    "<send text=\"POIN {points:d}\"/>\n"                                                       \
    "<ask text=\"POIN?\"><number equals=\"{points}\" within=\"0.5\"/></ask></step>\n"          \
    "<step name=\"set-power\">\n"                                                              \
    "<send text=\"POW {power_dbm:.2f}\"/></step>\n"                                            \
    "<step name=\"rf-on\"><send text=\"OUTP 1\"/></step>\n"                                    \
    "<step name=\"rf-off\"><send text=\"OUTP 0\"/></step>\n"                                   \
    "<step name=\"sweep\">\n"                                                                  \
    "<send text=\"INIT\"/>\n"                                                                  \
    "<ask text=\"*OPC?\" timeout=\"{sweep_timeout_ms}\"><number equals=\"1\"/></ask></step>\n" \
    "<step name=\"read-trace\">\n"                                                             \
    "<ask text=\"DATA? {parameter}\">\n"                                                       \
    "<trace layout=\"split\" encoding=\"real64\" byte-order=\"little\" "                       \
    "skip=\"2\"/></ask></step>\n"                                                              \
    "<step name=\"check-errors\">\n"                                                           \
    "<ask text=\"SYST:ERR?\"><error/></ask></step>\n"                                          \
    "<step name=\"safe\">\n"                                                                   \
    "<send text=\"OUTP 0\"/>\n"                                                                \
    "<pause time=\"50 ms\"/></step>\n"                                                         \
    "</profile>\n"

#define PROFILE_SUPPLY_FILE                                                                    \
    "<profile xmlns=\"urn:gainsieve:profile:1\" kind=\"supply\" label=\"B\">\n"                \
    "<link terminator=\"CRLF\" answer-terminator=\"CR\" timeout=\"500 ms\" gap=\"20 ms\" "     \
    "settle=\"2 s\" echo=\"yes\"/>\n"                                                          \
    "<rating max-voltage=\"30 V\" max-current=\"3 A\"/>\n"                                     \
    "<step name=\"identify\"><ask text=\"*IDN?\"><text/></ask></step>\n"                       \
    "<step name=\"set-limit\"><send text=\"CURR {current_a:.4f}\"/></step>\n"                  \
    "<step name=\"set-voltage\"><send text=\"VOLT {voltage_v:.3f}\"/></step>\n"                \
    "<step name=\"output-on\"><send text=\"INST:NSEL {channel}\"/>\n"                          \
    "<send text=\"OUTP 1\"/>\n"                                                                \
    "<poll text=\"STAT:QUES:COND?\" mask=\"3\" equals=\"1\" every=\"50 ms\" timeout=\"2 s\"/>" \
    "</step>\n"                                                                                \
    "<step name=\"output-off\"><send text=\"OUTP 0\"/></step>\n"                               \
    "<step name=\"read-voltage\"><ask text=\"VOLT?\"><number/></ask></step>\n"                 \
    "<step name=\"read-current\"><ask text=\"CURR?\" timeout=\"1.5 s\">\n"                     \
    "<number scale=\"0.001\"/></ask></step>\n"                                                 \
    "<step name=\"check-errors\"><ask text=\"*ESR?\"><number equals=\"0\"/></ask></step>\n"    \
    "<step name=\"safe\"><send text=\"OUTP 0\"/></step>\n"                                     \
    "</profile>\n"

/* `file` with the first `from` replaced by `to`; freed by the caller. */
static inline char *profile_with(const char *file, const char *from, const char *to)
{
    const char *at = strstr(file, from);
    size_t room = strlen(file) + strlen(to) + 1;
    char *made = malloc(room);

    assert_non_null(made);
    if (!at) print_error("\"%s\" is not in the file\n", from);
    assert_non_null(at);
    (void)snprintf(made, room, "%.*s%s%s", (int)(at - file), file, to, at + strlen(from));
    return made;
}

/* Reads the text as a profile, which must succeed. */
static inline void profile_take(struct profile *out, const char *xml)
{
    struct error e = {0};
    char *path = fixture_file(xml);
    bool ok = profile_read(out, path, &e);

    (void)unlink(path);
    free(path);
    assert_done(ok, &e);
}

/* The same of a file with one place changed. */
static inline void profile_take_with(struct profile *out, const char *file, const char *from,
                                     const char *to)
{
    char *xml = profile_with(file, from, to);

    profile_take(out, xml);
    free(xml);
}

/* Fails unless reading `file` with `from` replaced by `to` is refused with "PATH:LINE: ..." that
 * holds `words`, in one line, and with the struct untouched. LINE is that on which `mark` stands in
 * the changed file; with NULL the line on which `to` ends. */
static inline void profile_refuse(const char *file, const char *from, const char *to,
                                  const char *mark, const char *words)
{
    struct profile out = {.n_parameters = 77};
    struct error e = {0};
    char *xml = profile_with(file, from, to), *path = fixture_file(xml);
    const char *end = mark ? strstr(xml, mark) : xml + (strstr(file, from) - file) + strlen(to);
    char where[512];
    unsigned long line = 1;
    bool ok = profile_read(&out, path, &e);

    assert_non_null(end);
    for (const char *p = xml; p < end; p++)
        line += *p == '\n';
    (void)snprintf(where, sizeof where, "%s:%lu: ", path, line);
    (void)unlink(path);
    free(path);
    free(xml);
    if (ok) print_error("accepted, though \"%s\" was expected\n", words);
    assert_false(ok);
    assert_int_equal(e.kind, ERROR_INPUT);
    if (strncmp(e.text, where, strlen(where)) != 0 || !strstr(e.text, words))
        print_error("\"%s\" is not \"%s... %s ...\"\n", e.text, where, words);
    assert_true(strncmp(e.text, where, strlen(where)) == 0);
    assert_holds(e.text, words);
    assert_null(strpbrk(e.text, "\n\r"));
    assert_int_equal(out.n_parameters, 77);
}

#endif
