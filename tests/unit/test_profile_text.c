#include "drivers/profile_text.h"

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "tests/comma_locale.h"

static struct profile_parameter names[] = {{(char *)(uintptr_t) "S21", (char *)(uintptr_t) "B{A}"}};
static struct profile profile = {
    .path = (char *)(uintptr_t) "a.xml", .n_parameters = 1, .parameters = names};

static struct profile_values some_values(void)
{
    struct profile_values values = profile_no_values();

    values.value[VALUE_START_HZ] = 169.3e6;
    values.value[VALUE_POINTS] = 401;
    values.value[VALUE_POWER_DBM] = -20.126;
    values.value[VALUE_VOLTAGE_V] = 2.4;
    values.value[VALUE_CURRENT_A] = 0.12;
    values.parameter = "S21";
    values.channel = "(@2)";
    return values;
}

static void check_render(const char *text, const char *want)
{
    struct profile_values values = some_values();
    struct text out = {0};
    struct error e = {0};

    text_add(&out, "before ");
    assert_done(profile_render(&profile, text, &values, &out, &e), &e);
    assert_int_equal(strncmp(out.data, "before ", 7), 0);
    assert_string_equal(out.data + 7, want);
    text_clear(&out);
}

/* Every form of a placeholder; what comes from the profile or the bench file is not looked at again
 * for placeholders. */
static void test_forms(void **state)
{
    (void)state;
    check_render("*CLS", "*CLS");
    check_render("STAR {start_hz:.0f}", "STAR 169300000");
    check_render("STAR {start_hz}", "STAR 169300000");
    check_render("STAR {start_hz/1e6:.6f} MHZ", "STAR 169.300000 MHZ");
    check_render("STAR {start_hz/1e6}", "STAR 169.3");
    check_render("STAR {start_hz/1000:d}", "STAR 169300");
    check_render("POIN {points:d}", "POIN 401");
    check_render("{points:.2f},{points}", "401.00,401");
    check_render("POW {power_dbm:.2f}", "POW -20.13");
    check_render("POW {power_dbm}", "POW -20.126");
    check_render("VOLT {voltage_v:.3f};CURR {current_a/0.001:.1f}", "VOLT 2.400;CURR 120.0");
    check_render("FUNC \"XFR:POW:{parameter}\"", "FUNC \"XFR:POW:B{A}\"");
    check_render("OUTP 1,{channel}", "OUTP 1,(@2)");
    check_render("{{{points}}}", "{401}");
    check_render("a{{b}}c", "a{b}c");
}

