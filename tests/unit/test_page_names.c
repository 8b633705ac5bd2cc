/* The file names of the units' pages: one for each unit, on any disk. */
#include "reports/page_names.h"

#include "drivers/base/memory.h"
#include "tests/check.h"

/* Any serial number is one file name, none leaves the folder, and the longest one fits. */
static void test_names(void **state)
{
    char name[PAGE_UNIT_NAME], wild[CEILING_SERIAL + 1];

    (void)state;
    page_unit_name(NULL, "KW000101", name);
    assert_string_equal(name, "KW000101.html");
    page_unit_name(NULL, "../a b", name);
    assert_string_equal(name, "%2E.%2Fa%20b.html");
    page_unit_name(NULL, "%2E", name);
    assert_string_equal(name, "%252E.html");
    page_unit_name(NULL, "a-b_c.d", name);
    assert_string_equal(name, "a-b_c.d.html");
    memset(wild, 0xC3, sizeof wild);
    wild[CEILING_SERIAL] = '\0';
    page_unit_name(NULL, wild, name);
    assert_int_equal(strlen(name), 3 * CEILING_SERIAL + 5);
    assert_true(strlen(name) < 255);
}

/* No two of the one- and two-byte serial numbers share a name: every byte against every other. */
static void test_names_differ(void **state)
{
    char names[255][PAGE_UNIT_NAME], serial[3] = "", name[PAGE_UNIT_NAME];

    (void)state;
    for (int first = 1; first < 256; first++) {
        serial[0] = (char)first;
        serial[1] = '\0';
        page_unit_name(NULL, serial, names[first - 1]);
        for (int other = 1; other < first; other++)
            assert_string_not_equal(names[first - 1], names[other - 1]);
        serial[1] = '.';
        page_unit_name(NULL, serial, name);
        for (int other = 1; other <= first; other++)
            assert_string_not_equal(name, names[other - 1]);
    }
}

/* What a disk makes of a name that does not know case, for names of ASCII. */
static void to_small(char *name)
{
    for (; *name; name++)
        if (*name >= 'A' && *name <= 'Z') *name = (char)(*name - 'A' + 'a');
}

/* Serial numbers that differ in case alone have names that differ otherwise too, and from those of
 * all others; a serial number without a twin, and the twin in capitals, keep the plain name. */
static void test_twins(void **state)
{
    static const char *const serials[] = {"kw1", "X2",  "KW1",     "Kw1", "con", "CON", "kw10",
                                          "kw",  "kW1", "%6B%771", "a.b", "A.b", "Con", "\xc3\xa4"};
    static const size_t n = sizeof serials / sizeof *serials;
    char made[sizeof serials / sizeof *serials][PAGE_UNIT_NAME];
    struct page_names names = {0};
    struct error e = {0};

    (void)state;
    assert_done(page_names_find(&names, serials, n, &e), &e);
    assert_int_equal(names.n, 9);
    for (size_t i = 0; i < n; i++)
        page_unit_name(&names, serials[i], made[i]);
    assert_string_equal(made[0], "%6B%771.html");
    assert_string_equal(made[1], "X2.html");
    assert_string_equal(made[2], "KW1.html");
    assert_string_equal(made[6], "kw10.html");
    assert_string_equal(made[7], "kw.html");
    for (size_t i = 0; i < n; i++) {
        to_small(made[i]);
        for (size_t k = 0; k < i; k++)
            assert_string_not_equal(made[i], made[k]);
    }
    page_names_clear(&names);
    page_names_clear(&names);
}

/* No batch is no twins, and nothing else either. */
static void test_few(void **state)
{
    static const char *const one[] = {"kw1"};
    struct page_names names = {0};
    struct error e = {0};
    char name[PAGE_UNIT_NAME];

    (void)state;
    for (size_t n = 0; n < 2; n++) {
        assert_done(page_names_find(&names, one, n, &e), &e);
        assert_int_equal(names.n, 0);
        page_unit_name(&names, "kw1", name);
        assert_string_equal(name, "kw1.html");
        page_names_clear(&names);
    }
}

/* A device's name is none for a file, in any case and whatever stands behind a dot (names of DOS
 * devices, common practice); what only begins like one is plain. */
static void test_devices(void **state)
{
    static const char *const known[][2] = {
        {"con", "%63on.html"},       {"NUL", "%4EUL.html"},       {"Aux", "%41ux.html"},
        {"prn.v2", "%70rn.v2.html"}, {"com1", "%63om1.html"},     {"LPT9.x.y", "%4CPT9.x.y.html"},
        {"com0", "%63om0.html"},     {"com", "com.html"},         {"com10", "com10.html"},
        {"coma", "coma.html"},       {"console", "console.html"}, {"con-1", "con-1.html"},
        {"co.n", "co.n.html"}};
    char name[PAGE_UNIT_NAME];

    (void)state;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        page_unit_name(NULL, known[i][0], name);
        assert_string_equal(name, known[i][1]);
    }
}

/* Without memory there are no names, rather than two for one file. */
static void test_no_memory(void **state)
{
    static const char *const serials[] = {"a", "A"};
    struct page_names names = {0};
    struct error e = {0};

    (void)state;
    memory_fail_at(1);
    assert_false(page_names_find(&names, serials, 2, &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
    page_names_clear(&names);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_names),   cmocka_unit_test(test_names_differ),
        cmocka_unit_test(test_twins),   cmocka_unit_test(test_few),
        cmocka_unit_test(test_devices), cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
