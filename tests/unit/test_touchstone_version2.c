/* Touchstone version 2: keywords, their order, what is required, and the values behind them.
 *
 * "Example n" is an example of the Touchstone File Format Specification, Version 2.1, IBIS Open
 * Forum, 26 January 2024, read in full; "computed" values come from two other routes. */
#include "drivers/network.h"
#include "drivers/touchstone.h"
#include "tests/sweep_check.h"

#define HEAD "[Version] 2.0\n# Hz S RI\n[Number of Ports] 2\n"
#define ORDER "[Two-Port Data Order] 21_12\n"
#define ONE "[Number of Frequencies] 1\n"
#define DATA "[Network Data]\n1 1 2 3 4 5 6 7 8\n"

static void read_as(const char *path, const char *text, struct sweep *out)
{
    sweep_check_done(touchstone_read, path, text, out);
}

static void refuse(const char *text, unsigned long line, const char *words)
{
    sweep_check_refused(touchstone_read, "a.ts", text, line, words);
}

/* Reason: the smallest whole file, in the same breath with everything in lower case. */
static void smallest_files_are_read(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.ts", HEAD ORDER ONE DATA "[End]", &s);
    assert_int_equal(s.n_ports, 2);
    assert_int_equal(s.measured, S_ALL);
    assert_s(&s, 0, S21, 3, 4, 0);
    assert_s(&s, 0, S12, 5, 6, 0);
    assert_close(s.z0_ohm[0], 50, 0);
    assert_close(s.z0_ohm[1], 50, 0);
    read_as("a.s1p",
            "[version] 2.1\n# mhz s ri r 75\n[number OF ports] 1\n[number of frequencies] 2\n"
            "[network data]\n1 1 2\n2 3 4\n[end]\n! the end\n\n",
            &s);
    assert_int_equal(s.n_ports, 1);
    assert_int_equal(s.n_points, 2);
    assert_int_equal(s.measured, S_BIT(S11));
    assert_close(s.frequency_hz[1], 2e6, 0);
    assert_close(s.z0_ohm[0], 75, 0);
    assert_true(isnan(creal(sweep_s(&s, 0, S22))));
    sweep_clear(&s);
}

/* Reason: Example 11 is Example 10 in version 2: Z in ohms; the S-parameters refer to [Reference],
 * 20 ohm, or else to the option line. Computed: gamma(20), gamma(75). */
static void example_11_z_is_in_ohms(void **state)
{
    struct sweep s = {0};
    struct error e = {0};

    (void)state;
    read_as(
        "eleven.ts",
        "[Version] 2.1\n# MHz Z MA\n[Number of Ports] 1\n[Number of Frequencies] 5\n"
        "[Reference] 20.0\n[Network Data]\n100 74.25 -4\n200 60 -22\n300 53.025 -45\n400 30 -62\n"
        "500 0.75 -89\n[End]\n",
        &s);
    assert_int_equal(s.n_points, 5);
    assert_close(s.z0_ohm[0], 20, 0);
    assert_s(&s, 0, S11, 0.5760659914, -0.0233416796, 1e-10);
    assert_done(network_renormalise(&s, 75, &e), &e);
    assert_s(&s, 0, S11, -0.00503125341, -0.0349198866, 1e-10);
    read_as("eleven.ts",
            "[Version] 2.1\n# MHz Z MA R 75\n[Number of Ports] 1\n[Number of Frequencies] 1\n"
            "[Network Data]\n100 74.25 -4\n[End]\n",
            &s);
    assert_close(s.z0_ohm[0], 75, 0);
    assert_s(&s, 0, S11, -0.00503125341, -0.0349198866, 1e-10);
    sweep_clear(&s);
}

