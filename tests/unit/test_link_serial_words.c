/* The words behind a serial device; test_link_serial.c opens real ones. */
#include "drivers/link.h"
#include "tests/check.h"

/* A wrong word is a fault of the bench file or the command line, found without opening anything,
 * and XON/XOFF is refused with its reason. */
static void test_words(void **state)
{
    static const struct {
        const char *port, *words;
    } wrong[] = {
        {"serial:/dev/x?flow=xonxoff", "0x11 and 0x13 out of binary replies"},
        {"serial:/dev/x?flow=dtrdsr", "write flow=none or flow=rtscts"},
        {"serial:/dev/x?baud=0", "from 50 to 12000000"},
        {"serial:/dev/x?baud=49", "from 50"},
        {"serial:/dev/x?baud=12000001", "to 12000000"},
        {"serial:/dev/x?baud=9600.5", "whole number"},
        {"serial:/dev/x?baud=", "whole number"},
        {"serial:/dev/x?baud=-9600", "whole number"},
        {"serial:/dev/x?data=9", "data=7 or data=8"},
        {"serial:/dev/x?data=88", "data=7 or data=8"},
        {"serial:/dev/x?parity=n", "parity=none"},
        {"serial:/dev/x?parity=mark", "parity=none"},
        {"serial:/dev/x?stop=1.5", "stop=1 or stop=2"},
        {"serial:/dev/x?stop=0", "stop=1 or stop=2"},
        {"serial:/dev/x?speed=9600", "baud=, data=, parity=, stop= or flow="},
        {"serial:/dev/x?BAUD=9600", "baud="},
        {"serial:/dev/x?baud", "baud="},
        {"serial:/dev/x?baud=9600&baud=9600", "baud is there twice"},
        {"serial:/dev/x?", "empty or too long"},
        {"serial:/dev/x?baud=9600&", "empty or too long"},
        {"serial:/dev/x?&baud=9600", "empty or too long"},
        {"serial:/dev/x?baud=9600&&stop=1", "empty or too long"},
        {"serial:/dev/x?baud=000000000000000009600", "empty or too long"},
        {"serial:?baud=9600", "no device is named"},
    };
    static const char *const right[] = {
        "serial:/dev/x",
        "serial:/dev/x?baud=50",
        "serial:/dev/x?baud=12000000",
        "serial:/dev/x?flow=none&stop=2&parity=even&data=7&baud=115200",
        "serial:/dev/x?parity=odd",
        "serial:/dev/serial/by-id/usb-x:1.0-if00?flow=rtscts&parity=none&data=8&stop=1",
    };

    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct error e = {0};

        assert_false(link_check_port(wrong[i].port, &e));
        assert_int_equal(e.kind, ERROR_USAGE);
        assert_holds(e.text, wrong[i].words);
        assert_holds(e.text, wrong[i].port);
        e = (struct error){0};
        assert_null(link_open(wrong[i].port, NULL, deadline_in(1), &e));
        assert_int_equal(e.kind, ERROR_USAGE);
    }
    for (size_t i = 0; i < sizeof right / sizeof *right; i++) {
        struct error e = {0};

        assert_done(link_check_port(right[i], &e), &e);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_words)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
