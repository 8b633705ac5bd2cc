#include "runner/screen_parts.h"
#include "tests/check.h"

static const char *const words[] = {"PASS", "FAIL", "INCOMPLETE", "POWERED"};

/* Every word fits 80 columns less one, each row of it is as wide as it says at every scale, and
 * none is blank: a letter that is missing from the alphabet would be a gap. */
static void test_widths(void **state)
{
    struct text row = {0};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        assert_in_range(screen_letters_width(words[i]), 4 * strlen(words[i]), 79);
        for (unsigned scale = 1; scale < 4; scale++)
            for (unsigned y = 0; y < SCREEN_LETTER_ROWS; y++) {
                text_reset(&row);
                screen_letters_row(&row, words[i], y, scale);
                assert_int_equal(row.length, screen_letters_width(words[i]) * scale);
                assert_int_equal(strspn(text_words(&row), "# "), row.length);
                assert_non_null(strchr(text_words(&row), '#'));
            }
    }
    text_clear(&row);
}

/* Each letter of the words is known: seven columns of gap would show as a width of three. */
static void test_letters(void **state)
{
    (void)state;
    for (size_t i = 0; i < 4; i++)
        for (const char *p = words[i]; *p; p++)
            assert_true(screen_letters_width((char[]){*p, '\0'}) > 3);
    assert_int_equal(screen_letters_width("x"), 3);
    assert_int_equal(screen_letters_width(""), 0);
}

/* The shapes, drawn here once more: a tick, a cross, a question mark; and none behind a word that
 * is no verdict. A row outside is nothing. */
static void test_shapes(void **state)
{
    static const char *const shapes[3][SCREEN_LETTER_ROWS] = {
        {"       #", "      ##", "     ## ", "#   ##  ", "## ##   ", " ###    ", "  #     "},
        {"##    ##", " ##  ## ", "  ####  ", "   ##   ", "  ####  ", " ##  ## ", "##    ##"},
        {" ##### ", "##   ##", "     ##", "   ### ", "   ##  ", "       ", "   ##  "}};
    struct text row = {0};

    (void)state;
    for (size_t i = 0; i < 3; i++)
        for (unsigned y = 0; y < SCREEN_LETTER_ROWS; y++) {
            text_reset(&row);
            screen_letters_row(&row, words[i], y, 1);
            assert_string_equal(row.data + row.length - strlen(shapes[i][y]), shapes[i][y]);
        }
    text_reset(&row);
    screen_letters_row(&row, "POWERED", 0, 1);
    assert_string_equal(row.data + row.length - 6, "##### ");
    text_reset(&row);
    screen_letters_row(&row, "PASS", SCREEN_LETTER_ROWS, 1);
    assert_int_equal(row.length, 0);
    text_clear(&row);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_widths),
                                       cmocka_unit_test(test_letters),
                                       cmocka_unit_test(test_shapes)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
