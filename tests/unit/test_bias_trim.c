/* The bias for a wanted gain, from curves whose answer is known. */
#include <complex.h>

#include "tests/check.h"

#include "drivers/measurement.h"
#include "limits/bias_trim.h"
#include "limits/statistics.h"

#define POINTS 11

/* dB a hertz: the same number at each frequency would be taken for a placeholder. Odd about the
 * middle of the band, so that the mean does not see it. */
#define HARDLY 1e-15

static const double pi = 3.14159265358979323846;
static const struct trim_band working = {160e6, 170e6, 0};

/* Gain in dB and phase in degrees of a board at a bias and a frequency. */
typedef double board_formula(double bias_v, double frequency_hz);

static double no_phase(double bias_v, double frequency_hz)
{
    (void)bias_v;
    (void)frequency_hz;
    return 0;
}

/* A sweep from 155 to 175 MHz in steps of 2 MHz. */
static struct bias_sweep *add_sweep(struct measurement *m, double bias_v, board_formula *gain_db,
                                    board_formula *phase_deg)
{
    struct error e = {0};
    struct bias_sweep *bias = measurement_add(m, bias_v, &e);

    assert_non_null(bias);
    assert_done(sweep_reserve(&bias->sweep, POINTS, &e), &e);
    bias->sweep.n_points = POINTS;
    bias->sweep.n_ports = 2;
    bias->sweep.measured = S_ALL;
    for (size_t i = 0; i < POINTS; i++) {
        const double f_hz = 155e6 + 2e6 * (double)i;
        const double size = pow(10, (gain_db(bias_v, f_hz) + (f_hz - 165e6) * HARDLY) / 20);
        const double angle = phase_deg(bias_v, f_hz) * pi / 180;

        bias->sweep.frequency_hz[i] = f_hz;
        for (size_t p = 0; p < S_PARAMETERS; p++)
            bias->sweep.s[S_PARAMETERS * i + p] = 0.01;
        bias->sweep.s[S_PARAMETERS * i + S21] = CMPLX(size * cos(angle), size * sin(angle));
    }
    return bias;
}

/* Sweeps at `n` settings from `from_v`, `step_v` apart. */
static void add_sweeps(struct measurement *m, size_t n, double from_v, double step_v,
                       board_formula *gain_db, board_formula *phase_deg)
{
    for (size_t i = 0; i < n; i++)
        (void)add_sweep(m, from_v + (double)i * step_v, gain_db, phase_deg);
}

/* Takes the curve over `working`; nothing may be left out. */
static void take_all(struct trim_curve *curve, const struct measurement *m)
{
    struct text left_out = {0};

    trim_curve_take(curve, m, &working, &left_out);
    assert_string_equal(text_words(&left_out), "");
    assert_int_equal(curve->n, m->n_biases);
}

static double straight(double bias_v, double f_hz)
{
    (void)f_hz;
    return 20 + 4 * (bias_v - 2.4);
}

static double saturating(double bias_v, double f_hz)
{
    (void)f_hz;
    return 24 - 6 * exp(-(bias_v - 1.8) / 0.5);
}

static double falling(double bias_v, double f_hz)
{
    (void)f_hz;
    return 22 - 3 * (bias_v - 1.8) * (bias_v - 1.8);
}

/* Highest, 23 dB, at 2.4 V. */
static double peaked(double bias_v, double f_hz)
{
    (void)f_hz;
    return 23 - 5 * (bias_v - 2.4) * (bias_v - 2.4);
}

static double flat_then_rising(double bias_v, double f_hz)
{
    (void)f_hz;
    return bias_v < 2.45 ? 20 : 20 + 2 * (bias_v - 2.4);
}

/* Reason: on a straight line the answer is known to the last digit: 20.5 dB at 2.4 + 0.5 / 4 V, 4
 * dB/V are 0.04 dB per 10 mV. With two settings as well, where it is told. */
