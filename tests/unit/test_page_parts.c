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
        page_unit_name(NULL, serials[i], name);
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

/* The link follows the page's names: a serial number that differs from another in case alone has a
 * file of its own. */
static void test_links_follow_names(void **state)
{
    const char *const serials[] = {"KW1", "kw1", "other"};
    struct page_names names = {0};
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    char *page;

    (void)state;
    assert_done(page_names_find(&names, serials, 3, &e), &e);
    html_use_names(h, &names);
    for (size_t i = 0; i < 3; i++) {
        html_open(h, "a");
        page_unit_href(h, "units/", serials[i]);
        html_close(h);
    }
    page = finish(h);
    assert_holds(page, "<a href=\"units/KW1.html\"></a><a href=\"units/%256B%25771.html\"></a>"
                       "<a href=\"units/other.html\"></a>");
    memory_free(page);
    page_names_clear(&names);
}

/* Words that would fill a place are cut between two letters and whole as a title; 80 are not cut,
 * and bytes that are no letters have an end too. */
static void test_cut(void **state)
{
    static char words[1001];
    struct error e = {0};
    struct html *h = html_start("t", false, &e);
    char want[600], *page;

    (void)state;
    for (size_t i = 0; i < 80; i++)
        memcpy(words + 2 * i, "\u00E9", 2);
    assert_int_equal(page_cut_length(words), 160);
    html_open(h, "p");
    page_cut(h, words);
    html_close(h);
    memcpy(words + 160, "<b>", 4);
    assert_int_equal(page_cut_length(words), 160);
    page_cut(h, words);
    page = finish(h);
    (void)snprintf(want, sizeof want, "<p>%.160s</p><span title=\"", words);
    assert_holds(page, want);
    (void)snprintf(want, sizeof want, "&lt;b&gt;\">%.160s\u2026</span>", words);
    assert_holds(page, want);
    memory_free(page);
    memset(words, 0x80, 1000);
    assert_int_equal(page_cut_length(words), 320);
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
        cmocka_unit_test(test_links_follow_names),
        cmocka_unit_test(test_cut),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
