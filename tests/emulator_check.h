/* Helpers for tests of the emulated bench: bytes in, bytes out, compared byte by byte. */
#ifndef GAINSIEVE_TESTS_EMULATOR_CHECK_H
#define GAINSIEVE_TESTS_EMULATOR_CHECK_H

#include <stdlib.h>

#include "drivers/emulator.h"
#include "tests/check.h"

/* What the instrument has said by `now_s` after these bytes; kept in `out`. True when it hung up.
 */
static inline bool converse(struct emulator_instrument *instrument, const char *bytes, size_t n,
                            double now_s, struct text *out)
{
    struct error e = {0};
    bool gone;

    text_reset(out);
    assert_done(emulator_feed(instrument, bytes, n, now_s, &e), &e);
    (void)emulator_take(instrument, now_s, out, &gone);
    return gone;
}

static inline void check_answer(struct emulator_instrument *instrument, const char *message,
                                const char *want, double now_s, const char *file, int line)
{
    struct text got = {0};

    (void)converse(instrument, message, strlen(message), now_s, &got);
    if (got.length != strlen(want) || memcmp(text_words(&got), want, got.length) != 0) {
        print_error("%s answered \"%s\", not \"%s\"\n", message, text_words(&got), want);
        text_clear(&got);
        _fail(file, line);
    }
    text_clear(&got);
}
/* The message (with its LF) is answered by exactly these bytes, at 0 s. */
#define assert_answer(instrument, message, want) \
    check_answer((instrument), (message), (want), 0, __FILE__, __LINE__)
#define assert_answer_at(instrument, now_s, message, want) \
    check_answer((instrument), (message), (want), (now_s), __FILE__, __LINE__)

/* The message has no answer, and leaves this and no other error, its ESR bits with it. */
#define assert_error(instrument, message, error)                        \
    do {                                                                \
        assert_answer((instrument), "*CLS\n", "");                      \
        assert_answer((instrument), (message), "");                     \
        assert_answer((instrument), "SYST:ERR?\n", error "\n");         \
        assert_answer((instrument), "SYST:ERR?\n", "0,\"No error\"\n"); \
    } while (0)

static inline void arm(struct emulator *bench, const char *words)
{
    struct error e = {0};

    assert_done(emulator_arm(bench, words, &e), &e);
}

static inline void plug(struct emulator *bench, const char *serial)
{
    struct error e = {0};

    assert_done(emulator_connect(bench, serial, &e), &e);
}

/* `n` numbers of an answer of a list; a test's own reading, by commas. */
static inline void read_list(const struct text *answer, double *out, size_t n)
{
    const char *at = text_words(answer);

    for (size_t i = 0; i < n; i++) {
        char *end;

        out[i] = strtod(at, &end);
        assert_true(end > at);
        assert_int_equal(*end, i + 1 < n ? ',' : '\n');
        at = end + 1;
    }
    assert_int_equal(at - text_words(answer), answer->length);
}

#endif
