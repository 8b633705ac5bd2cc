#include "reports/page_limits.h"

#include "drivers/base/memory.h"
#include "tests/picture_check.h"

/* Four limits: `ceiling` fails above a gain of about 24 dB, `floor` below 19 dB, `bottom` below
 * 18 dB, `match` never. */
static const char elements[] =
    "<gain id=\"ceiling\" bias=\"high\" band=\"working\" max=\"30 dB\"/>"
    "<gain id=\"floor\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>"
    "<gain id=\"bottom\" bias=\"low\" band=\"centre\" min=\"18 dB\"/>"
    "<input-reflection id=\"match\" bias=\"low\" band=\"working\" max=\"-16 dB\"/>";

/* Gains at 1.8 V and 169 MHz. */
static const double gains_db[] = {20, 18.5, 17.5, 25, 17, 20.5};
#define N_GAINS 6

static void start_six(struct report_batch *r)
{
    report_start_with(r, elements);
    for (size_t i = 0; i < N_GAINS; i++) {
        char serial[8];

        (void)snprintf(serial, sizeof serial, "A%zu", i + 1);
        report_add(r, serial, 1, gains_db[i], 3);
    }
    report_finish(r);
}

static bool write_limits(struct html *h, const void *batch, struct error *e)
{
    return page_limits_write(h, batch, e);
}

static char *page_of(const struct batch *batch)
{
    struct html *h = picture_start();
    struct error e = {0};

    assert_done(page_limits_write(h, batch, &e), &e);
    return picture_finish(h);
}

/* The row of a limit in the table, for memory_free(). */
static char *row_of(const char *page, const char *id)
{
    struct error e = {0};
    char start[128];
    const char *from, *to;
    char *row;

    (void)snprintf(start, sizeof start, "<tr><th scope=\"row\">%s<div class=\"asks\">", id);
    from = strstr(page, start);
    assert_non_null(from);
    to = strstr(from, "</tr>");
    assert_non_null(to);
    row = memory_copy_bytes(from, (size_t)(to - from), &e);
    assert_non_null(row);
    return row;
}

static void check_row(const char *page, const char *id, const char *part)
{
    char *row = row_of(page, id);

    assert_holds(row, part);
    memory_free(row);
}

/* The costliest limit comes first, with what it asks in words, the units that failed it, those that
 * failed nothing else, and how many failed it or one above. */
static void test_costs(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_six(&r);
    page = page_of(&r.batch);
    check_row(page, "floor",
              "</svg></td><td class=\"number\">3</td><td class=\"number\">1</td>"
              "<td class=\"number\">3</td>");
    check_row(page, "bottom",
              "</svg></td><td class=\"number\">2</td><td class=\"number\">0</td>"
              "<td class=\"number\">3</td>");
    check_row(page, "ceiling",
              "</svg></td><td class=\"number\">1</td><td class=\"number\">1</td>"
              "<td class=\"number\">4</td>");
    check_row(page, "match",
              "</svg></td><td class=\"number\">0</td><td class=\"number\">0</td>"
              "<td class=\"number\">4</td>");
    check_row(page, "floor", "<div class=\"asks\">gain at least 19 dB");
    assert_true(strstr(page, ">floor<div") < strstr(page, ">bottom<div"));
    assert_true(strstr(page, ">bottom<div") < strstr(page, ">ceiling<div"));
    assert_true(strstr(page, ">ceiling<div") < strstr(page, ">match<div"));
    assert_holds(page, "<h2 id=\"limits\">Limits</h2>");
    memory_free(page);
    report_clear(&r);
}

/* A bar is as long as its limit's units against those of the costliest one; its full part are those
 * that failed nothing else. Without any failed unit no bar has a length. */
static void test_cost_bars(void **state)
{
    static const struct {
        const char *id;
        int shared, alone;
    } cases[] = {{"floor", 100, 33}, {"bottom", 67, 0}, {"ceiling", 33, 33}, {"match", 0, 0}};
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_six(&r);
    page = page_of(&r.batch);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char want[200];

        (void)snprintf(want, sizeof want,
                       "<path class=\"shared\" d=\"M0 1h%dv8H0z\"/>"
                       "<path class=\"alone\" d=\"M0 1h%dv8H0z\"/>",
                       cases[i].shared, cases[i].alone);
        check_row(page, cases[i].id, want);
    }
    memory_free(page);
    report_clear(&r);

    r = (struct report_batch){0};
    report_start_with(&r, elements);
    report_add(&r, "A1", 1, 20, 3);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_int_equal(report_count(page, "d=\"M0 1h0v8H0z\""), 8);
    memory_free(page);
    report_clear(&r);
}

