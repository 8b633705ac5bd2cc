#include "reports/page_batch.h"

#include "tests/comma_locale.h"
#include "tests/picture_check.h"

static char *page_of(const struct batch *batch)
{
    struct text out = {0};
    struct error e = {0};

    assert_done(page_batch_write(batch, &out, &e), &e);
    page_check(out.data);
    page_check_links(out.data);
    page_check_policy(out.data, true);
    return out.data;
}

static void end(struct report_batch *r, char *page)
{
    memory_free(page);
    report_clear(r);
}

/* Two pass, one fails, one lacks a sweep. */
static void start_four(struct report_batch *r)
{
    report_start(r);
    report_add(r, "A1", 1, 20, 3);
    report_add(r, "A2", 1, 18, 3);
    report_add(r, "A3", 1, 20, 2);
    report_add(r, "A4", 1, 21, 3);
    report_finish(r);
}

/* The verdicts' counts are in the title and at the head, and every unit is in the table. 2 of 4:
 * the exact interval is 6.8 to 93.2 % (printed tables, from memory). */
static void test_counts(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_four(&r);
    page = page_of(&r.batch);
    assert_holds(page, "<title>Test: 2 PASS, 1 FAIL, 1 INCOMPLETE</title>");
    assert_holds(page, "<h1>Test</h1>");
    assert_holds(page,
                 "<li class=\"pass\"><span class=\"word pass\">\u25CF PASS</span><b>2</b></li>"
                 "<li class=\"fail\"><span class=\"word fail\">\u25A0 FAIL</span><b>1</b></li>"
                 "<li class=\"open\"><span class=\"word open\">\u25B2 INCOMPLETE</span><b>1</b>"
                 "</li>");
    assert_holds(page, "<span class=\"word\">Final yield</span><b>50.0 %</b>"
                       "<span class=\"soft\">6.8 to 93.2 %</span>");
    assert_int_equal(report_count(page, "<th scope=\"row\"><a href=\"units/A"), 4);
    end(&r, page);
}

/* A unit counts once, with its last attempt: A1 failed first and then passed, A2 passed at once.
 * Each yield has its interval: 1 of 2 is 1.3 to 98.7 %, 2 of 2 is 15.8 to 100 % (by hand: the
 * square roots of 0.025 and 0.975). */
static void test_yields(void **state)
{
    struct report_batch r = {0};
    struct batch_unit last[2];
    char *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 1, 18, 3);
    report_add(&r, "A1", 2, 20, 3);
    report_add(&r, "A2", 1, 20, 3);
    report_finish(&r);
    last[0] = r.units[1];
    last[0].n_attempts = 2;
    last[1] = r.units[2];
    r.batch.units = last;
    r.batch.n_units = 2;
    page = page_of(&r.batch);
    assert_holds(page, "Test: 2 PASS, 0 FAIL, 0 INCOMPLETE");
    assert_holds(page, "<span class=\"word\">First-pass yield</span><b>50.0 %</b>"
                       "<span class=\"soft\">1.3 to 98.7 %</span>");
    assert_holds(page, "<span class=\"word\">Final yield</span><b>100.0 %</b>"
                       "<span class=\"soft\">15.8 to 100.0 %</span>");
    assert_holds(page, "</svg></td><td class=\"number\">2</td></tr>");
    assert_holds(page, "<li>no unit failed a limit</li>");
    end(&r, page);
}

/* A yield that is not all or nothing may not be written as if it were. */
static void test_near_all(void **state)
{
    static const struct {
        double share;
        const char *words;
    } cases[] = {{1, "<b>100.0 %</b>"}, {0.99975, "<b>&gt; 99.9 %</b>"}, {0.9994, "<b>99.9 %</b>"},
                 {0, "<b>0.0 %</b>"},   {0.0002, "<b>&lt; 0.1 %</b>"},   {0.0006, "<b>0.1 %</b>"}};
    struct report_batch r = {0};

    (void)state;
    start_four(&r);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *page;

        r.batch.yield.first = cases[i].share;
        page = page_of(&r.batch);
        assert_int_equal(report_count(page, cases[i].words), 1);
        memory_free(page);
    }
    report_clear(&r);
}

