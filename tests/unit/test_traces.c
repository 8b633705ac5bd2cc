/* What is kept for drawing: reduced, but no excursion and no hole is lost. */
#include "reports/traces.h"

#include "drivers/base/memory.h"
#include "tests/fixture.h"

/* Half the distance of neighbouring floats at 200 MHz, and near 60 dB. */
#define FLOAT_HZ 8.01
#define FLOAT_DB 4e-6

struct kit {
    struct limits limits;
    struct views views; /* 0: gain, 1: input reflection, both at bias low, 155.5 to 182.5 MHz */
    struct measurement m;
    struct unit_traces traces;
};

static const char usual[] =
    "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"1 dB\"/>"
    "<input-reflection id=\"m\" bias=\"low\" band=\"working\" max=\"-1 dB\"/>"
    "<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"mid\" method=\"local\" max=\"90 "
    "dB/V\"/>";

static void flat_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    (void)frequency_hz, (void)bias_v;
    s[S11] = s[S22] = 0.1;
    s[S12] = 0.01;
    s[S21] = 10;
}

/* Complex values linear in frequency: interpolation between any two points is exact. */
static void tilted_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    const double mhz = (frequency_hz - 169e6) / 1e6;

    s[S11] = CMPLX(0.1 + 0.002 * mhz, 0.05 - 0.004 * mhz);
    s[S12] = s[S22] = 0.01;
    s[S21] = CMPLX(5 + 0.1 * mhz, bias_v - 0.05 * mhz);
}

static uint32_t random_state;

static double random_part(void)
{
    random_state = random_state * 1664525u + 1013904223u;
    return (double)(random_state >> 8) / 0x1p24;
}

static void random_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    (void)frequency_hz, (void)bias_v;
    for (size_t i = 0; i < S_PARAMETERS; i++)
        s[i] = CMPLX(random_part() - 0.5, random_part() - 0.5);
}

static void start(struct kit *k)
{
    *k = (struct kit){0};
    fixture_limits(&k->limits, "", usual);
    views_find(&k->views, &k->limits);
    assert_int_equal(k->views.n, 2);
    measurement_reset(&k->m, "A1", 1);
}

static void make(struct kit *k)
{
    struct error e = {0};

    unit_traces_clear(&k->traces);
    assert_done(unit_traces_make(&k->traces, &k->limits, &k->views, &k->m, true, &e), &e);
}

/* Starts with one sweep at the low bias, `n` points from 150 to 190 MHz. */
static struct sweep *start_with(struct kit *k, fixture_board *board, size_t n)
{
    start(k);
    return &fixture_sweep(&k->m, board, 1.8, 150e6, 40e6 / (double)(n - 1), n)->sweep;
}

static void end(struct kit *k)
{
    unit_traces_clear(&k->traces);
    measurement_clear(&k->m);
    limits_clear(&k->limits);
}

static double db(const struct sweep *sweep, enum s_parameter parameter, size_t i)
{
    return quantity_magnitude_db(sweep_s(sweep, i, parameter));
}

/* Few points are drawn as they are, and one more on both sides of the range drawn, so that the line
 * reaches the picture's edge. */
static void test_few_points_stay(void **state)
{
    struct kit k;
    const struct sweep *sweep = start_with(&k, tilted_board, 41);

    (void)state;
    make(&k);
    for (size_t v = 0; v < 2; v++) {
        const struct trace *line = &k.traces.lines[v];

        assert_int_equal(line->n_points, 29); /* 155 to 183 MHz */
        for (size_t i = 0; i < 29; i++) {
            assert_close((double)line->x[i], 155e6 + 1e6 * (double)i, FLOAT_HZ);
            assert_close((double)line->y[i], db(sweep, v == 0 ? S21 : S11, i + 5), FLOAT_DB);
        }
    }
    end(&k);
}

/* Checks that near each point of the sweep, within a stretch, the line is as low and as high, that
 * it reaches both edges of the picture, and that each point of it was measured. */
