/* Answers on their way: when they are due, and what faults make of their bytes. */
#include "drivers/emulator_output.h"

#include "drivers/base/memory.h"
#include "tests/emulator_check.h"

static const struct emulator_settings settings = {.seed = 1};

/* Reason: each fault of the answer's bytes does what its words say. `*ESE?` is answered "0" after
 * power-on. */
static void answers_with_faults(void **state)
{
    static const struct {
        const char *words;
        size_t length;
        const char *want;
        bool gone;
    } rows[] = {
        {"", 2, "0\n", false},
        {"silent", 0, "", false},
        {"twice", 4, "0\n0\n", false},
        {"noise-before", 7, "\x80\xfe~?x0\n", false},
        {"noise-after", 7, "0\n\x80\xfe~?x", false},
        {"crlf", 3, "0\r\n", false},
        {"cr", 2, "0\r", false},
        {"lf-cr", 3, "0\n\r", false},
        {"double-lf", 3, "0\n\n", false},
        {"no-end", 1, "0", false},
        {"echo", 8, "*ESE?\n0\n", false},
        {"echo-wrong", 8, "*ESD?\n0\n", false},
        {"prompt", 4, "0\n> ", false},
        {"nul", 3, "0\0\n", false},
        {"eighth-bit", 2, "\xb0\x8a", false},
        {"cut", 1, "0", false},
        {"cut-gone", 1, "0", true},
        {"gone-before", 0, "", true},
        {"gone-after", 2, "0\n", true},
        {"unit-suffix", 4, "0 V\n", false},
        {"block-for-text", 5, "#110\n", false},
    };
    struct text got = {0};

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct emulator bench;
        bool gone;

        emulator_start(&bench, &settings);
        arm(&bench, rows[i].words);
        gone = converse(&bench.supply, "*ESE?\n", 6, 0, &got);
        if (got.length != rows[i].length || gone != rows[i].gone)
            print_error("fault %s: \"%s\"\n", rows[i].words, text_words(&got));
        assert_int_equal(got.length, rows[i].length);
        assert_memory_equal(text_words(&got), rows[i].want, rows[i].length);
        assert_int_equal(gone, rows[i].gone);
        emulator_clear(&bench);
    }
    text_clear(&got);
}

/* Reason: late and one by one on the caller's clock, so that deadlines can be tested to the
 * millisecond; a later answer never overtakes an earlier one. */
static void time_of_answers(void **state)
{
    struct emulator bench;
    struct text got = {0};
    bool gone;

    (void)state;
    emulator_start(&bench, &settings);
    arm(&bench, "late=2@1 bytes=0.5@3");
    (void)converse(&bench.supply, "*ESE?\n*TST?\n", 12, 10, &got);
    assert_int_equal(got.length, 0);
    assert_close(emulator_take(&bench.supply, 11.9, &got, &gone), 12, 1e-9);
    assert_int_equal(got.length, 0);
    assert_true(isinf(emulator_take(&bench.supply, 12, &got, &gone)));
    assert_string_equal(text_words(&got), "0\n0\n");
    (void)converse(&bench.supply, "OUTP?;OUTP?\n", 12, 20, &got);
    assert_string_equal(text_words(&got), "0");
    assert_close(emulator_take(&bench.supply, 20.6, &got, &gone), 21, 1e-9);
    assert_string_equal(text_words(&got), "0;");
    (void)emulator_take(&bench.supply, 30, &got, &gone);
    assert_string_equal(text_words(&got), "0;0\n");
    emulator_clear(&bench);
    text_clear(&got);
}

/* Reason: what waits when a controller opens, and that nothing of the last connection is left. */
static void opening(void **state)
{
    static const char *const rows[][2] = {
        {"", ""},
        {"banner", "\r\nemulated instrument starting\r\nready\r\n"},
        {"stale", "+4.2E-03\n"},
        {"telnet", "\xff\xfd\x03\xff\xfb\x01"},
    };
    struct emulator bench;
    struct text got = {0};
    struct error e = {0};
    bool gone;

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        emulator_start(&bench, &settings);
        arm(&bench, rows[i][0]);
        assert_done(emulator_feed(&bench.supply, "*ESE?\n*ES", 9, 0, &e), &e);
        assert_done(emulator_opened(&bench.supply, 1, &e), &e);
        text_reset(&got);
        (void)emulator_take(&bench.supply, 1, &got, &gone);
        assert_string_equal(text_words(&got), rows[i][1]);
        assert_answer_at(&bench.supply, 1, "*TST?\n", "0\n");
        emulator_clear(&bench);
    }
    emulator_start(&bench, &settings);
    arm(&bench, "refuses");
    assert_done(emulator_opened(&bench.supply, 1, &e), &e);
    (void)emulator_take(&bench.supply, 1, &got, &gone);
    assert_true(gone);
    emulator_clear(&bench);
    text_clear(&got);
}

/* Reason: answers that nobody reads must not fill the memory. */
static void ceiling(void **state)
{
    struct emulator bench;
    struct error e = {0};
    size_t n = 0;

    (void)state;
    emulator_start(&bench, &settings);
    while (n <= CEILING_EMULATOR_ANSWERS && emulator_feed(&bench.supply, "*TST?\n", 6, 0, &e))
        n++;
    assert_int_equal(n, CEILING_EMULATOR_ANSWERS);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "nobody reads");
    emulator_clear(&bench);
}

/* Reason: no memory is an ordinary error at every allocation of an exchange. */
static void no_memory(void **state)
{
    unsigned long nth = 1;

    (void)state;
    for (bool ok = false; !ok; nth++) {
        struct emulator bench;
        struct error e = {0};

        emulator_start(&bench, &settings);
        arm(&bench, "echo block-for-text");
        memory_fail_at(nth);
        ok = emulator_feed(&bench.supply, "*TST?\n", 6, 0, &e);
        memory_fail_at(0);
        if (!ok) assert_int_equal(e.kind, ERROR_MEMORY);
        emulator_clear(&bench);
        assert_true(nth < 100);
    }
    assert_true(nth > 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(answers_with_faults),
                                       cmocka_unit_test(time_of_answers), cmocka_unit_test(opening),
                                       cmocka_unit_test(ceiling), cmocka_unit_test(no_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
