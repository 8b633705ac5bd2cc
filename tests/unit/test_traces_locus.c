/* The input reflection within the band, for the Smith chart: no excursion is lost, and nothing from
 * outside the band is told as one. */
#include "reports/traces.h"

#include "tests/fixture.h"

/* Within half the distance of neighbouring floats below 1. */
#define FLOAT_S 1e-7

struct kit {
    struct limits limits;
    struct views views; /* 0: gain, 1: input reflection, both at bias low */
    struct measurement m;
    struct unit_traces traces;
};

static const char over_the_band[] =
    "<gain id=\"g\" bias=\"low\" band=\"working\" min=\"1 dB\"/>"
    "<input-reflection id=\"m\" bias=\"low\" band=\"working\" max=\"-1 dB\"/>";

/* A match that turns with frequency: abs(S11) is least in the middle. */
static void turning_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    const double mhz = (frequency_hz - 169e6) / 1e6;

    (void)bias_v;
    s[S11] = CMPLX(0.1 + 0.001 * mhz, 0.004 * mhz);
    s[S12] = s[S22] = 0.01;
    s[S21] = 10;
}

/* Starts with one sweep at the low bias. */
static struct sweep *start(struct kit *k, const char *elements, double from_hz, double step_hz,
                           size_t n)
{
    *k = (struct kit){0};
    fixture_limits(&k->limits, "", elements);
    views_find(&k->views, &k->limits);
    assert_int_equal(k->views.n, 2);
    measurement_reset(&k->m, "A1", 1);
    return &fixture_sweep(&k->m, turning_board, 1.8, from_hz, step_hz, n)->sweep;
}

static void make(struct kit *k)
{
    struct error e = {0};

    unit_traces_clear(&k->traces);
    assert_done(unit_traces_make(&k->traces, &k->limits, &k->views, &k->m, true, &e), &e);
    assert_int_equal(k->traces.loci[0].n_points, 0); /* of gain there is none */
    assert_true(isnan(k->traces.worst[0]) && isnan(k->traces.worst[1]));
}

static void end(struct kit *k)
{
    unit_traces_clear(&k->traces);
    measurement_clear(&k->m);
    limits_clear(&k->limits);
}

static void check_point(const struct trace *locus, size_t i, double complex s)
{
    assert_close((double)locus->x[i], creal(s), FLOAT_S);
    assert_close((double)locus->y[i], cimag(s), FLOAT_S);
}

static void check_worst(const struct kit *k, double complex s)
{
    assert_close((double)k->traces.worst[2], creal(s), FLOAT_S);
    assert_close((double)k->traces.worst[3], cimag(s), FLOAT_S);
}

static double complex board_s11(double frequency_hz)
{
    double complex s[S_PARAMETERS];

    turning_board(frequency_hz, 1.8, s);
    return s[S11];
}

/* With few points the locus is all of them within the band, between its ends, which are
 * interpolated; the largest reflection is at an end here, where nothing was measured. */
static void test_few_points(void **state)
{
    struct kit k;
    const struct trace *locus;

    (void)state;
    (void)start(&k, over_the_band, 150.25e6, 0.5e6, 80);
    make(&k);
    locus = &k.traces.loci[1];
    assert_int_equal(locus->n_points, 38);
    check_point(locus, 0, board_s11(160e6));
    for (size_t i = 1; i < 37; i++)
        check_point(locus, i, board_s11(159.75e6 + 0.5e6 * (double)i));
    check_point(locus, 37, board_s11(178e6));
    check_worst(&k, board_s11(178e6));
    end(&k);
}

/* What lies just outside the band is no excursion, and what lies on its edge is one. */
static void test_edges_of_the_band(void **state)
{
    struct kit k;
    struct sweep *sweep = start(&k, over_the_band, 150e6, 1e6, 41);

    (void)state;
    sweep->s[4 * 9 + S11] = sweep->s[4 * 29 + S11] = 0.9; /* 159 and 179 MHz */
    make(&k);
    check_worst(&k, board_s11(178e6));
    for (size_t i = 0; i < k.traces.loci[1].n_points; i++)
        assert_true(hypotf(k.traces.loci[1].x[i], k.traces.loci[1].y[i]) < 0.2f);
    for (size_t edge = 10; edge <= 28; edge += 18) {
        const double complex big = CMPLX(-0.3, 0.01 * (double)edge);

        sweep->s[4 * edge + S11] = big;
        make(&k);
        check_worst(&k, big);
        check_point(&k.traces.loci[1], edge == 10 ? 0 : k.traces.loci[1].n_points - 1, big);
    }
    end(&k);
}

/* A single point among thousands, wherever in the band it lies, is in the locus and the worst, and
 * the locus stays short and in the order of frequency. */
static void test_no_excursion_is_lost(void **state)
{
    struct kit k;
    struct sweep *sweep = start(&k, over_the_band, 150e6, 0.01e6, 4001);

    (void)state;
    for (size_t at = 1001; at < 2800; at += 59) {
        const double complex usual = sweep->s[4 * at + S11], big = CMPLX(-0.7, 0.1);
        const struct trace *locus;
        size_t found = 0;

        sweep->s[4 * at + S11] = big;
        make(&k);
        locus = &k.traces.loci[1];
        assert_in_range(locus->n_points, 18, 98);
        for (size_t i = 0; i < locus->n_points; i++) {
            const double mhz = 169 + (double)locus->y[i] / 0.004;

            if (locus->x[i] < 0) {
                check_point(locus, i, big);
                found++;
                assert_close((double)i / ((double)locus->n_points - 1), ((double)at - 1000) / 1800,
                             0.1);
                continue;
            }
            /* A point of the sweep in the order of frequency. */
            check_point(locus, i, board_s11(mhz * 1e6));
            if (i > 0 && locus->x[i - 1] > 0) assert_true(locus->y[i] >= locus->y[i - 1]);
        }
        assert_int_equal(found, 1);
        check_worst(&k, big);
        sweep->s[4 * at + S11] = usual;
    }
    end(&k);
}

