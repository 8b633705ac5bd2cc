/* CSV sweeps in and out. */
#include "drivers/random_source.h"
#include "drivers/sweep_csv.h"
#include "tests/sweep_check.h"

#define SEED 4180

static void read_text(const char *text, struct sweep *out)
{
    sweep_check_done(sweep_csv_read, "a.csv", text, out);
}

static void refuse(const char *text, unsigned long line, const char *words)
{
    sweep_check_refused(sweep_csv_read, "a.csv", text, line, words);
}

/* Reason: all three forms, in any order of columns; 20 log10 and degrees. */
static void three_forms_in_any_order(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_text("s22_deg,s21_db,s21_deg,frequency_hz,s12_re,s12_im,s22_mag,s11_im,s11_re\r\n"
              "-90,20,180,169000000,0.01,-0.02,0.5,0.25,-0.125\r\n",
              &s);
    assert_int_equal(s.n_points, 1);
    assert_int_equal(s.n_ports, 2);
    assert_int_equal(s.measured, S_ALL);
    assert_close(s.frequency_hz[0], 169e6, 0);
    assert_s(&s, 0, S11, -0.125, 0.25, 0);
    assert_s(&s, 0, S12, 0.01, -0.02, 0);
    assert_s(&s, 0, S21, -10, 0, 1e-14);
    assert_s(&s, 0, S22, 0, -0.5, 1e-16);
    assert_close(s.z0_ohm[0], 50, 0);
    assert_close(s.z0_ohm[1], 50, 0);
    sweep_clear(&s);
}

/* Reason: a file with part of the parameters is normal; the others must be missing, not zero. */
static void missing_parameters_are_nan(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_text("frequency_hz,s21_re,s21_im\n1,2,3\n2,4,5", &s);
    assert_int_equal(s.n_points, 2);
    assert_int_equal(s.n_ports, 2);
    assert_int_equal(s.measured, S_BIT(S21));
    assert_s(&s, 1, S21, 4, 5, 0);
    assert_true(isnan(creal(sweep_s(&s, 1, S11))) && isnan(cimag(sweep_s(&s, 1, S11))));
    read_text("frequency_hz,s11_mag,s11_deg\n0,1,0\n", &s);
    assert_int_equal(s.n_ports, 1);
    assert_int_equal(s.n_points, 1);
    assert_int_equal(s.measured, S_BIT(S11));
    sweep_clear(&s);
}

/* Reason: what spreadsheets do to a file: a byte-order mark, quotes, blank lines, other line ends.
 */
static void spreadsheet_habits(void **state)
{
    struct sweep s = {0};

    (void)state;
    read_text(
        "\xEF\xBB\xBF\"frequency_hz\",\"s11_re\",s11_im\r\n\r\n\"1\",2,3\r\n\r\n2,4,\"5\"\r\n\r\n",
        &s);
    assert_int_equal(s.n_points, 2);
    assert_s(&s, 1, S11, 4, 5, 0);
    sweep_clear(&s);
}

