#include "limits/limit_series.h"

#include "drivers/base/memory.h"
#include "tests/fixture.h"

/* Three units: their smallest distances inside the lower and the upper bound. */
static const double lower_margins[] = {0.5, -1.25, NAN};
static const double upper_margins[] = {2, NAN, -0.75};

struct series_case {
    struct limits limits;
    struct limit_series series;
};

/* The series of a limits file's only limit over the three units. */
static void start(struct series_case *c, const char *decision, const char *element)
{
    struct finding findings[3];
    struct judgement judgements[3];
    const struct judgement *list[3];
    struct error e = {0};

    fixture_limits(&c->limits, decision, element);
    for (size_t i = 0; i < 3; i++) {
        findings[i] = (struct finding){.limit = c->limits.limits,
                                       .lower_margin = lower_margins[i],
                                       .upper_margin = upper_margins[i]};
        judgements[i] = (struct judgement){.n_findings = 1, .findings = &findings[i]};
        list[i] = &judgements[i];
    }
    assert_done(limit_series_make(&c->series, &c->limits, 0, list, 3, &e), &e);
}

static void end(struct series_case *c)
{
    limit_series_clear(&c->series);
    limits_clear(&c->limits);
}

/* A row is what is wanted, NaN where that is. */
static void check_row(const double *row, double a, double b, double c)
{
    const double want[] = {a, b, c};

    for (size_t i = 0; i < 3; i++) {
        if (isnan(want[i])) {
            const bool known = !isnan(row[i]);

            assert_false(known);
        } else {
            assert_close(row[i], want[i], 1e-12);
        }
    }
}

/* Bounds of one number each: the axis is the quantity, so that a margin of 0.5 dB over 19 dB is
 * 19.5 dB and one of 2 dB under 23 dB is 21 dB. The guard band lies inside the bound. */
static void test_flat_bounds(void **state)
{
    struct series_case c = {0};

    (void)state;
    start(&c, "<decision rule=\"guarded-acceptance\"/>",
          "<gain id=\"g\" bias=\"all\" band=\"working\" min=\"19 dB\" max=\"23 dB\" "
          "uncertainty=\"0.2 dB\"/>");
    assert_ptr_equal(c.series.limit, c.limits.limits);
    assert_int_equal(c.series.n, 3);
    assert_false(c.series.is_margin);
    assert_true(c.series.lower.is_bounded);
    assert_true(c.series.upper.is_bounded);
    assert_close(c.series.lower.bound, 19, 0);
    assert_close(c.series.lower.guarded, 19.2, 1e-12);
    assert_close(c.series.upper.bound, 23, 0);
    assert_close(c.series.upper.guarded, 22.8, 1e-12);
    check_row(c.series.lower.margin, 0.5, -1.25, NAN);
    check_row(c.series.upper.margin, 2, NAN, -0.75);
    check_row(c.series.lower.value, 19.5, 17.75, NAN);
    check_row(c.series.upper.value, 21, NAN, 23.75);
    end(&c);
}

/* A side without a bound has neither bound nor values, whatever stands in the findings. */
static void test_one_side(void **state)
{
    struct series_case c = {0};

    (void)state;
    start(&c, "", "<gain id=\"g\" bias=\"all\" band=\"working\" max=\"23 dB\"/>");
    assert_false(c.series.lower.is_bounded);
    assert_true(c.series.upper.is_bounded);
    assert_close(c.series.upper.bound, 23, 0);
    assert_close(c.series.upper.guarded, 23, 0);
    check_row(c.series.upper.value, 21, NAN, 23.75);
    check_row((const double[]){c.series.lower.bound, c.series.lower.guarded, NAN}, NAN, NAN, NAN);
    check_row(c.series.lower.value, NAN, NAN, NAN);
    end(&c);
}

/* The guard band is the file's part of the uncertainty, g U, and none without an uncertainty. */
static void test_guard_factor(void **state)
{
    struct series_case c = {0};

    (void)state;
    start(&c, "<decision rule=\"guarded-acceptance\" guard-factor=\"0.5\"/>",
          "<gain id=\"g\" bias=\"all\" band=\"working\" min=\"19 dB\" uncertainty=\"0.2 dB\"/>");
    assert_close(c.series.lower.guarded, 19.1, 1e-12);
    end(&c);
    start(&c, "<decision rule=\"guarded-acceptance\" guard-factor=\"0\"/>",
          "<gain id=\"g\" bias=\"all\" band=\"working\" min=\"19 dB\" uncertainty=\"0.2 dB\"/>");
    assert_close(c.series.lower.guarded, 19, 0);
    end(&c);
}

/* On the axis of margins too the guard band is g U and not U. */
static void test_guard_factor_of_margins(void **state)
{
    struct series_case c = {0};

    (void)state;
    start(&c, "<decision rule=\"guarded-acceptance\" guard-factor=\"0.5\"/>",
          "<gain id=\"g\" bias=\"all\" uncertainty=\"0.2 dB\"><lower>"
          "<point at=\"160 MHz\" value=\"19 dB\"/><point at=\"178 MHz\" value=\"18 dB\"/>"
          "</lower></gain>");
    assert_true(c.series.is_margin);
    assert_close(c.series.lower.bound, 0, 0);
    assert_close(c.series.lower.guarded, 0.1, 1e-12);
    end(&c);
}