/* Both numbers of a pair, costliest limit first; a limit that failed no unit is left out, and with
 * fewer than two there is no table. */
static void test_together(void **state)
{
    struct report_batch r = {0};
    char *page;

    (void)state;
    start_six(&r);
    page = page_of(&r.batch);
    assert_holds(page, "<table id=\"together-table\"><thead><tr><th scope=\"col\">Limit</th>"
                       "<th scope=\"col\">floor</th><th scope=\"col\">bottom</th>"
                       "<th scope=\"col\">ceiling</th></tr></thead><tbody>"
                       "<tr><th scope=\"row\">floor</th><td class=\"diagonal\">3</td><td>2</td>"
                       "<td>0</td></tr><tr><th scope=\"row\">bottom</th><td>2</td>"
                       "<td class=\"diagonal\">2</td><td>0</td></tr>"
                       "<tr><th scope=\"row\">ceiling</th><td>0</td><td>0</td>"
                       "<td class=\"diagonal\">1</td></tr></tbody></table>");
    memory_free(page);
    report_clear(&r);

    r = (struct report_batch){0};
    report_start_with(&r, elements);
    report_add(&r, "A1", 1, 18.5, 3);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_null(strstr(page, "together-table\""));
    memory_free(page);
    report_clear(&r);
}

/* Of very many limits that failed the twelve costliest are set against each other. */
static void test_many_together(void **state)
{
    struct report_batch r = {0};
    struct text many = {0};
    char *page;

    (void)state;
    for (size_t i = 0; i < 14; i++)
        text_addf(&many, "<gain id=\"g%zu\" bias=\"low\" band=\"centre\" min=\"19 dB\"/>", i);
    report_start_with(&r, text_words(&many));
    text_clear(&many);
    report_add(&r, "A1", 1, 18, 3);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_int_equal(report_count(page, "class=\"diagonal\""), 12);
    assert_holds(page, "<th scope=\"col\">g11</th></tr></thead>");
    assert_int_equal(report_count(page, "<div class=\"asks\">"), 14);
    memory_free(page);
    report_clear(&r);
}

/* The indices of a limit of one bound, and their interval, from the formulas of the e-Handbook
 * written down here once more. */
static void test_capability_of_one_bound(void **state)
{
    struct report_batch r = {0};
    double mean = 0, square = 0, cpk, half;
    char want[2048];
    char *page;

    (void)state;
    start_six(&r);
    page = page_of(&r.batch);
    for (size_t i = 0; i < N_GAINS; i++)
        mean += (gains_db[i] - 19) / N_GAINS;
    for (size_t i = 0; i < N_GAINS; i++)
        square += (gains_db[i] - 19 - mean) * (gains_db[i] - 19 - mean);
    cpk = mean / (3 * sqrt(square / (N_GAINS - 1)));
    half = 1.959964 * sqrt(1.0 / (9 * N_GAINS) + cpk * cpk / (2 * (N_GAINS - 1)));
    (void)snprintf(want, sizeof want,
                   "<td class=\"number\"></td><td class=\"number\">%.2f (%.2f to %.2f)</td>"
                   "<td class=\"words\">few units (6)</td>",
                   cpk, cpk - half, cpk + half);
    check_row(page, "floor", want);
    memory_free(page);
    report_clear(&r);
}

/* Values of one deviation between two bounds: Cp is their distance over six deviations, with an
 * interval by chi-square, whose points at 5 degrees of freedom are 0.8312 and 12.8325 (printed
 * tables, from memory); Cpk is that of the nearer bound. */
static void test_capability_of_two_bounds(void **state)
{
    struct report_batch r = {0};
    double mean = 0, square = 0, s, cp, cpk, half;
    char want[2048];
    char *page;

    (void)state;
    report_start_with(&r, "<gain id=\"g\" bias=\"low\" band=\"centre\" min=\"10 dB\" "
                          "max=\"32 dB\"/>");
    for (size_t i = 0; i < N_GAINS; i++) {
        report_add(&r, "A", 1, gains_db[i], 3);
        mean += gains_db[i] / N_GAINS;
    }
    for (size_t i = 0; i < N_GAINS; i++)
        square += (gains_db[i] - mean) * (gains_db[i] - mean);
    report_finish(&r);
    page = page_of(&r.batch);
    s = sqrt(square / (N_GAINS - 1));
    cp = 22 / (6 * s);
    cpk = fmin(mean - 10, 32 - mean) / (3 * s);
    half = 1.959964 * sqrt(1.0 / (9 * N_GAINS) + cpk * cpk / (2 * (N_GAINS - 1)));
    (void)snprintf(want, sizeof want,
                   "<td class=\"number\">%.2f (%.2f to %.2f)</td>"
                   "<td class=\"number\">%.2f (%.2f to ",
                   cp, cp * sqrt(0.831212 / 5), cp * sqrt(12.832502 / 5), cpk, cpk - half);
    check_row(page, "g", want);
    memory_free(page);
    report_clear(&r);
}

