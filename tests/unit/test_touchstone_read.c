/* Touchstone version 1, and what both versions share: formats, units, kinds of parameters.
 *
 * "Example n" is an example of the Touchstone File Format Specification, Version 2.1, IBIS Open
 * Forum, 26 January 2024, read in full. S values that the specification does not print were
 * computed by two routes. */
#include "drivers/network.h"
#include "drivers/touchstone.h"
#include "tests/sweep_check.h"

static void read_as(const char *path, const char *text, struct sweep *out)
{
    sweep_check_done(touchstone_read, path, text, out);
}

static void refuse(const char *path, const char *text, unsigned long line, const char *words)
{
    sweep_check_refused(touchstone_read, path, text, line, words);
}

/* Reason: Example 9, one port; what one port lacks must be NaN and not something that can pass. */
static void example_9_one_port(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("nine.s1p",
            "!1-port S-parameter file, single frequency point\n# MHz S MA R 50\n"
            "!freq magS11 angS11\n2.000 0.894 -12.136\n",
            &s);
    assert_int_equal(s.n_ports, 1);
    assert_int_equal(s.n_points, 1);
    assert_int_equal(s.measured, S_BIT(S11));
    assert_close(s.frequency_hz[0], 2e6, 0);
    assert_s(&s, 0, S11, 0.874020294860635, -0.187948195446853, 1e-15);
    for (size_t k = S12; k < S_PARAMETERS; k++) {
        assert_true(isnan(creal(sweep_s(&s, 0, (enum s_parameter)k))));
        assert_true(isnan(cimag(sweep_s(&s, 0, (enum s_parameter)k))));
    }
    assert_close(s.z0_ohm[0], 50, 0);
    assert_close(s.z0_ohm[1], 50, 0);
    sweep_clear(&s);
}

/* Reason: Example 10: Z is relative to the resistance in version 1. Values computed (R1, own). */
static void example_10_z_is_normalised(void **state)
{
    struct sweep s = {0};
    struct error e = {0};

    (void)state;
    read_as("ten.s1p",
            "# MHz Z MA R 75\n100 0.99 -4\n200 0.80 -22\n300 0.707 -45\n400 0.40 -62\n"
            "500 0.01 -89\n",
            &s);
    assert_int_equal(s.n_points, 5);
    assert_close(s.frequency_hz[4], 500e6, 0);
    assert_close(s.z0_ohm[0], 75, 0);
    assert_s(&s, 0, S11, -0.00503125341, -0.0349198866, 1e-10);
    assert_done(network_renormalise(&s, 50, &e), &e);
    /* (Z - 50) / (Z + 50) with Z = 74.0691307318 - j5.1794181755 ohm. */
    assert_s(&s, 0, S11, 0.19539995285, -0.03358901673, 1e-10);
    sweep_clear(&s);
}

/* Reason: Example 12: H mixes ohms, siemens and bare numbers, and the order is 11, 21, 12, 22.
 * S values computed by two routes. */
static void example_12_h(void **state)
{
    struct sweep s = {0};
    struct error e = {0};

    (void)state;
    read_as("twelve.s2p", "# kHz H MA R 1\n2 .95 -26 3.57 157 .04 76 .66 -14\n", &s);
    assert_close(s.frequency_hz[0], 2000, 0);
    assert_close(s.z0_ohm[0], 1, 0);
    assert_s(&s, 0, S11, -0.0199759434, -0.1839726659, 1e-10);
    assert_s(&s, 0, S12, -0.0007830294, 0.0251417390, 1e-10);
    assert_s(&s, 0, S21, 2.2272065543, -0.2819983604, 1e-10);
    assert_s(&s, 0, S22, 0.1930716505, 0.0650957811, 1e-10);
    assert_done(network_renormalise(&s, 50, &e), &e);
    assert_s(&s, 0, S11, -0.9631580206, -0.0086166143, 1e-10);
    assert_s(&s, 0, S12, 6.31597e-06, 0.0023115722, 1e-10);
    assert_s(&s, 0, S21, 0.2036796493, -0.0328304142, 1e-10);
    assert_s(&s, 0, S22, -0.9428157047, 0.0135960686, 1e-10);
    sweep_clear(&s);
}