static void check_envelope(const struct trace *line, const struct sweep *sweep,
                           const struct view *view, double stretch_hz)
{
    assert_in_range(line->n_points, 10, CEILING_PLOT_POINTS);
    assert_true((double)line->x[0] <= view->left_hz);
    assert_true((double)line->x[line->n_points - 1] >= view->right_hz);
    for (size_t i = 1; i < line->n_points; i++)
        assert_true(line->x[i] > line->x[i - 1]);
    for (size_t i = 0; i < sweep->n_points; i++) {
        const double f = sweep->frequency_hz[i], value = db(sweep, view->parameter, i);
        double low = INFINITY, high = -INFINITY;

        if (f < view->left_hz || f > view->right_hz || isnan(value)) continue;
        for (size_t k = 0; k < line->n_points; k++)
            if (fabs((double)line->x[k] - f) <= stretch_hz + 2 * FLOAT_HZ) {
                low = fmin(low, (double)line->y[k]);
                high = fmax(high, (double)line->y[k]);
            }
        assert_true(low <= value + FLOAT_DB && high >= value - FLOAT_DB);
    }
    for (size_t k = 0; k < line->n_points; k++) {
        const double place = ((double)line->x[k] - sweep->frequency_hz[0]) /
                             (sweep->frequency_hz[1] - sweep->frequency_hz[0]);
        const size_t i = (size_t)lround(place);

        assert_close(place, (double)i, 0.1);
        if (isnan(line->y[k]) && isnan(db(sweep, view->parameter, i))) continue;
        assert_close((double)line->y[k], db(sweep, view->parameter, i), FLOAT_DB);
    }
}

/* Of many points the lowest and the highest of every stretch stay, whatever the number of points;
 * with holes the stretches are longer, since a hole needs a point too. */
static void test_no_excursion_is_lost(void **state)
{
    static const size_t counts[] = {41, 236, 238, 300, 1001, 4001};
    const uint32_t seed = 20261125;

    (void)state;
    random_state = seed;
    print_message("seed %u\n", seed);
    for (size_t c = 0; c < sizeof counts / sizeof *counts; c++)
        for (size_t holes = 0; holes <= 20; holes += 10) {
            struct kit k;
            struct sweep *sweep = start_with(&k, random_board, counts[c]);
            const double step_hz = sweep->frequency_hz[1] - sweep->frequency_hz[0];

            for (size_t i = 0; i < holes; i++)
                sweep->s[4 * (size_t)(random_part() * (double)counts[c]) + S21] =
                    i % 2 ? CMPLX(NAN, 1) : CMPLX(0, NAN);
            make(&k);
            check_envelope(&k.traces.lines[0], sweep, &k.views.view[0],
                           27e6 / (holes ? 52 : 79) + 2 * step_hz);
            end(&k);
        }
}

/* A single point high and a single point low among ten thousand are in the line, each at its
 * frequency, also with holes beside them, and the holes are seen too: a failure must not vanish
 * because its neighbour is missing. */
static void test_excursion_beside_a_hole(void **state)
{
    static const size_t offsets[] = {1, 2, 3, 4, 40, 41};
    struct kit k;
    struct sweep *sweep = start_with(&k, flat_board, 10001);
    const size_t at_high = 10001 / 3, at_low = 10001 / 2;

    (void)state;
    sweep->s[4 * at_high + S21] = 100;
    sweep->s[4 * at_low + S21] = 0.001;
    for (size_t o = 0; o <= sizeof offsets / sizeof *offsets; o++) {
        const struct trace *line = &k.traces.lines[0];
        size_t highs = 0, lows = 0, holes = 0;

        if (o > 0) {
            sweep->s[4 * (at_high + offsets[o - 1]) + S21] = CMPLX(NAN, 0);
            sweep->s[4 * (at_low - offsets[o - 1]) + S21] = CMPLX(0, NAN);
        }
        make(&k);
        line = &k.traces.lines[0];
        assert_true(line->n_points <= CEILING_PLOT_POINTS);
        for (size_t i = 0; i < line->n_points; i++) {
            const double value = (double)line->y[i], f = (double)line->x[i];

            if (value > 30) highs++, assert_close(f, sweep->frequency_hz[at_high], FLOAT_HZ);
            if (value < -30) lows++, assert_close(f, sweep->frequency_hz[at_low], FLOAT_HZ);
            if (isnan(value)) holes++;
            if (value > 30) assert_close(value, 40, FLOAT_DB);
        }
        assert_int_equal(highs, 1);
        assert_int_equal(lows, 1);
        assert_true(o == 0 ? holes == 0 : holes >= 2);
    }
    end(&k);
}

