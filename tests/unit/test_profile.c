#include "drivers/profile.h"

#include "drivers/base/memory.h"
#include "tests/profile_file.h"

/* Names are what people write in files: each is there, and none twice. */
static void test_names(void **state)
{
    (void)state;
    assert_string_equal(profile_step_name(STEP_OPEN), "open");
    assert_string_equal(profile_step_name(STEP_SET_SWEEP), "set-sweep");
    assert_string_equal(profile_step_name(STEP_SAFE), "safe");
    assert_string_equal(profile_step_name(STEP_CLOSE), "close");
    assert_string_equal(profile_value_name(VALUE_START_HZ), "start_hz");
    assert_string_equal(profile_value_name(VALUE_TRIP_V), "trip_v");
    for (int a = 0; a < PROFILE_STEPS; a++) {
        assert_non_null(profile_step_name((enum profile_step)a));
        for (int b = 0; b < a; b++)
            assert_string_not_equal(profile_step_name((enum profile_step)a),
                                    profile_step_name((enum profile_step)b));
    }
    for (int a = 0; a < PROFILE_VALUES; a++) {
        assert_non_null(profile_value_name((enum profile_value)a));
        for (int b = 0; b < a; b++)
            assert_string_not_equal(profile_value_name((enum profile_value)a),
                                    profile_value_name((enum profile_value)b));
    }
}

/* Without these a bench cannot be switched off or a wrong board passes; with those of the other
 * kind somebody took the wrong file. Chapter 6.2 of our own design. */
static void test_needs(void **state)
{
    static const enum profile_step analyser[] = {STEP_IDENTIFY, STEP_SET_SWEEP,  STEP_SET_POWER,
                                                 STEP_RF_ON,    STEP_RF_OFF,     STEP_SWEEP,
                                                 STEP_SAFE,     STEP_READ_TRACE, STEP_CHECK_ERRORS};
    static const enum profile_step supply[] = {
        STEP_IDENTIFY,     STEP_SET_LIMIT,    STEP_SET_VOLTAGE,  STEP_OUTPUT_ON, STEP_OUTPUT_OFF,
        STEP_READ_VOLTAGE, STEP_READ_CURRENT, STEP_CHECK_ERRORS, STEP_SAFE};
    size_t n_analyser = 0, n_supply = 0;

    (void)state;
    for (size_t i = 0; i < 9; i++) {
        assert_int_equal(profile_need(PROFILE_ANALYSER, analyser[i]), STEP_REQUIRED);
        assert_int_equal(profile_need(PROFILE_SUPPLY, supply[i]), STEP_REQUIRED);
    }
    for (int s = 0; s < PROFILE_STEPS; s++) {
        n_analyser += profile_need(PROFILE_ANALYSER, (enum profile_step)s) == STEP_REQUIRED;
        n_supply += profile_need(PROFILE_SUPPLY, (enum profile_step)s) == STEP_REQUIRED;
    }
    assert_int_equal(n_analyser, 9);
    assert_int_equal(n_supply, 9);
    assert_int_equal(profile_need(PROFILE_ANALYSER, STEP_OUTPUT_ON), STEP_FOREIGN);
    assert_int_equal(profile_need(PROFILE_SUPPLY, STEP_RF_ON), STEP_FOREIGN);
    assert_int_equal(profile_need(PROFILE_SUPPLY, STEP_RECALL), STEP_FOREIGN);
    assert_int_equal(profile_need(PROFILE_SUPPLY, STEP_CLOSE), STEP_OPTIONAL);
    assert_int_equal(profile_need(PROFILE_ANALYSER, STEP_READ_AXIS), STEP_OPTIONAL);
}

/* A value that nobody set must not be sent as 0. */
static void test_no_values(void **state)
{
    struct profile_values none = profile_no_values();

    (void)state;
    for (int v = 0; v < PROFILE_VALUES; v++)
        assert_true(isnan(none.value[v]));
    assert_null(none.parameter);
    assert_null(none.channel);
}

/* Clearing frees everything (the sanitizer counts) and is harmless on zero and twice. */
static void test_clear(void **state)
{
    struct profile profile = {0};

    (void)state;
    profile_clear(&profile);
    profile_take(&profile, PROFILE_ANALYSER_FILE);
    profile_clear(&profile);
    assert_null(profile.label);
    assert_null(profile.steps[STEP_SAFE].actions);
    assert_false(profile.steps[STEP_SAFE].is_there);
    profile_clear(&profile);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_names),
        cmocka_unit_test(test_needs),
        cmocka_unit_test(test_no_values),
        cmocka_unit_test(test_clear),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