/* Reason: normalising each element of H, Y, Z and G at a resistance other than 1. The network is
 * that of test_network.c (computed vectors); its values are divided here as version 1 does: h11 by
 * R, h22 by 1/R, the ratios not at all. All must give the same S. */
static void version_1_kinds_are_normalised(void **state)
{
    static const char *const texts[] = {
        "# GHz Z RI R 50\n1 1.4501589136 0.0809014736 9.3614562246 2.1958971396 "
        "0.0577867668 -0.0358277954 1.7113550996 -0.4010401618\n",
        "# GHz Y RI R 50\n1 0.9154840245 -0.098311266 -4.7252834375 -1.7442321415 "
        "-0.032347578 0.0149052565 0.748672005 0.135415841\n",
        "# GHz H RI R 50\n1 1.0798653324 0.1159637146 -4.90040213 -2.43149725 "
        "0.03665949687 -0.01234452446 0.5539137755 0.1298045445\n",
        "# GHz G RI R 50\n1 0.6874400765 -0.038350911 6.5196548418 1.15052732502 "
        "-0.03835091083 0.02684563758 1.29338446788 -0.233940556088\n",
    };

    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct sweep s = {0};

        read_as("kinds.s2p", texts[i], &s);
        assert_close(s.frequency_hz[0], 1e9, 0);
        assert_s(&s, 0, S11, 0.1, 0.05, 1e-8);
        assert_s(&s, 0, S12, 0.02, -0.01, 1e-8);
        assert_s(&s, 0, S21, 3, 1, 1e-7);
        assert_s(&s, 0, S22, 0.2, -0.1, 1e-8);
        sweep_clear(&s);
    }
}

/* Reason: Example 14, as written. The halves of rows that repeat (S12 = S21, S22 = S11) are written
 * out. */
static void example_14_two_port(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("fourteen.s2p",
            "# GHz S RI R 50.0\n"
            "1.0000 0.3926 -0.1211 -0.0003 -0.0021 -0.0003 -0.0021 0.3926 -0.1211\n"
            "2.0000 0.3517 -0.3054 -0.0096 -0.0298 -0.0096 -0.0298 0.3517 -0.3054\n"
            "10.000 0.3419 0.3336 -0.0134 0.0379 -0.0134 0.0379 0.3419 0.3336\n",
            &s);
    assert_int_equal(s.n_points, 3);
    assert_int_equal(s.n_ports, 2);
    assert_int_equal(s.measured, S_ALL);
    assert_close(s.frequency_hz[0], 1e9, 0);
    assert_close(s.frequency_hz[1], 2e9, 0);
    assert_close(s.frequency_hz[2], 1e10, 0);
    assert_s(&s, 0, S11, 0.3926, -0.1211, 0);
    assert_s(&s, 1, S21, -0.0096, -0.0298, 0);
    assert_s(&s, 2, S22, 0.3419, 0.3336, 0);
    sweep_clear(&s);
}

static void assert_example_19(const struct sweep *s)
{
    assert_int_equal(s->n_points, 2);
    assert_close(s->frequency_hz[0], 2e9, 0);
    assert_close(s->frequency_hz[1], 22e9, 0);
    assert_s(s, 0, S11, 0.8538543439842, -0.4164525894496, 1e-13);
    assert_s(s, 0, S21, -3.2862023268252, 1.3949101287067, 1e-13);
    assert_s(s, 0, S12, 0.0096768758240, 0.0388118290510, 1e-13);
    assert_s(s, 0, S22, 0.6403951793422, -0.1596684510958, 1e-13);
    assert_close(s->z0_ohm[0], 50, 0);
    assert_close(s->z0_ohm[1], 50, 0);
}

/* Reason: Example 19: a bare # means GHz S MA R 50, and noise data begin where the frequency does
 * not rise. They may not become points. */
