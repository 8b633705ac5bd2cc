/* Lines, characters, words and the option line, through the reader. The rules are those of the
 * Touchstone File Format Specification, Version 2.1 (IBIS Open Forum, 26 January 2024). */
#include "drivers/touchstone.h"
#include "drivers/touchstone_scan.h"
#include "tests/sweep_check.h"

static void read_as(const char *path, const char *text, struct sweep *out)
{
    sweep_check_done(touchstone_read, path, text, out);
}

static void refuse(const char *text, unsigned long line, const char *words)
{
    sweep_check_refused(touchstone_read, "a.s1p", text, line, words);
}

/* Reads the option line `options` and one row of one port. */
static void read_options(const char *options, struct sweep *out)
{
    char text[256];

    (void)snprintf(text, sizeof text, "%s\n2 4 90\n", options);
    read_as("a.s1p", text, out);
}

/* Reason: the words may be in any order and case, only the number follows R; "# S R 100 GHz RI" and
 * "# mhz s db r 75" are the reference list's checks. */
static void option_words_in_any_order_and_case(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_options("# S R 100 GHz RI", &s);
    assert_close(s.frequency_hz[0], 2e9, 0);
    assert_close(s.z0_ohm[0], 100, 0);
    assert_s(&s, 0, S11, 4, 90, 0);
    read_options("# mhz s db r 75", &s);
    assert_close(s.frequency_hz[0], 2e6, 0);
    assert_close(s.z0_ohm[0], 75, 0);
    assert_s(&s, 0, S11, 0, pow(10, 0.2), 1e-15);
    read_options("\t #Ri\tkHZ\tr\t0.1 ! a comment with R 75", &s);
    assert_close(s.frequency_hz[0], 2e3, 0);
    assert_close(s.z0_ohm[0], 0.1, 0);
    assert_s(&s, 0, S11, 4, 90, 0);
    read_options("#hZ!GHz", &s);
    assert_close(s.frequency_hz[0], 2, 0);
    assert_close(s.z0_ohm[0], 50, 0);
    assert_s(&s, 0, S11, 0, 4, 1e-15);
    sweep_clear(&s);
}

/* Reason: the first option line wins, wherever the others stand: in a row, and among the data. */
static void later_option_lines_are_ignored(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.s1p",
            "# Hz S RI R 20\n# GHz Z MA R (20+20j)\n\n# MHz\n2 4 5\n# MHz nonsense\n3 4 5\n", &s);
    assert_int_equal(s.n_points, 2);
    assert_close(s.frequency_hz[1], 3, 0);
    assert_close(s.z0_ohm[0], 20, 0);
    assert_s(&s, 0, S11, 4, 5, 0);
    sweep_clear(&s);
}

/* Reason: Version 1.1 in the 2.1 document: one resistance per port, then last on the line. */
static void a_resistance_for_each_port(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.s2p", "# S GHz RI R 0.1 75.0\n1 1 2 3 4 5 6 7 8\n", &s);
    assert_close(s.z0_ohm[0], 0.1, 0);
    assert_close(s.z0_ohm[1], 75, 0);
    sweep_clear(&s);
    sweep_check_refused(touchstone_read, "a.s2p", "# S R 50 75 RI\n1 1 2 3 4 5 6 7 8\n", 1,
                        "words behind two");
    sweep_check_refused(touchstone_read, "a.s2p", "# S RI R 1 2 3\n1 1 2 3 4 5 6 7 8\n", 1,
                        "more than two resistances");
    sweep_check_refused(touchstone_read, "a.s2p", "# Z RI R 1 2\n1 1 2 3 4 5 6 7 8\n", 2,
                        "two-port S-parameters only");
    refuse("# S RI R 1 2\n1 1 2\n", 2, "two-port S-parameters only");
}

