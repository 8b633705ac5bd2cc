#include "reports/page_unit.h"

#include "tests/comma_locale.h"
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

/* A failed unit: serial, verdict, reason, advice and the worst place, all on its sheet. */
static void test_failed_unit(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 18, 3);
    page = page_of(&r);
    assert_holds(page, "<title>A1 FAIL</title>");
    assert_holds(page, "<h1 class=\"serial\">A1</h1>");
    assert_holds(page, "<div class=\"verdict fail\"><span class=\"word fail\">\u25A0 FAIL</span>");
    assert_holds(page,
                 "<p class=\"advice fail\"><strong>gain</strong>: gain 17.91 dB at 178 MHz, bias "
                 "1.8 V: below 19 dB by 1.09 dB. Look at the bias feed.</p>");
    assert_int_equal(report_count(page, "<p class=\"advice"), 1);
    assert_holds(page, "<circle class=\"failed\"");
    assert_holds(page, "<a href=\"../report.html\">The whole batch</a>");
    end(&r, page);
}

/* A unit that passed has no advice and no reason. */
static void test_passed_unit(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 20, 3);
    page = page_of(&r);
    assert_holds(page, "<div class=\"verdict pass\">");
    assert_null(strstr(page, "class=\"advice"));
    assert_null(strstr(page, "Look at the bias feed"));
    end(&r, page);
}

/* What could not be judged is told without the advice for a fault that nobody saw. */
static void test_incomplete_unit(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 20, 2);
    page = page_of(&r);
    assert_holds(page, "<div class=\"verdict open\">");
    assert_holds(page,
                 "<p class=\"advice open\"><strong>gain</strong>: no sweep at bias high (3 V)."
                 "</p>");
    end(&r, page);
}

/* A serial number against the rule of the limits file, told once and above all limits. */
static void test_serial_fault(void **state)
{
    static char fault[] = "serial number A1 does not <fit>";
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 18, 3);
    r.judgements[0].serial_fault = fault;
    page = page_of(&r);
    r.judgements[0].serial_fault = NULL;
    assert_holds(page, "<p class=\"advice open\">serial number A1 does not &lt;fit&gt;</p>"
                       "<p class=\"advice fail\"><strong>gain</strong>");
    end(&r, page);
}

/* Every limit was met, but a sweep that none of them needs is damaged: the sheet still says at its
 * head why the unit is not PASS. */
static void test_damaged_sweep(void **state)
{
    struct report_batch r = {0};
    struct error e = {0};
    struct bias_sweep *extra;
    char *page;

    (void)state;
    start_one(&r, 20, 3);
    extra = measurement_add(&r.m[0], 3.6, &e);
    assert_non_null(extra);
    text_add(&extra->missing, "x.s2p:3: not a number");
    picture_judge(&r, 0);
    assert_int_equal(r.judgements[0].verdict, VERDICT_INCOMPLETE);
    page = page_of(&r);
    assert_holds(page, "<p class=\"advice open\">x.s2p:3: not a number</p>");
    end(&r, page);
}

/* Which product, revision and attempt, and the limits that were applied, known again by their
 * digest. */
static void test_head(void **state)
{
    static char revision[] = "C<1>", path[] = "lim&its.xml";
    struct report_batch r = {0};
    char want[256], *kept, *page;

    (void)state;
    report_start(&r);
    report_add(&r, "A1", 7, 20, 3);
    kept = r.limits.path;
    r.limits.path = path;
    page = page_of(&r);
    assert_holds(page, "<p>Test, attempt 7</p>");
    memory_free(page);
    r.limits.revision = revision;
    page = page_of(&r);
    r.limits.revision = NULL;
    r.limits.path = kept;
    assert_int_equal(strlen(r.limits.sha256), 64);
    (void)snprintf(want, sizeof want, "Limits lim&amp;its.xml, SHA-256 <code>%s</code>",
                   r.limits.sha256);
    assert_holds(page, want);
    assert_holds(page, "<p>Test, revision C&lt;1&gt;, attempt 7</p>");
    end(&r, page);
}

/* Every limit in a row with all that was found, in the file's order. */
static void test_findings(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 18, 3);
    page = page_of(&r);
    assert_holds(page, "<tbody><tr><td class=\"name\">gain</td><td>gain</td>"
                       "<td class=\"word fail\">\u25A0 fail</td><td class=\"number\">17.91 dB</td>"
                       "<td class=\"number\">19.00 dB</td><td class=\"number\">-1.09 dB</td>"
                       "<td class=\"number\">178 MHz</td><td class=\"number\">1.8 V</td>"
                       "<td class=\"number\">0.2 dB</td><td class=\"number\">&lt; 0.0001</td></tr>"
                       "<tr><td class=\"name\">match</td><td>input reflection</td>"
                       "<td class=\"word pass\">\u25CF pass</td>");
    assert_holds(page, "<th scope=\"col\" class=\"number\">Uncertainty (k = 2)</th>");
    end(&r, page);
}