static void example_19_defaults_and_noise(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("nineteen.s2p",
            "!2-port network, S-parameter and noise data\n#\n! NETWORK PARAMETERS\n"
            "2 .95 -26 3.57 157 .04 76 .66 -14\n22 .60 -144 1.30 40 .14 40 .56 -85\n"
            "! NOISE PARAMETERS\n4 .7 .64 69 .38\n18 2.7 .46 -33 .40\n",
            &s);
    assert_example_19(&s);
    read_as("nineteen.s2p",
            "# ! a comment behind the bare option line\n"
            "2 .95 -26 3.57 157\n .04 76 .66 -14\n22 .60 -144 1.30 40\n .14 40 .56 -85\n"
            "22 .7 .64 69 .38 ! at the last frequency\n",
            &s);
    assert_example_19(&s);
    sweep_clear(&s);
}

/* Reason: the dB form of the 2 GHz point of Example 19 (20 log10 of the magnitudes): DB is 20 log10
 * for every kind, Z included, where a ratio of powers would suggest 10. */
static void db_is_20_log10_for_every_kind(void **state)
{
    struct sweep s = {0}, bare = {0};

    (void)state;
    read_as("db.s2p",
            "# GHz S DB R 50\n2 -0.4455279 -26 11.0533641 157 -27.9588002 76 -3.6091213 -14\n", &s);
    assert_s(&s, 0, S11, 0.8538543439842, -0.4164525894496, 1e-7);
    assert_s(&s, 0, S21, -3.2862023268252, 1.3949101287067, 1e-7);
    assert_s(&s, 0, S12, 0.0096768758240, 0.0388118290510, 1e-7);
    assert_s(&s, 0, S22, 0.6403951793422, -0.1596684510958, 1e-7);
    read_as("db.s1p", "# GHz Z DB\n1 6.020599913279624 0\n", &s); /* 2 times 50 ohm */
    read_as("ma.s1p", "# GHz Z MA\n1 2 0\n", &bare);
    assert_s(&s, 0, S11, creal(sweep_s(&bare, 0, S11)), 0, 1e-15);
    assert_s(&bare, 0, S11, 1.0 / 3, 0, 1e-15);
    sweep_clear(&s);
    sweep_clear(&bare);
}

/* Reason: a frequency in any unit must be the same double, or neighbouring points differ between
 * files. 169.3 * 1e6 in binary is not 169300000. */
static void units_scale_decimally(void **state)
{
    static const char *const texts[] = {"# Hz S RI\n169300000 1 0\n", "# kHz S RI\n169300 1 0\n",
                                        "# MHz S RI\n169.3 1 0\n", "# GHz S RI\n0.1693 1 0\n",
                                        "# mhz S RI\n1.693e2 1 0\n"};

    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct sweep s = {0};

        read_as("unit.s1p", texts[i], &s);
        assert_true(s.frequency_hz[0] == 169300000.0);
        sweep_clear(&s);
    }
}

/* Reason: forms of numbers that real files have. */
static void numbers_in_their_forms(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("n.s2p",
            "# Hz S RI\n+1e+009 .5 -.5 5. +5.E-001 0.00000000000000000000001e23 -0 1E0 -1\n", &s);
    assert_close(s.frequency_hz[0], 1e9, 0);
    assert_s(&s, 0, S11, 0.5, -0.5, 0);
    assert_s(&s, 0, S21, 5, 0.5, 0);
    assert_s(&s, 0, S12, 1, 0, 0);
    assert_s(&s, 0, S22, 1, -1, 0);
    sweep_clear(&s);
}

/* Reason: the ports come from the first row's shape, over lines too, and a name without .sNp tells
 * nothing. Zero hertz is a frequency. */
