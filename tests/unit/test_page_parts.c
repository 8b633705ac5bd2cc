#include "reports/page_parts.h"

#include "drivers/base/memory.h"
#include "tests/page_check.h"

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
    struct html *h = html_start("t", false, &e);
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
    struct html *h = html_start("t", false, &e);
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

/* An outcome stands in its own word, in the colour and the shape of what was made of it. */
static void test_outcome_words(void **state)
{
    static const struct {
        struct finding finding;
        const char *cell;
    } cases[] = {
        {{.outcome = OUTCOME_PASS, .accepted = true}, "<td class=\"word pass\">\u25CF pass</td>"},
        {{.outcome = OUTCOME_CONDITIONAL_PASS, .accepted = true},
         "<td class=\"word pass\">\u25CF conditional-pass</td>"},
        {{.outcome = OUTCOME_CONDITIONAL_PASS, .accepted = false},
         "<td class=\"word fail\">\u25A0 conditional-pass</td>"},
        {{.outcome = OUTCOME_CONDITIONAL_FAIL, .accepted = false},
         "<td class=\"word fail\">\u25A0 conditional-fail</td>"},
        {{.outcome = OUTCOME_FAIL, .accepted = false}, "<td class=\"word fail\">\u25A0 fail</td>"},
        {{.outcome = OUTCOME_INCOMPLETE, .accepted = false},
         "<td class=\"word open\">\u25B2 incomplete</td>"},
    };
    struct error e = {0};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct html *h = html_start("t", false, &e);
        char *page;

        page_outcome(h, "td", &cases[i].finding);
        page = finish(h);
        assert_holds(page, cases[i].cell);
        memory_free(page);
    }
}

/* A table scrolls by itself, by keyboard too, and has its name, its head and its body; a section
 * can be led to. */
static void test_tables_and_sections(void **state)
{
    static const char *const names[] = {"Limit"};
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    char *page;

    (void)state;
    page_section(h, "limits", "What <they> ask");
    page_table_open(h, "costs", names, 1);
    html_open(h, "tr");
    page_count_cell(h, 1234567);
    html_close(h);
    page_table_close(h);
    html_element(h, "p", NULL, "behind");
    page = finish(h);
    assert_holds(page, "<h2 id=\"limits\">What &lt;they&gt; ask</h2>");
    assert_holds(
        page,
        "<div class=\"scroll costs\" tabindex=\"0\" role=\"group\" aria-label=\"table costs\">"
        "<table id=\"costs\"><thead><tr><th scope=\"col\">Limit</th></tr></thead>"
        "<tbody><tr><td class=\"number\">1234567</td></tr></tbody></table></div>"
        "<p>behind</p>");
    page_check(page);
    page_check_links(page);
    memory_free(page);
}

/* What a browser makes of a link: %XX become bytes again. */
static void decode_link(const char *link, char *out)
{
    static const char digits[] = "0123456789ABCDEF";

    for (; *link; link++) {
        if (*link == '%') {
            const char *high = strchr(digits, link[1]), *low = strchr(digits, link[2]);

            assert_non_null(high);
            assert_non_null(low);
            *out++ = (char)((high - digits) << 4 | (low - digits));
            link += 2;
        } else {
            *out++ = *link;
        }
    }
    *out = '\0';
}

/* The href that was written for a unit. */
static void find_href(const char *folder, const char *serial, char *out, size_t room)
{
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    const char *begin, *end;
    char *page;

    html_open(h, "a");
    page_unit_href(h, folder, serial);
    html_text(h, "x");
    page = finish(h);
    begin = strstr(page, "<a href=\"");
    assert_non_null(begin);
    begin += strlen("<a href=\"");
    end = strstr(begin, "\">x</a>");
    assert_non_null(end);
    assert_true((size_t)(end - begin) < room);
    (void)snprintf(out, room, "%.*s", (int)(end - begin), begin);
    memory_free(page);
}

