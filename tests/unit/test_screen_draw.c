#include <stdlib.h>
#include <time.h>

#include "drivers/base/memory.h"
#include "tests/screen_view.h"

/* The page as it is seen, at a size. */
static void draw(struct text *seen, const struct screen_view *view, const char *line,
                 unsigned columns, unsigned rows)
{
    struct text page = {0};

    screen_draw(view, line, columns, rows, true, &page);
    check_page(&page, columns, rows, seen);
    text_clear(&page);
}

static void assert_lacks(const struct text *seen, const char *part)
{
    if (!strstr(text_words(seen), part)) return;
    print_error("\"%s\" holds \"%s\"\n", text_words(seen), part);
    fail();
}

/* Rows that hold a stroke of a large letter. */
static unsigned letter_rows(const struct text *seen)
{
    unsigned n = 0;

    for (unsigned row = 0; row < 60; row++)
        n += strstr(row_of_page(seen, row), "##") != NULL;
    return n;
}

/* What an operator needs is there at 80 x 24, each in its place: head, counts and yield, what to
 * do, the verdict, its reason and advice, what is typed, the commands. */
static void test_everything(void **state)
{
    struct screen_view view = view_of_failure();
    struct text seen = {0};

    (void)state;
    view.message = "KW000099 was not found.";
    draw(&seen, &view, "KW0001", 80, 24);
    assert_holds(row_of_page(&seen, 0), "Kittiwake KW-170 driver board");
    assert_holds(row_of_page(&seen, 0), "B-0147");
    assert_holds(row_of_page(&seen, 0), "M. Lind");
    assert_holds(row_of_page(&seen, 0), "west");
    assert_string_equal(row_of_page(&seen, 1),
                        "Yield 75.0 % of 12 boards   PASS 9   FAIL 2   INCOMPLETE 1");
    assert_holds(row_of_page(&seen, 2), "What to do now");
    assert_string_equal(row_of_page(&seen, 3),
                        "NEXT: Put the next board on, then scan its serial number.");
    assert_holds(text_words(&seen), "FAIL: last board KW000101, attempt 1");
    assert_holds(text_words(&seen), "Reason: gain-high: gain 21.3 dB");
    assert_holds(text_words(&seen), "Advice: Look at the bias feed of the second stage.");
    assert_holds(row_of_page(&seen, 21), "Note: KW000099 was not found.");
    assert_string_equal(row_of_page(&seen, 22), "> KW0001");
    assert_holds(row_of_page(&seen, 23), "/retest /skip /note WORDS /wrong /stop");
    assert_int_equal(letter_rows(&seen), 7);
    text_clear(&seen);
}

/* Each phase says in its own words what is wanted; where nothing is read there is no prompt. */
static void test_phases(void **state)
{
    static const struct {
        enum screen_phase phase;
        const char *words;
        bool prompt;
    } phases[] = {{SCREEN_WAIT, "WAIT: do it", false},
                  {SCREEN_ENTRY, "NEXT: do it", true},
                  {SCREEN_QUESTION, "ANSWER: do it", true},
                  {SCREEN_MEASURING, SCREEN_POWERED, false},
                  {SCREEN_HALT, "HALT: do it", true}};
    struct text seen = {0};

    (void)state;
    for (size_t i = 0; i < sizeof phases / sizeof *phases; i++) {
        struct screen_view view = view_of_measuring();

        view.phase = phases[i].phase;
        view.instruction = "do it";
        draw(&seen, &view, "x", 80, 24);
        assert_string_equal(row_of_page(&seen, 3), phases[i].words);
        assert_string_equal(row_of_page(&seen, 22), phases[i].prompt ? "> x" : "");
        assert_holds(text_words(&seen), "Board KW000102, attempt 2 of 3");
        assert_holds(row_of_page(&seen, 23), SCREEN_COMMANDS);
        assert_holds(row_of_page(&seen, 1), "Yield 75.0 %");
    }
    text_clear(&seen);
}

/* While a board is powered nothing large may be taken for its verdict: the letters say POWERED, and
 * the last board's reason is gone. */
static void test_measuring(void **state)
{
    struct screen_view view = view_of_measuring(), without = view;
    struct text seen = {0}, other = {0};

    (void)state;
    draw(&seen, &view, "", 80, 24);
    assert_string_equal(row_of_page(&seen, 3), "POWERED: do not touch the board");
    assert_holds(row_of_page(&seen, 4), "[======|=====|.....|.....|.....]");
    assert_holds(row_of_page(&seen, 4), "2 of 5 bias steps, about 12 s left");
    assert_holds(row_of_page(&seen, 5), "Board KW000102, attempt 2 of 3: bias mid, 2.40 V: sweep");
    assert_holds(text_words(&seen), "last board KW000101, attempt 1: FAIL");
    assert_lacks(&seen, "gain-high");
    assert_lacks(&seen, "bias feed");
    assert_int_equal(letter_rows(&seen), 7);
    without.has_verdict = false;
    draw(&other, &without, "", 80, 24);
    assert_lacks(&other, "FAIL:");
    for (unsigned row = 9; row < 16; row++) {
        char large[512];

        (void)snprintf(large, sizeof large, "%s", row_of_page(&seen, row));
        assert_string_equal(large, row_of_page(&other, row));
    }
    text_clear(&seen);
    text_clear(&other);
}

