#include "drivers/base/memory.h"
#include "runner/screen_parts.h"
#include "tests/screen_view.h"

/* What one more show of the view says, which must be `want`. */
static void assert_says(struct text *said, const struct screen_view *view, const char *want)
{
    struct text out = {0};

    screen_lines(view, said, &out);
    assert_false(out.failed || said->failed);
    assert_string_equal(text_words(&out), want);
    text_clear(&out);
}

/* A board's way: each change is said once, in the order in which it matters, and again when it has
 * changed back. */
static void test_changes(void **state)
{
    struct screen_view view = {.phase = SCREEN_ENTRY, .instruction = "scan a board"};
    struct text said = {0};

    (void)state;
    assert_says(&said, &view, "next: scan a board\n");
    assert_says(&said, &view, "");
    view = (struct screen_view){.phase = SCREEN_MEASURING,
                                .serial = "KW000101",
                                .attempt = 1,
                                .doing = "bias low: ramp",
                                .n_steps = 2,
                                .left_s = 3.2};
    assert_says(&said, &view,
                "KW000101 attempt 1: POWERED: do not touch the board\n"
                "  0 of 2 bias steps, about 4 s left: bias low: ramp\n");
    /* Not a new step. */
    view.doing = "bias low: sweep";
    view.left_s = NAN;
    assert_says(&said, &view, "");
    view.n_done = 1;
    assert_says(&said, &view, "  1 of 2 bias steps: bias low: sweep\n");
    view.phase = SCREEN_ENTRY;
    view.instruction = "scan a board";
    view.has_verdict = true;
    view.verdict_serial = "KW000101";
    view.verdict = VERDICT_PASS;
    view.n_units = view.n_pass = 1;
    assert_says(&said, &view,
                "KW000101 attempt 1: PASS\n"
                "  yield: 100.0 % of 1 boards: 1 PASS, 0 FAIL, 0 INCOMPLETE\n"
                "next: scan a board\n");
    assert_says(&said, &view, "");
    view.message = "unknown command";
    assert_says(&said, &view, "note: unknown command\n");
    view.message = NULL;
    assert_says(&said, &view, "");
    view.message = "unknown command";
    assert_says(&said, &view, "note: unknown command\n");
    text_clear(&said);
}

/* A failure comes with its reason and advice; the attempt of another board than the one in hand is
 * not known unless it is told. */
static void test_failure(void **state)
{
    struct screen_view view = view_of_failure();
    struct text said = {0};

    (void)state;
    view.n_units = 0;
    view.instruction = NULL;
    view.verdict_attempt = 0;
    view.serial = "KW000102";
    view.attempt = 3;
    assert_says(
        &said, &view,
        "KW000101: FAIL\n"
        "  reason: gain-high: gain 21.3 dB at 164 MHz and 3.00 V, below the least of 22 dB\n"
        "  advice: Look at the bias feed of the second stage.\n");
    view.phase = SCREEN_HALT;
    view.instruction = "supply\x1B[2J";
    assert_says(&said, &view, "HALT: supply?[2J\n");
    text_clear(&said);
}

/* Without memory it is said that something is lacking. */
static void test_no_memory(void **state)
{
    struct screen_view view = view_of_measuring();
    struct text said = {0}, out = {0}, whole = {0};
    bool failed = true;

    (void)state;
    screen_lines(&view, &said, &whole);
    for (unsigned long n = 1; failed; n++) {
        text_clear(&said);
        text_clear(&out);
        memory_fail_at(n);
        screen_lines(&view, &said, &out);
        failed = out.failed || said.failed;
        assert_true(failed || strcmp(text_words(&out), text_words(&whole)) == 0);
        assert_true(n < 1000);
    }
    memory_fail_at(0);
    text_clear(&said);
    text_clear(&out);
    text_clear(&whole);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_changes),
                                       cmocka_unit_test(test_failure),
                                       cmocka_unit_test(test_no_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
