#include "reports/page_batch.h"
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

/* Which limits, how they were applied, and what was checked, known again by its digest. */
static void test_facts(void **state)
{
    static char path[] = "a & b.xml", revision[] = "C", note[] = "two\nlines";
    struct report_batch r = {0};
    char want[256], *kept, *page;

    (void)state;
    start_four(&r);
    assert_int_equal(strlen(r.limits.sha256), 64);
    kept = r.limits.path;
    r.limits.path = path;
    r.limits.revision = revision;
    r.limits.note = note;
    r.batch.source = "line 3, line 4";
    r.batch.notes = "2 files were <not> read";
    page = page_of(&r.batch);
    r.limits.path = kept;
    r.limits.revision = r.limits.note = NULL;
    r.batch.notes = "";
    (void)snprintf(want, sizeof want, "<dt>SHA-256 of the limits file</dt><dd>%s</dd>",
                   r.limits.sha256);
    assert_holds(page, want);
    assert_holds(page, "<dt>Limits</dt><dd>a &amp; b.xml, revision C, guarded acceptance "
                       "(guard factor 1)</dd>");
    assert_holds(page, "<dt>Sweeps</dt><dd>line 3, line 4</dd>");
    assert_holds(page, "<p class=\"advice open\">2 files were &lt;not&gt; read</p>");
    assert_holds(page, "<p class=\"note\">two\nlines</p>");
    memory_free(page);
    r.limits.rule = SIMPLE_ACCEPTANCE;
    page = page_of(&r.batch);
    assert_holds(page, ", simple acceptance</dd>");
    assert_null(strstr(page, ", revision"));
    assert_null(strstr(page, "<p class=\"advice"));
    assert_null(strstr(page, "<p class=\"note\""));
    end(&r, page);
}

/* The head with these circumstances of the four units. */
static char *page_with(struct report_batch *r, const struct circumstances *four)
{
    for (size_t i = 0; i < 4; i++)
        r->units[i].circumstances = &four[i];
    return page_of(&r->batch);
}

/* Who measured on which bench: each name once, in the order of the units; what is not known of some
 * or of all is said. */
static void test_people(void **state)
{
    static char ana[] = "Ana", bo[] = "B<o>", one[] = "bench 1", two[] = "bench 2";
    const struct circumstances unknown[4] = {{NULL, NULL, NULL}};
    const struct circumstances known[4] = {
        {NULL, bo, one}, {NULL, ana, one}, {NULL, bo, one}, {NULL, ana, one}};
    const struct circumstances mixed[4] = {
        {NULL, NULL, NULL}, {NULL, ana, two}, {NULL, NULL, two}, {NULL, bo, one}};
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_four(&r);
    page = page_with(&r, unknown);
    assert_holds(page, "<dt>Operator</dt><dd>not recorded</dd>");
    assert_holds(page, "<dt>Bench</dt><dd>not recorded</dd>");
    memory_free(page);
    page = page_with(&r, known);
    assert_holds(page, "<dt>Operator</dt><dd>B&lt;o&gt;, Ana</dd>");
    assert_holds(page, "<dt>Bench</dt><dd>bench 1</dd>");
    memory_free(page);
    page = page_with(&r, mixed);
    assert_holds(page, "<dt>Operator</dt><dd>Ana, B&lt;o&gt;; not recorded for 2 of 4 units</dd>");
    assert_holds(page, "<dt>Bench</dt><dd>bench 2, bench 1; not recorded for 1 of 4 units</dd>");
    end(&r, page);
}

/* Four names are told, of more that there are others; a unit without a name behind them still
 * counts. */
static void test_many_people(void **state)
{
    static char names[6][8];
    static struct circumstances all[8];
    static struct batch_unit units[8];
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_four(&r);
    for (size_t i = 0; i < 8; i++) {
        (void)snprintf(names[i % 6], sizeof names[0], "N%zu", i % 6);
        all[i] = (struct circumstances){.operator_name = i < 7 ? names[i % 6] : NULL,
                                        .bench = names[i % 4]};
        units[i] = r.units[0];
        units[i].circumstances = &all[i];
    }
    r.batch.units = units;
    r.batch.n_units = 8;
    page = page_of(&r.batch);
    assert_holds(
        page, "<dt>Operator</dt><dd>N0, N1, N2, N3 and others; not recorded for 1 of 8 units</dd>");
    assert_holds(page, "<dt>Bench</dt><dd>N0, N1, N2, N3</dd>");
    end(&r, page);
}

/* A name of 10,000 letters does not fill the head: 80 of them stand there, all in the title. */
static void test_long_names(void **state)
{
    static char name[20001], want[20400];
    struct circumstances four[4] = {{NULL, name, name}};
    struct report_batch r = {0};
    char *page;

    (void)state;
    for (size_t i = 0; i < 20000; i += 2)
        memcpy(name + i, "\u00E9", 2);
    start_four(&r);
    page = page_with(&r, four);
    (void)snprintf(want, sizeof want, "%.160s\u2026</span>; not recorded for 3 of 4 units</dd>",
                   name);
    assert_int_equal(report_count(page, want), 2);
    assert_int_equal(report_count(page, "<dd><span title=\""), 2);
    assert_holds(page, "td.words, dd { overflow-wrap: anywhere; }");
    end(&r, page);
}