static void straight_line(void **state)
{
    (void)state;
    for (size_t n = 2; n <= 7; n += 5) {
        struct measurement m = {0};
        struct trim_curve curve;
        struct trim trim;
        struct text words = {0};

        add_sweeps(&m, n, 1.8, n == 2 ? 1.2 : 0.2, straight, no_phase);
        take_all(&curve, &m);
        assert_true(curve.is_monotone);
        assert_true(trim_find(&trim, &curve, 20.5));
        assert_int_equal(trim.outcome, TRIM_REACHED);
        assert_close(trim.bias_v, 2.525, 1e-6);
        assert_close(trim.gain_db, 20.5, 1e-9);
        assert_close(trim.db_per_10mv, 0.04, 1e-9);
        assert_int_equal(trim.n_settings, 1);
        trim_words(&trim, &curve, 20.5, &words);
        if (n == 2)
            assert_string_equal(text_words(&words),
                                "two usable settings only: a straight line between them");
        else
            assert_string_equal(text_words(&words), "");
        text_clear(&words);
        measurement_clear(&m);
    }
}

/* Reason: a curve like that of a transistor: gain = 24 - 6 exp(-(V - 1.8) / 0.5) dB is turned round
 * by hand. With a setting every 0.1 V the interpolation is off by less than 1 mV and 4 % in the
 * slope, and nearer than a straight line between the settings. */
static void saturating_curve(void **state)
{
    struct measurement m = {0};
    struct trim_curve curve;

    (void)state;
    add_sweeps(&m, 13, 1.8, 0.1, saturating, no_phase);
    take_all(&curve, &m);
    for (double wanted_db = 19.5; wanted_db < 23; wanted_db += 0.25) {
        const double want_v = 1.8 - 0.5 * log((24 - wanted_db) / 6);
        struct trim trim;
        size_t i = 0;

        assert_true(trim_find(&trim, &curve, wanted_db));
        assert_int_equal(trim.outcome, TRIM_REACHED);
        assert_close(trim.bias_v, want_v, 1e-3);
        assert_close(trim.gain_db, wanted_db, 1e-9);
        assert_close(trim.db_per_10mv / ((24 - wanted_db) / 0.5 / 100), 1, 0.04);
        while (curve.gain_db[i + 1] < wanted_db)
            i++;
        if (fabs(curve.gain_db[i] - wanted_db) > 0.02 &&
            fabs(curve.gain_db[i + 1] - wanted_db) > 0.02)
            assert_true(fabs(trim.bias_v - want_v) <
                        fabs(curve.bias_v[i] +
                             0.1 * (wanted_db - curve.gain_db[i]) /
                                 (curve.gain_db[i + 1] - curve.gain_db[i]) -
                             want_v));
    }
    measurement_clear(&m);
}

/* Reason: the ends of the measured range are reached, what lies past them is not, and the nearest
 * is told. */
static void ends_of_range(void **state)
{
    struct measurement m = {0};
    struct trim_curve curve;
    struct trim trim;
    struct text words = {0};

    (void)state;
    add_sweeps(&m, 4, 1.8, 0.4, straight, no_phase); /* 17.6 to 22.4 dB */
    take_all(&curve, &m);
    assert_close(curve.lowest_db, 17.6, 1e-5);
    assert_close(curve.highest_db, 22.4, 1e-5);
    assert_true(trim_find(&trim, &curve, curve.highest_db));
    assert_int_equal(trim.outcome, TRIM_REACHED);
    assert_close(trim.bias_v, 3.0, 1e-12);
    assert_true(trim_find(&trim, &curve, curve.lowest_db));
    assert_int_equal(trim.outcome, TRIM_REACHED);
    assert_close(trim.bias_v, 1.8, 0);
    assert_true(trim_find(&trim, &curve, 22.5));
    assert_int_equal(trim.outcome, TRIM_TOO_LOW);
    assert_close(trim.bias_v, 3.0, 1e-12);
    assert_close(trim.gain_db, 22.4, 1e-5);
    assert_int_equal(trim.n_settings, 0);
    trim_words(&trim, &curve, 22.5, &words);
    assert_string_equal(text_words(&words),
                        "cannot be set to 22.50 dB: the highest gain within the "
                        "measured bias is 22.40 dB at 3 V");
    text_reset(&words);
    assert_true(trim_find(&trim, &curve, 17));
    assert_int_equal(trim.outcome, TRIM_TOO_HIGH);
    trim_words(&trim, &curve, 17, &words);
    assert_holds(text_words(&words),
                 "the lowest gain within the measured bias is 17.60 dB at 1.8 V");
    assert_false(trim_find(&trim, &curve, NAN));
    assert_int_equal(trim.outcome, TRIM_NO_CURVE);
    text_clear(&words);
    measurement_clear(&m);
}