/* The three limits that cost most units, in that order; the fourth is not named at the head. */
static void test_costly(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start_with(&r, "<gain id=\"least\" bias=\"low\" band=\"centre\" min=\"17 dB\"/>"
                          "<gain id=\"most\" bias=\"low\" band=\"centre\" min=\"20 dB\"/>"
                          "<gain id=\"some\" bias=\"low\" band=\"centre\" min=\"18 dB\"/>"
                          "<gain id=\"many\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>");
    report_add(&r, "A1", 1, 16.5, 3);
    report_add(&r, "A2", 1, 17.5, 3);
    report_add(&r, "A3", 1, 18.5, 3);
    report_add(&r, "A4", 1, 19.5, 3);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_holds(page, "<span class=\"word\">Cost most units</span><ol>"
                       "<li>most: 4, 1 of them alone</li><li>many: 3, 0 of them alone</li>"
                       "<li>some: 2, 0 of them alone</li></ol>");
    end(&r, page);
}

/* Fewer than three that failed any: only these are named. */
static void test_one_costly(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_four(&r);
    page = page_of(&r.batch);
    assert_holds(page, "<ol><li>gain: 1, 1 of them alone</li><li>not wholly "
                       "judged: 1</li></ol>");
    end(&r, page);
}

/* A unit without a page of its own is nowhere a link: not in the table, not in any picture. */
static void test_unit_pages(void **state)
{
    static const struct {
        enum unit_pages pages;
        bool passed, failed;
    } cases[] = {{UNIT_PAGES_ALL, true, true},
                 {UNIT_PAGES_FAILED, false, true},
                 {UNIT_PAGES_NONE, false, false}};
    struct report_batch r = {0};

    (void)state;
    start_four(&r);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *page;

        r.batch.unit_pages = cases[i].pages;
        page = page_of(&r.batch);
        assert_int_equal(report_count(page, "units/A1.html") > 1, cases[i].passed);
        assert_int_equal(report_count(page, "units/A1.html") > 0, cases[i].passed);
        assert_int_equal(report_count(page, "units/A2.html") > 1, cases[i].failed);
        assert_int_equal(report_count(page, "units/A3.html") > 0, cases[i].failed);
        assert_int_equal(report_count(page, "href=\"units/") > 0, cases[i].failed);
        memory_free(page);
    }
    report_clear(&r);
}

/* The parts that the page begins with a link to are there, and a part that is not has no link. */
static void test_contents(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_four(&r);
    page = page_of(&r.batch);
    assert_holds(page, "<a href=\"#units\">Units</a> <a href=\"#pictures\">Pictures</a> "
                       "<a href=\"#limits\">Limits</a> </nav>");
    assert_true(strstr(page, "<h2 id=\"units\"") < strstr(page, "<h2 id=\"pictures\""));
    assert_true(strstr(page, "<h2 id=\"pictures\"") < strstr(page, "<h2 id=\"limits\""));
    memory_free(page);
    report_clear(&r);

    r = (struct report_batch){0};
    report_start_with(&r, "<reverse-isolation id=\"back\" bias=\"all\" band=\"working\" "
                          "max=\"-20 dB\"/>");
    report_add(&r, "A1", 1, 20, 3);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_holds(page, "<a href=\"#units\">Units</a> <a href=\"#limits\">Limits</a> </nav>");
    end(&r, page);
}

/* Serial numbers, notes, sources and products that hold markup, control characters or marks that
 * turn the text around stay text; what is harmless stays. */
