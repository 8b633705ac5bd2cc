/* Quantities of one bias step at a time: values, places, masks, uncertainty. */
#include "limits/judge.h"

#include "tests/fixture.h"

#define SIMPLE "<decision rule=\"simple-acceptance\"/>"

/* Gain that falls by 0.1 dB a MHz from 20 dB at 160 MHz, input reflection that rises from 0.05 at
 * 160 MHz by 0.005 a MHz. */
static void sloping_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    double mhz = (frequency_hz - 160e6) / 1e6;

    (void)bias_v;
    s[S11] = CMPLX(0.05 + 0.005 * mhz, 0);
    s[S12] = CMPLX(0.01, mhz * 1e-4);
    s[S21] = CMPLX(fixture_linear(20 - 0.1 * mhz), 0);
    s[S22] = CMPLX(0.2, mhz * 1e-4);
}

/* A lossless line of 5 ns. */
static void line_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    double angle = -2 * M_PI * frequency_hz * 5e-9;

    (void)bias_v;
    s[S11] = s[S22] = CMPLX(0, frequency_hz * 1e-12);
    s[S12] = s[S21] = CMPLX(cos(angle), sin(angle));
}

/* Judges one limit element on `board` measured at 1.8 V. */
static struct finding judge_one(const char *element, fixture_board *board, double from_hz,
                                double step_hz, size_t n, double current_ma)
{
    struct limits limits = {0};
    struct measurement m = {0};
    struct judgement judgement = {0};
    struct finding finding;
    struct error e = {0};

    fixture_limits(&limits, SIMPLE, element);
    measurement_reset(&m, "A1", 1);
    fixture_sweep(&m, board, 1.8, from_hz, step_hz, n)->bias_current_ma = current_ma;
    assert_done(judge(&limits, &m, NULL, &judgement, &e), &e);
    finding = judgement.findings[0];
    finding.reason = NULL; /* freed below */
    finding.limit = NULL;
    judgement_clear(&judgement);
    measurement_clear(&m);
    limits_clear(&limits);
    return finding;
}

/* With both bounds the nearer one is reported, and where: at the top edge the minimum. */
static void test_two_sided_gain(void **state)
{
    struct finding f =
        judge_one("<gain id=\"g\" bias=\"low\" band=\"working\" min=\"18 dB\" max=\"21 dB\"/>",
                  sloping_board, 150e6, 1e6, 41, NAN);

    (void)state;
    assert_int_equal(f.outcome, OUTCOME_PASS);
    assert_close(f.value, 18.2, 1e-9);
    assert_close(f.bound, 18, 0);
    assert_close(f.margin, 0.2, 1e-9);
    assert_close(f.frequency_hz, 178e6, 0);
    assert_close(f.bias_v, 1.8, 0);
    /* Relative to the span of its bounds, 3 dB. */
    assert_close(f.severity, 0.2 / 3, 1e-9);
}

/* Band edges between points are interpolated in the real and the imaginary part: half-way between
 * 0.1375 and 0.1425 the reflection is 0.14, not its mean in dB. */
static void test_edge_is_interpolated(void **state)
{
    struct finding f =
        judge_one("<input-reflection id=\"m\" bias=\"low\" band=\"working\" max=\"-10 dB\"/>",
                  sloping_board, 149.5e6, 1e6, 41, NAN);

    (void)state;
    assert_close(f.frequency_hz, 178e6, 0);
    assert_close(f.value, 20 * log10(0.14), 1e-9);
}

/* A mask is straight between its corners, and a corner between points is looked at too. */
static void test_mask_corner(void **state)
{
    struct finding f =
        judge_one("<gain id=\"g\" bias=\"low\"><lower><point at=\"160 MHz\" value=\"17 dB\"/>"
                  "<point at=\"169.5 MHz\" value=\"19 dB\"/><point at=\"178 MHz\" value=\"17 "
                  "dB\"/></lower></gain>",
                  sloping_board, 150e6, 1e6, 41, NAN);
    double between = (fixture_linear(20 - 0.9) + fixture_linear(20 - 1.0)) / 2;

    (void)state;
    assert_close(f.frequency_hz, 169.5e6, 0);
    assert_close(f.bound, 19, 0);
    assert_close(f.value, 20 * log10(between), 1e-9);
}

