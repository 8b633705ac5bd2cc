#include "drivers/base/memory.h"

#include "tests/check.h"

/* Zeroed memory, also for a count of zero, which is not a failure. */
static void test_make(void **state)
{
    struct error e = {0};
    unsigned char *p = memory_make(100, 3, &e);
    void *none = memory_make(0, 8, &e);

    (void)state;
    assert_non_null(p);
    assert_non_null(none);
    for (size_t i = 0; i < 300; i++)
        assert_int_equal(p[i], 0);
    memory_free(p);
    memory_free(none);
    memory_free(NULL);
}

/* A product that wraps round is refused, not allocated short. */
static void test_overflow(void **state)
{
    struct error e = {0};
    volatile size_t huge = SIZE_MAX / 2;

    (void)state;
    assert_null(memory_make(huge, 4, &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
}

/* An array grows, keeps its items, and its new part is zero. */
static void test_grow(void **state)
{
    struct error e = {0};
    size_t capacity = 0;
    int *items = NULL;

    (void)state;
    for (size_t i = 0; i < 1000; i++) {
        int *bigger = memory_grow(items, &capacity, i + 1, sizeof *items, 100000, "numbers", &e);

        assert_non_null(bigger);
        items = bigger;
        assert_int_equal(items[i], 0);
        items[i] = (int)i;
    }
    for (size_t i = 0; i < 1000; i++)
        assert_int_equal(items[i], i);
    memory_free(items);
}

/* Past its ceiling an array does not grow, says what it is, and stays valid. */
static void test_ceiling(void **state)
{
    struct error e = {0};
    size_t capacity = 0;
    int *items = memory_grow(NULL, &capacity, 10, sizeof *items, 10, "boards", &e);

    (void)state;
    assert_non_null(items);
    assert_true(capacity <= 10);
    items[9] = 5;
    assert_null(memory_grow(items, &capacity, 11, sizeof *items, 10, "boards", &e));
    assert_holds(e.text, "more than 10 boards");
    assert_int_equal(items[9], 5);
    memory_free(items);
}

/* Copies end in a NUL. */
static void test_copies(void **state)
{
    struct error e = {0};
    char *part = memory_copy_bytes("abcdef", 3, &e), *all = memory_copy_text("abc", &e);

    (void)state;
    assert_string_equal(part, "abc");
    assert_string_equal(all, "abc");
    memory_free(part);
    memory_free(all);
}

/* The tests' own tool: the nth allocation fails, the one after does not. */
static void test_fail_at(void **state)
{
    struct error e = {0};
    void *first, *third;

    (void)state;
    memory_fail_at(2);
    first = memory_make(1, 1, &e);
    assert_non_null(first);
    assert_null(memory_make(1, 1, &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
    e = (struct error){0};
    third = memory_make(1, 1, &e);
    assert_non_null(third);
    memory_fail_at(0);
    memory_free(first);
    memory_free(third);
}

/* A ceiling whose product with the size would wrap round is refused as such. */
static void test_grow_overflow(void **state)
{
    struct error e = {0};
    size_t capacity = 0;

    (void)state;
    assert_null(memory_grow(NULL, &capacity, SIZE_MAX / 8, 16, SIZE_MAX, "boards", &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_int_equal(capacity, 0);
}

/* Where there is no memory to grow, the array stays as it was; a copy is then no half copy. */
static void test_no_memory_to_grow(void **state)
{
    struct error e = {0};
    size_t capacity = 0, before;
    int *items = memory_grow(NULL, &capacity, 3, sizeof *items, 1000, "boards", &e);

    (void)state;
    assert_non_null(items);
    items[2] = 7;
    before = capacity;
    memory_fail_at(1);
    assert_null(memory_grow(items, &capacity, before + 1, sizeof *items, 1000, "boards", &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_int_equal(capacity, before);
    assert_int_equal(items[2], 7);
    e = (struct error){0};
    memory_fail_at(1);
    assert_null(memory_copy_text("abc", &e));
    assert_int_equal(e.kind, ERROR_MEMORY);
    memory_free(items);
}

/* Switched off, nothing fails. */
static void test_fail_at_off(void **state)
{
    struct error e = {0};
    void *p;

    (void)state;
    memory_fail_at(1);
    memory_fail_at(0);
    p = memory_make(1, 1, &e);
    assert_non_null(p);
    memory_free(p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_make),          cmocka_unit_test(test_overflow),
        cmocka_unit_test(test_grow),          cmocka_unit_test(test_ceiling),
        cmocka_unit_test(test_copies),        cmocka_unit_test(test_fail_at),
        cmocka_unit_test(test_grow_overflow), cmocka_unit_test(test_no_memory_to_grow),
        cmocka_unit_test(test_fail_at_off)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