/* Reason: Example 13 is Example 12 in version 2; computed by two routes. */
static void example_13_h(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("thirteen.ts",
            "! 2-port H-parameter file, single frequency point\n[Version] 2.1\n# kHz H MA R 1\n"
            "[Number of Ports] 2\n" ORDER ONE "[Matrix Format] Full\n[Network Data]\n"
            "! freq magH11 angH11 magH21 angH21 magH12 angH12 magH22 angH22\n"
            "2 .95 -26 3.57 157 .04 76 .66 -14\n[End]\n",
            &s);
    assert_close(s.frequency_hz[0], 2000, 0);
    assert_close(s.z0_ohm[0], 1, 0);
    assert_s(&s, 0, S11, -0.0199759434, -0.1839726659, 1e-10);
    assert_s(&s, 0, S12, -0.0007830294, 0.0251417390, 1e-10);
    assert_s(&s, 0, S21, 2.2272065543, -0.2819983604, 1e-10);
    assert_s(&s, 0, S22, 0.1930716505, 0.0650957811, 1e-10);
    sweep_clear(&s);
}

/* Reason: in version 2 the resistance does not touch Y, Z, G and H, only the S made of them.
 * Vectors computed, the same as in test_network.c, at 50 ohm whatever the option line says. */
static void kinds_are_not_normalised(void **state)
{
    static const char *const rows[] = {
        "# GHz Z RI R 75\n",
        "1 72.50794568 4.04507368 468.07281123 109.79485698 2.88933834 -1.79138977 85.56775498 "
        "-20.05200809\n",
        "# GHz Y RI R 75\n",
        "1 0.01830968049 -0.00196622532 -0.09450566875 -0.03488464283 -0.00064695156 "
        "0.00029810513 0.01497344010 0.00270831682\n",
        "# GHz H RI R 75\n",
        "1 53.99326662 5.79818573 -4.90040213 -2.43149725 0.03665949687 -0.01234452446 "
        "0.01107827551 0.00259609089\n",
        "# GHz G RI R 75\n",
        "1 0.01374880153 -0.00076701822 6.51965484180 1.15052732502 -0.03835091083 0.02684563758 "
        "64.66922339406 -11.69702780441\n",
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i += 2) {
        struct sweep s = {0};
        char text[512];

        (void)snprintf(text, sizeof text,
                       "[Version] 2.0\n%s[Number of Ports] 2\n[Reference] 50 50\n" ORDER ONE
                       "[Network Data]\n%s[End]\n",
                       rows[i], rows[i + 1]);
        read_as("kinds.ts", text, &s);
        assert_close(s.z0_ohm[0], 50, 0);
        assert_s(&s, 0, S11, 0.1, 0.05, 1e-8);
        assert_s(&s, 0, S12, 0.02, -0.01, 1e-8);
        assert_s(&s, 0, S21, 3, 1, 1e-7);
        assert_s(&s, 0, S22, 0.2, -0.1, 1e-8);
        sweep_clear(&s);
    }
}

/* Reason: Example 18: noise data, and two references, which matter when the sweep moves to 50 ohm.
 * The moved values are computed. [End] is ours: the example shows it at its foot. */
static void example_18_two_references(void **state)
{
    struct sweep s = {0};
    struct error e = {0};

    (void)state;
    read_as("eighteen.ts",
            "[Version] 2.1\n#\n[Number of Ports] 2\n" ORDER
            "[Number of Frequencies] 2\n[Number of Noise Frequencies] 2\n[Reference] 50 25.0\n"
            "[Network Data]\n! NETWORK PARAMETERS\n2 .95 -26 3.57 157 .04 76 .66 -14\n"
            "22 .60 -144 1.30 40 .14 40 .56 -85\n[Noise Data]\n! NOISE PARAMETERS\n4 .7 .64 69 19\n"
            "18 2.7 .46 -33 20\n[End]\n",
            &s);
    assert_int_equal(s.n_points, 2);
    assert_close(s.z0_ohm[0], 50, 0);
    assert_close(s.z0_ohm[1], 25, 0);
    assert_s(&s, 0, S11, 0.8538543439842, -0.4164525894496, 1e-13);
    assert_s(&s, 0, S21, -3.2862023268252, 1.3949101287067, 1e-13);
    assert_done(network_renormalise(&s, 50, &e), &e);
    assert_s(&s, 0, S11, 0.8143437264991, -0.4621113161974, 1e-12);
    assert_s(&s, 0, S12, 0.0146804315194, 0.0455298392961, 1e-12);
    assert_s(&s, 0, S21, -3.8085443628796, 1.9297748436954, 1e-12);
    assert_s(&s, 0, S22, 0.3749447451440, -0.2283739189178, 1e-12);
    sweep_clear(&s);
}

