#include "reports/page_units.h"

#include "tests/picture_check.h"

/* A page with the box that finds and the table. */
static char *page_of(const struct report_batch *r)
{
    struct text out = {0};
    struct error e = {0};
    struct html *h = html_start("t", true, &e);

    assert_non_null(h);
    page_units_write_find(h);
    page_units_write(h, &r->batch);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    page_check(out.data);
    return out.data;
}

/* A batch of one of each verdict: A1 passes, A2 fails, A3 lacks a sweep. */
static void start_three(struct report_batch *r)
{
    report_start(r);
    report_add(r, "A1", 1, 20, 3);
    report_add(r, "A2", 1, 18, 3);
    report_add(r, "A3", 1, 20, 2);
    report_finish(r);
}

static void end(struct report_batch *r, char *page)
{
    free(page);
    report_clear(r);
}

/* A row a unit: serial number, verdict, what it is that it passed least or failed most,
 * the margin, and how often it was measured. */
static void test_rows(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_three(&r);
    r.units[0].n_attempts = 12;
    page = page_of(&r);
    assert_int_equal(report_count(page, "<th scope=\"row\">"), 3);
    assert_holds(page, "<a href=\"units/A1.html\">A1</a></th>"
                       "<td class=\"word pass\">\u25CF PASS</td><td class=\"words\">"
                       "gain: gain 19.91 dB at 178 MHz, bias 1.8 V</td>"
                       "<td class=\"number\">0.91 dB <svg");
    assert_holds(page, "</svg></td><td class=\"number\">12</td></tr></tbody>");
    assert_holds(page, "<tr data-l=\"0\" data-w=\"0\" data-m=\"-5.450\"><th scope=\"row\">"
                       "<a href=\"units/A2.html\">A2</a></th>"
                       "<td class=\"word fail\">\u25A0 FAIL</td><td class=\"words\">"
                       "gain: gain 17.91 dB at 178 MHz, bias 1.8 V: below 19 dB by 1.09 dB</td>"
                       "<td class=\"number\">-1.09 dB <svg");
    assert_holds(page, "A3</a></th><td class=\"word open\">\u25B2 INCOMPLETE</td><td "
                       "class=\"words\">gain: no sweep at bias high (3 V)</td>");
    end(&r, page);
}

/* Of a unit that failed several limits the worst one is told; the sheet tells them all. */
static void test_worst_of_several(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start_with(&r, "<gain id=\"far\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>"
                          "<gain id=\"further\" bias=\"low\" band=\"centre\" min=\"21 dB\"/>");
    report_add(&r, "A1", 1, 18, 3);
    report_finish(&r);
    page = page_of(&r);
    assert_holds(page,
                 "<td class=\"words\">further: gain 18.00 dB at 169 MHz, bias 1.8 V: below 21 dB "
                 "by 3.00 dB</td><td class=\"number\">-3.00 dB <svg");
    end(&r, page);
}

/* A value that lies at no frequency is told without one. */
static void test_value_without_frequency(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_three(&r);
    r.judgements[0].findings[0].frequency_hz = NAN;
    page = page_of(&r);
    assert_holds(page, ">gain: gain 19.91 dB, bias 1.8 V<");
    end(&r, page);
}

/* A serial number is a link where the unit has a page of its own, and only there. */
static void test_links(void **state)
{
    static const struct {
        enum unit_pages pages;
        bool linked[3];
    } cases[] = {{UNIT_PAGES_ALL, {true, true, true}},
                 {UNIT_PAGES_FAILED, {false, true, true}},
                 {UNIT_PAGES_NONE, {false, false, false}}};
    struct report_batch r = {0};

    (void)state;
    start_three(&r);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *page;

        r.batch.unit_pages = cases[i].pages;
        page = page_of(&r);
        for (size_t unit = 0; unit < r.n; unit++) {
            char linked[200], plain[120];
            const char *serial = r.judgements[unit].serial;

            (void)snprintf(linked, sizeof linked,
                           "<th scope=\"row\"><a href=\"units/%s.html\">%s</a></th>", serial,
                           serial);
            (void)snprintf(plain, sizeof plain, "<th scope=\"row\">%s</th>", serial);
            assert_holds(page, cases[i].linked[unit] ? linked : plain);
        }
        free(page);
    }
    report_clear(&r);
}

