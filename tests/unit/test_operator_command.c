#include "runner/operator_command.h"

#include "runner/screen.h"
#include "tests/check.h"

static void assert_read(const char *line, enum operator_command_kind kind, const char *words)
{
    struct operator_command command = operator_command_read(line);

    if (command.kind != kind || strcmp(command.words, words) != 0)
        print_error("\"%s\" is %d, \"%s\"\n", line, (int)command.kind, command.words);
    assert_int_equal(command.kind, kind);
    assert_string_equal(command.words, words);
}

/* What stands on a label is a serial number, whatever else a command may look like. */
static void serial_numbers(void **state)
{
    (void)state;
    assert_read("KW000101", COMMAND_SERIAL, "KW000101");
    assert_read("retest", COMMAND_SERIAL, "retest");
    assert_read("KW/stop", COMMAND_SERIAL, "KW/stop");
    assert_read("a b", COMMAND_SERIAL, "a b");
    assert_read("", COMMAND_NONE, "");
}

/* Every command, and the words behind those that take some. */
static void commands(void **state)
{
    (void)state;
    assert_read("/retest", COMMAND_RETEST, "");
    assert_read("/skip", COMMAND_SKIP, "");
    assert_read("/skip label torn", COMMAND_SKIP, "label torn");
    assert_read("/note  the connector  was loose", COMMAND_NOTE, "the connector  was loose");
    assert_read("/note", COMMAND_NOTE, "");
    assert_read("/wrong", COMMAND_WRONG, "");
    assert_read("/wrong output cable", COMMAND_WRONG, "output cable");
    assert_read("/stop", COMMAND_STOP, "");
    assert_read("/stop now", COMMAND_STOP, "now");
}

/* A slip of the finger is never another command, and never a serial number. */
static void unknown(void **state)
{
    (void)state;
    assert_read("/", COMMAND_UNKNOWN, "/");
    assert_read("/retes", COMMAND_UNKNOWN, "/retes");
    assert_read("/retests", COMMAND_UNKNOWN, "/retests");
    assert_read("/STOP", COMMAND_UNKNOWN, "/STOP");
    assert_read("/wrongKW000101", COMMAND_UNKNOWN, "/wrongKW000101");
    assert_read("/notes are here", COMMAND_UNKNOWN, "/notes are here");
    assert_read("//stop", COMMAND_UNKNOWN, "//stop");
}

/* The line of commands that an operator is shown names each that can be read. */
static void names(void **state)
{
    static const char *const all[] = {"/retest", "/skip", "/note", "/wrong", "/stop"};

    (void)state;
    for (size_t k = 0; k < sizeof all / sizeof *all; k++) {
        assert_holds(SCREEN_COMMANDS, all[k]);
        assert_int_not_equal(operator_command_read(all[k]).kind, COMMAND_UNKNOWN);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(serial_numbers),
        cmocka_unit_test(commands),
        cmocka_unit_test(unknown),
        cmocka_unit_test(names),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
