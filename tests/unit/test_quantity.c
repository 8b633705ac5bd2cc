#include "limits/quantity.h"

#include "tests/check.h"

/* Each element of the limits file has a row, found by its name, with what it is judged by. */
static void test_every_element_has_a_row(void **state)
{
    static const char *const names[] = {
        "gain",
        "gain-flatness",
        "input-reflection",
        "output-reflection",
        "reverse-isolation",
        "input-resistance",
        "input-reactance",
        "gain-slope",
        "gain-range",
        "reflection-shift",
        "phase",
        "group-delay",
        "stability",
        "bias-current",
    };
    size_t n;
    const struct quantity *table = quantity_table(&n);

    (void)state;
    assert_int_equal(n, sizeof names / sizeof *names);
    for (size_t i = 0; i < n; i++) {
        const struct quantity *row = quantity_find(names[i]);

        assert_non_null(row);
        assert_ptr_equal(row, &table[i]);
        assert_int_equal(row->shape == OVER_POINTS, row->formula != NULL);
        assert_int_equal(row->needs == 0, row->shape == OVER_CURRENT);
        /* The fast path reads one parameter: it must be the one that is needed. */
        if (row->is_magnitude_db) assert_int_equal(row->needs, S_BIT(row->parameter));
    }
    assert_null(quantity_find("noise"));
}

/* The table's formula of a magnitude and its fast path must be the same function. */
static void test_formula_is_that_of_its_parameter(void **state)
{
    const double complex s[S_PARAMETERS] = {CMPLX(0.1, 0.2), CMPLX(0.01, 0.02), CMPLX(3, -4),
                                            CMPLX(-0.3, 0.1)};
    size_t n;
    const struct quantity *table = quantity_table(&n);

    (void)state;
    for (size_t i = 0; i < n; i++)
        if (table[i].is_magnitude_db)
            assert_close(table[i].formula(s, 50), quantity_magnitude_db(s[table[i].parameter]), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_element_has_a_row),
        cmocka_unit_test(test_formula_is_that_of_its_parameter),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