/* The mask's bound at a measured point is interpolated linearly in frequency. */
static void test_mask_between_corners(void **state)
{
    struct finding f =
        judge_one("<gain id=\"g\" bias=\"low\"><upper><point at=\"160 MHz\" value=\"21 dB\"/>"
                  "<point at=\"178 MHz\" value=\"18.5 dB\"/></upper></gain>",
                  sloping_board, 150e6, 1e6, 41, NAN);

    (void)state;
    /* The mask falls faster than the gain: the least margin is at its end. */
    assert_close(f.frequency_hz, 178e6, 0);
    assert_close(f.margin, 18.5 - 18.2, 1e-9);
}

/* A spot band needs the exact point or a neighbour on both sides. */
static void test_spot_band(void **state)
{
    static const char element[] = "<gain id=\"g\" bias=\"low\" band=\"centre\" min=\"10 dB\"/>";

    (void)state;
    assert_close(judge_one(element, sloping_board, 169e6, 1e6, 2, NAN).value, 19.1, 1e-9);
    assert_int_equal(judge_one(element, sloping_board, 168.5e6, 1e6, 2, NAN).outcome, OUTCOME_PASS);
    assert_int_equal(judge_one(element, sloping_board, 169.1e6, 1e6, 9, NAN).outcome,
                     OUTCOME_INCOMPLETE);
    assert_int_equal(judge_one(element, sloping_board, 160e6, 1e6, 9, NAN).outcome,
                     OUTCOME_INCOMPLETE);
}

/* A linear uncertainty moves the bound in linear abs(S): -16 dB is 0.158489, the reflection at
 * 178 MHz is 0.14, so the linear margin is 0.018489. */
static void test_linear_uncertainty(void **state)
{
    static const char pattern[] = "<input-reflection id=\"m\" bias=\"low\" band=\"working\" "
                                  "max=\"-16 dB\" uncertainty=\"%s\"/>";
    const double linear_margin = fixture_linear(-16) - 0.14;
    char element[256];
    struct finding f;

    (void)state;
    (void)snprintf(element, sizeof element, pattern, "0.018");
    f = judge_one(element, sloping_board, 150e6, 1e6, 41, NAN);
    assert_int_equal(f.outcome, OUTCOME_PASS);
    assert_close(f.margin, -16 - 20 * log10(0.14), 1e-9);
    assert_close(f.conformance_probability, 0.5 * erfc(-linear_margin / 0.009 / sqrt(2)), 1e-12);
    assert_close(f.severity, linear_margin / 0.018, 1e-9);
    (void)snprintf(element, sizeof element, pattern, "0.019");
    f = judge_one(element, sloping_board, 150e6, 1e6, 41, NAN);
    assert_int_equal(f.outcome, OUTCOME_CONDITIONAL_PASS);
    (void)snprintf(element, sizeof element, pattern, "1.0 dB");
    f = judge_one(element, sloping_board, 150e6, 1e6, 41, NAN);
    assert_int_equal(f.outcome, OUTCOME_PASS);
}

/* With a linear uncertainty and a mask the deciding place is that of the smallest linear margin:
 * here 0.0016 linear at the low bound fails the guard band although its margin in dB is the larger
 * one. */
static void test_linear_uncertainty_picks_the_deciding_place(void **state)
{
    struct finding f = judge_one(
        "<input-reflection id=\"m\" bias=\"low\" uncertainty=\"0.006\"><upper>"
        "<point at=\"160 MHz\" value=\"-25.75 dB\"/><point at=\"160.5 MHz\" value=\"-10 dB\"/>"
        "<point at=\"178 MHz\" value=\"-16.9 dB\"/></upper></input-reflection>",
        sloping_board, 150e6, 0.5e6, 81, NAN);

    (void)state;
    assert_int_equal(f.outcome, OUTCOME_CONDITIONAL_PASS);
    assert_close(f.frequency_hz, 160e6, 0);
    assert_close(f.margin, -25.75 - 20 * log10(0.05), 1e-9);
}