/* Reason: a curve that turns back has two settings for a gain: the lower is taken, and told. A
 * falling curve has one, and it is told that more bias gives less. */
static void curves_that_turn(void **state)
{
    struct measurement m = {0};
    struct trim_curve curve;
    struct trim trim;
    struct text words = {0};

    (void)state;
    add_sweeps(&m, 7, 1.8, 0.2, peaked, no_phase);
    take_all(&curve, &m);
    assert_false(curve.is_monotone);
    assert_true(trim_find(&trim, &curve, peaked(2.2, 0)));
    assert_int_equal(trim.n_settings, 2);
    assert_close(trim.bias_v, 2.2, 1e-9);
    assert_close(trim.highest_v, 2.6, 1e-9);
    assert_true(trim.db_per_10mv > 0);
    trim_words(&trim, &curve, peaked(2.2, 0), &words);
    assert_string_equal(text_words(&words),
                        "22.80 dB is reached at 2 settings from 2.2 V to 2.6 V: the lowest is "
                        "taken; gain does not move one way over the bias");
    assert_true(trim_find(&trim, &curve, curve.highest_db)); /* the top is one setting */
    assert_int_equal(trim.n_settings, 1);
    assert_close(trim.db_per_10mv, 0, 1e-12);
    measurement_reset(&m, "2", 1);
    text_reset(&words);
    add_sweeps(&m, 7, 1.8, 0.2, falling, no_phase);
    take_all(&curve, &m);
    assert_true(curve.is_monotone);
    assert_true(trim_find(&trim, &curve, 21));
    assert_int_equal(trim.n_settings, 1);
    assert_close(trim.bias_v, 1.8 + sqrt(1.0 / 3), 3e-3);
    assert_true(trim.db_per_10mv < 0);
    trim_words(&trim, &curve, 21, &words);
    assert_holds(text_words(&words), "gain falls with rising bias at 2.37");
    text_clear(&words);
    measurement_clear(&m);
}

/* Reason: where the gain does not move any bias will do; it is one stretch, not many crossings. */
static void flat_curves(void **state)
{
    struct measurement m = {0};
    struct trim_curve curve;
    struct trim trim;
    struct text words = {0};

    (void)state;
    add_sweeps(&m, 7, 1.8, 0.2, flat_then_rising, no_phase);
    take_all(&curve, &m);
    assert_true(curve.is_monotone);
    assert_true(trim_find(&trim, &curve, 20));
    assert_int_equal(trim.n_settings, 1);
    assert_close(trim.bias_v, 1.8, 0);
    assert_close(trim.highest_v, 2.4, 1e-9);
    assert_close(trim.db_per_10mv, 0, 1e-12);
    trim_words(&trim, &curve, 20, &words);
    assert_holds(text_words(&words), "20.00 dB is reached everywhere from 1.8 V to 2.4 V");
    assert_true(trim_find(&trim, &curve, 20.01));
    assert_true(trim.bias_v > 2.4 && trim.bias_v < 2.6);
    assert_true(trim_find(&trim, &curve, 19.99));
    assert_int_equal(trim.outcome, TRIM_TOO_HIGH);
    text_clear(&words);
    measurement_clear(&m);
}