/* The first unit's row with this severity of its worst limit, and whether that has a guard band. */
static char *bar_of(struct report_batch *r, double severity, double uncertainty, double factor)
{
    r->judgements[0].findings[0].severity = severity;
    r->limits.limits[0].uncertainty = uncertainty;
    r->limits.guard_factor = factor;
    return page_of(r);
}

/* A bar begins at the bound: to the right inside, to the left outside, and no longer than its half
 * of the picture. One guard band is a quarter of that half, as the style sheet shades it; without
 * one the bar is relative to the bound. */
static void test_bars(void **state)
{
    static const struct {
        double severity, uncertainty, factor;
        const char *class_name;
        int end;
    } cases[] = {
        {1, 0.2, 1, "bar guarded", 10},     {-1, 0.2, 1, "bar guarded", -10},
        {0, 0.2, 1, "bar guarded", 0},      {3.96, 0.2, 1, "bar guarded", 40},
        {4.2, 0.2, 1, "bar guarded", 40},   {-1e9, 0.2, 1, "bar guarded", -40},
        {-0.26, 0.2, 1, "bar guarded", -3}, {0.5, 0, 1, "bar", 20},
        {-0.5, 0, 1, "bar", -20},           {7, 0, 1, "bar", 40},
        {0.25, 0.2, 0, "bar", 10},          {INFINITY, 0, 1, "bar", 40},
    };
    struct report_batch r = {0};

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    report_finish(&r);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *page = bar_of(&r, cases[i].severity, cases[i].uncertainty, cases[i].factor);
        char want[200];

        (void)snprintf(want, sizeof want,
                       "<svg class=\"%s\" viewBox=\"-40 0 80 10\" aria-hidden=\"true\">"
                       "<path d=\"M0 0v10M0 5h%d\"/></svg></td>",
                       cases[i].class_name, cases[i].end);
        assert_holds(page, want);
        assert_holds(page, "svg.bar { display: inline-block; width: 80px; height: 10px;");
        assert_holds(page, "svg.guarded { background: linear-gradient(var(--guard), var(--guard)) "
                           "40px 0 / 10px 10px no-repeat;");
        free(page);
    }
    report_clear(&r);
}

/* Rows stand as a person needs them also on paper: FAIL, INCOMPLETE, PASS, in each by serial
 * number; and the page says so, and what the margin sorts by. */
static void test_order(void **state)
{
    static const char *const serials[] = {">B1</a>", ">E1</a>", ">C1</a>",
                                          ">F1</a>", ">A1</a>", ">D1</a>"};
    struct report_batch r = {0};
    const char *at;
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "B1", 1, 18, 3);
    report_add(&r, "C1", 1, 20, 2);
    report_add(&r, "D1", 1, 20, 3);
    report_add(&r, "E1", 1, 18, 3);
    report_add(&r, "F1", 1, 20, 2);
    report_finish(&r);
    page = page_of(&r);
    at = page;
    for (size_t i = 0; i < sizeof serials / sizeof *serials; i++) {
        at = strstr(at, serials[i]);
        assert_non_null(at);
    }
    assert_holds(page, "Units that FAIL come first, then those INCOMPLETE, then those that PASS, "
                       "each by serial number.");
    assert_holds(page, "Sorting by margin goes by the bar,");
    end(&r, page);
}

/* The number of the limit that is told in a row is the one it has in the file, by which it sorts;
 * where a reason stands in its place there is none. */
static void test_limit_numbers(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start_with(&r, "<gain id=\"z\" bias=\"low\" band=\"centre\" min=\"10 dB\"/>"
                          "<gain id=\"a\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>"
                          "<gain id=\"m\" bias=\"high\" band=\"centre\" min=\"10 dB\"/>");
    report_add(&r, "A1", 1, 18, 3);
    report_add(&r, "A2", 1, 20, 2);
    report_finish(&r);
    page = page_of(&r);
    assert_holds(page, "<tr data-l=\"1\" data-w=\"1\" data-m=");
    assert_holds(page, "<tr data-l=\"2\"><th scope=\"row\"><a href=\"units/A2.html\"");
    end(&r, page);
}

