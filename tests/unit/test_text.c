#include "drivers/base/text.h"

#include "drivers/base/memory.h"
#include "tests/comma_locale.h"

/* Pieces of every kind, one after another. */
static void test_pieces(void **state)
{
    struct text t = {0};
    struct error e = {0};

    (void)state;
    assert_string_equal(text_words(&t), "");
    text_add(&t, "a");
    text_add_bytes(&t, "bcd", 2);
    text_addf(&t, "-%d-", 7);
    text_add_number(&t, 0.1);
    text_add(&t, " ");
    text_add_fixed(&t, 1.25, 1);
    assert_string_equal(t.data, "abc-7-0.1 1.2");
    assert_int_equal(t.length, strlen(t.data));
    assert_true(text_ok(&t, "words", &e));
    text_clear(&t);
    text_clear(&t);
}

/* A formatted piece longer than the small buffer. */
static void test_long_format(void **state)
{
    struct text t = {0};
    char words[1001];

    (void)state;
    memset(words, 'y', 1000);
    words[1000] = '\0';
    text_addf(&t, "<%s>", words);
    assert_int_equal(t.length, 1002);
    assert_int_equal(t.data[1001], '>');
    text_clear(&t);
}

/* At its ceiling a text keeps what it had and says at the end that something is missing. */
static void test_ceiling(void **state)
{
    struct text t = {.ceiling = 5};
    struct error e = {0};

    (void)state;
    text_add(&t, "12345");
    text_add(&t, "6");
    text_add(&t, "7");
    assert_string_equal(t.data, "12345");
    assert_false(text_ok(&t, "a label", &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "a label would be larger than 5 bytes");
    text_reset(&t);
    text_add(&t, "ok");
    e = (struct error){0};
    assert_true(text_ok(&t, "a label", &e));
    text_clear(&t);
}

/* Without memory the failure is remembered as that. */
static void test_no_memory(void **state)
{
    struct text t = {0};
    struct error e = {0};

    (void)state;
    memory_fail_at(1);
    text_add(&t, "x");
    memory_fail_at(0);
    text_add(&t, "y");
    assert_string_equal(text_words(&t), "");
    assert_false(text_ok(&t, "a page", &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
    text_clear(&t);
}

/* A reset keeps the memory and drops the content. */
static void test_reset(void **state)
{
    struct text t = {0};
    char *before;

    (void)state;
    assert_true(text_reserve(&t, 100));
    before = t.data;
    text_add(&t, "abc");
    text_reset(&t);
    assert_int_equal(t.length, 0);
    assert_string_equal(text_words(&t), "");
    text_add(&t, "d");
    assert_ptr_equal(t.data, before);
    text_clear(&t);
}

/* A formatted piece longer than the small buffer that does not fit leaves the text as it was. */
static void test_long_format_over_ceiling(void **state)
{
    struct text t = {.ceiling = 500};
    struct error e = {0};

    (void)state;
    text_add(&t, "before");
    text_addf(&t, "%0600d", 1);
    assert_string_equal(t.data, "before");
    assert_int_equal(t.length, 6);
    assert_false(text_ok(&t, "a line", &e));
    assert_int_equal(e.kind, ERROR_STORE);
    text_clear(&t);
}

/* The ceiling itself is allowed; a length that wraps round is refused. */
static void test_edges(void **state)
{
    struct text t = {.ceiling = 5};
    struct error e = {0};

    (void)state;
    text_add(&t, "123");
    text_addf(&t, "%d", 45);
    assert_true(text_ok(&t, "a label", &e));
    assert_int_equal(t.length, 5);
    text_add(&t, "");
    text_add_bytes(&t, "", 0);
    assert_true(text_ok(&t, "a label", &e));
    text_add_bytes(&t, "x", SIZE_MAX - 5);
    assert_string_equal(t.data, "12345");
    assert_false(text_ok(&t, "a label", &e));
    text_clear(&t);
}

/* NULs are bytes like others when added as bytes. */
static void test_nul_bytes(void **state)
{
    struct text t = {0};

    (void)state;
    text_add_bytes(&t, "a\0b", 3);
    text_add(&t, "c");
    assert_int_equal(t.length, 4);
    assert_memory_equal(t.data, "a\0bc", 5);
    text_clear(&t);
}

static void check_with_comma(void)
{
    struct text t = {0};

    text_add_number(&t, -0.125);
    text_add(&t, " ");
    text_add_fixed(&t, 1234.5, 2);
    assert_string_equal(t.data, "-0.125 1234.50");
    text_clear(&t);
}

/* Numbers are the same where a comma is the decimal sign. */
static void test_comma_locale(void **state)
{
    comma_locale_run(*state, check_with_comma);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pieces),
        cmocka_unit_test(test_long_format),
        cmocka_unit_test(test_ceiling),
        cmocka_unit_test(test_no_memory),
        cmocka_unit_test(test_reset),
        cmocka_unit_test(test_long_format_over_ceiling),
        cmocka_unit_test(test_edges),
        cmocka_unit_test(test_nul_bytes),
        cmocka_unit_test_setup_teardown(test_comma_locale, tree_make, tree_remove)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
