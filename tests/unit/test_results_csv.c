#include "reports/results_csv.h"

#include "drivers/base/csv.h"
#include "drivers/base/number.h"
#include "tests/report_fixture.h"

#define MOST_ROWS 16
#define MOST_CELLS 16

/* The table read back by the program's own reader. */
struct table {
    size_t n_rows, n_cells;
    char cells[MOST_ROWS][MOST_CELLS][200];
};

static bool take_row(void *context, unsigned long line, char *const *cells, size_t n_cells,
                     struct error *e)
{
    struct table *table = context;

    (void)line, (void)e;
    assert_true(table->n_rows < MOST_ROWS && n_cells <= MOST_CELLS);
    if (table->n_rows > 0) assert_int_equal(n_cells, table->n_cells);
    table->n_cells = n_cells;
    for (size_t i = 0; i < n_cells; i++)
        (void)snprintf(table->cells[table->n_rows][i], 200, "%s", cells[i]);
    table->n_rows++;
    return true;
}

static void read_back(const struct text *out, struct table *table)
{
    struct error e = {0};

    *table = (struct table){0};
    assert_done(csv_read("test", out->data, out->length, take_row, table, &e), &e);
}

static double number(const char *cell)
{
    double x = NAN;

    assert_true(number_parse(cell, &x));
    return x;
}

/* The columns are the contract with other programs: names and order. */
static void test_heads(void **state)
{
    struct text out = {0};

    (void)state;
    units_csv_add_head(&out);
    assert_string_equal(out.data, "serial,attempt,verdict,limits_failed,worst_limit,worst_margin,"
                                  "worst_margin_unit,worst_frequency_hz,worst_bias_v,reason\r\n");
    text_reset(&out);
    results_csv_add_head(&out);
    assert_string_equal(out.data,
                        "serial,attempt,limit,quantity,outcome,accepted,value,bound,margin,unit,"
                        "frequency_hz,bias_v,uncertainty,conformance_probability,reason\r\n");
    text_clear(&out);
}

/* A failed unit: its worst place, exact to the last digit. */
static void test_failed_unit(void **state)
{
    struct report_batch r = {0};
    struct text out = {0};
    struct table table;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 2, 18.5, 3);
    units_csv_add(&out, &r.judgements[0]);
    read_back(&out, &table);
    assert_string_equal(table.cells[0][0], "A1");
    assert_string_equal(table.cells[0][1], "2");
    assert_string_equal(table.cells[0][2], "FAIL");
    assert_string_equal(table.cells[0][3], "1");
    assert_string_equal(table.cells[0][4], "gain");
    assert_close(number(table.cells[0][5]), r.judgements[0].worst->margin, 0);
    assert_string_equal(table.cells[0][6], "dB");
    assert_string_equal(table.cells[0][7], "178000000");
    assert_string_equal(table.cells[0][8], "1.8");
    assert_holds(table.cells[0][9], "gain: gain 18.41 dB at 178 MHz");
    text_clear(&out);
    report_clear(&r);
}

/* A row a limit; a linear uncertainty stands as the limits file states it. */
static void test_results(void **state)
{
    struct report_batch r = {0};
    struct text out = {0};
    struct table table;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    results_csv_add(&out, &r.judgements[0]);
    read_back(&out, &table);
    assert_int_equal(table.n_rows, 2);
    assert_string_equal(table.cells[0][2], "gain");
    assert_string_equal(table.cells[0][3], "gain");
    assert_string_equal(table.cells[0][4], "pass");
    assert_string_equal(table.cells[0][5], "yes");
    assert_close(number(table.cells[0][6]), r.judgements[0].findings[0].value, 0);
    assert_string_equal(table.cells[0][7], "19");
    assert_string_equal(table.cells[0][12], "0.2");
    assert_string_equal(table.cells[0][14], "");
    assert_string_equal(table.cells[1][3], "input-reflection");
    assert_string_equal(table.cells[1][12], "0.006");
    text_clear(&out);
    report_clear(&r);
}

/* What could not be judged has no numbers that could be read as a result. */
static void test_incomplete(void **state)
{
    struct report_batch r = {0};
    struct text out = {0};
    struct table table;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 2);
    results_csv_add(&out, &r.judgements[0]);
    read_back(&out, &table);
    assert_string_equal(table.cells[0][4], "incomplete");
    assert_string_equal(table.cells[0][5], "no");
    for (size_t i = 6; i < 14; i++)
        if (i != 9 && i != 12) assert_string_equal(table.cells[0][i], "");
    assert_string_equal(table.cells[0][14], "no sweep at bias high (3 V)");
    text_clear(&out);
    report_clear(&r);
}

/* A reason with commas and quotes stays one cell. */
static void test_quoting(void **state)
{
    struct judgement judgement = {.serial = "B,2", .attempt = 1};
    char reason[] = "a \"quoted\" word, and =more";
    struct text out = {0};
    struct table table;

    (void)state;
    judgement.reason = reason;
    units_csv_add(&out, &judgement);
    read_back(&out, &table);
    assert_string_equal(table.cells[0][0], "B,2");
    assert_string_equal(table.cells[0][2], "INCOMPLETE");
    assert_string_equal(table.cells[0][9], reason);
    text_clear(&out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_heads),   cmocka_unit_test(test_failed_unit),
        cmocka_unit_test(test_results), cmocka_unit_test(test_incomplete),
        cmocka_unit_test(test_quoting),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