/* What stands in a row for sorting: the severity to three places; for filtering: the numbers of the
 * limits that were not met, which are those of the choices above the table. */
static void test_sorting_and_filters(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_three(&r);
    r.judgements[0].findings[0].severity = 1.23456;
    page = page_of(&r);
    assert_holds(page,
                 "<tr data-w=\"0\" data-m=\"1.235\"><th scope=\"row\"><a href=\"units/A1.html\"");
    assert_holds(page, "<option value=\"\">any or none</option><option value=\"0\">gain</option>"
                       "<option value=\"1\">match</option></select>");
    assert_holds(page, "<option value=\"\">all</option><option value=\"pass\">PASS</option>"
                       "<option value=\"fail\">FAIL</option>"
                       "<option value=\"open\">INCOMPLETE</option></select>");
    free(page);
    r.judgements[1].findings[1].accepted = false;
    page = page_of(&r);
    assert_holds(page, "<tr data-l=\"0 1\" data-w=\"0\" data-m=");
    end(&r, page);
}

/* A unit of which nothing was measured has no margin, no bar and nothing to sort by. */
static void test_nothing_measured(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 0);
    assert_null(r.judgements[0].worst);
    report_finish(&r);
    page = page_of(&r);
    assert_holds(page, "<tr data-l=\"0 1\"><th scope=\"row\">");
    assert_holds(page, "</td><td class=\"number\"></td><td class=\"number\">1</td></tr>");
    assert_null(strstr(page, "<svg"));
    end(&r, page);
}

/* The page with this reason of an incomplete unit. */
static char *page_with_reason(struct report_batch *r, char *reason)
{
    char *kept = r->judgements[2].reason, *page;

    r->judgements[2].reason = reason;
    page = page_of(r);
    r->judgements[2].reason = kept;
    return page;
}

/* A long reason is cut at the beginning of a character, wherever in it the cut would fall; one of
 * exactly the length is all there. */
static void test_long_reasons(void **state)
{
    static const char *const letters[] = {"w", "\u00E9", "\u677F", "\U0001F527"};
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_three(&r);
    for (size_t size = 1; size <= 4; size++) {
        for (size_t first = 0; first < 4; first++) {
            char reason[400] = "", want[400];

            memset(reason, 'a', first);
            while (strlen(reason) + size < 300)
                strcat(reason, letters[size - 1]);
            (void)snprintf(want, sizeof want, "<td class=\"words\">%.*s...</td>",
                           (int)(first + (200 - first) / size * size), reason);
            page = page_with_reason(&r, reason);
            assert_holds(page, want);
            assert_null(strstr(page, "\xEF\xBF\xBD"));
            free(page);
        }
    }
    {
        char reason[202] = "";

        memset(reason, 'b', 200);
        page = page_with_reason(&r, reason);
        assert_holds(page, "bbb</td>");
        free(page);
        reason[200] = 'c';
        page = page_with_reason(&r, reason);
        assert_holds(page, "bbb...</td>");
        assert_null(strstr(page, "bc"));
        free(page);
    }
    report_clear(&r);
}

/* Words of files stay words: markup, control characters, marks that turn the text around, and bytes
 * that are no characters at all. */
static void test_hostile_words(void **state)
{
    static char reason[] = "<b>&\"'\x01\xE2\x80\xAE]]>", id[] = "</option><b>";
    struct report_batch r = {0};
    char broken[300];
    char *page, *kept;

    (void)state;
    start_three(&r);
    page = page_with_reason(&r, reason);
    assert_holds(page, "<td class=\"words\">&lt;b&gt;&amp;&quot;'\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF"
                       "\xBD\xEF\xBF\xBD]]&gt;</td>");
    free(page);
    memset(broken, 0x80, sizeof broken - 1);
    broken[sizeof broken - 1] = '\0';
    page = page_with_reason(&r, broken);
    assert_holds(page, "<td class=\"words\">...</td>");
    free(page);
    kept = r.limits.limits[1].id;
    r.limits.limits[1].id = id;
    page = page_of(&r);
    r.limits.limits[1].id = kept;
    assert_holds(page, "<option value=\"1\">&lt;/option&gt;&lt;b&gt;</option>");
    end(&r, page);
}

