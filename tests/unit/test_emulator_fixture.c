/* The emulated fixture: boards by name, the true state, faults while it runs. */
#include "drivers/emulator.h"

#include "tests/emulator_check.h"

/* Reason: tests and demos connect boards here, and must see at once what the outputs do. */
static void fixture(void **state)
{
    const struct emulator_settings settings = {.seed = 1};
    struct emulator bench;
    struct emulator_instrument *i = &bench.fixture;

    (void)state;
    emulator_start(&bench, &settings);
    assert_answer(i, "FIXT:CONN?\n", "NONE\n");
    assert_answer(i, "FIXT:CONN \"KW000107\";CONN?\n", "\"KW000107\"\n");
    assert_answer(i, "FIXTURE:CONNECT NONE;CONNECT?\n", "NONE\n");
    assert_error(i, "FIXT:CONN \"KW000100\"\n", "-224,\"Illegal parameter value\"");
    assert_error(i, "FIXT:CONN 7\n", "-104,\"Data type error\"");
    assert_error(i, "FIXT:CONN\n", "-109,\"Missing parameter\"");
    assert_answer(i, "FIXT:STAT?\n", "0,+0.0E+00,+0.0E+00,0,0\n");
    assert_answer(&bench.supply, "VOLT 3;:OUTP 1\n", "");
    assert_answer(&bench.analyser, "OUTP 1;:INIT\n", "");
    assert_answer(i, "FIXT:STAT?\n", "1,+3.0E+00,+0.0E+00,1,1\n");
    assert_answer(i, "FIXT:FAUL \"supply.silent@TST\"\n", "");
    assert_answer(&bench.supply, "*TST?\n", "");
    assert_answer(&bench.analyser, "*TST?\n", "0\n");
    assert_error(i, "FIXT:FAUL \"nonsense\"\n", "-224,\"Illegal parameter value\"");
    emulator_clear(&bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(fixture)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