static double value_of(double complex s, size_t which)
{
    const double complex z = (1 + s) / (1 - s);

    return which == 0 ? cabs(s) : which == 1 ? creal(z) : cimag(z);
}

/* Whether the locus has the point of this sweep point. */
static bool has_point(const struct trace *locus, double complex s)
{
    for (size_t i = 0; i < locus->n_points; i++)
        if (locus->x[i] == (float)creal(s) && locus->y[i] == (float)cimag(s)) return true;
    return false;
}

/* Of the whole band the smallest and the largest reflection, resistance and reactance stay,
 * whatever a limit is of: a board that fails by its resistance may not be drawn within its bound.
 */
static void test_extremes_stay(void **state)
{
    const uint32_t seed = 20261128;
    uint32_t random = seed;
    struct kit k;
    struct sweep *sweep = start(&k, over_the_band, 160e6, 0.005e6, 3601);

    (void)state;
    print_message("seed %u\n", seed);
    for (size_t i = 0; i < 3601; i++) {
        double part[2];

        for (size_t p = 0; p < 2; p++) {
            random = random * 1664525u + 1013904223u;
            part[p] = (double)(random >> 8) / 0x1p24 - 0.5;
        }
        sweep->s[4 * i + S11] = CMPLX(part[0], part[1]);
    }
    make(&k);
    assert_in_range(k.traces.loci[1].n_points, 18, 98);
    for (size_t which = 0; which < 3; which++) {
        size_t low = 0, high = 0;

        for (size_t i = 0; i < 3601; i++) {
            const double value = value_of(sweep->s[4 * i + S11], which);

            if (value < value_of(sweep->s[4 * low + S11], which)) low = i;
            if (value > value_of(sweep->s[4 * high + S11], which)) high = i;
        }
        assert_true(has_point(&k.traces.loci[1], sweep->s[4 * low + S11]));
        assert_true(has_point(&k.traces.loci[1], sweep->s[4 * high + S11]));
    }
    end(&k);
}

/* A hole is one in the locus too, and never the worst, whichever part is missing. */
static void test_holes(void **state)
{
    static const double complex holes[] = {CMPLX(NAN, NAN), CMPLX(NAN, 0.5), CMPLX(0.5, NAN)};
    struct kit k;
    struct sweep *sweep = start(&k, over_the_band, 150e6, 1e6, 41);

    (void)state;
    for (size_t h = 0; h < 3; h++) {
        size_t n = 0;

        sweep->s[4 * 15 + S11] = holes[h];
        sweep->s[4 * 28 + S11] = holes[h]; /* the end of the band */
        make(&k);
        for (size_t i = 0; i < k.traces.loci[1].n_points; i++)
            n += isnan(k.traces.loci[1].x[i]) || isnan(k.traces.loci[1].y[i]);
        assert_int_equal(n, 2);
        check_worst(&k, board_s11(177e6));
    }
    for (size_t i = 0; i < 41; i++)
        sweep->s[4 * i + S11] = CMPLX(NAN, NAN);
    make(&k);
    assert_true(isnan(k.traces.worst[2]) && isnan(k.traces.worst[3]));
    end(&k);
}

/* A sweep that ends within the band: what was measured is told, the end that was not is a hole. */
static void test_short_sweep(void **state)
{
    struct kit k;
    const struct trace *locus;

    (void)state;
    (void)start(&k, over_the_band, 165e6, 1e6, 6);
    make(&k);
    locus = &k.traces.loci[1];
    assert_int_equal(locus->n_points, 8);
    assert_true(isnan(locus->x[0]) && isnan(locus->x[7]));
    for (size_t i = 1; i < 7; i++)
        check_point(locus, i, board_s11(164e6 + 1e6 * (double)i));
    check_worst(&k, board_s11(170e6));
    end(&k);
}

/* A limit at one spot: the locus and the worst are the reflection there, measured or between. */
static void test_spot(void **state)
{
    static const double first_hz[] = {150e6, 150.3e6};

    (void)state;
    for (size_t c = 0; c < 2; c++) {
        struct kit k;

        (void)start(&k,
                    "<gain id=\"g\" bias=\"low\" band=\"centre\" min=\"1 dB\"/>"
                    "<input-reflection id=\"m\" bias=\"low\" band=\"centre\" max=\"-1 dB\"/>",
                    first_hz[c], 1e6, 41);
        make(&k);
        assert_true(k.traces.loci[1].n_points >= 1);
        for (size_t i = 0; i < k.traces.loci[1].n_points; i++)
            check_point(&k.traces.loci[1], i, 0.1);
        check_worst(&k, 0.1);
        end(&k);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_few_points),
        cmocka_unit_test(test_edges_of_the_band),
        cmocka_unit_test(test_no_excursion_is_lost),
        cmocka_unit_test(test_extremes_stay),
        cmocka_unit_test(test_holes),
        cmocka_unit_test(test_short_sweep),
        cmocka_unit_test(test_spot),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