/* Serial numbers of the greatest length and of every kind of letter are there as they are. */
static void test_serials(void **state)
{
    static const char longest[] =
        "0123456789012345678901234567890123456789012345678901234567890123";
    struct report_batch r = {0};
    char *page;

    (void)state;
    assert_int_equal(strlen(longest), CEILING_SERIAL);
    report_start(&r);
    report_add(&r, longest, 1, 20, 3);
    report_add(&r, "<i>\"\xD7\x90&", 1, 20, 3);
    report_finish(&r);
    page = page_of(&r);
    assert_holds(page, longest);
    assert_holds(page, "<a href=\"units/%253Ci%253E%2522%25D7%2590%2526.html\">"
                       "&lt;i&gt;&quot;\xD7\x90&amp;</a>");
    end(&r, page);
}

/* The script shows the first 200 rows until more are wanted; without it every row is shown, as the
 * style sheet hides rows only under the class that the script sets. */
static void test_first_rows(void **state)
{
    static struct batch_unit units[203];
    struct report_batch r = {0};
    const char *last, *later;
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 20, 3);
    report_add(&r, "B1", 1, 20, 3);
    report_finish(&r);
    for (size_t i = 0; i < 203; i++)
        units[i] = r.units[i < 200 ? 0 : 1];
    r.batch.units = units;
    r.batch.n_units = 203;
    page = page_of(&r);
    assert_holds(page, "const FIRST_ROWS = 200;");
    assert_holds(page, "\n.scripted tr.later { display: none; }");
    assert_int_equal(report_count(page, "tr.later {"), report_count(page, ".scripted tr.later {"));
    assert_int_equal(report_count(page, "<tr class=\"later\""), 3);
    assert_int_equal(report_count(page, "<th scope=\"row\">"), 203);
    last = strstr(page, "<tr class=\"later\"");
    later = strstr(page, ">B1</a>");
    assert_non_null(last);
    assert_non_null(later);
    assert_true(last < later);
    assert_null(strstr(last, ">A1</a>"));
    end(&r, page);
}

/* Every element that the script asks for is on the page, and what works only with the script is
 * hidden without it. */
static void test_script_finds_its_parts(void **state)
{
    static const char *const parts[] = {"units-table", "find", "found", "by-verdict",
                                        "by-limit",    "more", "shown"};
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_three(&r);
    page = page_of(&r);
    page_check_links(page);
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        assert_int_equal(page_check_count(page, "byId('", parts[i], strlen(parts[i]), "')") > 0, 1);
        assert_int_equal(page_check_count(page, " id=\"", parts[i], strlen(parts[i]), "\""), 1);
    }
    assert_holds(page, "\n.scripted-only { display: none; }");
    assert_holds(page, "<div class=\"find scripted-only\">");
    assert_holds(page, "<div class=\"tools scripted-only\">");
    end(&r, page);
}

/* No units is a table with its head and nothing else. */
static void test_empty(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_finish(&r);
    page = page_of(&r);
    assert_holds(page, "<th scope=\"col\">Serial</th>");
    assert_holds(page, "<tbody></tbody></table>");
    end(&r, page);
}

static bool write_units(struct html *h, const void *batch, struct error *e)
{
    (void)e;
    page_units_write_find(h);
    page_units_write(h, batch);
    return true;
}

/* Without memory the page fails as a whole: no row lacks its link or its numbers. */
static void test_no_memory(void **state)
{
    struct report_batch r = {0};

    (void)state;
    start_three(&r);
    picture_check_memory(write_units, &r.batch);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rows),
        cmocka_unit_test(test_worst_of_several),
        cmocka_unit_test(test_value_without_frequency),
        cmocka_unit_test(test_links),
        cmocka_unit_test(test_bars),
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_limit_numbers),
        cmocka_unit_test(test_sorting_and_filters),
        cmocka_unit_test(test_nothing_measured),
        cmocka_unit_test(test_long_reasons),
        cmocka_unit_test(test_hostile_words),
        cmocka_unit_test(test_serials),
        cmocka_unit_test(test_first_rows),
        cmocka_unit_test(test_script_finds_its_parts),
        cmocka_unit_test(test_empty),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