/* Reason: Example 21: 12_21 puts S12 first. Read the other way, a board would have its reverse
 * isolation as its gain. */
static void example_21_order_12_21(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("twentyone.ts",
            "[Version] 2.1\n#\n[Number of Ports] 2\n[Two-Port Data Order] 12_21\n" ONE
            "[Network Data]\n2 .95 -26 3.57 157 .04 76 .66 -14\n[End]\n",
            &s);
    assert_s(&s, 0, S12, -3.2862023268252, 1.3949101287067, 1e-13);
    assert_s(&s, 0, S21, 0.0096768758240, 0.0388118290510, 1e-13);
    sweep_clear(&s);
}

/* Reason: as in Example 4, [Reference] may begin on the next line and go over lines. (Example 4
 * itself has four ports.) */
static void reference_goes_over_lines(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.ts", HEAD ORDER ONE "[Reference] ! ohm\n50 ! port 1\n\n 0.01\n" DATA "[End]", &s);
    assert_close(s.z0_ohm[0], 50, 0);
    assert_close(s.z0_ohm[1], 0.01, 0);
    sweep_clear(&s);
    refuse("[Version] 2.1\n# MHz S RI\n[Number of Ports] 4\n[Number of Frequencies] 1\n"
           "[Reference]\n50 75 0.01 0.01\n[Network Data]\n",
           3, "4 ports: only one and two ports are read");
    refuse(HEAD ORDER ONE "[Reference] 50\n" DATA "[End]", 7, "needs a resistance for each port");
    refuse(HEAD ORDER ONE "[Reference] 50 50 50\n" DATA "[End]", 6, "something stands behind");
    refuse(HEAD ORDER ONE "[Reference] 50 0\n" DATA "[End]", 6, "must be above 0 ohm");
    refuse(HEAD ORDER ONE "[Reference] 50 -1\n" DATA "[End]", 6, "must be above 0 ohm");
    refuse(HEAD ORDER ONE "[Reference] 50 (50+j1)\n" DATA "[End]", 6,
           "\"(50+j1)\" is not a finite");
    refuse(HEAD ORDER ONE "[Reference]50 50\n" DATA "[End]", 6, "a blank is missing");
}

/* Reason: in version 2 a row may break anywhere, and several may share a line: only the count of
 * numbers tells where one ends. */
static void data_break_anywhere(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.ts",
            HEAD ORDER
            "[Number of Frequencies] 3\n[Network Data]\n1\n1 2 3\n4 ! here\n\n5 6 7 8 2 1 "
            "2 3 4 5 6 7 8 3\n1 2 3 4 5 6 7 8\n[End]\n",
            &s);
    assert_int_equal(s.n_points, 3);
    assert_close(s.frequency_hz[1], 2, 0);
    assert_close(s.frequency_hz[2], 3, 0);
    assert_s(&s, 1, S22, 7, 8, 0);
    sweep_clear(&s);
}

/* Reason: Lower and Upper both write 11, 21, 22 of two ports, and 12 is the same as 21; with one
 * port they change nothing. */
static void triangles_are_symmetric(void **state)
{
    static const char *const formats[] = {"Lower", "UPPER"};
    struct sweep s = {0};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        char text[256];

        (void)snprintf(text, sizeof text,
                       HEAD "[Matrix Format] %s\n" ORDER
                            "[Number of Frequencies] 2\n[Network Data]\n"
                            "1 1 2 3 4 7 8 2 11 12\n13 14 17 18\n[End]\n",
                       formats[i]);
        read_as("a.ts", text, &s);
        assert_int_equal(s.n_points, 2);
        assert_s(&s, 0, S21, 3, 4, 0);
        assert_s(&s, 0, S12, 3, 4, 0);
        assert_s(&s, 1, S11, 11, 12, 0);
        assert_s(&s, 1, S22, 17, 18, 0);
    }
    read_as("a.ts",
            "[Version] 2.0\n# Hz S RI\n[Number of Ports] 1\n[Matrix Format] Lower\n" ONE
            "[Network Data]\n1 1 2\n[End]\n",
            &s);
    assert_s(&s, 0, S11, 1, 2, 0);
    sweep_clear(&s);
    refuse(HEAD ORDER ONE "[Matrix Format] Diagonal\n" DATA "[End]", 6, "Full, Lower or Upper");
}