/* The columns are dB where the spread is taken, interpolated in the real and the imaginary part;
 * nothing where the sweep does not reach, or where a point beside it is a hole. */
static void test_columns(void **state)
{
    struct kit k;
    struct sweep *sweep;
    double complex s[S_PARAMETERS];

    (void)state;
    start(&k);
    sweep = &fixture_sweep(&k.m, tilted_board, 1.8, 160.25e6, 0.5e6, 33)->sweep;
    sweep->s[4 * 20 + S21] = CMPLX(NAN, NAN); /* at 170.25 MHz */
    make(&k);
    for (size_t i = 0; i < 2 * VIEW_COLUMNS; i++) {
        const size_t v = i / VIEW_COLUMNS;
        const double f = view_column_hz(&k.views.view[v], i % VIEW_COLUMNS);
        const double value = (double)k.traces.columns[i];

        if (f < 160.25e6 || f > 176.25e6 || (v == 0 && fabs(f - 170.25e6) < 0.499e6)) {
            assert_true(isnan(value));
            continue;
        }
        tilted_board(f, 1.8, s);
        assert_close(value, quantity_magnitude_db(s[v == 0 ? S21 : S11]), 1e-5);
    }
    end(&k);
}

/* A setting within the tolerance belongs to its step and is told as it was measured; gain against
 * bias is taken at the place of the slope limit. Steps without a sweep, or with an empty one, have
 * no values and empty lines. */
static void test_steps(void **state)
{
    struct kit k;
    double complex s[S_PARAMETERS];

    (void)state;
    start(&k);
    (void)fixture_sweep(&k.m, tilted_board, 2.396, 168.6e6, 0.5e6, 3);
    (void)fixture_sweep(&k.m, tilted_board, 3, 150e6, 1e6, 0);
    make(&k);
    assert_int_equal(k.traces.n_biases, 3);
    assert_int_equal(k.traces.n_views, 2);
    tilted_board(169e6, 2.396, s);
    assert_close(k.traces.bias_v[1], 2.396, 0);
    assert_close(k.traces.gain_db[1], quantity_magnitude_db(s[S21]), 1e-9);
    for (size_t i = 0; i < 3; i += 2) {
        assert_true(isnan(k.traces.bias_v[i]));
        assert_true(isnan(k.traces.gain_db[i]));
    }
    for (size_t v = 0; v < 2; v++) {
        assert_int_equal(k.traces.lines[v].n_points, 0);
        assert_int_equal(k.traces.loci[v].n_points, 0);
        assert_true(isnan(k.traces.worst[2 * v]) && isnan(k.traces.worst[2 * v + 1]));
        for (size_t i = 0; i < VIEW_COLUMNS; i++)
            assert_true(isnan(k.traces.columns[v * VIEW_COLUMNS + i]));
    }
    end(&k);
}

/* What the judgement takes for not measured is not drawn: a trace below -120 dB would be a perfect
 * match in the middle of the chart. */
static void test_placeholder(void **state)
{
    struct kit k;
    struct sweep *sweep = start_with(&k, flat_board, 41);

    (void)state;
    for (size_t i = 0; i < 41; i++) {
        sweep->s[4 * i + S11] = 1e-7 * (double)(i + 1) / 41;
        sweep->s[4 * i + S21] = 10;
    }
    make(&k);
    assert_int_equal(k.traces.lines[0].n_points, 0);
    assert_int_equal(k.traces.lines[1].n_points, 0);
    assert_int_equal(k.traces.loci[1].n_points, 0);
    assert_true(isnan(k.traces.worst[2]) && isnan(k.traces.gain_db[0]));
    end(&k);
}

