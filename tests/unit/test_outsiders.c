#include "reports/outsiders.h"

#include "tests/picture_check.h"

/* The picture is the set of limits that it shows, by id. */
static bool is_shown(const void *picture, const struct finding *finding)
{
    const char *const ids = picture;

    return strstr(ids, finding->limit->id) != NULL;
}

/* Units by what they fail: A1 nothing, A2 the gain by 1 dB, A3 the match by 6 dB and the gain by
 * 0.5 dB, A4 the gain by 3 dB, A5 lacks a step. */
static void fill(struct report_batch *r)
{
    report_start_with(r, "<gain id=\"gain\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>"
                         "<gain id=\"top\" bias=\"high\" band=\"centre\" min=\"24 dB\"/>"
                         "<input-reflection id=\"match\" bias=\"low\" band=\"centre\" "
                         "max=\"-16 dB\"/>");
    report_add(r, "A1", 1, 20, 3);
    report_add(r, "A2", 1, 18, 3);
    report_add(r, "A3", 1, 18.5, 3);
    report_add(r, "A4", 1, 16, 3);
    report_add(r, "A5", 1, 20, 2);
    fixture_set(&r->m[2].biases[0], 19, S11, fixture_linear(-10));
    picture_judge(r, 2);
    report_finish(r);
}

static struct outsiders find(const struct batch *batch, const char *shown, size_t n_pictures)
{
    struct outsiders out = {0};
    struct error e = {0};

    assert_done(outsiders_find(&out, batch, is_shown, shown, n_pictures, &e), &e);
    return out;
}

/* Only units that failed something of the picture are outside, the furthest out first; what could
 * not be judged is not outside. */
static void test_order(void **state)
{
    struct report_batch r = {0};
    struct outsiders found;

    (void)state;
    fill(&r);
    assert_int_equal(r.judgements[4].findings[1].outcome, OUTCOME_INCOMPLETE);
    found = find(&r.batch, "gain top match", 1);
    assert_int_equal(found.n, 3);
    assert_int_equal(found.n_drawn, 3);
    assert_int_equal(found.list[0].unit, 2); /* 6 dB of 16 */
    assert_int_equal(found.list[1].unit, 3); /* 3 dB of 19 */
    assert_int_equal(found.list[2].unit, 1);
    assert_close(found.list[1].severity, -3.0 / 19, 1e-9);
    assert_close(found.list[0].severity, r.judgements[2].findings[2].severity, 1e-12);
    outsiders_clear(&found);
    found = find(&r.batch, "gain", 1);
    assert_int_equal(found.n, 3);
    assert_int_equal(found.list[0].unit, 3);
    assert_int_equal(found.list[1].unit, 1);
    assert_int_equal(found.list[2].unit, 2);
    outsiders_clear(&found);
    found = find(&r.batch, "match", 1);
    assert_int_equal(found.n, 1);
    outsiders_clear(&found);
    found = find(&r.batch, "nothing", 1);
    assert_int_equal(found.n, 0);
    outsiders_clear(&found);
    report_clear(&r);
}

/* Equally far out they keep the batch's order: two runs give the same page. */
static void test_ties(void **state)
{
    struct report_batch r = {0};
    struct batch_unit units[64];
    struct outsiders found;

    (void)state;
    fill(&r);
    for (size_t i = 0; i < 64; i++)
        units[i] = r.units[i % 2 ? 1 : 3];
    r.batch.units = units;
    r.batch.n_units = 64;
    found = find(&r.batch, "gain", 1);
    assert_int_equal(found.n, 64);
    for (size_t i = 0; i < 64; i++)
        assert_int_equal(found.list[i].unit, i < 32 ? 2 * i : 2 * (i - 32) + 1);
    outsiders_clear(&found);
    report_clear(&r);
}

/* The pictures of a page share its lines: few pictures draw up to 200 units each, many draw fewer,
 * and the furthest ten are always there. None are lost from the count. */
static void test_share(void **state)
{
    static const size_t want[][2] = {{0, 200}, {1, 200},  {12, 200}, {24, 100},
                                     {30, 80}, {240, 10}, {1000, 10}};
    enum { UNITS = 500 };
    static struct batch_unit units[UNITS];
    struct report_batch r = {0};

    (void)state;
    fill(&r);
    for (size_t i = 0; i < UNITS; i++)
        units[i] = r.units[i == UNITS - 1 ? 3 : 1]; /* the worst is the last */
    r.batch.units = units;
    r.batch.n_units = UNITS;
    for (size_t i = 0; i < sizeof want / sizeof *want; i++) {
        struct outsiders found = find(&r.batch, "gain", want[i][0]);

        assert_int_equal(found.n, UNITS);
        assert_int_equal(found.n_drawn, want[i][1]);
        assert_int_equal(found.list[0].unit, UNITS - 1);
        outsiders_clear(&found);
    }
    report_clear(&r);
}

