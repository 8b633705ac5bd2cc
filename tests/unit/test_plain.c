#include "drivers/base/plain.h"

#include "tests/check.h"

/* Letters of any script are plain, also those that run from right to left. */
static void test_plain(void **state)
{
    static const struct {
        const char *text;
        size_t length;
    } cases[] = {{"a", 1},
                 {" ", 1},
                 {"~", 1},
                 {"\xC3\xA9", 2},
                 {"\xD7\x90", 2},
                 {"\xE2\x84\xA6", 3},
                 {"\xEF\xBF\xBD", 3},
                 {"\xF0\x9F\x94\xA7", 4}};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_int_equal(plain_character(cases[i].text), cases[i].length);
}

/* Controls, broken and overlong UTF-8, surrogates, what lies past Unicode, direction marks. */
static void test_not_plain(void **state)
{
    static const char *const cases[] = {"\x01",
                                        "\t",
                                        "\n",
                                        "\x1B",
                                        "\x7F",
                                        "\x80",
                                        "\xC2\x85",
                                        "\xC0\x80",
                                        "\xC3",
                                        "\xC3z",
                                        "\xE2\x82",
                                        "\xE0\x80\x80",
                                        "\xED\xA0\x80",
                                        "\xEF\xBF\xBF",
                                        "\xF0\x80\x80\x80",
                                        "\xF4\x90\x80\x80",
                                        "\xF8\x88\x80\x80\x80",
                                        "\xFF",
                                        "\xE2\x80\xAE",
                                        "\xE2\x81\xA7",
                                        "\xE2\x80\x8F",
                                        "\xD8\x9C"};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_int_equal(plain_character(cases[i]), 0);
}

/* Every byte that is not plain becomes one U+FFFD; what is kept stays. */
static void test_add(void **state)
{
    struct text t = {0};

    (void)state;
    text_add_plain(&t,
                   "a\nb\x1B"
                   "c\xC3",
                   "\n");
    assert_string_equal(t.data, "a\nb\xEF\xBF\xBD"
                                "c\xEF\xBF\xBD");
    text_reset(&t);
    text_add_plain(&t, "\n", "");
    assert_string_equal(t.data, "\xEF\xBF\xBD");
    text_reset(&t);
    text_add_plain(&t, "", "");
    assert_string_equal(text_words(&t), "");
    text_clear(&t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plain), cmocka_unit_test(test_not_plain), cmocka_unit_test(test_add)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
