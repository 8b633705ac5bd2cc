/* The struct's own functions. */
#include "drivers/base/memory.h"
#include "tests/bench_file.h"

/* The scheme is the whole word before the first colon. */
static void test_port_is(void **state)
{
    struct error e = {0};
    struct bench_instrument manual = {0}, none = {0};

    (void)state;
    manual.port = memory_copy_text("manual:", &e);
    assert_non_null(manual.port);
    assert_true(bench_port_is(&manual, "manual"));
    assert_false(bench_port_is(&manual, "manua"));
    assert_false(bench_port_is(&manual, "manual:"));
    assert_false(bench_port_is(&manual, "folder"));
    assert_false(bench_port_is(&none, "manual"));
    memory_free(manual.port);
}

/* Ended twice, or never begun, nothing happens. */
static void test_clear(void **state)
{
    struct bench_file file = {0};

    (void)state;
    bench_file_clear(&file);
    bench_take(&file, BENCH_FILE);
    bench_file_clear(&file);
    assert_null(file.label);
    assert_null(file.supply.port);
    bench_file_clear(&file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_port_is),
        cmocka_unit_test(test_clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