/* Reason: what the option line says decides what every number means; nothing in it is guessed. */
static void wrong_option_lines_are_refused(void **state)
{
    (void)state;
    refuse("# GHz S RI R (10+10j) \n1 1 2\n", 1, "\"(10+10j)\" behind R is not a resistance");
    refuse("# GHz S RI R 50+10j\n1 1 2\n", 1, "\"50+10j\" is not a finite decimal number");
    refuse("# GHz S RI R 50 j10\n1 1 2\n", 1, "\"j10\" on the option line is not known");
    refuse("# GHz S RI R\n1 1 2\n", 1, "a resistance is missing behind R");
    refuse("# GHz S RI R GHz\n1 1 2\n", 1, "\"GHz\" behind R is not a resistance");
    refuse("# GHz S RI R 0\n1 1 2\n", 1, "must be above 0 ohm");
    refuse("# GHz S RI R -50\n1 1 2\n", 1, "must be above 0 ohm");
    refuse("# GHz S RI R 50 R 50\n1 1 2\n", 1, "R stands twice");
    refuse("# GHz MHz S RI\n1 1 2\n", 1, "\"MHz\" on the option line says again");
    refuse("# THz S RI\n1 1 2\n", 1, "\"THz\" on the option line is not known");
    refuse("# GHz T RI\n1 1 2\n", 1, "\"T\" on the option line is not known");
    refuse("# GHz S XY\n1 1 2\n", 1, "\"XY\" on the option line is not known");
    refuse("# GHz S RI R50\n1 1 2\n", 1, "\"R50\" on the option line is not known");
    refuse("# GHz S \xB5 RI\n1 1 2\n", 1, "\"?\" on the option line is not known");
}

/* Reason: without the option line the default format would turn the numbers into others without a
 * word, and an empty file holds nothing to judge. */
static void option_line_and_data_are_required(void **state)
{
    (void)state;
    refuse("! nothing but\n1 1 2\n", 2, "no option line");
    refuse("1 1 2\n# Hz S RI\n", 1, "no option line");
    refuse("", 1, "the file holds no data");
    refuse("\xEF\xBB\xBF", 1, "the file holds no data");
    refuse("! a comment only", 1, "the file holds no data");
    refuse("# Hz S RI", 1, "the file holds no data");
    refuse("# Hz S RI\n! none\n\n", 4, "the file holds no data");
    refuse("# Hz S RI\n# Hz S RI\n", 3, "the file holds no data");
    refuse("# Hz S RI\n[Number of Ports] 1\n1 1 2\n", 2, "does not begin with [Version]");
}

/* Reason: LF, CR+LF and a lone CR end a line, mixed too, and the line of a fault must be that which
 * an editor shows. */
static void every_line_end_counts(void **state)
{
    static const char *const ends[] = {"\n", "\r\n", "\r"};
    struct sweep s = {0};

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        const char *const end = ends[i];
        char text[128];

        (void)snprintf(text, sizeof text, "!%s%s# Hz S RI%s1 1 2 !%s%s2 3 4%s", end, end, end, end,
                       end, end);
        read_as("a.s1p", text, &s);
        assert_int_equal(s.n_points, 2);
        assert_s(&s, 1, S11, 3, 4, 0);
        (void)snprintf(text, sizeof text, "!%s%s# Hz S RI%s1 1 2 !%s%s2 3 x%s", end, end, end, end,
                       end, end);
        refuse(text, 6, "\"x\" is not a finite decimal number");
    }
    read_as("a.s1p", "# Hz S RI\r\n1 1 2\r2 3 4\n3 5 6", &s);
    assert_int_equal(s.n_points, 3);
    sweep_clear(&s);
    refuse("# Hz S RI\r\n1 1 2\r2 3 4\n3 5", 4, "looks cut off");
    refuse("# Hz S RI\n\r\r\n\n\r1 1 x", 6, "\"x\"");
}

/* Reason: comments of real files hold Latin-1 and UTF-8, and some begin with a byte-order mark. */
static void comments_may_hold_any_bytes(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_as("a.s1p",
            "\xEF\xBB\xBF! M\xE9trologie \xC2\xB5W \x01\x1B\x7F # [End] R 75\n# Hz S RI!\xFF\n"
            "1 1 2!\xFE\n!2 3 4\n",
            &s);
    assert_int_equal(s.n_points, 1);
    assert_close(s.z0_ohm[0], 50, 0);
    sweep_clear(&s);
}

/* Reason: outside comments only printable ASCII, blanks and tabs are Touchstone; a no-break space,
 * a typographic minus or the mark of a lost disk must not be skipped. */