/* An empty batch has none, and without memory there is nothing to clear. */
static void test_empty_and_memory(void **state)
{
    const struct batch batch = {0};
    struct outsiders found = find(&batch, "gain", 3);
    struct error e = {0};

    (void)state;
    assert_int_equal(found.n, 0);
    outsiders_clear(&found);
    outsiders_clear(&found);
    memory_fail_at(1);
    assert_false(outsiders_find(&found, &batch, is_shown, "gain", 1, &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_null(found.list);
}

static char *open_unit(const struct report_batch *r, size_t unit, const char *shown)
{
    struct html *h = picture_start();

    outsider_open(h, &r->batch, &r->units[unit], is_shown, shown);
    html_text(h, "inside");
    html_close(h);
    return picture_finish(h);
}

/* A unit is a link where its page exists, and a group where it does not: no dead links. */
static void test_link_or_group(void **state)
{
    static const struct {
        enum unit_pages pages;
        size_t unit;
        bool linked;
    } cases[] = {{UNIT_PAGES_ALL, 0, true},     {UNIT_PAGES_ALL, 1, true},
                 {UNIT_PAGES_FAILED, 0, false}, {UNIT_PAGES_FAILED, 1, true},
                 {UNIT_PAGES_FAILED, 4, true},  {UNIT_PAGES_NONE, 1, false}};
    struct report_batch r = {0};

    (void)state;
    fill(&r);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char want[64], *page;

        r.batch.unit_pages = cases[i].pages;
        page = open_unit(&r, cases[i].unit, "gain");
        (void)snprintf(want, sizeof want, "<a href=\"units/%s.html\" class=\"unit\"><title>%s",
                       r.judgements[cases[i].unit].serial, r.judgements[cases[i].unit].serial);
        if (cases[i].linked)
            assert_holds(page, want);
        else
            assert_holds(page, "<g class=\"unit\"><title>A");
        assert_int_equal(report_count(page, "<a "), cases[i].linked);
        memory_free(page);
    }
    report_clear(&r);
}

/* The title says who it is and what it failed of this picture, and nothing of other pictures. */
static void test_title(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    fill(&r);
    page = open_unit(&r, 2, "gain top match");
    assert_holds(page, "<title>A3: gain, match</title>inside</a>");
    memory_free(page);
    page = open_unit(&r, 3, "gain top match");
    assert_holds(page, "<title>A4: gain, top</title>");
    memory_free(page);
    page = open_unit(&r, 2, "match");
    assert_holds(page, "<title>A3: match</title>");
    memory_free(page);
    page = open_unit(&r, 0, "gain top match");
    assert_holds(page, "<title>A1</title>");
    memory_free(page);
    page = open_unit(&r, 4, "gain top match"); /* a missing step is no failure */
    assert_holds(page, "<title>A5</title>");
    memory_free(page);
    report_clear(&r);
}

/* A serial number may hold anything: it stays text, and its link one file name. */
static void test_hostile_serial(void **state)
{
    static const char serial[] = "\"><script>'&\x01\xE2\x80\xAE\xFF/..";
    struct report_batch r = {0};
    char *page;

    (void)state;
    fill(&r);
    (void)snprintf(r.judgements[1].serial, sizeof r.judgements[1].serial, "%s", serial);
    page = open_unit(&r, 1, "gain"); /* is well formed */
    assert_null(strstr(page, "<script>"));
    assert_null(strstr(page, "\x01"));
    assert_null(strstr(page, "\xE2\x80\xAE"));
    assert_holds(page, "href=\"units/%2522%253E%253Cscript%253E%2527%2526%2501%25E2%2580%25AE"
                       "%25FF%252F..\x2Ehtml\"");
    assert_holds(page, "&lt;script&gt;");
    assert_holds(page, ": gain</title>");
    memory_free(page);
    report_clear(&r);
}

static bool write_unit(struct html *h, const void *what, struct error *e)
{
    const struct report_batch *r = what;

    (void)e;
    outsider_open(h, &r->batch, &r->units[2], is_shown, "gain top match");
    html_close(h);
    return true;
}

/* A title that could not be put together is not half a title. */
static void test_memory_of_the_title(void **state)
{
    struct report_batch r = {0};

    (void)state;
    fill(&r);
    picture_check_memory(write_unit, &r);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_order),          cmocka_unit_test(test_ties),
        cmocka_unit_test(test_share),          cmocka_unit_test(test_empty_and_memory),
        cmocka_unit_test(test_link_or_group),  cmocka_unit_test(test_title),
        cmocka_unit_test(test_hostile_serial), cmocka_unit_test(test_memory_of_the_title)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