/* Progress stays inside its bar, and the time left is said in a unit for people, or not at all. */
static void test_progress(void **state)
{
    static const struct {
        size_t n_done, n_steps;
        double left_s;
        const char *words, *left;
    } cases[] = {{0, 4, 30, "[........|", "0 of 4 bias steps, about 30 s left"},
                 {4, 4, 0, "======]", "4 of 4 bias steps, about 0 s left"},
                 {9, 4, 600, "======]", "4 of 4 bias steps, about 10 min left"},
                 {0, 0, NAN, "[......", "0 of 0 bias steps, time left not known"},
                 {32, 64, -1, "=....", "32 of 64 bias steps, time left not known"},
                 {1, 2, INFINITY, "[===", "time left not known"},
                 {1, 2, 1e300, "[===", "more than 99 h left"},
                 {(size_t)-1, (size_t)-1, 1, "======]", "..."}};
    struct text seen = {0};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct screen_view view = view_of_measuring();

        view.n_done = cases[i].n_done;
        view.n_steps = cases[i].n_steps;
        view.left_s = cases[i].left_s;
        draw(&seen, &view, "", 80, 24);
        assert_holds(row_of_page(&seen, 4), cases[i].words);
        assert_holds(row_of_page(&seen, 4), cases[i].left);
    }
    text_clear(&seen);
}

/* Every verdict is seven rows high at 80 x 24 and has its colour; without colour the page is the
 * same but for it, and reverse video is all that is left. Fourteen rows where there is room. */
static void test_verdicts(void **state)
{
    static const struct {
        enum verdict verdict;
        const char *colour;
    } verdicts[] = {{VERDICT_PASS, "\033[7;32m##"},
                    {VERDICT_FAIL, "\033[7;31m##"},
                    {VERDICT_INCOMPLETE, "\033[7;33m#"}};
    struct text page = {0}, seen = {0}, plain = {0};

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        struct screen_view view = view_of_failure();

        view.verdict = verdicts[i].verdict;
        text_reset(&page);
        screen_draw(&view, "", 80, 24, true, &page);
        check_page(&page, 80, 24, &seen);
        assert_holds(text_words(&page), verdicts[i].colour);
        assert_holds(text_words(&seen), verdict_name(view.verdict));
        assert_int_equal(letter_rows(&seen), 7);
        text_reset(&page);
        screen_draw(&view, "", 80, 24, false, &page);
        check_page(&page, 80, 24, &plain);
        assert_string_equal(text_words(&seen), text_words(&plain));
        assert_null(strstr(text_words(&page), ";3"));
        assert_null(strstr(text_words(&page), "[3"));
        draw(&seen, &view, "", 170, 50);
        assert_int_equal(letter_rows(&seen), 14);
    }
    text_clear(&page);
    text_clear(&seen);
    text_clear(&plain);
}

/* Before the first board there is no verdict to be taken for one, and no yield. */
static void test_nothing_yet(void **state)
{
    const struct screen_view view = {.phase = SCREEN_ENTRY};
    struct text seen = {0};

    (void)state;
    draw(&seen, &view, NULL, 80, 24);
    assert_lacks(&seen, "##");
    assert_lacks(&seen, "INCOMPLETE:");
    assert_holds(row_of_page(&seen, 1), "Yield - % of 0 boards");
    text_clear(&seen);
}

/* A reason of any length is cut with dots and leaves the advice in view, which is cut too. */
static void test_long_words(void **state)
{
    struct screen_view view = view_of_failure();
    struct text seen = {0}, words = {0};

    (void)state;
    for (int i = 0; i < 500; i++)
        text_add(&words, "bias low ");
    view.reason = view.advice = view.instruction = view.message = text_words(&words);
    draw(&seen, &view, text_words(&words), 80, 24);
    assert_holds(row_of_page(&seen, 3), "NEXT: bias low");
    assert_holds(row_of_page(&seen, 6), "...");
    assert_holds(text_words(&seen), "Reason: bias low");
    assert_holds(text_words(&seen), "Advice: bias low");
    assert_holds(text_words(&seen), "Note: bias low");
    assert_int_equal(letter_rows(&seen), 7);
    /* One types at the end of a long line. */
    assert_holds(row_of_page(&seen, 22), "> ");
    assert_holds(row_of_page(&seen, 22) + 60, "bias low ");
    assert_holds(row_of_page(&seen, 23), SCREEN_COMMANDS);
    text_clear(&seen);
    text_clear(&words);
}

