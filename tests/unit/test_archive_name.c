/* What a file's name says about the sweep in it: the usual names, layout patterns, bias texts. */
#include "tests/check.h"

#include "drivers/archive_name.h"

static const struct bias_name three[] = {{"low", 1.8}, {"mid", 2.4}, {"upper_mid", 3.0}};
static const struct bias_names steps = {three, 3, 0.01};
static const struct bias_name lone[] = {{"only", 5.0}};
static const struct bias_names one_step = {lone, 1, 0.01};

static struct name_part text_part(const char *text)
{
    return (struct name_part){text, strlen(text)};
}

static bool find(const char *text, size_t *step, double *bias_v)
{
    return archive_bias_find(&steps, text_part(text), step, bias_v);
}

static void check_part(struct name_part part, const char *want, const char *path, int line)
{
    if (part.length == strlen(want) && (!part.length || !memcmp(part.at, want, part.length)))
        return;
    print_error("%s: got \"%.*s\", want \"%s\"\n", path, (int)part.length,
                part.length ? part.at : "", want);
    _fail(__FILE__, line);
}

/* Fails unless the usual names give this serial and bias. */
static void check_default(const char *path, const struct bias_names *biases, const char *serial,
                          const char *bias, int line)
{
    struct archive_name name;

    archive_name_by_default(path, biases, &name);
    check_part(name.serial, serial, path, line);
    check_part(name.bias, bias, path, line);
    assert_int_equal(name.attempt, 1);
}
#define assert_default(path, biases, serial, bias) \
    check_default((path), (biases), (serial), (bias), __LINE__)

/* Fails unless the layout gives this serial, bias and attempt. */
static void check_layout(const char *path, const char *layout, const char *serial, const char *bias,
                         unsigned long attempt, int line)
{
    struct archive_name name;

    if (!archive_name_by_layout(path, layout, &steps, &name)) {
        print_error("%s does not fit %s\n", path, layout);
        _fail(__FILE__, line);
    }
    check_part(name.serial, serial, path, line);
    check_part(name.bias, bias, path, line);
    assert_int_equal(name.attempt, attempt);
}
#define assert_layout(path, layout, serial, bias, attempt) \
    check_layout((path), (layout), (serial), (bias), (attempt), __LINE__)

static void assert_no_fit(const char *path, const char *layout)
{
    struct archive_name name;

    if (archive_name_by_layout(path, layout, &steps, &name)) fail_msg("%s fits %s", path, layout);
}

