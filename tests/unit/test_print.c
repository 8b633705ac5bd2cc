#include "runner/print.h"

#include "tests/check.h"

/* A file's name with an escape sequence may not clear the screen or forge a PASS on it. */
static void test_escape_sequences(void **state)
{
    char got[100] = "";
    FILE *out = fmemopen(got, sizeof got, "w");

    (void)state;
    assert_non_null(out);
    print_plain(out, "a\033[2J\rPASS.s2p: wrong");
    assert_int_equal(fclose(out), 0);
    assert_string_equal(got, "a\xEF\xBF\xBD[2J\xEF\xBF\xBDPASS.s2p: wrong");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_escape_sequences)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