static void ports_come_from_the_rows(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.ts", "# Hz S RI\n0 1 2\n", &s);
    assert_int_equal(s.n_ports, 1);
    read_as("a.ts", "# Hz S RI\n0 1 2 3 4 5 6 7 8\n1 1 2 3 4 5 6 7 8\n", &s);
    assert_int_equal(s.n_ports, 2);
    assert_int_equal(s.n_points, 2);
    read_as("a.S2P", "# Hz S RI\n0 1 2\n3 4\n\n! between\n5 6\n 7 8\n1\n1 2 3 4 5 6 7 8\n", &s);
    assert_int_equal(s.n_ports, 2);
    assert_int_equal(s.n_points, 2);
    assert_s(&s, 1, S22, 7, 8, 0);
    read_as("a.s1p", "# Hz S RI\n1\n1 2\n2\n3 4\n", &s);
    assert_int_equal(s.n_ports, 1);
    assert_int_equal(s.n_points, 2);
    sweep_clear(&s);
    refuse("a.s1p", "# Hz S RI\n0 1 2 3 4 5 6 7 8\n", 2, "rows are those of 2 ports, but the name");
    refuse("a.s2p", "# Hz S RI\n0 1 2\n", 2, "rows are those of 1 port, but the name");
    refuse("a.s3p", "# Hz S RI\n0 1 2 3 4 5 6 7 8\n", 1, "only one and two ports are read");
    refuse("a.s12p", "# Hz S RI\n0 1 2\n", 1, "only one and two ports are read");
    /* Three ports: 7, 6, 6 numbers; four: 9, 8, 8, 8. */
    refuse("a.ts", "# Hz S RI\n!\n0 1 2 3 4 5 6\n1 2 3 4 5 6\n1 2 3 4 5 6\n", 3,
           "only one and two ports are read");
    refuse("a.ts", "# Hz S RI\n0 1 2 3 4 5 6 7 8\n1 2 3 4 5 6 7 8\n1 2 3 4 5 6 7 8\n", 2,
           "only one and two ports are read");
    refuse("a.ts", "# Hz S RI\n0 1 2 3 4\n", 2, "a row has 5 numbers");
    refuse("a.s2p", "# Hz S RI\n0 1 2 3\n", 2, "a row begins with 4 numbers");
    refuse("a.s2p", "# Hz S RI\nfreq s11 s21 s12\n", 2, "\"freq\" is not a finite decimal number");
}

/* Reason: a row that is too short or too long shifts every value behind it into another place. */
static void broken_rows_are_refused(void **state)
{
    (void)state;
    refuse("a.s1p", "# Hz S RI\n1 1 2\n2 1\n3 1 2\n", 4, "a row has more numbers than the 3");
    refuse("a.s1p", "# Hz S RI\n1 1 2\n2 1 2 3\n", 3,
           "a row has more numbers than the 3 of 1 port");
    refuse("a.s2p", "# Hz S RI\n1 1 2 3 4 5 6 7 8\n2 1 2 3 4 5 6 7 8 9\n", 3,
           "a row has more numbers than the 9 of 2 ports");
    refuse("a.s2p", "# Hz S RI\n1 1 2 3 4 5 6 7 8\n2 1 2 3 4 5 6 7\n", 4, "looks cut off");
    refuse("a.s2p", "# Hz S RI\n1 1 2 3 4 5 6 7 8\n2 1 2 3 4 5 6 7", 3, "looks cut off");
    refuse("a.s2p", "# Hz S RI\n1 1 2 3 4 5 6 7 8\n2 1 2 3 4\n# Hz\n5 6 7 8\n", 4,
           "an option line stands within a row");
    refuse("a.s2p", "# Hz S RI\n1 1 2 3 4 5 6 7 8\n2 1 2 3 4 5 6\n3 1 2 3 4 5 6 7 8\n", 4,
           "a row has more numbers");
}

/* Reason: only a frequency axis is one; the line is that on which the row begins. */
static void frequencies_must_rise(void **state)
{
    (void)state;
    refuse("a.s1p", "# Hz S RI\n1 1 2\n1 1 2\n", 3, "the frequency does not rise");
    refuse("a.s1p", "# Hz S RI\n2 1 2\n1 1 2\n", 3, "the frequency does not rise");
    refuse("a.s1p", "# Hz S RI\n-1 1 2\n", 2, "a frequency is below 0");
    refuse("a.s2p", "# Hz S RI\n2 1 2 3 4 5 6 7 8\n2 1 2\n3 4 5 6 7 8\n", 3, "does not rise");
    refuse("a.s2p", "# Hz S RI\n2 1 2 3 4 5 6 7 8\n2 1 2 3 4 5 6 7 8\n", 3,
           "rise: it must be above");
    refuse("a.s1p", "# GHz S RI\n1e300 1 2\n", 2, "\"1e300\" is not a finite decimal number");
}

/* Reason: noise data may be skipped only where they are noise data. One port has none: five numbers
 * are two rows run together there. */