/* Reason: any order between [Number of Ports] and [Network Data]; information is not read, whatever
 * keywords it holds. */
static void head_in_any_order_with_information(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.ts",
            "! first\n\n[Version] 2.0 ! two\n! then\n# Hz S RI\n! then\n[Number of Ports]\t2\n"
            "[Begin Information]\n[Manufacturer] nobody ! \xB5\n[End]\n# GHz\n 1 2 3\n"
            "[End Information]\n[Reference] 10 20\n" ONE "[Matrix Format] Full\n" ORDER DATA
            "[End]\n",
            &s);
    assert_close(s.z0_ohm[1], 20, 0);
    assert_close(s.frequency_hz[0], 1, 0);
    sweep_clear(&s);
    refuse(HEAD "[Begin Information]\n" ORDER ONE DATA "[End]\n", 10, "has no [End Information]");
    refuse(HEAD "[Begin Information]\n\n\xC2\xB5W\n[End Information]\n", 6, "not ASCII");
    refuse(HEAD "[End Information]\n", 4, "does not belong before [Network Data]");
    refuse(HEAD "[Begin Information]\n[End Information]\n[Begin Information]\n[End Information]\n",
           6, "stands twice");
}

/* Reason: everything that version 2 requires, left out one at a time. */
static void required_keywords(void **state)
{
    (void)state;
    refuse("[Number of Ports] 2\n", 1, "[Version] must come before");
    refuse("# Hz S RI\n[Version] 2.0\n", 2, "does not begin with [Version]");
    refuse("[Version] 2.0\n[Number of Ports] 2\n", 2, "must follow [Version]");
    refuse("[Version] 2.0\n", 2, "must follow [Version]");
    refuse("[Version] 2.0\n# Hz S RI\n" ONE, 3, "[Number of Ports] must follow the option line");
    refuse(HEAD ORDER DATA "[End]\n", 5, "[Number of Frequencies] is missing");
    refuse(HEAD ONE DATA "[End]\n", 5, "[Two-Port Data Order] is missing");
    refuse(HEAD ORDER ONE "1 1 2 3 4 5 6 7 8\n[End]\n", 6, "a keyword in brackets is missing here");
    refuse(HEAD ORDER ONE "[End]\n", 6, "[End] does not belong before [Network Data]");
}

/* Reason: a file without [End] may have lost its tail, and a short one certainly has. */
static void cut_files_are_refused(void **state)
{
    (void)state;
    refuse(HEAD ORDER ONE DATA, 8, "before [End]: it looks cut off");
    refuse(HEAD ORDER ONE "[Network Data]\n1 1 2 3 4 5 6 7 8", 7, "before [End]: it looks cut off");
    refuse(HEAD ORDER ONE "[Network Data]\n1 1 2 3 4 5 6 7", 7, "looks cut off");
    refuse(HEAD ORDER ONE "[Network Data]\n1 1 2 3 4 5 6 7\n[End]\n", 8, "looks cut off");
    refuse(HEAD ORDER "[Number of Frequencies] 2\n" DATA, 8, "ends after 1 of 2 frequencies");
    refuse(HEAD ORDER, 5, "looks cut off");
    refuse(HEAD ORDER ONE DATA "[En", 8, "is not known");
}