/* Reason: a setting that cannot be used is left out with its reason, never guessed; a value that is
 * not a number counts only in the band; fewer settings are used and told. */
static void unusable_settings(void **state)
{
    const struct trim_band narrow_steps = {160e6, 170e6, 2e6};
    struct measurement m = {0};
    struct trim_curve curve;
    struct trim trim;
    struct text words = {0}, note = {0};

    (void)state;
    add_sweeps(&m, 9, 1.6, 0.2, straight, no_phase);
    m.biases[0].sweep.s[S_PARAMETERS * 0 + S21] = CMPLX(NAN, 0); /* 155 MHz: outside the band */
    m.biases[1].sweep.s[S_PARAMETERS * 4 + S21] = CMPLX(NAN, 0);
    text_add(&m.biases[2].missing, "the file ends in a point");
    m.biases[2].sweep.n_points = 0;
    m.biases[3].sweep.measured = S_BIT(S11);
    for (size_t i = 0; i < POINTS; i++)
        m.biases[4].sweep.s[S_PARAMETERS * i + S21] = 0;
    m.biases[5].sweep.n_points = 0;
    m.biases[6].sweep.n_points = 6;              /* ends at 165 MHz */
    m.biases[7].sweep.frequency_hz[5] = 164.5e6; /* leaves 2.5 MHz to the next */
    trim_curve_take(&curve, &m, &narrow_steps, &words);
    assert_int_equal(curve.n, 2);
    assert_close(curve.bias_v[0], 1.6, 0);
    assert_close(curve.bias_v[1], 3.2, 1e-9);
    assert_holds(text_words(&words), "1.8 V: S21 has a value in the band that is not a number");
    assert_holds(text_words(&words), "2 V: the file ends in a point");
    assert_holds(text_words(&words), "S21 was not measured");
    assert_holds(text_words(&words), "S21 is a placeholder");
    assert_holds(text_words(&words), "2.6 V: the sweep is empty");
    assert_holds(text_words(&words), ": the sweep does not cover 160 MHz to 170 MHz without a gap");
    assert_holds(text_words(&words), "3 V: the sweep does not cover");
    assert_true(trim_find(&trim, &curve, 20.5));
    assert_close(trim.bias_v, 2.525, 1e-6);
    m.n_biases = 1;
    text_reset(&words);
    trim_curve_take(&curve, &m, &working, &words);
    assert_int_equal(curve.n, 1);
    assert_true(trim_find(&trim, &curve, curve.gain_db[0]));
    assert_int_equal(trim.outcome, TRIM_REACHED);
    assert_true(isnan(trim.db_per_10mv));
    trim_words(&trim, &curve, curve.gain_db[0], &note);
    assert_string_equal(text_words(&note), "one usable setting only: no slope");
    text_reset(&note);
    m.n_biases = 0;
    trim_curve_take(&curve, &m, &working, &words);
    assert_false(trim_find(&trim, &curve, 20));
    assert_int_equal(trim.outcome, TRIM_NO_CURVE);
    assert_true(isnan(trim.bias_v) && isnan(curve.lowest_db));
    trim_words(&trim, &curve, 20, &note);
    assert_holds(text_words(&note), "no usable sweep");
    text_clear(&words);
    text_clear(&note);
    measurement_clear(&m);
}

static double sloped(double bias_v, double f_hz)
{
    return 20 + 4 * (bias_v - 2.4) + (f_hz - 165e6) * 1e-7; /* 1 dB in 10 MHz */
}

/* Reason: the mean over the band weighs by frequency, not by points: a gain that is straight over
 * frequency has its middle as mean, also when half of the band has points close together. Off by
 * what straight lines in the complex value are not in dB. One frequency is that frequency. */