/* Names and days of attempts that were repeated count too: the first yield is theirs. */
static void test_earlier_attempts(void **state)
{
    static char ana[] = "Ana", bo[] = "Bo", cy[] = "Cy", first[] = "2026-11-18",
                last[] = "2026-11-25";
    const struct circumstances earlier[2] = {{NULL, bo, NULL}, {first, cy, NULL}};
    const struct circumstances four[4] = {
        {last, ana, NULL}, {last, ana, NULL}, {last, ana, NULL}, {last, bo, NULL}};
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_four(&r);
    r.units[2].n_attempts = 3;
    r.units[2].earlier = earlier;
    page = page_with(&r, four);
    assert_holds(page, "<dt>Measured</dt><dd>2026-11-18 to 2026-11-25; not recorded for 1 of 6 "
                       "attempts</dd>");
    assert_holds(page, "<dt>Operator</dt><dd>Ana, Bo, Cy</dd>");
    end(&r, page);
}

/* Which unit phase was compared with, at the head and with its digests at the foot; nothing of it
 * without one. The program's version is always there. */
static void test_reference(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_four(&r);
    page = page_of(&r.batch);
    assert_holds(page,
                 "</main><footer><p>Written by gainsieve " GAINSIEVE_VERSION ".</p></footer>");
    assert_null(strstr(page, "Reference unit"));
    memory_free(page);
    r.batch.reference = &r.m[1];
    page = page_of(&r.batch);
    assert_holds(page,
                 "<dt>Reference unit</dt><dd>A2, attempt 1 (its digests are at the foot)</dd>");
    assert_holds(page, "<footer><p>Reference unit of the phase limits: A2, attempt 1. ");
    end(&r, page);
}

/* A note of many words or lines is folded, so that the table stays in sight, with its first words
 * as what unfolds it; on paper it is whole. A short one stands as it is. */
static void test_long_note(void **state)
{
    static char many[1001], lines[] = "first\n2\n3\n4\nlast", few[] = "short\nnote";
    struct report_batch r = {0};
    char want[2400], *page;

    (void)state;
    start_four(&r);
    memset(many, 'w', 1000);
    r.limits.note = many;
    page = page_of(&r.batch);
    (void)snprintf(want, sizeof want,
                   "<details class=\"screen\"><summary>Note: %.80s\u2026</summary>"
                   "<p class=\"note\">%s</p></details><p class=\"note paper\">%s</p>",
                   many, many, many);
    assert_holds(page, want);
    assert_holds(page, ".paper { display: none; }");
    assert_holds(page, "  .paper { display: block; }");
    memory_free(page);
    r.limits.note = lines;
    page = page_of(&r.batch);
    assert_holds(page, "<summary>Note: first\u2026</summary><p class=\"note\">first\n2\n");
    memory_free(page);
    r.limits.note = few;
    page = page_of(&r.batch);
    assert_holds(page, "<p class=\"note\">short\nnote</p>");
    assert_null(strstr(page, "<details"));
    r.limits.note = NULL;
    end(&r, page);
}

/* A product's name without a blank breaks rather than widen the page. */
static void test_long_product(void **state)
{
    static char product[101];
    struct report_batch r = {0};
    char *kept, *page;

    (void)state;
    start_four(&r);
    memset(product, 'P', 100);
    kept = r.limits.product;
    r.limits.product = product;
    page = page_of(&r.batch);
    r.limits.product = kept;
    assert_holds(page, product);
    assert_holds(page, "h1 { font-size: 1.45rem; margin: 0; overflow-wrap: anywhere; }");
    end(&r, page);
}

/* The days from the first to the last, whatever the order of the units; one day is one date. */
static void test_dates(void **state)
{
    static char late[] = "2026-11-25T23:00:00Z", day[] = "2026-11-20",
                noon[] = "2026-11-20T12:00:00Z";
    const struct circumstances unknown[4] = {{NULL, NULL, NULL}};
    const struct circumstances one_day[4] = {
        {noon, NULL, NULL}, {day, NULL, NULL}, {day, NULL, NULL}, {noon, NULL, NULL}};
    const struct circumstances some[4] = {
        {noon, NULL, NULL}, {late, NULL, NULL}, {NULL, NULL, NULL}, {day, NULL, NULL}};
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_four(&r);
    page = page_with(&r, unknown);
    assert_holds(page, "<dt>Measured</dt><dd>not recorded</dd>");
    memory_free(page);
    page = page_with(&r, one_day);
    assert_holds(page, "<dt>Measured</dt><dd>2026-11-20</dd>");
    memory_free(page);
    page = page_with(&r, some);
    assert_holds(
        page, "<dt>Measured</dt><dd>2026-11-20 to 2026-11-25; not recorded for 1 of 4 units</dd>");
    end(&r, page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_facts),        cmocka_unit_test(test_people),
        cmocka_unit_test(test_many_people),  cmocka_unit_test(test_long_names),
        cmocka_unit_test(test_dates),        cmocka_unit_test(test_earlier_attempts),
        cmocka_unit_test(test_reference),    cmocka_unit_test(test_long_note),
        cmocka_unit_test(test_long_product),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