static void test_hostile_words(void **state)
{
    static const char longest[] =
        "0123456789012345678901234567890123456789012345678901234567890123";
    static const char *const serials[] = {longest, "</td></tr></table>", "\xD7\x90\xE2\x80\xAEZ1",
                                          "\x01\x1B\xFF", "]]>&amp;\"'<!--"};
    static char note[] = "<img src=x onerror=alert(1)>", product[] = "<b>\"P&1</b>";
    struct report_batch r = {0};
    char *page, *kept;

    (void)state;
    report_start(&r);
    for (size_t i = 0; i < sizeof serials / sizeof *serials; i++)
        report_add(&r, serials[i], 1, i % 2 ? 20 : 18, 3);
    report_finish(&r);
    kept = r.limits.product;
    r.limits.product = product;
    r.limits.note = note;
    r.batch.source = "</dd><script>";
    page = page_of(&r.batch);
    r.limits.product = kept;
    r.limits.note = NULL;
    assert_null(strstr(page, "<img"));
    assert_holds(page, "<title>&lt;b&gt;&quot;P&amp;1&lt;/b&gt;: ");
    assert_holds(page, "<dd>&lt;/dd&gt;&lt;script&gt;</dd>");
    assert_holds(page, longest);
    assert_holds(page, "\xD7\x90\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBDZ1</a>");
    assert_holds(page, ">\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD</a>");
    assert_holds(page, ">]]&gt;&amp;amp;&quot;'&lt;!--</a>");
    end(&r, page);
}

/* A product's name of 200 letters, as long as one may be, leaves the counts in the title. */
static void test_long_product(void **state)
{
    static char product[601], want[700];
    struct report_batch r = {0};
    char *page, *kept;

    (void)state;
    for (size_t i = 0; i < 600; i += 3)
        memcpy(product + i, "\u677F", 3);
    start_four(&r);
    kept = r.limits.product;
    r.limits.product = product;
    page = page_of(&r.batch);
    r.limits.product = kept;
    (void)snprintf(want, sizeof want, "<title>%s: 2 PASS, 1 FAIL, 1 INCOMPLETE</title>", product);
    assert_holds(page, want);
    end(&r, page);
}

/* No units at all is still a page. */
static void test_empty_batch(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_holds(page, "0 PASS, 0 FAIL, 0 INCOMPLETE");
    assert_int_equal(report_count(page, "<b>no units</b>"), 2);
    assert_holds(page, "<dt>Measured</dt><dd>not recorded</dd>");
    assert_null(strstr(page, "nan"));
    end(&r, page);
}

static struct report_batch *in_comma_locale;
static const char *in_c_locale;

static void check_with_comma(void)
{
    char *page = page_of(&in_comma_locale->batch);

    assert_string_equal(page, in_c_locale);
    memory_free(page);
}

/* A locale with a decimal comma changes not a byte: numbers of drawings would be broken by it. */
static void test_comma_locale(void **state)
{
    struct report_batch r = {0};
    char *page;

    start_four(&r);
    page = page_of(&r.batch);
    in_comma_locale = &r;
    in_c_locale = page;
    comma_locale_run(*state, check_with_comma);
    end(&r, page);
}

/* Without memory the page fails as a whole and says so; it never lacks a part in silence. */
static void test_no_memory(void **state)
{
    struct report_batch r = {0};
    struct text whole = {0};
    struct error e = {0};
    bool failed = true;

    (void)state;
    start_four(&r);
    assert_done(page_batch_write(&r.batch, &whole, &e), &e);
    for (unsigned long nth = 1; failed; nth++) {
        struct text out = {0};
        bool ok;

        e = (struct error){0};
        memory_fail_at(nth);
        ok = page_batch_write(&r.batch, &out, &e);
        failed = picture_memory_failed(nth);
        if (ok)
            assert_string_equal(out.data, whole.data);
        else
            assert_int_equal(e.kind, ERROR_MEMORY);
        text_clear(&out);
    }
    text_clear(&whole);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counts),
        cmocka_unit_test(test_yields),
        cmocka_unit_test(test_near_all),
        cmocka_unit_test(test_costly),
        cmocka_unit_test(test_one_costly),
        cmocka_unit_test(test_unit_pages),
        cmocka_unit_test(test_contents),
        cmocka_unit_test(test_hostile_words),
        cmocka_unit_test(test_long_product),
        cmocka_unit_test(test_empty_batch),
        cmocka_unit_test_setup_teardown(test_comma_locale, tree_make, tree_remove),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
