/* What a unit's sheet tells beside the last attempt's limits: earlier attempts, what several limits
 * lack, and what the verdict rests on. */
#include "reports/page_unit.h"

#include "tests/picture_check.h"

/* The sheet of the last unit added, whose attempts are all that were added. */
static struct unit_sheet sheet_of(const struct report_batch *r)
{
    struct unit_sheet sheet = report_sheet(r, r->n - 1);

    sheet.attempts = r->judgements;
    sheet.n_attempts = r->n;
    return sheet;
}

static char *page_of(const struct report_batch *r)
{
    const struct unit_sheet sheet = sheet_of(r);
    struct text out = {0};
    struct error e = {0};

    assert_done(page_unit_write(&sheet, &out, &e), &e);
    page_check(out.data);
    page_check_links(out.data);
    page_check_policy(out.data, false);
    return out.data;
}

static void start_one(struct report_batch *r, double gain_db, size_t steps)
{
    report_start(r);
    report_add(r, "A1", 1, gain_db, steps);
}

static void end(struct report_batch *r, char *page)
{
    memory_free(page);
    report_clear(r);
}

/* Earlier attempts stay in view with their reasons; the sheet is the last one's, whose
 * reasons are at its head. One attempt alone
 * is no list. */
static void test_attempts(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 18, 3);
    page = page_of(&r);
    assert_null(strstr(page, "<h2>Attempts</h2>"));
    memory_free(page);
    report_add(&r, "A1", 4, 20, 3);
    page = page_of(&r);
    assert_holds(page, "<title>A1 PASS</title>");
    assert_holds(page, "<div class=\"verdict pass\">");
    assert_holds(page, ", attempt 4</p>");
    assert_holds(page,
                 "<tbody><tr><td class=\"number\">1</td><td class=\"word fail\">\u25A0 FAIL</td>"
                 "<td class=\"words\">gain: gain 17.91 dB at 178 MHz, bias 1.8 V: below 19 dB by "
                 "1.09 dB</td><td class=\"name\"></td><td class=\"words\"></td><td "
                 "class=\"words\"></td></tr>"
                 "<tr><td class=\"number\">4</td><td class=\"word pass\">\u25CF PASS</td>"
                 "<td class=\"words\"></td>");
    assert_null(strstr(page, "class=\"advice"));
    memory_free(page);
    report_add(&r, "A1", 5, 18.5, 3);
    page = page_of(&r);
    assert_holds(page, "<td class=\"number\">5</td><td class=\"word fail\">\u25A0 FAIL</td>"
                       "<td class=\"words\">as told above</td>");
    end(&r, page);
}

/* Who measured the attempt that failed, when and where: the one that did so last answers for no
 * other. A name that would fill the table is cut there and whole as its title. */
static void test_attempts_circumstances(void **state)
{
    static char early[] = "2026-11-20", late[] = "2026-11-25T14:05:00Z", ana[] = "<Ana>",
                bench[] = "bench 2", many[5001], want[5400];
    const struct circumstances two[] = {{early, ana, NULL}, {late, many, bench}};
    struct report_batch r = {0};
    struct unit_sheet sheet;
    struct text out = {0};
    struct error e = {0};

    (void)state;
    memset(many, 'n', 5000);
    start_one(&r, 18, 3);
    report_add(&r, "A1", 2, 20, 3);
    sheet = sheet_of(&r);
    sheet.circumstances = two;
    assert_done(page_unit_write(&sheet, &out, &e), &e);
    page_check(out.data);
    assert_holds(
        out.data,
        "1.09 dB</td><td class=\"name\">2026-11-20</td><td class=\"words\">&lt;Ana&gt;</td>"
        "<td class=\"words\"></td></tr>");
    (void)snprintf(
        want, sizeof want,
        "<td class=\"name\">2026-11-25T14:05:00Z</td><td class=\"words\"><span title=\"%s\">%.80s"
        "\u2026</span></td><td class=\"words\">bench 2</td></tr>",
        many, many);
    assert_holds(out.data, want);
    end(&r, out.data);
}

/* One missing sweep leaves several limits unjudged: the reason is said once, with all their names.
 * Each fault of its own keeps its own block. */
static void test_reason_once(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start_with(&r,
                      "<gain id=\"a\" bias=\"high\" band=\"working\" min=\"19 dB\"/>"
                      "<gain id=\"b\" bias=\"mid\" band=\"working\" min=\"99 dB\"/>"
                      "<gain-flatness id=\"c\" bias=\"high\" band=\"working\" max=\"2 dB\"/>"
                      "<input-reflection id=\"d\" bias=\"high\" band=\"working\" max=\"-16 dB\"/>"
                      "<gain id=\"e\" bias=\"low\" band=\"working\" min=\"99 dB\"/>");
    report_add(&r, "A1", 1, 20, 2);
    page = page_of(&r);
    assert_int_equal(report_count(page, "no sweep at bias high (3 V)"), 1);
    assert_holds(page, "<p class=\"advice open\"><strong>a, c, d</strong>: no sweep at bias high "
                       "(3 V).</p>");
    assert_int_equal(report_count(page, "<p class=\"advice fail\">"), 2);
    end(&r, page);
}

/* A phase verdict rests on the reference unit's sweeps, every verdict on the program: both are at
 * the foot. */
static void test_foot(void **state)
{
    struct report_batch r = {0};
    struct unit_sheet sheet;
    struct text out = {0};
    struct error e = {0};
    char *page;

    (void)state;
    start_one(&r, 20, 3);
    page = page_of(&r);
    assert_holds(page, "<footer><p>Written by gainsieve " GAINSIEVE_VERSION ".</p></footer>");
    memory_free(page);
    sheet = sheet_of(&r);
    sheet.reference = &r.m[0];
    assert_done(page_unit_write(&sheet, &out, &e), &e);
    assert_holds(out.data, "<footer><p>Reference unit of the phase limits: A1, attempt 1. ");
    end(&r, out.data);
}

/* A digest that nobody can read on the sheet proves nothing: 8 px on paper are 6 points. */
static void test_print_sizes(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 20, 3);
    page = page_of(&r);
    assert_holds(page, ".sheet td code { font-size: 8px;");
    end(&r, page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_attempts),    cmocka_unit_test(test_attempts_circumstances),
        cmocka_unit_test(test_reason_once), cmocka_unit_test(test_foot),
        cmocka_unit_test(test_print_sizes),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