/* Reason: a column that is misread is a parameter that is misjudged. */
static void wrong_headers_are_refused(void **state)
{
    static const struct {
        const char *header, *words;
    } rows[] = {
        {"s11_re,s11_im", "\"frequency_hz\" is missing"},
        {"frequency_hz", "\"s21_re\" is missing"},
        {"frequency_hz,s11_re", "\"s11_\" is half of a pair"},
        {"frequency_hz,s11_deg", "\"s11_\" is half of a pair"},
        {"frequency_hz,s11_re,s11_deg", "does not go with its partner"},
        {"frequency_hz,s11_deg,s11_re", "does not go with its partner"},
        {"frequency_hz,s11_db,s11_im", "does not go with its partner"},
        {"frequency_hz,s11_im,s11_db", "does not go with its partner"},
        {"frequency_hz,s11_mag,s11_im", "does not go with its partner"},
        {"frequency_hz,s11_db,s11_mag", "a second time"},
        {"frequency_hz,s11_re,s11_im,s11_db,s11_deg", "a second time"},
        {"frequency_hz,s11_re,s11_im,s11_re", "a second time"},
        {"frequency_hz,frequency_hz,s11_re,s11_im", "\"frequency_hz\" stands twice"},
        {"frequency_hz,s31_re,s31_im", "\"s31_re\" is not known"},
        {"frequency_hz,s11_re,s11_im,note", "\"note\" is not known"},
        {"frequency_hz,S11_re,S11_im", "\"S11_re\" is not known"},
        {"frequency_mhz,s11_re,s11_im", "\"frequency_mhz\" is not known"},
        {"frequency_hz,s11_re,s11_im,", "\"\" is not known"},
        {"frequency_hz,s11_re,\"s11\n_im\"", "\"s11?_im\" is not known"},
        {"frequency_hz;s11_re;s11_im", "\"frequency_hz;s11_re;s11_im\" is not known"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[128];

        (void)snprintf(text, sizeof text, "%s\n1,2,3\n", rows[i].header);
        refuse(text, 1, rows[i].words);
    }
}

/* Reason: each row that cannot be read with certainty, with its line, blank lines counted. */
static void wrong_rows_are_refused(void **state)
{
    static const struct {
        const char *rows;
        unsigned long line;
        const char *words;
    } rows[] = {
        {"", 1, "the file holds no data"},
        {"\n\n", 1, "the file holds no data"},
        {"1,2,3\n\n1,2,3\n", 4, "the frequency does not rise"},
        {"2,2,3\n1,2,3\n", 3, "the frequency does not rise"},
        {"-1,2,3\n", 2, "below 0"},
        {"1,2\n", 2, "2 cells where the header has 3"},
        {"1,2,3,4\n", 2, "4 cells where the header has 3"},
        {"1,2,3\n2,2", 3, "2 cells where the header has 3"},
        {"1,2,\n", 2, "\"\" is not a finite decimal number"},
        {"1,2,nan\n", 2, "\"nan\" is not a finite decimal number"},
        {"1,inf,3\n", 2, "\"inf\" is not a finite decimal number"},
        {"1,0x10,3\n", 2, "\"0x10\" is not a finite decimal number"},
        {"1e999,2,3\n", 2, "\"1e999\" is not a finite decimal number"},
        {"1,\"2,5\",3\n", 2, "\"2,5\" is not a finite decimal number"},
        {"1,\"2\n\",3\n", 2, "\"2?\" is not a finite decimal number"},
        {"1,2,3\n2,2,\"3\n", 3, "a quote is never closed"},
        {"1,2,3\n2,\"2\"2,3\n", 3, "a quote in the wrong place"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char text[128];

        (void)snprintf(text, sizeof text, "frequency_hz,s11_re,s11_im\n%s", rows[i].rows);
        refuse(text, rows[i].line, rows[i].words);
    }
    refuse("", 1, "the file holds no data");
    refuse("frequency_hz,s11_db,s11_deg\n1,1e5,0\n", 2, "too large");
    sweep_check_refused_bytes(sweep_csv_read, "a.csv",
                              "frequency_hz,s11_re,s11_im\n1,2,\0"
                              "3\n",
                              33, 2, "NUL byte");
}

/* Reason: the text that other programs read: order, names and line ends. */
static void writes_what_is_there(void **state)
{
    struct sweep s = {0};
    struct text out = {0};

    (void)state;
    read_text("frequency_hz,s12_re,s12_im,s21_re,s21_im,s11_re,s11_im,s22_re,s22_im\n"
              "1,5,6,3,4,1,2,7,8\n",
              &s);
    sweep_csv_write(&s, &out);
    assert_string_equal(text_words(&out),
                        "frequency_hz,s11_re,s11_im,s21_re,s21_im,s12_re,s12_im,s22_re,s22_im\r\n"
                        "1,1,2,3,4,5,6,7,8\r\n");
    text_reset(&out);
    read_text("frequency_hz,s21_re,s21_im\n1.5,0.1,-0.2\n", &s);
    sweep_csv_write(&s, &out);
    assert_string_equal(text_words(&out), "frequency_hz,s21_re,s21_im\r\n1.5,0.1,-0.2\r\n");
    text_clear(&out);
    sweep_clear(&s);
}

/* Reason: every bit reads back, so that a sweep moved by way of CSV gets the same verdict. */
static void every_bit_reads_back(void **state)
{
    struct sweep s = {.n_points = 300, .n_ports = 2, .measured = S_ALL, .z0_ohm = {50, 50}};
    struct sweep again = {0};
    struct text out = {0};
    struct error e = {0};
    struct random_source random;

    (void)state;
    print_message("seed %d\n", SEED);
    random_begin(&random, SEED, 0, 0);
    assert_done(sweep_reserve(&s, s.n_points, &e), &e);
    for (size_t i = 0; i < s.n_points; i++)
        s.frequency_hz[i] = (double)i + random_uniform(&random);
    for (size_t i = 0; i < S_PARAMETERS * s.n_points; i++) {
        double re = random_normal(&random), im = random_normal(&random);

        s.s[i] = CMPLX(ldexp(re, -(int)(i % 60)), im);
    }
    s.s[0] = CMPLX(-0.0, 0x1p-1074);
    sweep_csv_write(&s, &out);
    assert_done(sweep_check_read(sweep_csv_read, "a.csv", out.data, out.length, &again, &e), &e);
    assert_int_equal(again.n_points, s.n_points);
    assert_memory_equal(again.frequency_hz, s.frequency_hz, s.n_points * sizeof(double));
    assert_memory_equal(again.s, s.s, S_PARAMETERS * s.n_points * sizeof *s.s);
    text_clear(&out);
    sweep_clear(&again);
    sweep_clear(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_forms_in_any_order), cmocka_unit_test(missing_parameters_are_nan),
        cmocka_unit_test(spreadsheet_habits),       cmocka_unit_test(wrong_headers_are_refused),
        cmocka_unit_test(wrong_rows_are_refused),   cmocka_unit_test(writes_what_is_there),
        cmocka_unit_test(every_bit_reads_back),
    };

    return cmocka_run_group_tests_name("sweep_csv", tests, NULL, NULL);
}