/* What was not measured is empty cells and not numbers. */
static void test_nothing_measured(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 18, 0);
    page = page_of(&r);
    assert_holds(page,
                 "<td class=\"word open\">\u25B2 incomplete</td><td class=\"number\"></td>"
                 "<td class=\"number\"></td><td class=\"number\"></td><td class=\"number\"></td>"
                 "<td class=\"number\"></td><td class=\"number\">0.2 dB</td>"
                 "<td class=\"number\"></td></tr>");
    assert_holds(page, "<td class=\"number\">0.006</td><td class=\"number\"></td></tr>");
    assert_holds(page, "<p>No sweep.</p>");
    assert_null(strstr(page, "nan"));
    end(&r, page);
}

/* A linear uncertainty of a reflection is shown in dB on both sides of the value: 0.006 around 0.1
 * (0.1004 at the band edges) is +0.50 and -0.54 dB. One larger than the value has no lower side,
 * and one that is not stated is an empty cell. */
static void test_linear_uncertainty(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 20, 3);
    page = page_of(&r);
    assert_holds(page, "<td class=\"number wraps\">0.006 linear: +0.50, -0.54 dB</td>");
    memory_free(page);
    r.limits.limits[1].uncertainty = 0.2;
    r.judgements[0].findings[1].value = -20;
    page = page_of(&r);
    assert_holds(page, "<td class=\"number wraps\">0.2 linear: +9.54 dB</td>");
    memory_free(page);
    r.limits.limits[0].has_uncertainty = false;
    r.judgements[0].findings[0].conformance_probability = NAN;
    page = page_of(&r);
    assert_holds(page, "<td class=\"number\">1.8 V</td><td class=\"number\"></td>"
                       "<td class=\"number\"></td></tr>");
    end(&r, page);
}

/* A probability that is not certain may not be written as if it were. */
static void test_near_certainty(void **state)
{
    static const struct {
        double probability;
        const char *cell;
    } cases[] = {{0.5, ">0.5000<"},
                 {0.99994, ">0.9999<"},
                 {0.99996, ">&gt; 0.9999<"},
                 {0.00006, ">0.0001<"},
                 {0.00004, ">&lt; 0.0001<"}};
    struct report_batch r = {0};

    (void)state;
    start_one(&r, 20, 3);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *page;

        r.judgements[0].findings[0].conformance_probability = cases[i].probability;
        r.judgements[0].findings[1].conformance_probability = 0.75;
        page = page_of(&r);
        assert_int_equal(report_count(page, cases[i].cell), 1);
        memory_free(page);
    }
    report_clear(&r);
}

/* Each sweep with its bias, the supply reading, its file, the file's digest and what the file says
 * of itself, line by line; and what could not be read, with the reason. */
static void test_sweeps(void **state)
{
    static const char digest[] = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef";
    struct report_batch r = {0};
    char want[512], *page;

    (void)state;
    start_one(&r, 20, 3);
    memcpy(r.m[0].biases[1].sha256, digest, DIGEST_HEX);
    r.m[0].biases[1].bias_current_ma = 12.5;
    text_add(&r.m[0].biases[1].comments, "analyser 7\ncable <B>");
    text_add(&r.m[0].biases[2].missing, "a & b < c");
    text_add(&r.m[0].remarks, "y.s2p fits no bias step");
    page = page_of(&r);
    assert_holds(page, "<td class=\"number\">1.8 V</td><td class=\"number\"></td>"
                       "<td class=\"words\">A1_0.s2p");
    assert_holds(page, "<td class=\"number\">2.4 V</td><td class=\"number\">12.50 mA</td>"
                       "<td class=\"words\">A1_1.s2p");
    (void)snprintf(want, sizeof want,
                   "<div class=\"says\">analyser 7\ncable &lt;B&gt;</div></td>"
                   "<td><code>%s</code></td></tr>",
                   digest);
    assert_holds(page, want);
    assert_holds(page, ".says { white-space: pre-line;");
    assert_int_equal(report_count(page, "class=\"says\""), 1);
    assert_holds(page, "A1_2.s2p - a &amp; b &lt; c");
    assert_holds(page, "</table></div><p>y.s2p fits no bias step</p>");
    assert_null(strstr(page, "No sweep."));
    end(&r, page);
}

/* When, by whom and on which bench the last attempt was measured, or that it is not recorded; then
 * the lines for the one who answers for the sheet. */