static void mean_over_band(void **state)
{
    static const double close_hz[POINTS] = {155e6,   160e6, 161e6, 161.2e6, 161.4e6, 161.6e6,
                                            161.8e6, 162e6, 168e6, 170e6,   175e6};
    const struct trim_band spot = {163e6, 163e6, 0}, inner = {158e6, 169e6, 0};
    struct measurement m = {0};
    struct trim_curve curve;
    struct text words = {0};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct sweep *sweep = &add_sweep(&m, 2.4 + (double)i, sloped, no_phase)->sweep;

        for (size_t k = 0; k < POINTS; k++) {
            sweep->frequency_hz[k] = close_hz[k];
            sweep->s[S_PARAMETERS * k + S21] = pow(10, sloped(2.4 + (double)i, close_hz[k]) / 20);
        }
    }
    take_all(&curve, &m);
    assert_close(curve.gain_db[0], 20, 1e-9);
    assert_close(curve.gain_db[1], 24, 1e-9);
    trim_curve_take(&curve, &m, &spot, &words);
    assert_close(curve.gain_db[0], 19.8, 4e-3); /* 6 MHz between the points */
    trim_curve_take(&curve, &m, &inner, &words);
    assert_close(curve.gain_db[0], 19.85, 2e-3);
    assert_string_equal(text_words(&words), "");
    text_clear(&words);
    measurement_clear(&m);
}

/* 150 deg at 1.8 V, 60 deg more at each volt: across 180 deg at 2.3 V; a delay of 20 ns. */
static double turning(double bias_v, double f_hz)
{
    return 150 + 60 * (bias_v - 1.8) - 360 * 20e-9 * (f_hz - 165e6);
}

/* Reason: the set is matched with what is told here: at measured settings it must be the
 * measurement, between them magnitude and phase each follow their line, also across 180 degrees;
 * outside there is nothing. */
static void response_at_bias(void **state)
{
    const double f_hz[3] = {159e6, 165e6, 171e6}, beyond_hz[2] = {150e6, 165e6};
    struct measurement m = {0};
    struct trim_curve curve;
    double complex got[3];

    (void)state;
    add_sweeps(&m, 7, 1.8, 0.2, straight, turning);
    take_all(&curve, &m);
    assert_close(trim_response(&curve, curve.bias_v[3], f_hz, 3, got), 12, 1e-6);
    for (size_t k = 0; k < 3; k++)
        assert_close(cabs(got[k] - sweep_s(curve.sweeps[3], 2 + 3 * k, S21)), 0, 1e-12);
    for (double bias_v = 1.85; bias_v < 3; bias_v += 0.1) {
        (void)trim_response(&curve, bias_v, f_hz, 3, got);
        for (size_t k = 0; k < 3; k++) {
            const double size = pow(10, straight(bias_v, f_hz[k]) / 20);
            const double angle = turning(bias_v, f_hz[k]) * pi / 180;

            assert_close(cabs(got[k] - CMPLX(size * cos(angle), size * sin(angle))), 0, 1e-7);
        }
    }
    (void)trim_response(&curve, 3.01, f_hz, 3, got);
    assert_true(isnan(creal(got[0])) && isnan(cimag(got[2])));
    (void)trim_response(&curve, 2, beyond_hz, 2, got);
    assert_true(isnan(creal(got[0])));
    assert_true(isfinite(creal(got[1])));
    m.biases[6].sweep.s[S_PARAMETERS * 5 + S21] = CMPLX(NAN, 0); /* 165 MHz at a far setting */
    (void)trim_response(&curve, 2, f_hz, 3, got);
    assert_true(isnan(creal(got[1])));
    assert_true(isfinite(creal(got[0])));
    measurement_clear(&m);
}

static int start(void **state)
{
    (void)state;
    statistics_start();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(straight_line),  cmocka_unit_test(saturating_curve),
        cmocka_unit_test(ends_of_range),  cmocka_unit_test(curves_that_turn),
        cmocka_unit_test(flat_curves),    cmocka_unit_test(unusable_settings),
        cmocka_unit_test(mean_over_band), cmocka_unit_test(response_at_bias),
    };

    return cmocka_run_group_tests(tests, start, NULL);
}