/* An uncertainty in linear abs(S): -20 dB is 0.1, less 0.01 it is 0.09 or -20.9151 dB. */
static void test_linear_guard(void **state)
{
    struct series_case c = {0};

    (void)state;
    start(&c, "<decision rule=\"guarded-acceptance\"/>",
          "<input-reflection id=\"m\" bias=\"low\" band=\"working\" max=\"-20 dB\" "
          "uncertainty=\"0.01\"/>");
    assert_false(c.series.is_margin);
    assert_close(c.series.upper.bound, -20, 0);
    assert_close(c.series.upper.guarded, -20.915150, 1e-6);
    check_row(c.series.upper.value, -22, NAN, -19.25);
    end(&c);
}

/* A guard band wider than the bound itself leaves nothing acceptable, but stays a number that can
 * be drawn. */
static void test_guard_beyond_zero(void **state)
{
    struct series_case c = {0};

    (void)state;
    start(&c, "<decision rule=\"guarded-acceptance\"/>",
          "<input-reflection id=\"m\" bias=\"low\" band=\"working\" max=\"-40 dB\" "
          "uncertainty=\"0.02\"/>");
    assert_true(isfinite(c.series.upper.guarded));
    assert_true(c.series.upper.guarded < -60);
    end(&c);
}

/* A mask that varies with frequency: the axis is the margin, both bounds lie at 0 and the guard
 * band is above, on the inside. */
static void test_mask(void **state)
{
    struct series_case c = {0};

    (void)state;
    start(&c, "<decision rule=\"guarded-acceptance\"/>",
          "<gain id=\"g\" bias=\"all\" max-step=\"1 MHz\" uncertainty=\"0.2 dB\"><lower>"
          "<point at=\"160 MHz\" value=\"18 dB\"/><point at=\"178 MHz\" value=\"19 "
          "dB\"/></lower><upper>"
          "<point at=\"160 MHz\" value=\"23 dB\"/><point at=\"178 MHz\" value=\"23 "
          "dB\"/></upper></gain>");
    assert_true(c.series.is_margin);
    assert_close(c.series.lower.bound, 0, 0);
    assert_close(c.series.upper.bound, 0, 0);
    assert_close(c.series.lower.guarded, 0.2, 1e-12);
    assert_close(c.series.upper.guarded, 0.2, 1e-12);
    check_row(c.series.lower.value, 0.5, -1.25, NAN);
    check_row(c.series.upper.value, 2, NAN, -0.75);
    check_row(c.series.upper.margin, 2, NAN, -0.75);
    end(&c);
}

/* With a linear uncertainty the guard band of a mask is another number of dB at every corner: none
 * is told. */
static void test_mask_with_linear_uncertainty(void **state)
{
    struct series_case c = {0};

    (void)state;
    start(&c, "<decision rule=\"guarded-acceptance\"/>",
          "<input-reflection id=\"m\" bias=\"low\" max-step=\"1 MHz\" uncertainty=\"0.01\"><upper>"
          "<point at=\"160 MHz\" value=\"-16 dB\"/><point at=\"178 MHz\" value=\"-12 dB\"/></upper>"
          "</input-reflection>");
    assert_true(c.series.is_margin);
    assert_close(c.series.upper.bound, 0, 0);
    assert_close(c.series.upper.guarded, 0, 0);
    end(&c);
}

/* No units at all, the limit picked by its index, and clearing twice. */
static void test_empty(void **state)
{
    struct limits limits = {0};
    struct limit_series series = {0};
    struct error e = {0};

    (void)state;
    fixture_limits(&limits, "",
                   "<gain id=\"a\" bias=\"all\" band=\"working\" min=\"19 dB\"/>"
                   "<gain id=\"b\" bias=\"all\" band=\"working\" max=\"23 dB\"/>");
    assert_done(limit_series_make(&series, &limits, 1, NULL, 0, &e), &e);
    assert_int_equal(series.n, 0);
    assert_string_equal(series.limit->id, "b");
    assert_false(series.lower.is_bounded);
    assert_true(series.upper.is_bounded);
    limit_series_clear(&series);
    limit_series_clear(&series);
    assert_null(series.lower.margin);
    limits_clear(&limits);
}

/* Without memory nothing is made and nothing is left to free. */
static void test_no_memory(void **state)
{
    struct limits limits = {0};
    struct limit_series series = {0};
    struct error e = {0};

    (void)state;
    fixture_limits(&limits, "", "<gain id=\"a\" bias=\"all\" band=\"working\" min=\"19 dB\"/>");
    memory_fail_at(1);
    assert_false(limit_series_make(&series, &limits, 0, NULL, 0, &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_null(series.lower.margin);
    assert_done(limit_series_make(&series, &limits, 0, NULL, 0, &e), &e);
    limit_series_clear(&series);
    limits_clear(&limits);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_flat_bounds),  cmocka_unit_test(test_one_side),
        cmocka_unit_test(test_guard_factor), cmocka_unit_test(test_guard_factor_of_margins),
        cmocka_unit_test(test_linear_guard), cmocka_unit_test(test_guard_beyond_zero),
        cmocka_unit_test(test_mask),         cmocka_unit_test(test_mask_with_linear_uncertainty),
        cmocka_unit_test(test_empty),        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