/* Reason: counts that differ mean lost or foreign rows; every argument is checked. */
static void counts_and_arguments(void **state)
{
    (void)state;
    refuse(HEAD ORDER "[Number of Frequencies] 2\n" DATA "[End]\n", 8,
           "1 frequencies, but [Number of Frequencies] says 2");
    refuse(HEAD ORDER ONE DATA "2 1 2 3 4 5 6 7 8\n[End]\n", 9,
           "2 frequencies, but [Number of Frequencies] says 1");
    refuse(HEAD ORDER "[Number of Frequencies] 0\n", 5, "is not a whole number above 0");
    refuse(HEAD ORDER "[Number of Frequencies] 1.0\n", 5, "is not a whole number above 0");
    refuse(HEAD ORDER "[Number of Frequencies] 99999999999999999999999\n", 5, "not a whole number");
    refuse(HEAD ORDER "[Number of Frequencies]\n1\n", 5, "needs an argument on its line");
    refuse(HEAD ORDER "[Number of Frequencies]1\n", 5, "a blank is missing");
    refuse(HEAD ORDER "[Number of Frequencies] 1 1\n", 5, "something stands behind");
    refuse(HEAD "[Two-Port Data Order] 11_22\n", 4, "12_21 or 21_12");
    refuse(HEAD ORDER ORDER, 5, "[Two-Port Data Order] stands twice");
    refuse(HEAD ORDER ONE ONE, 6, "[Number of Frequencies] stands twice");
    refuse("[Version] 1.1\n# Hz S RI\n", 1, "only versions 2.0 and 2.1");
    refuse("[Version] 2.2\n# Hz S RI\n", 1, "only versions 2.0 and 2.1");
    refuse("[Version] 2\n# Hz S RI\n", 1, "only versions 2.0 and 2.1");
    refuse("[Version]2.0\n# Hz S RI\n", 1, "a blank is missing");
    refuse("[Version] 2.0\n# Hz S RI R 50 75\n", 2, "version 2 has one resistance");
    refuse("[Version] 2.0\n# Hz S RI\n# Hz S RI\n", 3, "a keyword in brackets is missing");
    refuse("[Version] 2.0\n# Hz H RI\n[Number of Ports] 1\n", 3, "G and H describe two ports");
    refuse("[Version] 2.0\n# Hz S RI\n[Number of Ports] 1\n[Two-Port Data Order] 21_12\n", 4,
           "for two ports only");
    refuse(HEAD ORDER ONE "[Network Data] 1 1 2 3 4 5 6 7 8\n[End]\n", 6,
           "something stands behind");
    refuse(HEAD ORDER ONE "[Network Data]\n1 1 2 3 4 5 6 7 x\n[End]\n", 7, "\"x\" is not a finite");
    refuse(HEAD ORDER ONE "[Network Data]\n[End]\n", 7, "0 frequencies, but");
    sweep_check_refused(touchstone_read, "a.s1p", HEAD, 3, "2 ports, but the name ends in .s1p");
    sweep_check_refused(touchstone_read, "a.s3p", HEAD, 1, "only one and two ports are read");
}

/* Reason: the frequency axis, in version 2 as in version 1; there is no noise without its keyword.
 */
static void frequencies_must_rise(void **state)
{
    (void)state;
    refuse(HEAD ORDER "[Number of Frequencies] 2\n" DATA "1 1 2 3 4 5 6 7 8\n[End]\n", 8,
           "the frequency does not rise");
    refuse(HEAD ORDER ONE DATA "0.5 1 2 3 4\n[End]\n", 8, "the frequency does not rise");
    refuse(HEAD ORDER ONE "[Network Data]\n-1 1 2 3 4 5 6 7 8\n[End]\n", 7, "below 0");
}

/* Reason: spelling of keywords: first column, nothing just inside the brackets, known ones only. */
static void keywords_are_spelt_exactly(void **state)
{
    (void)state;
    refuse(" [Version] 2.0\n", 1, "must begin in the first column");
    refuse("[ Version] 2.0\n", 1, "is not known");
    refuse("[Version ] 2.0\n", 1, "is not known");
    refuse(HEAD " " ORDER, 4, "must begin in the first column");
    refuse(HEAD "[Two Port Data Order] 21_12\n", 4, "is not known");
    refuse(HEAD "[Number  of Frequencies] 1\n", 4, "is not known");
    refuse(HEAD ORDER ONE "[Number of Networks] 1\n", 6, "is not known");
    refuse(HEAD ORDER ONE DATA "  [End]\n", 8, "must begin in the first column");
    refuse(HEAD "[Version] 2.0\n", 4, "[Version] does not belong");
    refuse(HEAD ORDER ONE "[Mixed-Mode Order] D1,2 C1,2\n" DATA, 6, "mixed-mode data");
}

