/* What a file says of itself: found whatever the form, bounded, and never data. */
#include "drivers/base/ceilings.h"
#include "drivers/touchstone.h"
#include "tests/check.h"

static void assert_comments(const char *bytes, const char *expected)
{
    struct text out = {0};

    touchstone_add_comments(bytes, strlen(bytes), &out);
    assert_string_equal(text_words(&out), expected);
    text_clear(&out);
}

/* Reason: marks, blanks and empty comments are no words; the option line is passed over; what
 * stands behind the first data row is not about the whole file. */
static void test_comments(void **state)
{
    (void)state;
    assert_comments("! Analyser 12, 2026-11-25\n!\n!!! full two-port correction !!\r\n"
                    "# MHz S RI R 50\n ! freq S11\n1 2 3 ! late\n! later\n",
                    "Analyser 12, 2026-11-25\nfull two-port correction\nfreq S11");
    assert_comments("", "");
    assert_comments("!", "");
    assert_comments("# MHz S RI R 50\n-1 2\n! no\n", "");
    assert_comments("frequency_hz,s11_re,s11_im\n1,2,3\n", "");
    assert_comments("! no line end", "no line end");
}

/* Reason: a megabyte of comment on a unit's sheet, and text that was there before. */
static void test_ceiling(void **state)
{
    static char bytes[5000];
    struct text out = {0};

    (void)state;
    for (size_t i = 0; i + 1 < sizeof bytes; i++)
        bytes[i] = i % 50 == 49 ? '\n' : i % 50 == 0 ? '!' : 'x';
    text_add(&out, "before ");
    touchstone_add_comments(bytes, sizeof bytes - 1, &out);
    assert_int_equal(out.length, strlen("before ") + CEILING_COMMENTS);
    assert_memory_equal(out.data, "before xxx", 10);
    text_clear(&out);
}

/* Reason: words that were cut without a sign read as if they were all; the cut may not break a
 * letter, and what just fits is not cut. */
static void test_cut(void **state)
{
    static char bytes[CEILING_COMMENTS + 8];
    struct text out = {0};

    (void)state;
    memset(bytes, 'x', CEILING_COMMENTS + 1);
    bytes[0] = '!';
    touchstone_add_comments(bytes, CEILING_COMMENTS + 1, &out);
    assert_int_equal(out.length, CEILING_COMMENTS);
    assert_int_equal(out.data[out.length - 1], 'x');
    text_reset(&out);
    memcpy(bytes + CEILING_COMMENTS + 1, "\n!y\n", 4);
    touchstone_add_comments(bytes, CEILING_COMMENTS + 5, &out);
    assert_int_equal(out.length, CEILING_COMMENTS);
    assert_string_equal(out.data + out.length - 4, "x\u2026");
    text_reset(&out);
    for (size_t i = 0; i < CEILING_COMMENTS / 2; i++)
        memcpy(bytes + 2 + 2 * i, "\u00E9", 2);
    bytes[1] = 'a';
    touchstone_add_comments(bytes, CEILING_COMMENTS + 2, &out);
    assert_int_equal(out.length, CEILING_COMMENTS);
    assert_string_equal(out.data + out.length - 5, "\u00E9\u2026");
    text_clear(&out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_comments),
        cmocka_unit_test(test_ceiling),
        cmocka_unit_test(test_cut),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
