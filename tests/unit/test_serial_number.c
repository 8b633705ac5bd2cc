#include "limits/serial_number.h"

#include "tests/check.h"

/* Published strings with their check characters: ISO/IEC 7064's own example 0794 and the uses of
 * the systems (ORCID, GRid, LEI, ISO 11649), as a public number-validation library gives them;
 * ORCID 0000-0001-5109-3700 and 0000-0002-1694-233X, the IBAN GB82 and G123498654321H's use for
 * blood bags from memory. Hyphens and blanks are not part of the strings; IBAN and ISO 11649 move
 * their first four characters to the end. */
static void test_published_strings(void **state)
{
    static const struct {
        enum check_character check;
        const char *text;
    } table[] = {
        {CHECK_MOD_11_2, "07940"},
        {CHECK_MOD_11_2, "079X"},
        {CHECK_MOD_11_2, "0000000218250097"},
        {CHECK_MOD_11_2, "0000000151093700"},
        {CHECK_MOD_11_2, "000000021694233X"},
        {CHECK_MOD_37_2, "G123498654321H"},
        {CHECK_MOD_37_2, "G123489654321Y"},
        {CHECK_MOD_11_10, "07945"},
        {CHECK_MOD_11_10, "794623"},
        {CHECK_MOD_11_10, "002006673085"},
        {CHECK_MOD_37_36, "A12425GABC1234002M"},
        {CHECK_MOD_97_10, "79444"},
        {CHECK_MOD_97_10, "9999123456789012141490"},
        {CHECK_MOD_97_10, "435411161155111431"},
        {CHECK_MOD_97_10, "536702"},
        {CHECK_MOD_97_10, "530397"},
        {CHECK_MOD_97_10, "533598"},
        {CHECK_MOD_97_10, "WEST12345698765432GB82"},
        {CHECK_MOD_97_10, "01101050000010547023795GR16"},
        {CHECK_MOD_97_10, "539007547034RF18"},
        {CHECK_MOD_97_10, "213800KUD8LAJWSQ9D15"},
        {CHECK_MOD_37_36, "KW000101O"},
        {CHECK_MOD_37_36, "KW000102M"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (!check_character_holds(table[i].check, table[i].text))
            print_error("%s is refused\n", table[i].text);
        assert_true(check_character_holds(table[i].check, table[i].text));
    }
}

/* Published strings that are wrong, and what the systems are for: one wrong character. */
static void test_wrong_strings(void **state)
{
    (void)state;
    assert_false(check_character_holds(CHECK_MOD_97_10, "213800KUD8LXJWSQ9D15"));
    assert_false(check_character_holds(CHECK_MOD_97_10, "539007547034RF17"));
    assert_false(check_character_holds(CHECK_MOD_37_36, "A12425GABC1234002Q"));
    assert_false(check_character_holds(CHECK_MOD_11_2, "07941"));
    assert_false(check_character_holds(CHECK_MOD_11_2, "0X940"));
    assert_false(check_character_holds(CHECK_MOD_11_10, "0794X"));
    assert_false(check_character_holds(CHECK_MOD_37_2, "g123498654321h"));
    assert_false(check_character_holds(CHECK_MOD_37_36, ""));
    assert_false(check_character_holds(CHECK_MOD_37_36, "1"));
    assert_false(check_character_holds(CHECK_MOD_97_10, "794-44"));
}

/* No single wrong character passes, for each system, over every place and character. */
static void test_every_substitution_is_seen(void **state)
{
    static const struct {
        enum check_character check;
        const char *text, *alphabet;
    } table[] = {
        {CHECK_MOD_11_2, "07940", "0123456789"},
        {CHECK_MOD_37_2, "G123498654321H", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"},
        {CHECK_MOD_11_10, "794623", "0123456789"},
        {CHECK_MOD_37_36, "KW000101O", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        for (size_t place = 0; place < strlen(table[i].text); place++) {
            for (const char *c = table[i].alphabet; *c; c++) {
                char wrong[32];

                (void)snprintf(wrong, sizeof wrong, "%s", table[i].text);
                if (wrong[place] == *c) continue;
                wrong[place] = *c;
                assert_false(check_character_holds(table[i].check, wrong));
            }
        }
    }
}

static bool fits(const char *pattern, enum check_character check, const char *serial)
{
    struct serial_rule rule = {0};
    struct error e = {0};
    char why[200] = "";
    bool ok;

    assert_done(serial_rule_make(&rule, pattern, check, &e), &e);
    ok = serial_rule_fits(&rule, serial, why, sizeof why);
    assert_int_equal(*why == '\0', ok);
    serial_rule_clear(&rule);
    return ok;
}

/* A pattern is for the whole serial number. */
static void test_patterns(void **state)
{
    (void)state;
    assert_true(fits("KW[0-9]{6}", CHECK_NONE, "KW000101"));
    assert_false(fits("KW[0-9]{6}", CHECK_NONE, "KW0001011"));
    assert_false(fits("KW[0-9]{6}", CHECK_NONE, "xKW000101"));
    assert_true(fits("A|B", CHECK_NONE, "B"));
    assert_false(fits("A|B", CHECK_NONE, "AB"));
    assert_true(fits("(KW|KX)-?[0-9]+", CHECK_NONE, "KX-7"));
    assert_true(fits(NULL, CHECK_NONE, "anything"));
    assert_true(fits("KW[0-9]{6}.", CHECK_MOD_37_36, "KW000101O"));
    assert_false(fits("KW[0-9]{6}.", CHECK_MOD_37_36, "KW000101M"));
}

/* Patterns that would take any amount of memory or are none are refused in words. */
static void test_hostile_patterns(void **state)
{
    static const char *const cases[] = {
        "KW)|(X",
        "(a{60}){60}",
        "a{1,30000}",
        "a{9}{9}",
        "[0-9",
        "(",
        "a{2}b{2}c{2}d{2}e{2}f{2}g{2}h{2}i{2}",
        "(a)\\1",
        "a{64}*{64}+{64}",
        "a?{64}",
        "a{30000,}",
        "a{30000,1}",
        "a+++++++++++++++++++++",
        "((((((((((((((((((((a)+)+)+)+)+)+)+)+)+)+)+)+)+)+)+)+)+)+)+)+"};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct serial_rule rule = {0};
        struct error e = {0};

        assert_false(serial_rule_make(&rule, cases[i], CHECK_NONE, &e));
        assert_int_equal(e.kind, ERROR_INPUT);
        assert_holds(e.text, "the pattern");
    }
}

/* Names of the check characters are those of the limits file. */
static void test_names(void **state)
{
    enum check_character check = CHECK_NONE;

    (void)state;
    assert_true(check_character_find("mod-37-36", &check));
    assert_int_equal(check, CHECK_MOD_37_36);
    assert_string_equal(check_character_name(CHECK_MOD_97_10), "mod-97-10");
    assert_false(check_character_find("mod-7", &check));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published_strings),          cmocka_unit_test(test_wrong_strings),
        cmocka_unit_test(test_every_substitution_is_seen), cmocka_unit_test(test_patterns),
        cmocka_unit_test(test_hostile_patterns),           cmocka_unit_test(test_names)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