static void noise_data_are_checked(void **state)
{
    const char *const path = "a.s2p";

    (void)state;
    refuse(path, "#\n2 1 2 3 4 5 6 7 8\n1 2 3 4 5\n1 2 3 4 5\n", 4, "noise data does not rise");
    refuse(path, "#\n2 1 2 3 4 5 6 7 8\n1 2 3 4 5\n2 2 3 4\n", 4, "this row has 4");
    refuse(path, "#\n2 1 2 3 4 5 6 7 8\n1 2 3 4 x\n", 3, "\"x\" is not a finite decimal number");
    refuse(path, "#\n2 1 2 3 4 5 6 7 8\n-1 2 3 4 5\n", 3, "is below 0");
    refuse(path, "#\n2 1 2 3 4 5 6 7 8\n1 2 3 4 5\n3 1 2 3 4 5 6 7 8\n", 4, "this row has 9");
    /* Rising, so not noise but a row of nine, which goes on. */
    refuse(path, "#\n2 1 2 3 4 5 6 7 8\n3 2 3 4 5\n", 4, "looks cut off");
    refuse("a.s1p", "#\n2 1 2\n1 2 3 4 5\n", 3, "the frequency does not rise");
}

/* Reason: a network without S-parameters, or beyond doubles, must not become infinity or NaN. */
static void impossible_networks_are_refused(void **state)
{
    (void)state;
    refuse("a.s1p", "# Hz Z RI R 50\n1 0 0\n2 -1 0\n", 3, "has no S-parameters");
    refuse("a.s1p", "# Hz Y RI R 50\n1 -1 0\n", 2, "has no S-parameters");
    refuse("a.s1p", "# Hz S DB\n1 1e5 0\n", 2, "too large");
    refuse("a.s1p", "# Hz S MA\n1 1e309 0\n", 2, "\"1e309\" is not a finite decimal number");
    refuse("a.s1p", "# Hz G RI\n1 1 0\n", 2, "G and H describe two ports");
    refuse("a.s1p", "# Hz H RI\n1 1 0\n", 2, "G and H describe two ports");
}

/* Reason: an archive is read into one sweep; nothing of the file before may remain. */
static void a_sweep_is_used_again(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.s2p", "# Hz S RI R 75\n1 1 2 3 4 5 6 7 8\n2 1 2 3 4 5 6 7 8\n", &s);
    read_as("a.s1p", "# Hz S RI R 10\n5 0.5 0.25\n", &s);
    assert_int_equal(s.n_points, 1);
    assert_int_equal(s.measured, S_BIT(S11));
    assert_close(s.z0_ohm[0], 10, 0);
    assert_close(s.z0_ohm[1], 10, 0);
    assert_true(isnan(creal(sweep_s(&s, 0, S21))));
    sweep_clear(&s);
}

/* Reason: memory may run out while the sweep grows; nothing leaks, the kind tells. */
static void no_memory_is_told(void **state)
{
    (void)state;
    for (unsigned long nth = 1; nth <= 2; nth++) {
        struct sweep s = {0};
        struct error e = {0};

        memory_fail_at(nth);
        assert_false(touchstone_read("a.s1p", "# Hz S RI\n1 1 2\n", 16, &s, &e));
        memory_fail_at(0);
        assert_int_equal(e.kind, ERROR_MEMORY);
        assert_int_equal(s.n_points, 0);
        sweep_clear(&s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(example_9_one_port),
        cmocka_unit_test(example_10_z_is_normalised),
        cmocka_unit_test(example_12_h),
        cmocka_unit_test(version_1_kinds_are_normalised),
        cmocka_unit_test(example_14_two_port),
        cmocka_unit_test(example_19_defaults_and_noise),
        cmocka_unit_test(db_is_20_log10_for_every_kind),
        cmocka_unit_test(units_scale_decimally),
        cmocka_unit_test(numbers_in_their_forms),
        cmocka_unit_test(ports_come_from_the_rows),
        cmocka_unit_test(broken_rows_are_refused),
        cmocka_unit_test(frequencies_must_rise),
        cmocka_unit_test(noise_data_are_checked),
        cmocka_unit_test(impossible_networks_are_refused),
        cmocka_unit_test(a_sweep_is_used_again),
        cmocka_unit_test(no_memory_is_told),
    };

    return cmocka_run_group_tests_name("touchstone_read", tests, NULL, NULL);
}
