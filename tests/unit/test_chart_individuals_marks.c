/* What the individuals chart says beside the values: failed units, guard bands, whole units. */
#include "tests/individuals_check.h"

/* Failed units of the limit are a cross at their value with their serial number, an arrow where the
 * picture does not reach; those that failed another limit are none. */
static void test_failed_units(void **state)
{
    static struct sample s;
    static struct finding findings[60][2];
    static struct judgement judgements[60];
    static const struct judgement *list[60];
    struct picture_line cross;
    struct limit other = {0};
    struct plot plot;
    char *page;

    (void)state;
    start(&s, 60);
    set_value(&s, 29, 18.4);
    set_value(&s, 41, -900);
    for (size_t i = 0; i < 60; i++) {
        const enum outcome here = i == 29 || i == 41 ? OUTCOME_FAIL : OUTCOME_PASS;

        findings[i][0] = (struct finding){.limit = &other, .outcome = OUTCOME_FAIL};
        findings[i][1] =
            (struct finding){.limit = &s.limit, .outcome = here, .accepted = here == OUTCOME_PASS};
        judgements[i] = (struct judgement){.n_findings = 2, .findings = findings[i]};
        (void)snprintf(judgements[i].serial, sizeof judgements[i].serial, "K%zu", i + 1);
        list[i] = &judgements[i];
    }
    s.series.judgements = list;
    page = draw(&s);
    plot = scale_of(page, 60);
    assert_int_equal(report_count(page, "</title><path class=\"failed-unit\""), 1);
    assert_int_equal(report_count(page, "<title>K30</title><path class=\"failed-unit\""), 1);
    picture_read(page, "failed-unit", 0, &cross);
    assert_int_equal(cross.n, 4);
    assert_close((cross.points[0][0] + cross.points[1][0]) / 2, plot_x(&plot, 30), 0.06);
    assert_close((cross.points[2][1] + cross.points[3][1]) / 2, plot_y(&plot, 18.4),
                 PICTURE_SCALE_ROOM);
    assert_holds(page, " failed this limit</span>");
    assert_int_equal(report_count(page, "<title>K42</title><path class=\"arrow\""), 1);
    picture_read(page, "arrow", 0, &cross);
    assert_close(cross.points[0][0], plot_x(&plot, 42), 0.06);
    assert_close(cross.points[0][1], PLOT_HEIGHT - PLOT_BOTTOM, 0.06);
    assert_holds(page, ">K42</text>");
    memory_free(page);
}

/* Failed units outside the picture whose names find no room are named below it. */
static void test_crowd_outside(void **state)
{
    static struct sample s;
    static struct finding finding;
    static struct judgement judgements[5];
    static const struct judgement *list[60];
    char *page;

    (void)state;
    start(&s, 60);
    finding = (struct finding){.limit = &s.limit, .outcome = OUTCOME_FAIL};
    for (size_t i = 0; i < 5; i++) {
        judgements[i] = (struct judgement){.n_findings = 1, .findings = &finding};
        (void)snprintf(judgements[i].serial, sizeof judgements[i].serial, "K%zu", i + 1);
        list[20 + i] = &judgements[i];
        set_value(&s, 20 + i, -900);
    }
    s.series.judgements = list;
    page = draw(&s);
    assert_int_equal(report_count(page, "</title><path class=\"arrow\""), 5);
    assert_holds(page, "5 units outside this picture: K1, K2, K3, K4, K5. ");
    memory_free(page);
}

/* A flood of marks ends, and the chart says so. */
static void test_many_failed(void **state)
{
    static struct sample s;
    static struct finding finding;
    static struct judgement judgement = {.serial = "K1", .n_findings = 1, .findings = &finding};
    static const struct judgement *list[MOST];
    char *page;

    (void)state;
    start(&s, 250);
    finding = (struct finding){.limit = &s.limit, .outcome = OUTCOME_FAIL};
    for (size_t i = 0; i < 250; i++)
        list[i] = &judgement;
    s.value[0][3] = NAN; /* nowhere to put a mark */
    s.series.judgements = list;
    page = draw(&s);
    assert_int_equal(report_count(page, "</title><path class=\"failed-unit\""), 100);
    assert_holds(page, "249 units failed this limit; the first 100 are marked.");
    memory_free(page);
}

/* The guard band lies along each acceptance limit, on its inside. */
static void test_guard_band(void **state)
{
    static struct sample s;
    struct picture_line guard;
    struct plot plot;
    char *page;

    (void)state;
    start(&s, 40);
    page = draw(&s);
    assert_int_equal(picture_count(page, "guard"), 0);
    assert_null(strstr(page, " guard band</span>"));
    memory_free(page);
    s.series.lower.guarded = 19.4;
    s.series.upper = (struct limit_side){.is_bounded = true,
                                         .bound = 23,
                                         .guarded = 22.5,
                                         .value = s.value[1],
                                         .margin = s.margin[1]};
    page = draw(&s);
    plot = scale_of(page, 40);
    for (size_t k = 0; k < 2; k++) {
        picture_read(page, "guard", k, &guard);
        assert_int_equal(guard.n, 4);
        assert_close(guard.points[0][0], PLOT_LEFT, 0.06);
        assert_close(guard.points[1][0], PLOT_WIDTH - PLOT_RIGHT, 0.06);
        assert_close(guard.points[0][1], plot_y(&plot, k == 0 ? 19.4 : 23), PICTURE_SCALE_ROOM);
        assert_close(guard.points[3][1], plot_y(&plot, k == 0 ? 19 : 22.5), PICTURE_SCALE_ROOM);
    }
    assert_holds(page, " guard band</span>");
    memory_free(page);
}

/* Units are counted whole along the axis, few as they may be. */
static void test_whole_units(void **state)
{
    static struct sample s;

    (void)state;
    for (size_t n = 1; n < 6; n++) {
        const char *label;
        char *page;

        start(&s, n);
        page = draw(&s);
        label = svg_find(page, "<text text-anchor=\"middle\"", 0);
        assert_non_null(label);
        for (size_t i = 0; label; label = svg_find(page, "<text text-anchor=\"middle\"", ++i))
            assert_int_equal(strcspn(strchr(label, '>'), ".<"), strcspn(strchr(label, '>'), "<"));
        memory_free(page);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_failed_units), cmocka_unit_test(test_crowd_outside),
        cmocka_unit_test(test_many_failed), cmocka_unit_test(test_guard_band),
        cmocka_unit_test(test_whole_units)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
