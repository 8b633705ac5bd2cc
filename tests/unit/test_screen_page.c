#include "runner/screen_parts.h"
#include "tests/check.h"

/* What is printable stays, a character of several bytes is one '?', and so is half of one. */
static void test_ascii(void **state)
{
    struct text t = {0};

    (void)state;
    screen_ascii(&t, "a~ \x7F\x01\n\t\xC3\xB6\xE2\x84\xA6.\xBF\xC3");
    assert_string_equal(text_words(&t), "a~ ??  ??.??");
    text_reset(&t);
    screen_ascii(&t, NULL);
    assert_int_equal(t.length, 0);
    text_clear(&t);
}

/* Words break at blanks, a word that is too long anywhere, and dots stand for what is left out:
 * exactly when something is. A prefix that would leave no room is left out. */
static void test_wrap(void **state)
{
    static const struct {
        const char *words;
        unsigned columns, most, rows;
        const char *want;
    } cases[] = {
        {"", 20, 3, 0, ""},
        {"one", 20, 3, 1, "P: one\n"},
        {"one two three four five", 20, 3, 2, "P: one two three\n   four five\n"},
        {"one two three four", 20, 1, 1, "P: one two three...\n"},
        {"12345678901234567", 20, 1, 1, "P: 12345678901234567\n"},
        {"123456789012345678", 20, 1, 1, "P: 12345678901234...\n"},
        {"123456789012345678", 20, 2, 2, "P: 12345678901234567\n   8\n"},
        {"one two", 5, 3, 2, "one\ntwo\n"},
        {"one", 20, 0, 0, ""},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct text out = {0};
        struct screen_page page = {&out, cases[i].columns, 10};

        assert_int_equal(
            screen_page_wrap(NULL, cases[i].columns, NULL, "P: ", cases[i].words, cases[i].most),
            cases[i].rows);
        assert_int_equal(
            screen_page_wrap(&page, cases[i].columns, NULL, "P: ", cases[i].words, cases[i].most),
            cases[i].rows);
        assert_int_equal(page.left, 10 - cases[i].rows);
        assert_string_equal(text_words(&out), cases[i].want);
        text_clear(&out);
    }
}

/* Rows are cut, styled and counted; below the page nothing is drawn. */
static void test_rows(void **state)
{
    struct text out = {0};
    struct screen_page page = {&out, 8, 4};

    (void)state;
    screen_page_row(&page, "7", "12345678");
    screen_page_row(&page, NULL, "123456789");
    screen_page_rule(&page, NULL, "ab");
    screen_page_row(&page, "1", "");
    screen_page_row(&page, NULL, "below");
    screen_page_blank(&page, 3);
    screen_page_letters(&page, "PASS", "7", 1, 1);
    assert_string_equal(text_words(&out), "\033[7m12345678\033[0m\n12345...\n-- ab --\n\n");
    text_clear(&out);
}

/* Letters stand in the middle, and only their strokes carry the style, once a stroke. */
static void test_letters(void **state)
{
    struct text out = {0};
    struct screen_page page = {&out, 10, 7};

    (void)state;
    screen_page_letters(&page, "T", "7;32", 1, 1);
    assert_int_equal(page.left, 0);
    assert_holds(text_words(&out), "  \033[7;32m######\033[0m\n    \033[7;32m##\033[0m\n");
    text_clear(&out);
}

/* A text that could not grow makes the page one that failed. */
static void test_failed(void **state)
{
    struct text out = {0}, part = {.failed = true, .no_memory = true};
    struct screen_page page = {&out, 10, 7};

    (void)state;
    screen_page_finish(&page, &part);
    assert_true(out.failed && out.no_memory);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_ascii), cmocka_unit_test(test_wrap),
                                       cmocka_unit_test(test_rows), cmocka_unit_test(test_letters),
                                       cmocka_unit_test(test_failed)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