static void other_characters_are_refused(void **state)
{
    static const char nul[] = "# Hz S RI\r1 1 2\r! \0 in a comment\r2 1 2\r";
    static const char first[] = "\0# Hz S RI\n1 1 2\n";
    static const char at_begin[] = "# Hz S RI\n1 1 2\n\0\n";
    static const char wide[] = "\xFF\xFE#\0 \0H\0z\0";

    (void)state;
    refuse("# Hz S RI\n1 1 2\n2 1\xC2\xA0"
           "2\n",
           3, "\"1??2\" is not a finite decimal number");
    refuse("# Hz S RI\n1 \xE2\x88\x92"
           "1 2\n",
           2, "\"???1\" is not a finite decimal number");
    refuse("# Hz S RI\n1 1 2\f\n", 2, "\"2?\" is not a finite decimal number");
    refuse("# Hz S RI\n1 1 2\n\x1A", 3, "\"?\" is not a finite decimal number");
    refuse("# Hz S RI\n# \xC2\xB5Hz\n1 1 2\n", 2, "not ASCII stands outside a comment");
    refuse("# Hz S RI\n\xEF\xBB\xBF"
           "1 1 2\n",
           2, "is not a finite decimal number");
    sweep_check_refused_bytes(touchstone_read, "a.s1p", nul, sizeof nul - 1, 3, "NUL byte");
    sweep_check_refused_bytes(touchstone_read, "a.s1p", first, sizeof first - 1, 1, "NUL byte");
    sweep_check_refused_bytes(touchstone_read, "a.s1p", at_begin, sizeof at_begin - 1, 3,
                              "NUL byte");
    sweep_check_refused_bytes(touchstone_read, "a.s1p", wide, sizeof wide - 1, 1, "NUL byte");
}

/* Reason: each is read as something else by common number readers. Behind a number come a blank, a
 * comment or the end of the line. */
static void words_that_are_not_numbers_are_refused(void **state)
{
    static const char *const words[] = {
        "12abc", "1d5", "0x1p3", "inf", "nan", "1,5", "1e",  "1e+",  "-",     "+",  ".",    "--1",
        "1.2.3", "1;",  "(1",    "1-2", "e5",  "1_0", "NaN", "1.5f", "\"1\"", "1#", "1e999"};

    (void)state;
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        char text[64], shown[64];

        (void)snprintf(shown, sizeof shown, "\"%s\" is not a finite decimal number", words[i]);
        (void)snprintf(text, sizeof text, "# Hz S RI\n1 1 2\n2 1 %s\n", words[i]);
        refuse(text, 3, shown);
        (void)snprintf(text, sizeof text, "# Hz S RI\n1 1 2\n%s 1 2\n", words[i]);
        if (words[i][0] != '#') refuse(text, 3, shown);
    }
    refuse("# Hz S RI\n1 1 aVeryLongWordThatFillsTheWholeLine\n", 2,
           "\"aVeryLongWordThatFillsTh...\" is not");
}

/* Reason: the scanner's own parts, at the end of the text, where a look too far would be. */
static void scanner_stops_at_the_end(void **state)
{
    static const char text[] = " 1 \t word!x";
    struct error e = {0};
    struct touchstone_file f = {
        .path = "a", .begin = text, .at = text, .end = text + 9, .line = 1, .e = &e};
    double number = 0;

    (void)state;
    assert_int_equal(scan_count_words(&f), 2);
    assert_true(f.at == text);
    assert_true(scan_to_content(&f));
    assert_true(scan_number(&f, 3, &number));
    assert_close(number, 1000, 0);
    assert_false(scan_line_is_over(&f));
    assert_true(scan_word_is(scan_take_word(&f), "WORD"));
    assert_true(f.at == f.end);
    assert_true(scan_line_is_over(&f));
    scan_next_line(&f);
    assert_true(f.at == f.end && f.line == 1);
    assert_false(scan_to_content(&f));
    assert_false(scan_word_is(scan_take_word(&f), "word"));
    assert_true(scan_word_is(scan_take_word(&f), ""));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(option_words_in_any_order_and_case),
        cmocka_unit_test(later_option_lines_are_ignored),
        cmocka_unit_test(a_resistance_for_each_port),
        cmocka_unit_test(wrong_option_lines_are_refused),
        cmocka_unit_test(option_line_and_data_are_required),
        cmocka_unit_test(every_line_end_counts),
        cmocka_unit_test(comments_may_hold_any_bytes),
        cmocka_unit_test(other_characters_are_refused),
        cmocka_unit_test(words_that_are_not_numbers_are_refused),
        cmocka_unit_test(scanner_stops_at_the_end),
    };

    return cmocka_run_group_tests_name("touchstone_scan", tests, NULL, NULL);
}