/* A batch of units whose only limit, of two bounds, has these margins. */
#define MANY 40
struct many {
    struct limits limits;
    struct views views;
    struct circumstances circumstances[MANY];
    struct finding findings[MANY];
    struct judgement judgements[MANY];
    struct batch_unit units[MANY];
    struct batch batch;
};

static void start_many(struct many *m, const double *lower, const double *upper, size_t n)
{
    struct error e = {0};

    *m = (struct many){.limits = {0}};
    fixture_limits(&m->limits, "",
                   "<gain id=\"g\" bias=\"low\" band=\"centre\" min=\"10 dB\" max=\"32 dB\"/>");
    for (size_t i = 0; i < n; i++) {
        m->findings[i] = (struct finding){.limit = m->limits.limits,
                                          .outcome = OUTCOME_PASS,
                                          .accepted = true,
                                          .lower_margin = lower[i],
                                          .upper_margin = upper[i]};
        m->judgements[i] = (struct judgement){
            .attempt = 1, .verdict = VERDICT_PASS, .n_findings = 1, .findings = &m->findings[i]};
        (void)snprintf(m->judgements[i].serial, sizeof m->judgements[i].serial, "S%02zu", i);
        m->units[i] = (struct batch_unit){&m->judgements[i], &m->circumstances[i], NULL, 1, NULL};
    }
    m->batch = (struct batch){.limits = &m->limits,
                              .views = &m->views,
                              .source = "",
                              .notes = "",
                              .n_units = n,
                              .units = m->units};
    assert_done(batch_yield_count(&m->batch.yield, m->judgements, n, 1, &e), &e);
}

static void end_many(struct many *m)
{
    batch_yield_clear(&m->batch.yield);
    limits_clear(&m->limits);
}

static void check_mind(const double *lower, const double *upper, size_t n, const char *words)
{
    static struct many m;
    char want[256];
    char *page;

    start_many(&m, lower, upper, n);
    page = page_of(&m.batch);
    (void)snprintf(want, sizeof want, "<td class=\"words\">%s</td>", words);
    check_row(page, "g", want);
    memory_free(page);
    end_many(&m);
}

/* What must be minded stands beside the indices, one thing or both; where there is no index, that
 * alone. */
static void test_what_to_mind(void **state)
{
    double normal[MANY], mirrored[MANY], skewed[MANY], other[MANY], same[MANY];

    (void)state;
    for (size_t i = 0; i < MANY; i++) {
        /* Logistic quantiles are as good as normal; their exponentials are not. */
        const double p = ((double)i + 0.5) / MANY;

        normal[i] = 10 + log(p / (1 - p));
        mirrored[i] = 22 - normal[i];
        skewed[i] = pow(p / (1 - p), 2);
        other[i] = 22 - skewed[i];
        same[i] = 11;
    }
    check_mind(normal, mirrored, MANY, "");
    check_mind(normal, mirrored, 29, "few units (29)");
    check_mind(normal, mirrored, 30, "");
    check_mind(skewed, other, MANY, "not a normal distribution");
    for (size_t i = 0; i < 20; i++) {
        skewed[i] = i < 17 ? 1 + 0.01 * (double)i : 9;
        other[i] = 22 - skewed[i];
    }
    check_mind(skewed, other, 20, "few units (20), not a normal distribution");
    check_mind(same, same, MANY, "no index: fewer than two values, or all the same");
    check_mind(skewed, same, 20, "no index: fewer than two values, or all the same");
    check_mind(normal, mirrored, 1, "no index: fewer than two values, or all the same");
    check_mind(normal, mirrored, 0, "no index: fewer than two values, or all the same");
}

