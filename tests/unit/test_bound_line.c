#include "limits/limits.h"
#include "tests/check.h"

static double at_hz[] = {160e6, 169e6, 178e6}, value[] = {17.5, 19, 17.5};

/* Exact at the corners, straight between, nothing outside. */
static void test_line(void **state)
{
    const struct bound_line line = {3, at_hz, value};
    bool below = isnan(bound_line_at(&line, 159.999e6)),
         above = isnan(bound_line_at(&line, 178.001e6));

    (void)state;
    for (size_t i = 0; i < 3; i++)
        assert_close(bound_line_at(&line, at_hz[i]), value[i], 0);
    assert_close(bound_line_at(&line, 164.5e6), 18.25, 1e-12);
    assert_close(bound_line_at(&line, 175e6), 18, 1e-12);
    assert_true(below);
    assert_true(above);
}

/* A spot is one point; no points are no bound. */
static void test_spot_and_none(void **state)
{
    const struct bound_line spot = {1, at_hz, value}, none = {0};
    bool off = isnan(bound_line_at(&spot, 161e6)), unknown = isnan(bound_line_at(&spot, NAN)),
         nowhere = isnan(bound_line_at(&none, 160e6));

    (void)state;
    assert_close(bound_line_at(&spot, 160e6), 17.5, 0);
    assert_true(off);
    assert_true(unknown);
    assert_true(nowhere);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_line),
                                       cmocka_unit_test(test_spot_and_none)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
