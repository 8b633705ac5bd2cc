/* Lines for drawing: reduced, but no excursion is lost. */
#include "reports/batch.h"

#include "tests/fixture.h"

static void flat_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    (void)frequency_hz, (void)bias_v;
    s[S11] = s[S22] = 0.1;
    s[S12] = 0.01;
    s[S21] = 10;
}

static void make(struct unit_traces *out, struct limits *limits, struct measurement *m,
                 size_t n_points)
{
    struct error e = {0};

    fixture_limits(limits, "",
                   "<gain id=\"g\" band=\"working\" min=\"1 dB\"/>"
                   "<gain-slope id=\"s\" band=\"centre\" max=\"90 dB/V\"/>");
    measurement_reset(m, "A1", 1);
    (void)fixture_sweep(m, flat_board, 1.8, 150e6, 40e6 / (double)(n_points - 1), n_points);
    if (n_points > 100) fixture_set(&m->biases[0], n_points / 3, S21, 100);
    if (n_points > 100) fixture_set(&m->biases[0], n_points / 2, S21, 0.001);
    assert_done(unit_traces_make(out, limits, m, &e), &e);
}

/* A single point high and a single point low among ten thousand are still in the line, at their
 * frequency, and the ends are kept. */
static void test_excursions_survive(void **state)
{
    struct unit_traces traces = {0};
    struct limits limits = {0};
    struct measurement m = {0};
    bool high = false, low = false;
    const struct trace *gain;

    (void)state;
    make(&traces, &limits, &m, 10001);
    gain = &traces.gain[0];
    assert_true(gain->n_points <= CEILING_PLOT_POINTS);
    for (size_t i = 0; i < gain->n_points; i++) {
        if (fabs((double)gain->y[i] - 40) < 1e-3) {
            high = true;
            assert_close((double)gain->x[i], m.biases[0].sweep.frequency_hz[10001 / 3], 20);
        }
        if (fabs((double)gain->y[i] + 60) < 1e-3) low = true;
        if (i > 0) assert_true(gain->x[i] >= gain->x[i - 1]);
    }
    assert_true(high);
    assert_true(low);
    assert_close((double)gain->x[0], 150e6, 20);
    assert_close((double)gain->x[gain->n_points - 1], 190e6, 20);
    unit_traces_clear(&traces);
    measurement_clear(&m);
    limits_clear(&limits);
}

/* Few points are drawn as they are. */
static void test_few_points_stay(void **state)
{
    struct unit_traces traces = {0};
    struct limits limits = {0};
    struct measurement m = {0};

    (void)state;
    make(&traces, &limits, &m, 41);
    assert_int_equal(traces.gain[0].n_points, 41);
    assert_close((double)traces.gain[0].y[7], 20, 1e-5);
    assert_close((double)traces.input_reflection[0].y[7], -20, 1e-5);
    unit_traces_clear(&traces);
    measurement_clear(&m);
    limits_clear(&limits);
}

/* A NaN among many points is seen as a hole, not drawn over. */
static void test_hole_survives(void **state)
{
    struct unit_traces traces = {0}, again = {0};
    struct limits limits = {0};
    struct measurement m = {0};
    struct error e = {0};
    bool hole = false;

    (void)state;
    make(&traces, &limits, &m, 10001);
    fixture_set(&m.biases[0], 5000, S21, CMPLX(NAN, 0));
    assert_done(unit_traces_make(&again, &limits, &m, &e), &e);
    for (size_t i = 0; i < again.gain[0].n_points; i++)
        if (isnan(again.gain[0].y[i])) hole = true;
    assert_true(hole);
    unit_traces_clear(&again);
    unit_traces_clear(&traces);
    measurement_clear(&m);
    limits_clear(&limits);
}

/* A high and a low point beside NaN among many points are still in the line, and so are the holes:
 * a failure that is seen must not vanish because its neighbour is missing. */
static void test_excursion_beside_a_hole(void **state)
{
    static const size_t offsets[] = {1, 2, 3, 4, 40, 41};
    struct unit_traces traces = {0};
    struct limits limits = {0};
    struct measurement m = {0};
    struct error e = {0};

    (void)state;
    make(&traces, &limits, &m, 10001);
    for (size_t k = 0; k < sizeof offsets / sizeof *offsets; k++) {
        struct unit_traces again = {0};
        size_t highs = 0, lows = 0, holes = 0;

        fixture_set(&m.biases[0], 10001 / 3 + offsets[k], S21, CMPLX(NAN, 0));
        fixture_set(&m.biases[0], 10001 / 2 - offsets[k], S21, CMPLX(0, NAN));
        assert_done(unit_traces_make(&again, &limits, &m, &e), &e);
        assert_true(again.gain[0].n_points <= CEILING_PLOT_POINTS);
        for (size_t i = 0; i < again.gain[0].n_points; i++) {
            double db = (double)again.gain[0].y[i];

            if (fabs(db - 40) < 1e-3) highs++;
            if (fabs(db + 60) < 1e-3) lows++;
            if (isnan(db)) holes++;
            if (i > 0) assert_true(again.gain[0].x[i] >= again.gain[0].x[i - 1]);
        }
        assert_int_equal(highs, 1);
        assert_int_equal(lows, 1);
        assert_true(holes >= 2);
        unit_traces_clear(&again);
    }
    unit_traces_clear(&traces);
    measurement_clear(&m);
    limits_clear(&limits);
}

/* Steps without a sweep have empty lines and no bias; gain against bias is taken where the slope
 * limit is. */
static void test_missing_steps(void **state)
{
    struct unit_traces traces = {0};
    struct limits limits = {0};
    struct measurement m = {0};

    (void)state;
    make(&traces, &limits, &m, 41);
    assert_int_equal(traces.n_biases, 3);
    assert_close(traces.bias_v[0], 1.8, 0);
    assert_close(traces.gain_db[0], 20, 1e-9);
    assert_close(traces_centre_hz(&limits), 169e6, 0);
    for (size_t i = 1; i < 3; i++) {
        bool known = !isnan(traces.bias_v[i]);

        assert_false(known);
        assert_int_equal(traces.gain[i].n_points, 0);
    }
    unit_traces_clear(&traces);
    unit_traces_clear(&traces);
    measurement_clear(&m);
    limits_clear(&limits);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_excursions_survive), cmocka_unit_test(test_few_points_stay),
        cmocka_unit_test(test_hole_survives), cmocka_unit_test(test_excursion_beside_a_hole),
        cmocka_unit_test(test_missing_steps)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