/* A small number has no exponent either, and what cannot be told from 0 is 0 without a sign. */
static void test_never_an_exponent(void **state)
{
    static const struct {
        double x;
        const char *text, *want;
    } cases[] = {
        {1e-7, "{voltage_v}", "0.0000001"},
        {-1e-7, "{voltage_v:.3f}", "0.000"},
        {1e-30, "{voltage_v}", "0.00000000000000000"},
        {123456789012345, "{voltage_v}", "123456789012345"},
        {1.0 / 3, "{voltage_v:.12f}", "0.333333333333"},
        {-0.0, "{voltage_v}", "0"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct profile_values values = profile_no_values();
        struct text out = {0};
        struct error e = {0};

        values.value[VALUE_VOLTAGE_V] = cases[i].x;
        assert_done(profile_render(&profile, cases[i].text, &values, &out, &e), &e);
        assert_string_equal(out.data, cases[i].want);
        text_clear(&out);
    }
}

/* A link that dies in the middle of a number must not set more than was asked for: whatever is left
 * of it reads as no larger in magnitude. An exponent would break this: "12E-3" begins with 12. */
static void test_cut_number_is_never_larger(void **state)
{
    static const char *const formats[] = {
        "{voltage_v}",     "{voltage_v:.0f}",     "{voltage_v:.3f}",  "{voltage_v:.12f}",
        "{voltage_v/1e6}", "{voltage_v/1e6:.6f}", "{voltage_v/1e-3}", "{voltage_v/7:.4f}"};
    uint64_t seed = 11;

    (void)state;
    print_message("seed %u\n", (unsigned)seed);
    for (int i = 0; i < 4000; i++) {
        struct profile_values values = profile_no_values();
        struct text out = {0};
        struct error e = {0};
        double whole, part;

        seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
        values.value[VALUE_VOLTAGE_V] = ((double)(seed >> 11) / 0x1p53 - 0.5) *
                                        pow(10, (double)(seed >> 40) / 0x1p24 * 24 - 12);
        assert_done(profile_render(&profile, formats[i % 8], &values, &out, &e), &e);
        assert_int_equal(strspn(out.data, "-0123456789."), out.length);
        assert_true(number_parse(out.data, &whole));
        for (size_t length = out.length; length-- > 0;) {
            out.data[length] = '\0';
            if (!number_parse(out.data, &part)) part = 0;
            if (!(fabs(part) <= fabs(whole))) print_error("%s of %.17g\n", out.data, whole);
            assert_true(fabs(part) <= fabs(whole));
        }
        text_clear(&out);
    }
}

/* Without a format the number reads back exactly: comparisons are made with it. */
static void test_plain_reads_back(void **state)
{
    uint64_t seed = 5;

    (void)state;
    print_message("seed %u\n", (unsigned)seed);
    for (int i = 0; i < 2000; i++) {
        struct profile_values values = profile_no_values();
        struct text out = {0};
        struct error e = {0};
        double x, back;

        seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
        x = ((double)(seed >> 11) / 0x1p53) * pow(10, i % 15);
        if (x < 0.1) continue; /* below, 17 decimals may not be enough */
        values.value[VALUE_START_HZ] = x;
        assert_done(profile_render(&profile, "{start_hz}", &values, &out, &e), &e);
        assert_true(number_parse(out.data, &back));
        assert_close(back, x, 0);
        text_clear(&out);
    }
}

static void check_wrong(const char *text, const char *words)
{
    struct profile_uses uses = {0};
    struct error e = {0};

    if (profile_uses_add(&uses, text, &e)) print_error("\"%s\" was taken\n", text);
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, words);
}

/* A placeholder that is not understood is never sent as it stands. */
static void test_refused_texts(void **state)
{
    static const char *const formats[] = {
        "{voltage_v:e}",    "{voltage_v:.3e}", "{voltage_v:.3E}",  "{voltage_v:g}",
        "{voltage_v:.4g}",  "{voltage_v:f}",   "{voltage_v:5.3f}", "{voltage_v:.13f}",
        "{voltage_v:.f}",   "{voltage_v:.3}",  "{voltage_v:}",     "{voltage_v:x}",
        "{voltage_v:.-1f}", "{voltage_v:dd}",  "{voltage_v:.3ff}", "{voltage_v:.0003f}",
        "{voltage_v:.3f }", "{voltage_v:s}",   "{voltage_v:a}",    "{voltage_v:.3f/2}"};

    (void)state;
    for (size_t i = 0; i < sizeof formats / sizeof *formats; i++)
        check_wrong(formats[i], "an exponent is never sent");
    check_wrong("VOLT {volts}", "\"{volts}\" is unknown");
    check_wrong("{}", "is unknown");
    check_wrong("{ voltage_v}", "is unknown");
    check_wrong("{VOLTAGE_V}", "is unknown");
    check_wrong("{voltage_v", "a { stands without its }");
    check_wrong("VOLT voltage_v}", "a } stands without its {");
    check_wrong("{{voltage_v}", "a } stands without its {");
    check_wrong("{voltage_v/}", "does not divide");
    check_wrong("{voltage_v/0}", "does not divide");
    check_wrong("{voltage_v/-2}", "does not divide");
    check_wrong("{voltage_v/x}", "does not divide");
    check_wrong("{voltage_v/2x}", "is no placeholder");
    check_wrong("{parameter:d}", "takes no format");
    check_wrong("{channel/2}", "takes no format");
}

