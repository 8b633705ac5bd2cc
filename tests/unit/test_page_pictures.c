#include "reports/page_pictures.h"

#include "tests/picture_check.h"

static bool write_pictures(struct html *h, const void *batch, struct error *e)
{
    return page_pictures_write(h, batch, e);
}

static char *page_of(const struct batch *batch)
{
    struct html *h = picture_start();
    struct error e = {0};

    html_open(h, "main");
    assert_done(page_pictures_write(h, batch, &e), &e);
    html_element(h, "p", NULL, "behind");
    return picture_finish(h);
}

/* The page of three units under these limits: the second fails a gain limit of 19 dB. */
static char *page_with(struct report_batch *r, const char *elements)
{
    *r = (struct report_batch){.n = 0};
    report_start_with(r, elements);
    report_add(r, "A1", 1, 20, 3);
    report_add(r, "A2", 1, 18, 3);
    report_add(r, "A3", 1, 21, 3);
    report_finish(r);
    return page_of(&r->batch);
}

static void end(struct report_batch *r, char *page)
{
    memory_free(page);
    report_clear(r);
}

/* That these captions follow each other, each of a figure or a heading, and there are no others. */
static void check_captions(const char *page, const char *const *captions, size_t n)
{
    const char *at = page;

    for (size_t i = 0; i < n; i++) {
        char whole[128];
        const bool heading = captions[i][0] == '#';

        (void)snprintf(whole, sizeof whole, heading ? "<h3>%s</h3>" : "<figcaption>%s</figcaption>",
                       captions[i] + heading);
        at = strstr(at, whole);
        if (!at) print_error("not there, or not at its place: %s\n", whole);
        assert_non_null(at);
    }
    assert_int_equal(report_count(page, "<h3>") + report_count(page, "<figcaption>"), n);
    /* Figures stand within frames that end with their part. */
    assert_holds(page, "</figure></div><p>behind</p></main>");
    assert_int_equal(report_count(page, "<h3>"), report_count(page, "<div class=\"plots\">"));
}

/* Gain at every bias step that a limit is for, from the lowest, then gain against bias; reflection
 * and impedance at theirs: each kind under its heading, in one section that a link leads to. */
static void test_all_kinds(void **state)
{
    static const char *const captions[] = {
        "#Gain",
        "gain at bias low (1.8 V)",
        "gain at bias mid (2.4 V)",
        "gain at bias high (3 V)",
        "gain against bias at 169 MHz",
        "#Input reflection",
        "input reflection at bias low (1.8 V)",
        "input reflection at bias high (3 V)",
        "#Input impedance",
        "input impedance at bias low (1.8 V)",
        "input impedance at bias high (3 V)",
    };
    struct report_batch r;
    char *page;

    (void)state;
    page = page_with(&r, "<gain id=\"gain\" bias=\"all\" band=\"working\" min=\"19 dB\"/>"
                         "<input-reflection id=\"match\" bias=\"low high\" band=\"working\" "
                         "max=\"-16 dB\"/>");
    check_captions(page, captions, sizeof captions / sizeof *captions);
    assert_true(page_has_pictures(&r.batch));
    assert_holds(page, "<h2 id=\"pictures\">Pictures</h2>");
    end(&r, page);
}

/* Without a limit on gain there is no gain, not even its heading. */
static void test_reflection_alone(void **state)
{
    static const char *const captions[] = {
        "#Input reflection", "input reflection at bias mid (2.4 V)", "#Input impedance",
        "input impedance at bias mid (2.4 V)"};
    struct report_batch r;
    char *page;

    (void)state;
    page = page_with(&r, "<input-reflection id=\"match\" bias=\"mid\" band=\"working\" "
                         "max=\"-16 dB\"/>");
    check_captions(page, captions, sizeof captions / sizeof *captions);
    end(&r, page);
}

/* Gain alone, at one step. */
static void test_gain_alone(void **state)
{
    static const char *const captions[] = {"#Gain", "gain at bias high (3 V)",
                                           "gain against bias at 169 MHz"};
    struct report_batch r;
    char *page;

    (void)state;
    page = page_with(&r, "<gain id=\"gain\" bias=\"high\" band=\"working\" min=\"19 dB\"/>");
    check_captions(page, captions, sizeof captions / sizeof *captions);
    end(&r, page);
}

/* A slope is judged between bias steps: it is seen in gain against bias and nowhere else. */
static void test_slope_alone(void **state)
{
    static const char *const captions[] = {"#Gain", "gain against bias at 169 MHz"};
    struct report_batch r;
    char *page;

    (void)state;
    page = page_with(&r, "<gain-slope id=\"control\" band=\"centre\" from=\"low\" to=\"high\" "
                         "min=\"3 dB/V\" max=\"10 dB/V\"/>");
    assert_int_equal(r.views.n, 0);
    assert_true(page_has_pictures(&r.batch));
    check_captions(page, captions, sizeof captions / sizeof *captions);
    end(&r, page);
}

/* Limits that nothing can be drawn for: no section, no heading, nothing. */
static void test_no_pictures(void **state)
{
    struct report_batch r;
    char *page;

    (void)state;
    page = page_with(&r, "<reverse-isolation id=\"back\" bias=\"all\" band=\"working\" "
                         "max=\"-20 dB\"/>");
    assert_false(page_has_pictures(&r.batch));
    assert_holds(page, "<body><main><p>behind</p></main></body>");
    end(&r, page);
}