/* Reason: [Noise Data] if and only if [Number of Noise Frequencies], two ports, checked counts. */
static void noise_data_are_checked(void **state)
{
    static const char *const noise = "[Number of Noise Frequencies] 2\n";
    char text[512];
    struct sweep s = {0};
    static const struct {
        const char *tail;
        unsigned long line;
        const char *words;
    } rows[] = {
        {"[End]\n", 9, "[Noise Data] is missing"},
        {"[Noise Data]\n1 2 3 4 5\n[End]\n", 11, "1 noise frequencies, but"},
        {"[Noise Data]\n1 2 3 4 5 2 2 3 4 5 3\n", 11, "end within a frequency"},
        {"[Noise Data]\n1 2 3 4 5\n1 2 3 4 5\n[End]\n", 11, "noise data does not rise"},
        {"[Noise Data]\n1 2 3 4 5\n2 2 3 nan 5\n[End]\n", 11, "\"nan\" is not a finite"},
        {"[Noise Data]\n1 2 3 4 5\n2 2 3 4 5\n", 12, "before [End]"},
        {"[Noise Data]\n1 2 3 4 5\n2 2 3 4 5\n[Noise Data]\n", 12, "stands where [End] should be"},
        {"[Noise Data] 1 2 3 4 5\n", 9, "something stands behind"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        (void)snprintf(text, sizeof text, HEAD ORDER "%s" ONE DATA "%s", noise, rows[i].tail);
        refuse(text, rows[i].line, rows[i].words);
    }
    (void)snprintf(text, sizeof text,
                   HEAD ORDER "%s" ONE DATA "[Noise Data]\n0.1 2 3 4\n5\n2 2 3 4 5 ! last\n[End]\n",
                   noise);
    read_as("a.ts", text, &s);
    assert_int_equal(s.n_points, 1);
    sweep_clear(&s);
    refuse(HEAD ORDER ONE DATA "[Noise Data]\n1 2 3 4 5\n[End]\n", 8,
           "[Noise Data] without [Number of Noise Frequencies]");
    refuse("[Version] 2.0\n# Hz S RI\n[Number of Ports] 1\n[Number of Noise Frequencies] 1\n", 4,
           "for two ports only");
}

/* Reason: text behind [End] may be a second file run onto the first. */
static void nothing_stands_behind_end(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.ts", HEAD ORDER ONE DATA "[End] ! done\n\n ! \xE9\n", &s);
    sweep_clear(&s);
    refuse(HEAD ORDER ONE DATA "[End] 1\n", 8, "something stands behind");
    refuse(HEAD ORDER ONE DATA "[End]\n2 1 2 3 4 5 6 7 8\n", 9, "stands behind [End]");
    refuse(HEAD ORDER ONE DATA "[End]\n\n[End]\n", 10, "stands behind [End]");
    refuse(HEAD ORDER ONE DATA "[End]\n\x1A", 9, "stands behind [End]");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(smallest_files_are_read),
        cmocka_unit_test(example_11_z_is_in_ohms),
        cmocka_unit_test(example_13_h),
        cmocka_unit_test(kinds_are_not_normalised),
        cmocka_unit_test(example_18_two_references),
        cmocka_unit_test(example_21_order_12_21),
        cmocka_unit_test(reference_goes_over_lines),
        cmocka_unit_test(data_break_anywhere),
        cmocka_unit_test(triangles_are_symmetric),
        cmocka_unit_test(head_in_any_order_with_information),
        cmocka_unit_test(required_keywords),
        cmocka_unit_test(cut_files_are_refused),
        cmocka_unit_test(counts_and_arguments),
        cmocka_unit_test(frequencies_must_rise),
        cmocka_unit_test(keywords_are_spelt_exactly),
        cmocka_unit_test(noise_data_are_checked),
        cmocka_unit_test(nothing_stands_behind_end),
    };

    return cmocka_run_group_tests_name("touchstone_version2", tests, NULL, NULL);
}