static void check_not_rendered(const char *text, const struct profile_values *values,
                               const char *words)
{
    struct text out = {0};
    struct error e = {0};

    text_add(&out, "kept");
    assert_false(profile_render(&profile, text, values, &out, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
    assert_string_equal(out.data, "kept");
    text_clear(&out);
}

/* A value that is not there, or that the instrument would take for another, ends the exchange
 * before a byte is sent. */
static void test_values_that_are_not_sent(void **state)
{
    struct profile_values values = some_values();

    (void)state;
    check_not_rendered("a {stop_hz:.0f}", &values, "there is no number for \"{stop_hz:.0f}\"");
    values.value[VALUE_STOP_HZ] = INFINITY;
    check_not_rendered("a {stop_hz:.0f}", &values, "there is no number");
    values.value[VALUE_STOP_HZ] = 1e15;
    check_not_rendered("a {stop_hz:.0f}", &values, "too large");
    values.value[VALUE_STOP_HZ] = 1e300;
    check_not_rendered("a {stop_hz/1e-20:.0f}", &values, "there is no number");
    values.value[VALUE_POINTS] = 401.5;
    check_not_rendered("a {points:d}", &values, "is not whole");
    values.parameter = "S12";
    check_not_rendered("a {parameter}", &values, "a.xml has no name for S12");
    values.parameter = NULL;
    check_not_rendered("a {parameter}", &values, "not about one parameter");
    values.channel = "1\nOUTP 1";
    check_not_rendered("a {channel}", &values, "not printable ASCII");
    values.channel = "\xC3\xA9";
    check_not_rendered("a {channel}", &values, "not printable ASCII");
    values.channel = NULL;
    check_not_rendered("a {channel}", &values, "asks for a channel");
}

/* Which placeholders a text holds. */
static void test_uses(void **state)
{
    struct profile_uses uses = {0};
    struct error e = {0};

    (void)state;
    assert_done(profile_uses_add(&uses, "{points} {start_hz/1e6:.3f} {{stop_hz}}", &e), &e);
    assert_int_equal(uses.values, 1U << VALUE_POINTS | 1U << VALUE_START_HZ);
    assert_false(uses.parameter || uses.channel);
    assert_done(profile_uses_add(&uses, "{parameter}{channel}", &e), &e);
    assert_true(uses.parameter && uses.channel);
    assert_int_equal(uses.values, 1U << VALUE_POINTS | 1U << VALUE_START_HZ);
}

/* No memory is an ordinary error, and nothing half-made stays in the text. */
static void test_no_memory(void **state)
{
    struct profile_values values = some_values();

    (void)state;
    for (unsigned long nth = 1;; nth++) {
        struct text out = {0};
        struct error e = {0};
        bool ok;

        memory_fail_at(nth);
        ok = profile_render(&profile, "VOLT {voltage_v:.3f}", &values, &out, &e);
        memory_fail_at(0);
        if (!ok) assert_int_equal(e.kind, ERROR_MEMORY);
        if (!ok) assert_int_equal(out.length, 0);
        text_clear(&out);
        if (!ok) continue;
        assert_true(nth > 1);
        break;
    }
}

static void check_with_comma(void)
{
    check_render("{start_hz/1e6:.6f},{power_dbm}", "169.300000,-20.126");
}

/* A locale with a decimal comma changes nothing: a comma would end the number. */
static void test_comma_locale(void **state)
{
    comma_locale_run(*state, check_with_comma);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_forms),
        cmocka_unit_test(test_never_an_exponent),
        cmocka_unit_test(test_cut_number_is_never_larger),
        cmocka_unit_test(test_plain_reads_back),
        cmocka_unit_test(test_refused_texts),
        cmocka_unit_test(test_values_that_are_not_sent),
        cmocka_unit_test(test_uses),
        cmocka_unit_test(test_no_memory),
        cmocka_unit_test_setup_teardown(test_comma_locale, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