/* Highest minus lowest gain in the band, reported where the gain is lowest. */
static void test_flatness(void **state)
{
    struct finding f = judge_one("<gain-flatness id=\"f\" bias=\"low\" band=\"working\" max=\"2 "
                                 "dB\" uncertainty=\"0.1 dB\"/>",
                                 sloping_board, 150e6, 1e6, 41, NAN);

    (void)state;
    assert_close(f.value, 1.8, 1e-9);
    assert_close(f.margin, 0.2, 1e-9);
    assert_close(f.frequency_hz, 178e6, 0);
    assert_int_equal(f.outcome, OUTCOME_PASS);
}

/* A line of 5 ns has 5 ns of group delay at every point and at both edges (exact by construction;
 * 1.8 degrees a MHz, so the angle wraps within the sweep). */
static void test_delay_of_a_line(void **state)
{
    struct finding f = judge_one(
        "<group-delay id=\"d\" bias=\"low\" band=\"working\" min=\"4.9999 ns\" max=\"5.0001 ns\"/>",
        line_board, 160e6, 1e6, 19, NAN);

    (void)state;
    assert_int_equal(f.outcome, OUTCOME_PASS);
    assert_close(f.value, 5, 1e-9);
    f = judge_one("<group-delay id=\"d\" bias=\"low\" band=\"centre\" max=\"6 ns\"/>", line_board,
                  160.3e6, 1e6, 19, NAN);
    assert_close(f.value, 5, 1e-9);
}

/* One point has no neighbour: its delay is not a number, and that is incomplete. */
static void test_delay_of_one_point(void **state)
{
    struct finding f =
        judge_one("<group-delay id=\"d\" bias=\"low\" band=\"centre\" max=\"6 ns\"/>", line_board,
                  169e6, 1e6, 1, NAN);

    (void)state;
    assert_int_equal(f.outcome, OUTCOME_INCOMPLETE);
}

/* Resistance and reactance use the limits' impedance: 0.14 is 50 (1.14 / 0.86) ohm. */
static void test_input_resistance(void **state)
{
    struct finding f = judge_one(
        "<input-resistance id=\"r\" bias=\"low\" band=\"working\" min=\"45 ohm\" max=\"70 ohm\"/>",
        sloping_board, 150e6, 1e6, 41, NAN);

    (void)state;
    assert_close(f.value, 50 * 1.14 / 0.86, 1e-9);
    assert_close(f.frequency_hz, 178e6, 0);
    f = judge_one("<input-reactance id=\"x\" bias=\"low\" band=\"working\" min=\"-1 ohm\" "
                  "max=\"1 ohm\"/>",
                  sloping_board, 150e6, 1e6, 41, NAN);
    assert_close(f.value, 0, 1e-12);
}

/* A supply reading has no frequency; without a reading the limit is incomplete. */
static void test_bias_current(void **state)
{
    static const char element[] =
        "<bias-current id=\"i\" bias=\"low\" min=\"20 mA\" max=\"40 mA\" uncertainty=\"0.5 mA\"/>";
    struct finding f = judge_one(element, sloping_board, 150e6, 1e6, 41, 39);

    (void)state;
    assert_int_equal(f.outcome, OUTCOME_PASS);
    assert_close(f.value, 39, 0);
    assert_close(f.margin, 1, 1e-12);
    assert_true(isnan(f.frequency_hz) != 0);
    assert_int_equal(judge_one(element, sloping_board, 150e6, 1e6, 41, 41).outcome, OUTCOME_FAIL);
    assert_int_equal(judge_one(element, sloping_board, 150e6, 1e6, 41, NAN).outcome,
                     OUTCOME_INCOMPLETE);
}

/* Stability is judged from all four parameters: a one-port cannot say. */
static void test_stability_needs_all_four(void **state)
{
    struct finding f = judge_one("<stability id=\"s\" bias=\"low\" band=\"working\" min=\"1\"/>",
                                 sloping_board, 150e6, 1e6, 41, NAN);
    const double complex s[S_PARAMETERS] = {0.05, 0.01, 10, 0.2};

    (void)state;
    assert_int_equal(f.outcome, OUTCOME_PASS);
    assert_true(f.value > 1 && f.value < quantity_stability_mu(s, 50) + 0.5);
}

/* The fast path (flat bounds, no logarithm) and the mask path must agree to the last digit: the
 * same bounds written both ways, over a random-looking trace. */