/* The serial numbers of units with a page are links in the pictures too, the others are not. */
static void test_links(void **state)
{
    static const struct {
        enum unit_pages pages;
        bool passed, failed;
    } cases[] = {{UNIT_PAGES_ALL, true, true},
                 {UNIT_PAGES_FAILED, false, true},
                 {UNIT_PAGES_NONE, false, false}};
    struct report_batch r;
    char *page;

    (void)state;
    page = page_with(&r, "<gain id=\"gain\" bias=\"all\" band=\"centre\" min=\"19 dB\"/>"
                         "<input-reflection id=\"match\" bias=\"low\" band=\"working\" "
                         "max=\"-16 dB\"/>");
    memory_free(page);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        r.batch.unit_pages = cases[i].pages;
        page = page_of(&r.batch);
        assert_int_equal(strstr(page, "<a href=\"units/A1.html\" class=\"unit\">") != NULL,
                         cases[i].passed);
        assert_int_equal(strstr(page, "<a href=\"units/A2.html\" class=\"unit\">") != NULL,
                         cases[i].failed);
        assert_int_equal(strstr(page, "<g class=\"unit\"><title>A1</title>") != NULL,
                         !cases[i].passed);
        assert_int_equal(strstr(page, "<g class=\"unit\"><title>A2: gain</title>") != NULL,
                         !cases[i].failed);
        memory_free(page);
    }
    report_clear(&r);
}

/* Limits of `n_steps` bias steps, gain and reflection at each. */
static void start_steps(struct report_batch *r, size_t n_steps)
{
    struct error e = {0};
    struct text xml = {0};
    char *path;

    text_add(&xml, "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"T\" impedance=\"50 ohm\">"
                   "<bias-steps tolerance=\"10 mV\">");
    for (size_t i = 0; i < n_steps; i++)
        text_addf(&xml, "<bias id=\"b%zu\" at=\"%zu00 mV\"/>", i, 18 + i);
    text_add(&xml, "</bias-steps><bands><band id=\"centre\" at=\"169 MHz\"/></bands>"
                   "<gain id=\"gain\" bias=\"all\" band=\"centre\" min=\"40 dB\"/>"
                   "<input-reflection id=\"match\" bias=\"all\" band=\"centre\" max=\"-40 dB\"/>"
                   "</limits>");
    path = fixture_file(text_words(&xml));
    assert_done(limits_read(&r->limits, path, &e), &e);
    views_find(&r->views, &r->limits);
    (void)unlink(path);
    free(path);
    text_clear(&xml);
}

/* A unit with a sweep at each step, outside both limits everywhere. */
static void add_outsider(struct report_batch *r)
{
    struct error e = {0};

    measurement_reset(&r->m[0], "A1", 1);
    report_gain_db = 20;
    for (size_t i = 0; i < r->limits.n_biases; i++)
        (void)fixture_sweep(&r->m[0], report_board, r->limits.biases[i].at_v, 160e6, 1e6, 20);
    r->n = 1;
    assert_done(judge(&r->limits, &r->m[0], NULL, &r->judgements[0], &e), &e);
    assert_done(unit_traces_make(&r->traces[0], &r->limits, &r->views, &r->m[0], true, &e), &e);
    r->units[0] =
        (struct batch_unit){&r->judgements[0], &r->m[0].circumstances, &r->traces[0], 1, NULL};
}

/* The lines of a page are shared out among its pictures: at 8 steps there are 8 of gain, 8 of
 * reflection, 8 of impedance and one against bias, so that each may draw 2400 / 25 = 96 of the 110
 * units that are outside everywhere, and says that it leaves out some. */
static void test_lines_are_shared(void **state)
{
    static struct batch_unit units[110];
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_steps(&r, 8);
    add_outsider(&r);
    report_finish(&r);
    for (size_t i = 0; i < 110; i++)
        units[i] = r.units[0];
    r.batch.units = units;
    r.batch.n_units = 110;
    page = page_of(&r.batch);
    assert_int_equal(report_count(page, "<figure>"), 25);
    assert_int_equal(report_count(page, "class=\"unit\""), 25 * 96);
    assert_int_equal(report_count(page, "The 96 furthest out"), 25);
    end(&r, page);
}

/* No units: pictures of the bounds alone. */
static void test_empty(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    report_start(&r);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_holds(page, "<figcaption>gain at bias low (1.8 V)</figcaption>");
    assert_int_equal(report_count(page, "class=\"unit\""), 0);
    end(&r, page);
}

/* Without memory nothing is missing without being said. */
static void test_no_memory(void **state)
{
    struct report_batch r;
    char *page;

    (void)state;
    page = page_with(&r, "<gain id=\"gain\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>"
                         "<input-reflection id=\"match\" bias=\"low\" band=\"working\" "
                         "max=\"-16 dB\"/>");
    picture_check_memory(write_pictures, &r.batch);
    end(&r, page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_all_kinds),        cmocka_unit_test(test_reflection_alone),
        cmocka_unit_test(test_gain_alone),       cmocka_unit_test(test_slope_alone),
        cmocka_unit_test(test_no_pictures),      cmocka_unit_test(test_links),
        cmocka_unit_test(test_lines_are_shared), cmocka_unit_test(test_empty),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
