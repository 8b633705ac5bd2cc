#include "drivers/base/csv.h"

#include <stdlib.h>

#include "drivers/base/memory.h"
#include "tests/comma_locale.h"

/* The rows read, as "LINE:cell|cell;" */
struct seen {
    struct text words;
    unsigned long stop_at; /* line at which the reader is told to stop; 0: never */
};

static bool take_row(void *context, unsigned long line, char *const *cells, size_t n_cells,
                     struct error *e)
{
    struct seen *seen = context;

    text_addf(&seen->words, "%lu:", line);
    for (size_t i = 0; i < n_cells; i++)
        text_addf(&seen->words, "%s%s", i ? "|" : "", cells[i]);
    text_add(&seen->words, ";");
    if (seen->stop_at == line) return error_set(e, ERROR_INPUT, "stopped at %lu", line);
    return true;
}

static void check_rows(const char *bytes, const char *want)
{
    struct seen seen = {0};
    struct error e = {0};

    assert_done(csv_read("t.csv", bytes, strlen(bytes), take_row, &seen, &e), &e);
    assert_string_equal(text_words(&seen.words), want);
    text_clear(&seen.words);
}

static void check_fault(const char *bytes, size_t length, const char *words)
{
    struct seen seen = {0};
    struct error e = {0};

    assert_false(csv_read("t.csv", bytes, length, take_row, &seen, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, words);
    text_clear(&seen.words);
}

/* Cells, quotes, both line ends, a last line without one, a byte-order mark. */
static void test_rows(void **state)
{
    (void)state;
    check_rows("a,b\n1,2\n", "1:a|b;2:1|2;");
    check_rows("a,b\r\n1,2", "1:a|b;2:1|2;");
    check_rows("\xEF\xBB\xBF"
               "a,b\n",
               "1:a|b;");
    check_rows("\"a,\"\"x\"\"\",b\n", "1:a,\"x\"|b;");
    check_rows("a,,\n", "1:a||;");
    check_rows("", "");
}

/* The line of a row is where it begins, behind blank lines and quoted line ends too. */
static void test_line_numbers(void **state)
{
    (void)state;
    check_rows("a\n\n\nb\n", "1:a;4:b;");
    check_rows("\"x\ny\",1\nb,2\n", "1:x\ny|1;3:b|2;");
    check_rows("a\r\n\r\nb\r\n", "1:a;3:b;");
}

/* A return alone ends a line too, as some spreadsheets still save it, also among other line ends
 * and inside quotes. */
static void test_line_numbers_of_returns(void **state)
{
    (void)state;
    check_rows("a,b\rc,d\re,f\r", "1:a|b;2:c|d;3:e|f;");
    check_rows("a\rb\nc\r\nd\n\ne\n\rf", "1:a;2:b;3:c;4:d;6:e;8:f;");
    check_rows("\"x\ry\",1\nb,2\n", "1:x\ry|1;3:b|2;");
    check_rows("\"x\r\ny\r\n\",1\r\n\r\nb,2\r\n", "1:x\r\ny\r\n|1;5:b|2;");
    check_fault("a\rb\rc\"\r", 7, "t.csv:3: a quote in the wrong place");
}

/* Blanks around a bare cell are no part of it, inside quotes they are; a line of blanks is blank.
 */
static void test_blanks(void **state)
{
    (void)state;
    check_rows("  a , b\t\n", "1:a|b;");
    check_rows("\" a \",\"\tb\"\n", "1: a |\tb;");
    check_rows(" \t \nx\n", "2:x;");
    check_rows("\"\"\nx\n", "2:x;");
}

/* What a lenient reader joins or swallows is refused with its line. */
static void test_faults(void **state)
{
    (void)state;
    check_fault("a,b\n1,x\"y\n", 10, "t.csv:2: a quote in the wrong place");
    check_fault("a\n\"open\nmore\n", 13, "t.csv:2: a quote is never closed");
    check_fault("a\nb\0c\n", 6, "t.csv:2: holds a NUL byte");
    check_fault("\"a\"b,c\n", 7, "t.csv:1: a quote in the wrong place");
    check_fault("a\n\n\"b\n\nc\"d\n", 11, "t.csv:5: a quote in the wrong place");
    check_fault("\"", 1, "t.csv:1: a quote is never closed");
}

/* Ceilings on cells and their size. */
static void test_ceilings(void **state)
{
    char *wide = calloc(CEILING_CSV_CELL + 10, 1), many[2 * CEILING_CSV_CELLS + 4];

    (void)state;
    assert_non_null(wide);
    memset(wide, 'x', CEILING_CSV_CELL + 1);
    check_fault(wide, CEILING_CSV_CELL + 1, "t.csv:1: more than");
    memset(many, ',', sizeof many);
    check_fault(many, CEILING_CSV_CELLS + 2, "t.csv:1: more than");
    free(wide);
}

/* A quote that is never closed does not gather the rest of a large file: the line that is named is
 * that of the quote, and what stands behind the ceiling is not looked at. */
static void test_open_quote_ceiling(void **state)
{
    const size_t length = 2 * CEILING_CSV_CELLS * CEILING_CSV_CELL;
    char *bytes = malloc(length);

    (void)state;
    assert_non_null(bytes);
    for (size_t i = 0; i < length; i++)
        bytes[i] = i % 2 ? '\n' : 'x';
    bytes[2] = '"';
    bytes[length - 2] = '\0';
    check_fault(bytes, length, "t.csv:2: a quote is never closed");
    free(bytes);
}

/* The row function's own error ends the reading and is passed up untouched. */
static void test_stop(void **state)
{
    struct seen seen = {.stop_at = 2};
    struct error e = {0};

    (void)state;
    assert_false(csv_read("t.csv", "a\nb\nc\n", 6, take_row, &seen, &e));
    assert_string_equal(e.text, "stopped at 2");
    assert_string_equal(seen.words.data, "1:a;2:b;");
    text_clear(&seen.words);
}

/* What is written reads back, and text that a spreadsheet would compute is disarmed. */
static void test_writing(void **state)
{
    struct text out = {0};

    (void)state;
    csv_add_text(&out, "plain");
    text_add(&out, ",");
    csv_add_text(&out, "with \"quotes\", comma");
    text_add(&out, ",");
    csv_add_text(&out, "=1+1");
    text_add(&out, ",");
    csv_add_number(&out, -0.5);
    text_add(&out, ",");
    csv_add_number(&out, -0.0);
    text_add(&out, ",");
    csv_add_number(&out, NAN);
    text_add(&out, "\r\n");
    assert_string_equal(out.data, "plain,\"with \"\"quotes\"\", comma\",\"'=1+1\",-0.5,0,\r\n");
    check_rows(out.data, "1:plain|with \"quotes\", comma|'=1+1|-0.5|0|;");
    text_clear(&out);
}

/* The cells that the writer's random rows were made of, as the reader must see them. */
struct expected {
    char cells[6][16];
    size_t n_cells, n_rows;
};

static bool compare_row(void *context, unsigned long line, char *const *cells, size_t n_cells,
                        struct error *e)
{
    struct expected *want = context;

    (void)e;
    (void)line;
    assert_int_equal(n_cells, want->n_cells);
    for (size_t i = 0; i < n_cells; i++)
        assert_string_equal(cells[i], want->cells[i]);
    want->n_rows++;
    return true;
}

/* Random cells of the characters that matter read back as they were; those that a spreadsheet would
 * compute have their apostrophe. */
static void test_writer_and_reader(void **state)
{
    static const char alphabet[] = "ab ,\"\n\r\t;'=+-@0";
    uint32_t seed = 180;

    (void)state;
    print_message("seed %u\n", (unsigned)seed);
    for (int row = 0; row < 20000; row++) {
        struct expected want = {.n_cells = 2 + (size_t)row % 5};
        struct text out = {0};
        struct error e = {0};

        for (size_t i = 0; i < want.n_cells; i++) {
            char cell[16] = "";
            size_t length = (seed >> 8) % 9;

            for (size_t k = 0; k < length; k++) {
                seed = seed * 1664525 + 1013904223;
                cell[k] = alphabet[(seed >> 16) % (sizeof alphabet - 1)];
            }
            seed = seed * 1664525 + 1013904223;
            (void)snprintf(want.cells[i], sizeof want.cells[i], "%s%s",
                           *cell && strchr("=+-@\t\r", *cell) ? "'" : "", cell);
            if (i > 0) text_add(&out, ",");
            csv_add_text(&out, cell);
        }
        text_add(&out, "\r\n");
        assert_done(csv_read("t.csv", out.data, out.length, compare_row, &want, &e), &e);
        assert_int_equal(want.n_rows, 1);
        text_clear(&out);
    }
}

static void check_with_comma(void)
{
    struct text out = {0};

    csv_add_number(&out, 0.5);
    text_add(&out, ",");
    csv_add_number(&out, -1234567.25);
    text_add(&out, "\r\n");
    assert_string_equal(out.data, "0.5,-1234567.25\r\n");
    check_rows(out.data, "1:0.5|-1234567.25;");
    text_clear(&out);
}

/* Where a comma is the decimal sign the columns are still apart. */
static void test_comma_locale(void **state)
{
    comma_locale_run(*state, check_with_comma);
}

/* No memory at any allocation is an error, not a shorter table. */
static void test_no_memory(void **state)
{
    bool ok = false;

    (void)state;
    for (unsigned long nth = 1; !ok; nth++) {
        struct seen seen = {0};
        struct error e = {0};

        assert_true(nth < 50);
        memory_fail_at(nth);
        ok = csv_read("t.csv", "a,b\nc,d\n", 8, take_row, &seen, &e);
        memory_fail_at(0);
        if (!ok) assert_int_equal(e.kind, ERROR_MEMORY);
        /* The test's own text may be what failed. */
        if (ok && seen.words.failed) ok = false;
        text_clear(&seen.words);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rows),
        cmocka_unit_test(test_line_numbers),
        cmocka_unit_test(test_faults),
        cmocka_unit_test(test_ceilings),
        cmocka_unit_test(test_stop),
        cmocka_unit_test(test_writing),
        cmocka_unit_test(test_no_memory),
        cmocka_unit_test(test_line_numbers_of_returns),
        cmocka_unit_test(test_blanks),
        cmocka_unit_test(test_open_quote_ceiling),
        cmocka_unit_test(test_writer_and_reader),
        cmocka_unit_test_setup_teardown(test_comma_locale, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
