/* The table of limits: what was not judged, and what has no Cp. */
#include "drivers/base/memory.h"
#include "reports/page_limits.h"
#include "tests/picture_check.h"

/* Four limits: `ceiling` fails above a gain of about 24 dB, `floor` below 19 dB, `bottom` below
 * 18 dB, `match` never. */
static const char elements[] =
    "<gain id=\"ceiling\" bias=\"high\" band=\"working\" max=\"30 dB\"/>"
    "<gain id=\"floor\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>"
    "<gain id=\"bottom\" bias=\"low\" band=\"centre\" min=\"18 dB\"/>"
    "<input-reflection id=\"match\" bias=\"low\" band=\"working\" max=\"-16 dB\"/>";

/* Gains at 1.8 V and 169 MHz. */
static const double gains_db[] = {20, 18.5, 17.5, 25, 17, 20.5};
#define N_GAINS 6

static char *page_of(const struct batch *batch)
{
    struct html *h = picture_start();
    struct error e = {0};

    assert_done(page_limits_write(h, batch, &e), &e);
    return picture_finish(h);
}

/* The row of a limit in the table, for memory_free(). */
static char *row_of(const char *page, const char *id)
{
    struct error e = {0};
    char start[128];
    const char *from, *to;
    char *row;

    (void)snprintf(start, sizeof start, "<tr><th scope=\"row\">%s<div class=\"asks\">", id);
    from = strstr(page, start);
    assert_non_null(from);
    to = strstr(from, "</tr>");
    assert_non_null(to);
    row = memory_copy_bytes(from, (size_t)(to - from), &e);
    assert_non_null(row);
    return row;
}

static void check_row(const char *page, const char *id, const char *part)
{
    char *row = row_of(page, id);

    assert_holds(row, part);
    memory_free(row);
}

/* A limit whose bounds vary with frequency, or one of them, has no width to hold a spread against:
 * no Cp, and the note says why. Cpk is there all the same. One bound alone never has a Cp to miss.
 */
static void test_no_cp_without_a_width(void **state)
{
    static const char elements_of_two[] =
        "<gain id=\"mask\" bias=\"low\"><lower><point at=\"160 MHz\" value=\"10 dB\"/>"
        "<point at=\"178 MHz\" value=\"12 dB\"/></lower><upper><point at=\"160 MHz\" "
        "value=\"32 dB\"/><point at=\"178 MHz\" value=\"32 dB\"/></upper></gain>"
        "<gain id=\"flat\" bias=\"low\" band=\"centre\" min=\"10 dB\" max=\"32 dB\"/>";
    struct report_batch r = {0};
    double mean = 0, square = 0;
    char want[256];
    char *page, *row;

    (void)state;
    report_start_with(&r, elements_of_two);
    for (size_t i = 0; i < N_GAINS; i++) {
        report_add(&r, "A", 1, gains_db[i], 3);
        mean += gains_db[i] / N_GAINS;
    }
    for (size_t i = 0; i < N_GAINS; i++)
        square += (gains_db[i] - mean) * (gains_db[i] - mean);
    report_finish(&r);
    page = page_of(&r.batch);
    /* The smallest margin is that to 12 dB at 178 MHz, where gains are lower by 0.09 dB. */
    (void)snprintf(want, sizeof want,
                   "<td class=\"number\">6</td><td class=\"number\"></td>"
                   "<td class=\"number\">%.2f (",
                   (mean - 0.09 - 12) / (3 * sqrt(square / (N_GAINS - 1))));
    check_row(page, "mask", want);
    check_row(page, "mask", "few units (6), no Cp: a bound is not one value</td>");
    row = row_of(page, "flat");
    assert_null(strstr(row, "no Cp"));
    assert_null(strstr(row, "<td class=\"number\"></td>"));
    memory_free(row);
    memory_free(page);
    report_clear(&r);
}

/* Units that were not wholly measured against a limit are counted beside it, and those that its
 * indices are made from; one that failed with what was there is judged. */
static void test_not_judged(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start_with(&r, elements);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "A2", 1, 20.5, 2);
    report_add(&r, "A3", 1, 21, 2);
    report_add(&r, "A4", 1, 18.5, 2);
    report_add(&r, "A5", 1, 20, 0);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_holds(page, ">Not judged</th><th scope=\"col\" class=\"number\">n</th>");
    /* No sweep at the high bias of four, none at all of one. */
    check_row(page, "ceiling", "<td class=\"number\">4</td><td class=\"number\">1</td>");
    check_row(page, "floor", "<td class=\"number\">1</td><td class=\"number\">4</td>");
    memory_free(page);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_no_cp_without_a_width),
                                       cmocka_unit_test(test_not_judged)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