/* The heights of the dots of the chart of values from unit to unit, in its order. */
static void read_dots(const char *page, struct picture_line *out)
{
    char *figure = picture_figure(page, "g: gain from unit to unit, lowest value of each unit");

    assert_non_null(figure);
    picture_read(figure, "dot", 0, out);
    memory_free(figure);
}

/* Units follow each other in time when every one has a time, those of one time by serial number;
 * when one lacks it, all by serial number, and the axis says which. */
static void test_order(void **state)
{
    static const double lower[] = {1, 2, 3, 4}, upper[] = {11, 11.5, 12, 11};
    static char late[] = "2026-11-25", early[] = "2026-11-24T23:59:00Z", first[] = "2026-11-24";
    static struct many m;
    static struct picture_line dots;
    char *page;

    (void)state;
    start_many(&m, lower, upper, 4);
    page = page_of(&m.batch);
    assert_int_equal(report_count(page, ">units by serial number</text>"), 1);
    read_dots(page, &dots);
    for (size_t i = 1; i < 4; i++)
        assert_true(dots.points[i][1] < dots.points[i - 1][1]);
    memory_free(page);

    m.circumstances[0].measured_at = m.circumstances[1].measured_at = late;
    m.circumstances[2].measured_at = early;
    m.circumstances[3].measured_at = first;
    page = page_of(&m.batch);
    assert_int_equal(report_count(page, ">units by time</text>"), 1);
    read_dots(page, &dots);
    assert_int_equal(dots.n, 4);
    /* 4, 3, then 1 and 2. */
    assert_true(dots.points[0][1] < dots.points[1][1]);
    assert_true(dots.points[1][1] < dots.points[3][1]);
    assert_true(dots.points[3][1] < dots.points[2][1]);
    memory_free(page);

    m.circumstances[1].measured_at = NULL;
    page = page_of(&m.batch);
    assert_holds(page, ">units by serial number</text>");
    memory_free(page);
    end_many(&m);
}

/* Two charts a limit, how its values lie and how they went, the costliest limit first. */
static void test_charts(void **state)
{
    static const char *const titles[] = {"floor: gain",
                                         "floor: gain from unit to unit",
                                         "bottom: gain",
                                         "bottom: gain from unit to unit",
                                         "ceiling: gain",
                                         "ceiling: gain from unit to unit",
                                         "match: input reflection",
                                         "match: input reflection from unit to unit"};
    struct report_batch r = {0};
    const char *at;
    char *page;

    (void)state;
    start_six(&r);
    page = page_of(&r.batch);
    assert_int_equal(report_count(page, "<figure>"), 8);
    at = page;
    for (size_t i = 0; i < sizeof titles / sizeof *titles; i++) {
        char caption[128];

        (void)snprintf(caption, sizeof caption, "<figcaption>%s</figcaption>", titles[i]);
        at = strstr(at, caption);
        assert_non_null(at);
    }
    memory_free(page);
    report_clear(&r);
}

/* Names of limits stay words wherever they stand, and no units at all is still a page. */
static void test_hostile_and_empty(void **state)
{
    static char id[] = "</th><b>\x01&\"";
    struct report_batch r = {0};
    char *page, *kept;

    (void)state;
    start_six(&r);
    kept = r.limits.limits[1].id;
    r.limits.limits[1].id = id;
    page = page_of(&r.batch);
    r.limits.limits[1].id = kept;
    /* The table, both ways of the table of pairs, and the captions of two charts. */
    assert_int_equal(report_count(page, ">&lt;/th&gt;&lt;b&gt;\xEF\xBF\xBD&amp;&quot;"), 5);
    memory_free(page);
    report_clear(&r);

    r = (struct report_batch){0};
    report_start_with(&r, elements);
    report_finish(&r);
    page = page_of(&r.batch);
    assert_int_equal(report_count(page, "<div class=\"asks\">"), 4);
    assert_holds(page, ">units by serial number</text>");
    memory_free(page);
    report_clear(&r);
}

/* Without memory nothing is missing without being said. */
static void test_no_memory(void **state)
{
    struct report_batch r = {0};

    (void)state;
    start_six(&r);
    picture_check_memory(write_limits, &r.batch);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_costs),
        cmocka_unit_test(test_cost_bars),
        cmocka_unit_test(test_together),
        cmocka_unit_test(test_many_together),
        cmocka_unit_test(test_capability_of_one_bound),
        cmocka_unit_test(test_capability_of_two_bounds),
        cmocka_unit_test(test_what_to_mind),
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_charts),
        cmocka_unit_test(test_hostile_and_empty),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