static void test_circumstances(void **state)
{
    static char at[] = "2026-11-25T14:05:00Z", who[] = "<Ana>", where[] = "bench & 2";
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_one(&r, 20, 3);
    page = page_of(&r);
    assert_holds(page, "<p>Measured: time not recorded. Operator: not recorded. Bench: not "
                       "recorded.</p>");
    memory_free(page);
    r.m[0].circumstances = (struct circumstances){at, who, where};
    page = page_of(&r);
    r.m[0].circumstances = (struct circumstances){NULL, NULL, NULL};
    assert_holds(page, "<p>Measured: 2026-11-25T14:05:00Z. Operator: &lt;Ana&gt;. Bench: bench "
                       "&amp; 2.</p>");
    assert_holds(page, "<p class=\"sign\"><span>Date</span><span>Name</span><span>Signature</span>"
                       "</p></main><footer>");
    end(&r, page);
}

/* Whatever serial number, file name and words of the archive hold, the sheet is well formed; an
 * advice, a comment and an operator's name of the greatest length are all there. */
static void test_hostile_words(void **state)
{
    static char name[10001];
    struct report_batch r = {0};
    char advice[CEILING_NOTE + 1], comments[CEILING_COMMENTS + 1];
    char *kept, *page;

    (void)state;
    memset(name, 'n', 9999);
    name[9999] = '&';
    memset(advice, 'w', CEILING_NOTE);
    memcpy(advice + CEILING_NOTE - 6, "<end>", 6);
    memset(comments, 'c', CEILING_COMMENTS);
    memcpy(comments + CEILING_COMMENTS - 4, "\xE2\x80\xAEz", 5);
    report_start(&r);
    report_add(&r, "</h1><b>\x02\"&", 1, 18, 2);
    r.m[0].circumstances.operator_name = name;
    text_add(&r.m[0].remarks, "<i>\xC0 left out");
    text_add(&r.m[0].biases[0].missing, "a & b < c");
    text_add(&r.m[0].biases[0].comments, comments);
    kept = r.limits.limits[0].when_failed;
    r.limits.limits[0].when_failed = advice;
    page = page_of(&r);
    r.limits.limits[0].when_failed = kept;
    assert_holds(page, ">&lt;/h1&gt;&lt;b&gt;\xEF\xBF\xBD&quot;&amp;</h1>");
    assert_holds(page, "<title>&lt;/h1&gt;&lt;b&gt;\xEF\xBF\xBD&quot;&amp; FAIL</title>");
    assert_holds(page, "&lt;i&gt;\xEF\xBF\xBD left out");
    assert_holds(page, "a &amp; b &lt; c");
    assert_holds(page, "w&lt;end&gt;</p>");
    assert_holds(page, "cc\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBDz</div>");
    assert_holds(page, "nn&amp;. Bench: not recorded.");
    assert_holds(page, "td.words, dd { overflow-wrap: anywhere; }");
    assert_true(report_count(page, "nnnnnnnnnn") > 9900);
    r.m[0].circumstances.operator_name = NULL;
    end(&r, page);
}

static struct report_batch *in_comma_locale;
static const char *in_c_locale;

static void check_with_comma(void)
{
    char *page = page_of(in_comma_locale);

    assert_string_equal(page, in_c_locale);
    memory_free(page);
}

/* A locale with a decimal comma changes not a byte. */
static void test_comma_locale(void **state)
{
    struct report_batch r = {0};
    char *page;

    start_one(&r, 18, 3);
    r.m[0].biases[0].bias_current_ma = 12.5;
    page = page_of(&r);
    in_comma_locale = &r;
    in_c_locale = page;
    comma_locale_run(*state, check_with_comma);
    end(&r, page);
}

/* Without memory the sheet fails as a whole and says so; it never lacks a part in silence. */
static void test_no_memory(void **state)
{
    struct report_batch r = {0};
    struct unit_sheet sheet;
    char *page;
    bool failed = true;

    (void)state;
    start_one(&r, 18, 3);
    sheet = sheet_of(&r);
    page = page_of(&r);
    for (unsigned long nth = 1; failed; nth++) {
        struct text out = {0};
        struct error e = {0};
        bool ok;

        memory_fail_at(nth);
        ok = page_unit_write(&sheet, &out, &e);
        failed = picture_memory_failed(nth);
        if (ok)
            assert_string_equal(out.data, page);
        else
            assert_int_equal(e.kind, ERROR_MEMORY);
        text_clear(&out);
    }
    end(&r, page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_failed_unit),
        cmocka_unit_test(test_passed_unit),
        cmocka_unit_test(test_incomplete_unit),
        cmocka_unit_test(test_serial_fault),
        cmocka_unit_test(test_damaged_sweep),
        cmocka_unit_test(test_head),
        cmocka_unit_test(test_findings),
        cmocka_unit_test(test_nothing_measured),
        cmocka_unit_test(test_linear_uncertainty),
        cmocka_unit_test(test_near_certainty),
        cmocka_unit_test(test_sweeps),
        cmocka_unit_test(test_circumstances),
        cmocka_unit_test(test_hostile_words),
        cmocka_unit_test_setup_teardown(test_comma_locale, tree_make, tree_remove),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