/* Whatever the serial number, the link leads to the file of its page, within the folder. */
static void test_links_lead_to_files(void **state)
{
    static const char *const serials[] = {"KW000101", "../a b",       "%2E",  "a/b?c#d&e\"f<g>",
                                          ".hidden",  "\xD7\x90\x01", "100%", "x:y"};
    char href[5 * CEILING_SERIAL + 64], file[sizeof href], name[PAGE_UNIT_NAME];

    (void)state;
    for (size_t i = 0; i < sizeof serials / sizeof *serials; i++) {
        page_unit_name(serials[i], name);
        assert_null(strchr(name, '/'));
        assert_true(name[0] != '.');
        find_href("units/", serials[i], href, sizeof href);
        assert_memory_equal(href, "units/", 6);
        decode_link(href + 6, file);
        assert_string_equal(file, name);
        find_href("", serials[i], href, sizeof href);
        decode_link(href, file);
        assert_string_equal(file, name);
    }
}

/* Any serial number is one file name, none leaves the folder, and the longest one fits. */
static void test_names(void **state)
{
    char name[PAGE_UNIT_NAME], wild[CEILING_SERIAL + 1];

    (void)state;
    page_unit_name("KW000101", name);
    assert_string_equal(name, "KW000101.html");
    page_unit_name("../a b", name);
    assert_string_equal(name, "%2E.%2Fa%20b.html");
    page_unit_name("%2E", name);
    assert_string_equal(name, "%252E.html");
    page_unit_name("a-b_c.d", name);
    assert_string_equal(name, "a-b_c.d.html");
    memset(wild, 0xC3, sizeof wild);
    wild[CEILING_SERIAL] = '\0';
    page_unit_name(wild, name);
    assert_int_equal(strlen(name), 3 * CEILING_SERIAL + 5);
    assert_true(strlen(name) < 255);
}

/* No two of the one- and two-byte serial numbers share a name: every byte against every other. */
static void test_names_differ(void **state)
{
    char names[255][PAGE_UNIT_NAME], serial[3] = "", name[PAGE_UNIT_NAME];

    (void)state;
    for (int first = 1; first < 256; first++) {
        serial[0] = (char)first;
        serial[1] = '\0';
        page_unit_name(serial, names[first - 1]);
        for (int other = 1; other < first; other++)
            assert_string_not_equal(names[first - 1], names[other - 1]);
        serial[1] = '.';
        page_unit_name(serial, name);
        for (int other = 1; other <= first; other++)
            assert_string_not_equal(name, names[other - 1]);
    }
}

/* A link for which there is no memory spoils the page, rather than leading somewhere else. */
static void test_no_memory(void **state)
{
    unsigned long nth = 1;
    bool done = false;

    (void)state;
    for (; !done; nth++) {
        struct error e = {0};
        struct html *h = html_start("t", false, &e);
        struct text out = {0};

        assert_non_null(h);
        html_open(h, "a");
        memory_fail_at(nth);
        page_unit_href(h, "units/", "A/1");
        done = html_finish(h, &out, &e);
        memory_fail_at(0);
        if (done)
            assert_holds(out.data, "<a href=\"units/A%252F1.html\"></a>");
        else
            assert_int_equal(e.kind, ERROR_MEMORY);
        html_free(h);
        text_clear(&out);
    }
    assert_true(nth > 3);
}

/* The decision rule in words belongs to a statement of conformity (ISO/IEC 17025:2017, 7.8.6, from
 * memory); a guard factor only where there is a guard band. */
static void test_rule(void **state)
{
    struct limits limits = {.rule = GUARDED_ACCEPTANCE, .guard_factor = 0.5};
    struct text words = {0};

    (void)state;
    page_add_rule(&words, &limits);
    assert_string_equal(words.data, "guarded acceptance (guard factor 0.5)");
    text_reset(&words);
    limits.rule = SIMPLE_ACCEPTANCE;
    page_add_rule(&words, &limits);
    assert_string_equal(words.data, "simple acceptance");
    text_clear(&words);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rule),
        cmocka_unit_test(test_verdicts),
        cmocka_unit_test(test_outcomes_follow_acceptance),
        cmocka_unit_test(test_cells),
        cmocka_unit_test(test_outcome_words),
        cmocka_unit_test(test_tables_and_sections),
        cmocka_unit_test(test_links_lead_to_files),
        cmocka_unit_test(test_names),
        cmocka_unit_test(test_names_differ),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