static void assert_layout_error(const char *layout, const struct bias_names *biases,
                                const char *words)
{
    struct error e = {0};

    assert_false(archive_layout_check(layout, biases, &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    assert_holds(e.text, words);
}

/* Reason: all the ways of writing one voltage must reach the same step. */
static void test_bias_volts(void **state)
{
    static const char *const same[] = {"2.4", "2.40", "2.40V", "2.4 V", "2400mV", "+2.4", "mid"};
    size_t step = 9;
    double bias_v = 0;

    (void)state;
    for (size_t i = 0; i < sizeof same / sizeof *same; i++) {
        step = 9;
        assert_true(find(same[i], &step, &bias_v));
        assert_int_equal(step, 1);
        assert_true(bias_v == 2.4);
    }
}

/* Reason: the tolerance is inclusive, on both sides, though 2.41 - 2.40 is above 0.01 in binary;
 * the voltage as written is kept, because slopes divide by it. */
static void test_bias_tolerance(void **state)
{
    size_t step = 9;
    double bias_v = 0;

    (void)state;
    assert_true(find("2.41", &step, &bias_v));
    assert_int_equal(step, 1);
    assert_true(bias_v == 2.41);
    assert_true(find("2390mV", &step, &bias_v));
    assert_true(bias_v == 2.39);
    step = 9;
    assert_false(find("2.411", &step, &bias_v));
    assert_false(find("2.389V", &step, &bias_v));
    assert_int_equal(step, 9);
}

/* Reason: of two steps within a wide tolerance the nearer one is meant, whatever their order. */
static void test_bias_nearest(void **state)
{
    static const struct bias_name near[] = {{"a", 2.0}, {"b", 2.1}};
    const struct bias_names wide = {near, 2, 0.5};
    size_t step = 9;
    double bias_v;

    (void)state;
    assert_true(archive_bias_find(&wide, text_part("2.04"), &step, &bias_v));
    assert_int_equal(step, 0);
    assert_true(archive_bias_find(&wide, text_part("2.06"), &step, &bias_v));
    assert_int_equal(step, 1);
}

/* Reason: what is no id and no voltage is no step; an id in other letters is a typo. */
static void test_bias_unknown(void **state)
{
    static const char *const none[] = {"",     "hgh",   "MID", "mid ", "2,40", "2.4v",
                                       "2.4A", "0x2p0", "nan", "inf",  "mi",   "1.80 V 2"};
    char longest[256];
    size_t step;
    double bias_v;

    (void)state;
    for (size_t i = 0; i < sizeof none / sizeof *none; i++)
        if (find(none[i], &step, &bias_v)) fail_msg("\"%s\" is a step", none[i]);
    memset(longest, '0', sizeof longest);
    assert_false(
        archive_bias_find(&steps, (struct name_part){longest, sizeof longest}, &step, &bias_v));
}

/* Reason: an id that looks like a voltage is still an id. */
static void test_bias_id_first(void **state)
{
    static const struct bias_name odd[] = {{"2.4", 1.0}, {"b", 2.4}};
    const struct bias_names biases = {odd, 2, 0.01};
    size_t step = 9;
    double bias_v = 0;

    (void)state;
    assert_true(archive_bias_find(&biases, text_part("2.4"), &step, &bias_v));
    assert_int_equal(step, 0);
    assert_true(bias_v == 1.0);
}

/* Reason: SERIAL_BIAS, with folders before it and '_' in the serial number. */
static void test_default_names(void **state)
{
    (void)state;
    assert_default("KW000101_low.s2p", &steps, "KW000101", "low");
    assert_default("/a/b/KW000101_mid.ts", &steps, "KW000101", "mid");
    assert_default("a/LOT_7_KW_1_2.40.s2p", &steps, "LOT_7_KW_1", "2.40");
    assert_default("a/KW1_2.40V.s2p", &steps, "KW1", "2.40V");
    assert_default("a/KW1_2400mV.csv", &steps, "KW1", "2400mV");
    assert_default("a/KW_1.5_low.s2p", &steps, "KW_1.5", "low");
    assert_default("a/_low.s2p", &steps, "_low", "");
}

/* Reason: with the ids "mid" and "upper_mid", KW1_upper_mid is no unit "KW1_upper" at "mid". */
static void test_default_longest_id(void **state)
{
    (void)state;
    assert_default("a/KW1_upper_mid.s2p", &steps, "KW1", "upper_mid");
    assert_default("a/KW_1_upper_mid.s2p", &steps, "KW_1", "upper_mid");
    assert_default("KW1/upper_mid.s2p", &steps, "KW1", "upper_mid");
}

/* Reason: SERIAL/BIAS, from any depth, with doubled slashes too. */
static void test_default_folder(void **state)
{
    (void)state;
    assert_default("KW1/low.s2p", &steps, "KW1", "low");
    assert_default("/a/b/KW_1/2.40.s2p", &steps, "KW_1", "2.40");
    assert_default("a/KW1//low.s2p", &steps, "KW1", "low");
    /* Without a folder in the path there is no serial number to be had. */
    assert_default("low.s2p", &steps, "low", "");
}

/* Reason: a voltage outside of every tolerance stays a bias of its unit; it makes no new unit. */
static void test_default_foreign_voltage(void **state)
{
    (void)state;
    assert_default("a/KW1_2.10V.s2p", &steps, "KW1", "2.10V");
    assert_default("a/KW1_2.10.s2p", &steps, "KW1", "2.10");
    assert_default("KW1/2.10V.s2p", &steps, "KW1", "2.10V");
    assert_default("KW1/2.10.s2p", &steps, "KW1", "2.10");
    assert_default("a/KW1_2.10V.s2p", &one_step, "KW1", "2.10V");
    assert_default("a/KW1_2.10.s2p", &one_step, "KW1", "2.10");
}

/* Reason: a typo in the bias must not lose the unit it belongs to. */
static void test_default_typo(void **state)
{
    (void)state;
    assert_default("a/KW000101_hgh.s2p", &steps, "KW000101", "hgh");
    assert_default("a/LOT_7_hgh.s2p", &steps, "LOT_7", "hgh");
    assert_default("a/KW000101.s2p", &steps, "KW000101", "");
}

/* Reason: with one bias step a name needs no bias, and a serial number of digits, or one that ends
 * in digits, is not that step's voltage: else board 5 of a lot would be lost at a step of 5 V. */
static void test_default_one_step(void **state)
{
    (void)state;
    assert_default("a/KW000101.s2p", &one_step, "KW000101", "only");
    assert_default("a/KW_1.s2p", &one_step, "KW_1", "only");
    assert_default("a/KW1_only.s2p", &one_step, "KW1", "only");
    /* "low" may be a step of other limits: its sweep must not pass for the only step of these. */
    assert_default("a/KW1_low.s2p", &one_step, "KW1", "low");
    assert_default("a/KW1_5V.s2p", &one_step, "KW1", "5V");
    assert_default("a/KW1_5.00.s2p", &one_step, "KW1", "5.00");
    assert_default("KW1/only.s2p", &one_step, "KW1", "only");
    assert_default("a/LOT_5.s2p", &one_step, "LOT_5", "only");
    assert_default("a/5.s2p", &one_step, "5", "only");
}

/* Reason: the plain cases of a layout: literal text, folders, attempts. */
static void test_layout_fits(void **state)
{
    (void)state;
    assert_layout("x/KW1_low.s2p", "{serial}_{bias}.s2p", "KW1", "low", 1);
    assert_layout("KW1_low.s2p", "{serial}_{bias}.s2p", "KW1", "low", 1);
    assert_layout("top/KW1/3/low.s2p", "{serial}/{attempt}/{bias}.s2p", "KW1", "low", 3);
    assert_layout("/r/lot 7/KW1-x-low-2.s2p", "lot 7/{serial}-{any}-{bias}-{attempt}.s2p", "KW1",
                  "low", 2);
    assert_layout("KW1.s2p", "{serial}.s2p", "KW1", "", 1);
    assert_layout("a/0042/low-A.s2p", "{attempt}/{bias}-{serial}.s2p", "A", "low", 42);
}

/* Reason: fields are greedy, the first first, and give back what the rest needs. */
static void test_layout_backtracks(void **state)
{
    (void)state;
    /* ... but a bias that is a step goes first, the longest of them: "mid" would make a unit
     * "KW_1_upper" whose sweep belongs to another step. */
    assert_layout("KW_1_upper_mid.s2p", "{serial}_{bias}.s2p", "KW_1", "upper_mid", 1);
    assert_layout("KW_1_hgh.s2p", "{serial}_{bias}.s2p", "KW_1", "hgh", 1);
    assert_layout("a.s2p.s2p", "{serial}.s2p", "a.s2p", "", 1);
    assert_layout("abcab", "{serial}ab", "abc", "", 1);
    assert_layout("KW17", "{serial}{attempt}", "KW1", "", 7);
    assert_layout("x-1-2-y", "{any}-{serial}-{any}", "2", "", 1);
    assert_layout("KW1_low_x_3", "{serial}_{bias}_{any}{attempt}", "KW1", "low", 3);
    assert_layout("aXbXc", "{any}X{serial}X{bias}", "b", "c", 1);
    /* {any} may be empty, the others may not. */
    assert_layout("KW1.s2p", "{any}{serial}.s2p", "1", "", 1);
    assert_layout("K.s2p", "{any}{serial}.s2p", "K", "", 1);
    assert_no_fit(".s2p", "{serial}.s2p");
    assert_no_fit("KW1_.s2p", "{serial}_{bias}.s2p");
}

/* Reason: no field may reach over a folder, and the path must be as deep as the layout. */
static void test_layout_folders(void **state)
{
    (void)state;
    assert_no_fit("low.s2p", "{serial}/{bias}.s2p");
    assert_layout("a/b/low.s2p", "{serial}/{bias}.s2p", "b", "low", 1);
    assert_no_fit("a/x/low.s2p", "{serial}low.s2p");
    assert_no_fit("KW1/sub/low.s2p", "KW1/{serial}.s2p");
    assert_layout("KW1/sub/low.s2p", "{serial}/{any}/{bias}.s2p", "KW1", "low", 1);
    assert_no_fit("KW1//low.s2p", "{serial}/{bias}.s2p");
}

/* Reason: literal text must agree to the letter and to the end. */
static void test_layout_literals(void **state)
{
    (void)state;
    assert_no_fit("KW1_low.S2P", "{serial}_{bias}.s2p");
    assert_no_fit("KW1_low.s2p.bak", "{serial}_{bias}.s2p");
    assert_no_fit("KW1-low.s2p", "{serial}_{bias}.s2p");
    assert_no_fit("KW1", "{serial}1 ");
    assert_layout("KW1\1", "{serial}\1", "KW1", "", 1);
}

/* Reason: an attempt is a number from 1 to the ceiling; digits beyond must not be cut off. */
static void test_layout_attempts(void **state)
{
    (void)state;
    assert_layout("9999/KW1", "{attempt}/{serial}", "KW1", "", 9999);
    assert_no_fit("10000/KW1", "{attempt}/{serial}");
    assert_no_fit("0/KW1", "{attempt}/{serial}");
    assert_no_fit("-1/KW1", "{attempt}/{serial}");
    assert_no_fit("two/KW1", "{attempt}/{serial}");
    assert_no_fit("0000000000012345678/KW1", "{attempt}/{serial}");
    assert_no_fit("99999999999999999999999/KW1", "{attempt}/{serial}");
}

/* Reason: a layout that could take forever gives up instead; the name is 200 letters long. */
static void test_layout_gives_up(void **state)
{
    char name[201], layout[513] = "";

    (void)state;
    memset(name, 'a', sizeof name - 1);
    name[200] = '\0';
    for (size_t i = 0; i < 60; i++)
        (void)snprintf(layout + 6 * i, sizeof layout - 6 * i, "{any}a");
    (void)snprintf(layout + 360, sizeof layout - 360, "{serial}b");
    assert_no_fit(name, layout);
}

/* Reason: every way in which a layout can be wrong has its own words. */
static void test_layout_errors(void **state)
{
    char longest[514];

    (void)state;
    assert_layout_error("{bias}.s2p", &steps, "needs {serial}");
    assert_layout_error("", &steps, "needs {serial}");
    assert_layout_error("{serial}.s2p", &steps, "needs {bias}");
    assert_layout_error("{serial}_{bias}_{serial}", &steps, "holds {serial} twice");
    assert_layout_error("{serial}_{bias}_{bias}", &steps, "holds {bias} twice");
    assert_layout_error("{attempt}-{serial}-{attempt}", &one_step, "holds {attempt} twice");
    assert_layout_error("{serial}{bias}", &steps, "two fields with nothing between");
    assert_layout_error("{any}/{any}/{any}/{any}/{any}/{serial}", &one_step, "more than 4 times");
    assert_layout_error("{serial}_{volts}", &steps, "in braces that is not");
    assert_layout_error("{serial", &steps, "in braces that is not");
    assert_layout_error("{serial}}", &steps, "in braces that is not");
    memset(longest, 'a', sizeof longest - 1);
    longest[513] = '\0';
    assert_layout_error(longest, &steps, "longer than 512");
}

/* Reason: what a layout may be: {any} up to four times, no {bias} with one step. */
static void test_layout_right(void **state)
{
    struct error e = {0};

    (void)state;
    assert_done(archive_layout_check("{any}/{any}/{serial}_{bias}-{any}", &steps, &e), &e);
    assert_done(archive_layout_check("{serial}.s2p", &one_step, &e), &e);
    assert_done(archive_layout_check("{serial}/{attempt}/{bias}.s2p", &one_step, &e), &e);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bias_volts),
        cmocka_unit_test(test_bias_tolerance),
        cmocka_unit_test(test_bias_nearest),
        cmocka_unit_test(test_bias_unknown),
        cmocka_unit_test(test_bias_id_first),
        cmocka_unit_test(test_default_names),
        cmocka_unit_test(test_default_longest_id),
        cmocka_unit_test(test_default_folder),
        cmocka_unit_test(test_default_foreign_voltage),
        cmocka_unit_test(test_default_typo),
        cmocka_unit_test(test_default_one_step),
        cmocka_unit_test(test_layout_fits),
        cmocka_unit_test(test_layout_backtracks),
        cmocka_unit_test(test_layout_folders),
        cmocka_unit_test(test_layout_literals),
        cmocka_unit_test(test_layout_attempts),
        cmocka_unit_test(test_layout_gives_up),
        cmocka_unit_test(test_layout_errors),
        cmocka_unit_test(test_layout_right),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