/* A gap wider than the band's max-step breaks the line and the columns, and a narrower one does
 * not: nothing was measured there, and the limit is incomplete. The band asks for 1 MHz. */
static void test_gap(void **state)
{
    for (size_t wide = 0; wide < 2; wide++) {
        struct kit k;
        struct sweep *sweep = start_with(&k, flat_board, 41);
        size_t n_breaks = 0;

        (void)state;
        sweep->s[S21] *= 1.01;
        /* Points from 166 MHz on move up by two steps. */
        for (size_t i = 16; i < 41; i++)
            sweep->frequency_hz[i] += wide ? 2e6 : 0;
        make(&k);
        for (size_t i = 0; i < k.traces.lines[0].n_points; i++)
            if (isnan(k.traces.lines[0].y[i])) n_breaks++;
        assert_int_equal(n_breaks, wide);
        n_breaks = 0;
        for (size_t i = 0; i < VIEW_COLUMNS; i++)
            if (isnan(k.traces.columns[i])) n_breaks++;
        assert_true((n_breaks > 0) == (wide == 1));
        end(&k);
    }
}

/* Where S21 alone was measured there is no reflection to show, and a sweep far from the band draws
 * nothing and gives no gain. */
static void test_not_measured(void **state)
{
    struct kit k;
    struct sweep *sweep = start_with(&k, flat_board, 41);

    (void)state;
    sweep->measured = S_BIT(S21);
    sweep->s[S21] *= 1.01; /* the same number everywhere would be a placeholder */
    make(&k);
    assert_int_equal(k.traces.lines[0].n_points, 29);
    assert_int_equal(k.traces.lines[1].n_points, 0);
    assert_int_equal(k.traces.loci[1].n_points, 0);
    assert_true(isnan(k.traces.worst[2]) && isnan(k.traces.columns[VIEW_COLUMNS + 30]));
    end(&k);
    start(&k);
    (void)fixture_sweep(&k.m, flat_board, 1.8, 1e6, 1e6, 20);
    make(&k);
    assert_true(isnan(k.traces.gain_db[0]) && isnan(k.traces.columns[30]));
    assert_true(isnan(k.traces.worst[2]) && isnan(k.traces.worst[3]));
    for (size_t i = 0; i < k.traces.lines[0].n_points; i++)
        assert_true((double)k.traces.lines[0].x[i] < 155.5e6);
    end(&k);
}

/* Checks where gain against bias is taken. */
static void check_centre(const char *elements, double want_hz)
{
    struct limits limits = {0};

    fixture_limits(&limits, "", elements);
    if (isnan(want_hz))
        assert_true(isnan(traces_centre_hz(&limits)));
    else
        assert_close(traces_centre_hz(&limits), want_hz, 1e-6);
    limits_clear(&limits);
}

/* Gain against bias is taken in the middle of the first limit on slope or range, wherever it stands
 * in the file; without one, of the first on gain; without that, nowhere. */
static void test_centre(void **state)
{
    static const char narrow[] = "<gain id=\"a\"><lower><point at=\"164 MHz\" value=\"9 dB\"/>"
                                 "<point at=\"166 MHz\" value=\"9 dB\"/></lower></gain>";
    static const char wide[] = "<gain id=\"b\"><upper><point at=\"100 MHz\" value=\"30 dB\"/>"
                               "<point at=\"150 MHz\" value=\"31 dB\"/><point at=\"180 MHz\" "
                               "value=\"30 dB\"/></upper></gain>";
    static const char slope[] = "<gain-slope id=\"s\" band=\"centre\" from=\"low\" to=\"high\" "
                                "method=\"fit\" min=\"1 dB/V\"/>";
    static const char range[] = "<gain-range id=\"r\" from=\"low\" to=\"high\"><upper>"
                                "<point at=\"160 MHz\" value=\"9 dB\"/>"
                                "<point at=\"164 MHz\" value=\"9 dB\"/></upper></gain-range>";
    static const char other[] = "<gain-flatness id=\"f\" band=\"working\" max=\"2 dB\"/>"
                                "<input-reflection id=\"m\" band=\"working\" max=\"-9 dB\"/>";
    static const struct {
        const char *const parts[4];
        double want_hz;
    } cases[] = {{{other, narrow, wide, ""}, 165e6},    {{wide, narrow, "", ""}, 140e6},
                 {{narrow, wide, slope, range}, 169e6}, {{range, slope, narrow, ""}, 162e6},
                 {{wide, range, slope, ""}, 162e6},     {{other, "", "", ""}, NAN}};

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char elements[4096];

        (void)snprintf(elements, sizeof elements, "%s%s%s%s", cases[i].parts[0], cases[i].parts[1],
                       cases[i].parts[2], cases[i].parts[3]);
        check_centre(elements, cases[i].want_hz);
    }
}