/* A small terminal has the word of the verdict, what to do and the commands. */
static void test_small(void **state)
{
    struct screen_view view = view_of_failure();
    struct text seen = {0};

    (void)state;
    view.verdict = VERDICT_INCOMPLETE;
    draw(&seen, &view, "KW", 40, 12);
    assert_holds(text_words(&seen), "INCOMPLETE: last board");
    assert_holds(text_words(&seen), "NEXT: Put the next board on");
    assert_holds(text_words(&seen), "75.0 % of 12: 9 PASS 2 FAIL 1 INC.");
    assert_holds(text_words(&seen), "> KW\n" SCREEN_COMMANDS "\n");
    assert_holds(text_words(&seen), "Reason: ");
    assert_holds(text_words(&seen), "Advice: ");
    assert_lacks(&seen, "##");
    view = view_of_measuring();
    draw(&seen, &view, "", 40, 12);
    assert_holds(text_words(&seen), SCREEN_POWERED "\n2 of 5 bias steps, about 12 s left\n");
    text_clear(&seen);
}

/* A character that is no printable ASCII is one question mark; a line end in a text is a blank. */
static void test_characters(void **state)
{
    struct screen_view view = view_of_failure();
    struct text seen = {0};

    (void)state;
    view.instruction = "50 \xCE\xA9\x1B[2J\nnow \xFF\xC2";
    draw(&seen, &view, "", 80, 24);
    assert_string_equal(row_of_page(&seen, 3), "NEXT: 50 ??[2J now ??");
    text_clear(&seen);
}

static const char *random_words(char *room, size_t size)
{
    size_t length = (size_t)random() % size;

    if (random() % 8 == 0) return NULL;
    for (size_t i = 0; i < length; i++)
        room[i] = (char)(random() % 4 ? 'a' + random() % 30 : 1 + random() % 255);
    room[length] = '\0';
    return room;
}

/* Whatever the texts, numbers and sizes, a page has its rows and none is too wide. */
static void test_hostile(void **state)
{
    const unsigned seed = (unsigned)time(NULL);
    char words[9][700];
    struct text seen = {0};

    (void)state;
    print_message("seed %u\n", seed);
    srandom(seed);
    for (int i = 0; i < 1500; i++) {
        bool usual = i % 3 == 0;
        unsigned columns = usual ? 80 : 1 + (unsigned)random() % 150;
        unsigned rows = usual ? 24 : 1 + (unsigned)random() % 60;
        struct screen_view view = {
            .phase = (enum screen_phase)(random() % 5),
            .product = random_words(words[0], sizeof words[0]),
            .batch = random_words(words[1], sizeof words[1]),
            .operator_name = random_words(words[2], sizeof words[2]),
            .instruction = random_words(words[3], sizeof words[3]),
            .serial = random_words(words[4], sizeof words[4]),
            .doing = random_words(words[5], sizeof words[5]),
            .verdict_serial = random_words(words[6], sizeof words[6]),
            .reason = random_words(words[7], sizeof words[7]),
            .advice = random_words(words[8], sizeof words[8]),
            .message = random() % 2 ? words[7] : NULL,
            .n_units = (size_t)random() % 3 * ((size_t)-1 / 3),
            .n_pass = (size_t)random(),
            .n_fail = (size_t)-1,
            .attempt = (unsigned long)random() % 2 * (unsigned long)-1,
            .most_attempts = (unsigned long)random(),
            .n_done = (size_t)random() % 70,
            .n_steps = (size_t)random() % 70,
            .left_s = (double)random() - 1000.0,
            .has_verdict = random() % 4 != 0,
            .verdict = (enum verdict)(random() % 3),
        };

        words[7][0] = view.reason ? words[7][0] : '\0';
        draw(&seen, &view, view.advice, columns, rows);
    }
    text_clear(&seen);
}

/* Without memory the page says that it failed, so that nobody is shown half of one. */
static void test_no_memory(void **state)
{
    struct screen_view views[] = {view_of_failure(), view_of_measuring()};
    struct text whole = {0}, page = {0};

    (void)state;
    views[0].message = "KW000099 was not found.";
    for (size_t v = 0; v < 2; v++) {
        bool failed = true;

        text_clear(&whole);
        screen_draw(&views[v], "KW", 80, 24, true, &whole);
        for (unsigned long n = 1; failed; n++) {
            text_clear(&page);
            memory_fail_at(n);
            screen_draw(&views[v], "KW", 80, 24, true, &page);
            failed = page.failed;
            assert_true(failed || strcmp(text_words(&page), text_words(&whole)) == 0);
            assert_true(n < 1000);
        }
        memory_fail_at(0);
    }
    text_clear(&whole);
    text_clear(&page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_everything), cmocka_unit_test(test_phases),
        cmocka_unit_test(test_measuring),  cmocka_unit_test(test_progress),
        cmocka_unit_test(test_verdicts),   cmocka_unit_test(test_nothing_yet),
        cmocka_unit_test(test_long_words), cmocka_unit_test(test_small),
        cmocka_unit_test(test_characters), cmocka_unit_test(test_hostile),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