static void ripple_board(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    double mhz = frequency_hz / 1e6, magnitude = 8 + sin(mhz * 12.9898) * cos(mhz * 78.233);

    (void)bias_v;
    s[S11] = CMPLX(0.1 * cos(mhz), 0.1 * sin(mhz * 3));
    s[S12] = CMPLX(0.01, 0.001 * sin(mhz));
    s[S21] = CMPLX(magnitude * cos(mhz), magnitude * sin(mhz));
    s[S22] = CMPLX(0.2, 0.1 * sin(mhz));
}

static void test_both_paths_agree(void **state)
{
    struct finding flat = judge_one("<gain id=\"g\" bias=\"low\" band=\"working\" min=\"16 dB\" "
                                    "max=\"19.5 dB\" uncertainty=\"0.1 dB\"/>",
                                    ripple_board, 149.7e6, 0.13e6, 300, NAN);
    struct finding mask = judge_one("<gain id=\"g\" bias=\"low\" uncertainty=\"0.1 dB\">"
                                    "<lower><point at=\"160 MHz\" value=\"16 dB\"/><point at=\"178 "
                                    "MHz\" value=\"16 dB\"/></lower>"
                                    "<upper><point at=\"160 MHz\" value=\"19.5 dB\"/><point "
                                    "at=\"178 MHz\" value=\"19.5 dB\"/></upper>"
                                    "</gain>",
                                    ripple_board, 149.7e6, 0.13e6, 300, NAN);

    (void)state;
    assert_int_equal(flat.outcome, mask.outcome);
    assert_close(flat.value, mask.value, 0);
    assert_close(flat.margin, mask.margin, 0);
    assert_close(flat.frequency_hz, mask.frequency_hz, 0);
}

/* Both sides of a band have their own smallest margin, at its two ends here: 20 dB at 160 MHz,
 * 18.2 dB at 178 MHz. A mask has them too, and one bound alone leaves the other side unknown. */
static void test_margins_of_both_sides(void **state)
{
    struct finding f =
        judge_one("<gain id=\"g\" bias=\"low\" band=\"working\" min=\"18 dB\" max=\"21 dB\"/>",
                  sloping_board, 150e6, 1e6, 41, NAN);

    (void)state;
    assert_close(f.lower_margin, 0.2, 1e-9);
    assert_close(f.upper_margin, 1.0, 1e-9);
    assert_int_equal(f.failed_steps, 0);
    f = judge_one("<gain id=\"g\" bias=\"low\"><lower><point at=\"160 MHz\" value=\"18 dB\"/>"
                  "<point at=\"178 MHz\" value=\"17 dB\"/></lower><upper><point at=\"170 MHz\" "
                  "value=\"18.5 dB\"/><point at=\"178 MHz\" value=\"18.5 dB\"/></upper></gain>",
                  sloping_board, 150e6, 1e6, 41, NAN);
    assert_close(f.lower_margin, 1.2, 1e-9);
    assert_close(f.upper_margin, -0.5, 1e-9);
    assert_int_equal(f.failed_steps, 1);
    f = judge_one("<gain id=\"g\" bias=\"low\" band=\"working\" max=\"21 dB\"/>", sloping_board,
                  150e6, 1e6, 41, NAN);
    assert_true(isnan(f.lower_margin));
    assert_close(f.upper_margin, 1.0, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_two_sided_gain),
        cmocka_unit_test(test_edge_is_interpolated),
        cmocka_unit_test(test_mask_corner),
        cmocka_unit_test(test_mask_between_corners),
        cmocka_unit_test(test_spot_band),
        cmocka_unit_test(test_linear_uncertainty),
        cmocka_unit_test(test_linear_uncertainty_picks_the_deciding_place),
        cmocka_unit_test(test_flatness),
        cmocka_unit_test(test_delay_of_a_line),
        cmocka_unit_test(test_delay_of_one_point),
        cmocka_unit_test(test_input_resistance),
        cmocka_unit_test(test_bias_current),
        cmocka_unit_test(test_stability_needs_all_four),
        cmocka_unit_test(test_both_paths_agree),
        cmocka_unit_test(test_margins_of_both_sides),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
