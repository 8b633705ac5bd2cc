#include "reports/page_parts.h"

#include "drivers/base/memory.h"
#include "tests/check.h"

static char *finish(struct html *h)
{
    struct text out = {0};
    struct error e = {0};

    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    return out.data;
}

/* A verdict is a word, a shape and a colour; the three shapes differ. */
static void test_verdicts(void **state)
{
    struct error e = {0};
    struct html *h = html_start("t", &e);
    char *page;

    (void)state;
    assert_non_null(h);
    page_verdict(h, "span", VERDICT_PASS);
    page_verdict(h, "span", VERDICT_FAIL);
    page_verdict(h, "span", VERDICT_INCOMPLETE);
    page = finish(h);
    assert_holds(page, "<span class=\"word pass\">\u25CF PASS</span>"
                       "<span class=\"word fail\">\u25A0 FAIL</span>"
                       "<span class=\"word open\">\u25B2 INCOMPLETE</span>");
    memory_free(page);
}

/* A conditional pass that the rule does not accept may not look like a pass. */
static void test_outcomes_follow_acceptance(void **state)
{
    struct finding finding = {.outcome = OUTCOME_CONDITIONAL_PASS};

    (void)state;
    assert_string_equal(page_outcome_class(&finding), "fail");
    finding.accepted = true;
    assert_string_equal(page_outcome_class(&finding), "pass");
    finding = (struct finding){0};
    assert_string_equal(page_outcome_class(&finding), "open");
}

/* Numbers are rounded for people and carry their unit; what is not known is an empty cell. */
static void test_cells(void **state)
{
    static const char *const names[] = {"Limit", "Margin#"};
    struct error e = {0};
    struct html *h = html_start("t", &e);
    char *page;

    (void)state;
    assert_non_null(h);
    page_value_cell(h, 1.23456, UNIT_DB);
    page_value_cell(h, NAN, UNIT_DB);
    page_value_cell(h, 169.3e6, UNIT_HZ);
    page_head_row(h, names, 2);
    page = finish(h);
    assert_holds(page, "<td class=\"number\">1.23 dB</td><td class=\"number\"></td>"
                       "<td class=\"number\">169.3 MHz</td>");
    assert_holds(page,
                 "<th scope=\"col\">Limit</th><th scope=\"col\" class=\"number\">Margin</th>");
    memory_free(page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_verdicts),
                                       cmocka_unit_test(test_outcomes_follow_acceptance),
                                       cmocka_unit_test(test_cells)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
