/* The measurement of one unit: filled, emptied for the next, without losing its memory. */
#include "drivers/measurement.h"
#include "tests/sweep_check.h"

static void give_sweep(struct bias_sweep *bias, size_t n_points)
{
    struct error e = {0};

    assert_done(sweep_reserve(&bias->sweep, n_points, &e), &e);
    bias->sweep.n_points = n_points;
    bias->sweep.n_ports = 2;
    bias->sweep.measured = S_ALL;
}

/* Reason: a bias without a reading must not read as 0 mA, nor one without a sweep as measured. */
static void a_new_bias_is_empty(void **state)
{
    struct measurement m = {0};
    struct error e = {0};
    struct bias_sweep *bias;

    (void)state;
    measurement_reset(&m, "KW000101", 2);
    assert_string_equal(m.serial, "KW000101");
    assert_int_equal(m.attempt, 2);
    assert_int_equal(m.n_biases, 0);
    bias = measurement_add(&m, 2.4, &e);
    assert_non_null(bias);
    assert_int_equal(m.n_biases, 1);
    assert_close(bias->bias_v, 2.4, 0);
    assert_true(isnan(bias->bias_current_ma));
    assert_int_equal(bias->sweep.n_points, 0);
    assert_string_equal(text_words(&bias->source), "");
    assert_string_equal(text_words(&bias->missing), "");
    measurement_clear(&m);
    measurement_clear(&m);
}

/* Reason: the next unit takes over the memory and none of the words, readings or points. */
static void the_next_unit_begins_clean(void **state)
{
    struct measurement m = {0};
    struct error e = {0};
    struct bias_sweep *bias;
    const double *frequency_hz;

    (void)state;
    measurement_reset(&m, "A", 1);
    bias = measurement_add(&m, 1.8, &e);
    assert_non_null(bias);
    give_sweep(bias, 401);
    frequency_hz = bias->sweep.frequency_hz;
    bias->bias_current_ma = 5;
    text_add(&bias->source, "a.s2p");
    text_add(&bias->missing, "no file");
    text_add(&m.remarks, "b.s2p fits no step");
    measurement_reset(&m, "B", 3);
    assert_string_equal(m.serial, "B");
    assert_int_equal(m.n_biases, 0);
    assert_string_equal(text_words(&m.remarks), "");
    bias = measurement_add(&m, 2.4, &e);
    assert_non_null(bias);
    assert_true(bias->sweep.frequency_hz == frequency_hz);
    assert_int_equal(bias->sweep.n_points, 0);
    assert_int_equal(bias->sweep.measured, 0);
    assert_true(isnan(bias->bias_current_ma));
    assert_string_equal(text_words(&bias->source), "");
    assert_string_equal(text_words(&bias->missing), "");
    measurement_clear(&m);
}

/* Reason: the array moves as it grows; the sweeps in it must not be lost or leak. */
static void many_biases_up_to_the_ceiling(void **state)
{
    struct measurement m = {0};
    struct error e = {0};

    (void)state;
    measurement_reset(&m, "A", 1);
    for (size_t i = 0; i < CEILING_BIAS_STEPS; i++) {
        struct bias_sweep *bias = measurement_add(&m, (double)i, &e);

        assert_non_null(bias);
        give_sweep(bias, i + 1);
    }
    for (size_t i = 0; i < CEILING_BIAS_STEPS; i++) {
        assert_close(m.biases[i].bias_v, (double)i, 0);
        assert_int_equal(m.biases[i].sweep.n_points, i + 1);
    }
    assert_null(measurement_add(&m, 99, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "bias settings of one unit");
    assert_int_equal(m.n_biases, CEILING_BIAS_STEPS);
    measurement_clear(&m);
}

/* Reason: a serial number that is too long is cut and ended, not written past its end. */
static void a_long_serial_is_cut(void **state)
{
    char serial[2 * CEILING_SERIAL];
    struct measurement m = {0};

    (void)state;
    memset(serial, 'x', sizeof serial - 1);
    serial[sizeof serial - 1] = '\0';
    measurement_reset(&m, serial, 1);
    assert_int_equal(strlen(m.serial), CEILING_SERIAL);
    measurement_clear(&m);
}

/* Reason: without memory the unit stays as it was. */
static void no_memory_is_told(void **state)
{
    struct measurement m = {0};
    struct error e = {0};

    (void)state;
    measurement_reset(&m, "A", 1);
    memory_fail_at(1);
    assert_null(measurement_add(&m, 1.8, &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_int_equal(m.n_biases, 0);
    e = (struct error){0};
    assert_non_null(measurement_add(&m, 1.8, &e));
    measurement_clear(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_bias_is_empty),
        cmocka_unit_test(the_next_unit_begins_clean),
        cmocka_unit_test(many_biases_up_to_the_ceiling),
        cmocka_unit_test(a_long_serial_is_cut),
        cmocka_unit_test(no_memory_is_told),
    };

    return cmocka_run_group_tests_name("measurement", tests, NULL, NULL);
}