/* Of a unit that passed only the spread is wanted: no lines. Dropping them later keeps the columns
 * and the rest, twice too. */
static void test_without_lines(void **state)
{
    struct kit k;
    struct unit_traces bare = {0};
    struct error e = {0};

    (void)state;
    (void)start_with(&k, tilted_board, 401);
    make(&k);
    assert_done(unit_traces_make(&bare, &k.limits, &k.views, &k.m, false, &e), &e);
    assert_null(bare.lines);
    assert_null(bare.loci);
    unit_traces_drop_lines(&k.traces);
    unit_traces_drop_lines(&k.traces);
    unit_traces_drop_lines(&bare);
    assert_null(k.traces.lines);
    assert_null(k.traces.loci);
    for (size_t i = 0; i < VIEW_COLUMNS; i++) {
        assert_true(isfinite(bare.columns[i]));
        assert_close((double)k.traces.columns[i], (double)bare.columns[i], 0);
    }
    assert_close((double)k.traces.worst[2], (double)bare.worst[2], 0);
    assert_close(k.traces.bias_v[0], 1.8, 0);
    assert_close(k.traces.gain_db[0], bare.gain_db[0], 0);
    unit_traces_clear(&bare);
    unit_traces_clear(&bare);
    assert_null(bare.columns);
    end(&k);
}

/* Limits without pictures and steps make traces without anything. */
static void test_no_views(void **state)
{
    const struct limits limits = {0};
    struct views views = {0};
    struct unit_traces traces = {0};
    struct measurement m = {0};
    struct error e = {0};

    (void)state;
    views_find(&views, &limits);
    assert_done(unit_traces_make(&traces, &limits, &views, &m, true, &e), &e);
    assert_int_equal(traces.n_views, 0);
    unit_traces_drop_lines(&traces);
    unit_traces_clear(&traces);
}

/* Wherever the memory ends, it is said, `out` is untouched and nothing leaks. */
static void test_no_memory(void **state)
{
    struct kit k;
    bool done = false;
    unsigned long nth = 1;

    (void)state;
    (void)start_with(&k, tilted_board, 401);
    for (; !done; nth++) {
        struct unit_traces traces = {.n_views = 77};
        struct error e = {0};

        memory_fail_at(nth);
        done = unit_traces_make(&traces, &k.limits, &k.views, &k.m, true, &e);
        memory_fail_at(0);
        if (done) {
            unit_traces_clear(&traces);
            continue;
        }
        assert_int_equal(e.kind, ERROR_MEMORY);
        assert_int_equal(traces.n_views, 77);
        assert_null(traces.columns);
    }
    assert_true(nth > 6); /* columns, biases, lines; two lines and a locus */
    end(&k);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_placeholder),
        cmocka_unit_test(test_gap),
        cmocka_unit_test(test_few_points_stay),
        cmocka_unit_test(test_no_excursion_is_lost),
        cmocka_unit_test(test_excursion_beside_a_hole),
        cmocka_unit_test(test_columns),
        cmocka_unit_test(test_steps),
        cmocka_unit_test(test_not_measured),
        cmocka_unit_test(test_centre),
        cmocka_unit_test(test_without_lines),
        cmocka_unit_test(test_no_views),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
