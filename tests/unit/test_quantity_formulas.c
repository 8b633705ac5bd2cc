#include "limits/quantity.h"
#include "tests/check.h"

static double complex polar(double magnitude, double angle_deg)
{
    return CMPLX(magnitude * cos(angle_deg * M_PI / 180), magnitude * sin(angle_deg * M_PI / 180));
}

static double input_resistance(double complex s11, double z0_ohm)
{
    const double complex s[S_PARAMETERS] = {s11};

    return quantity_input_resistance_ohm(s, z0_ohm);
}

static double input_reactance(double complex s11, double z0_ohm)
{
    const double complex s[S_PARAMETERS] = {s11};

    return quantity_input_reactance_ohm(s, z0_ohm);
}

/* Reflection from the standing-wave ratio, the tables of every RF handbook (from memory; exact
 * definitions): abs(S11) = (S - 1) / (S + 1), return loss, and mismatch loss -10 log10(1 - abs^2).
 * A resistive load of S times 50 ohm has that ratio. */
static void test_standing_wave_table(void **state)
{
    static const double table[][3] = {
        {1.02, 40.0864, 0.00043}, {1.05, 32.2557, 0.00258}, {1.10, 26.4444, 0.00986},
        {1.15, 23.1269, 0.02119}, {1.20, 20.8279, 0.03604}, {1.25, 19.0849, 0.05395},
        {1.30, 17.6921, 0.07452}, {1.40, 15.5630, 0.12234}, {1.50, 13.9794, 0.17729},
        {1.60, 12.7364, 0.23767}, {1.80, 10.8814, 0.36984}, {2.00, 9.5424, 0.51153},
        {2.50, 7.3595, 0.88136},  {3.00, 6.0206, 1.24939},  {5.00, 3.5218, 2.55273},
        {10.0, 1.7430, 4.80725},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        double ratio = table[i][0], magnitude = (ratio - 1) / (ratio + 1);
        const double complex s[S_PARAMETERS] = {magnitude};
        /* Power that enters, as a "gain" of the square root of what is not reflected. */
        double complex entering = CMPLX(sqrt(1 - magnitude * magnitude), 0);

        assert_close(quantity_input_reflection_db(s, 50), -table[i][1], 5e-5);
        assert_close(quantity_magnitude_db(entering), -table[i][2], 5e-6);
        assert_close(input_resistance(magnitude, 50), 50 * ratio, 1e-9);
        assert_close(input_reactance(magnitude, 50), 0, 0);
    }
}

/* Return loss to magnitude and ratio, the other way round (same tables). */
static void test_return_loss_table(void **state)
{
    static const double table[][3] = {
        {10, 0.316228, 1.92495}, {14, 0.199526, 1.49852}, {17, 0.141254, 1.32898},
        {20, 0.100000, 1.22222}, {26, 0.050119, 1.10553}, {30, 0.031623, 1.06531},
        {40, 0.010000, 1.02020},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        const double complex s[S_PARAMETERS] = {table[i][1]};

        assert_close(quantity_input_reflection_db(s, 50), -table[i][0], 2e-4);
        assert_close(input_resistance(table[i][1], 50) / 50, table[i][2], 5e-5);
    }
}

/* D. M. Pozar, Microwave Engineering, Smith-chart example of chapter 2 (as quoted in public lecture
 * solutions): 130 + j90 ohm on 50 ohm is 0.598 at 21.8 deg; after 0.3 wavelengths 12.7 + j5.8 ohm.
 */
static void test_published_input_impedance(void **state)
{
    double complex load = polar(0.598352, 21.8014), input = polar(0.598352, 165.8014);

    (void)state;
    assert_close(input_resistance(load, 50), 130, 1e-3);
    assert_close(input_reactance(load, 50), 90, 1e-3);
    assert_close(input_resistance(input, 50), 12.74686, 1e-4);
    assert_close(input_reactance(input, 50), 5.82827, 1e-4);
}

/* Reflection to impedance (computed values of the definition). */
static void test_reflection_to_impedance(void **state)
{
    (void)state;
    assert_close(input_resistance(polar(0.3, 60), 50), 57.594937, 1e-6);
    assert_close(input_reactance(polar(0.3, 60), 50), 32.887041, 1e-6);
    assert_close(input_resistance(polar(0.1, -90), 50), 49.009901, 1e-6);
    assert_close(input_reactance(polar(0.1, -90), 50), -9.900990, 1e-6);
    assert_close(input_resistance(polar(0.15, 135), 50), 39.586694, 1e-6);
    assert_close(input_reactance(polar(0.15, 135), 50), 8.590901, 1e-6);
}

/* An open has no finite resistance, a short none at all, and a reflection above 1 is a negative
 * resistance that must not be clipped. */
static void test_impedance_at_the_edges(void **state)
{
    bool open_is_finite = isfinite(input_resistance(1, 50));

    (void)state;
    assert_false(open_is_finite);
    assert_close(input_resistance(-1, 50), 0, 0);
    assert_true(input_resistance(1.5, 50) < 0);
}

/* Published transistors with their S-parameters: abs(D), K and mu. GaAs FETs of D. M. Pozar,
 * Microwave Engineering (2 GHz inputs as quoted with the example's number, the rest from memory), a
 * bipolar of C. Bowick, RF Circuit Design, chapter 6 (from memory). K and abs(D) are formed here to
 * prove the inputs; mu, which the program gives, must be above 1 exactly when K > 1 and abs(D) < 1
 * (M. L. Edwards, J. H. Sinsky, IEEE Trans. MTT-40 (1992) 2303, from memory). */
static void test_published_transistors(void **state)
{
    const struct {
        double complex s[S_PARAMETERS]; /* 11, 12, 21, 22 */
        double abs_d, k, mu;
    } table[] = {
        {{polar(0.894, -60.6), polar(0.020, 62.4), polar(3.122, 123.6), polar(0.781, -27.6)},
         0.696431,
         0.607132,
         0.862815},
        {{polar(0.72, -116), polar(0.03, 57), polar(2.60, 76), polar(0.73, -54)},
         0.487527,
         1.194759,
         1.040068},
        {{polar(0.80, -89), polar(0.03, 56), polar(2.86, 99), polar(0.76, -41)},
         0.591627,
         0.771692,
         0.936004},
        {{polar(0.4, 162), polar(0.04, 60), polar(5.2, 63), polar(0.35, -39)},
         0.068000,
         1.735875,
         1.435407},
    };

    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        const double complex *s = table[i].s;
        double abs_d = cabs(s[S11] * s[S22] - s[S12] * s[S21]);
        double k = (1 - pow(cabs(s[S11]), 2) - pow(cabs(s[S22]), 2) + abs_d * abs_d) /
                   (2 * cabs(s[S12] * s[S21]));
        double mu = quantity_stability_mu(s, 50);

        assert_close(abs_d, table[i].abs_d, 2e-6);
        assert_close(k, table[i].k, 2e-6);
        assert_close(mu, table[i].mu, 2e-6);
        assert_int_equal(mu > 1, k > 1 && abs_d < 1);
    }
}

/* Without feedback K is infinite and mu still says how far from trouble the network is: the reason
 * to prefer mu. */
static void test_stability_without_feedback(void **state)
{
    const double complex s[S_PARAMETERS] = {0.5, 0, 3, 0.25};

    (void)state;
    assert_close(quantity_stability_mu(s, 50), (1 - 0.25) / (0.25 - 0.125 * 0.5), 1e-12);
}

/* The decibel form of the 2 GHz point of Example 19 of the Touchstone specification. */
static void test_decibels(void **state)
{
    const double complex s[S_PARAMETERS] = {polar(0.95, -26), polar(0.04, 76), polar(3.57, 157),
                                            polar(0.66, -14)};

    (void)state;
    assert_close(quantity_input_reflection_db(s, 50), -0.445528, 1e-6);
    assert_close(quantity_gain_db(s, 50), 11.053364, 1e-6);
    assert_close(quantity_reverse_isolation_db(s, 50), -27.958800, 1e-6);
    assert_close(quantity_output_reflection_db(s, 50), -3.609121, 1e-6);
    assert_close(quantity_magnitude_db(0), -400, 0);
    assert_close(quantity_power_db(1e-320), 10 * log10(1e-320), 1e-9);
    assert_true(isnan(quantity_magnitude_db(CMPLX(NAN, 0))));
}

/* Angles wrap to above -180 and up to 180 degrees. */
static void test_wrapping(void **state)
{
    (void)state;
    assert_close(quantity_wrap_deg(0), 0, 0);
    assert_close(quantity_wrap_deg(180), 180, 0);
    assert_close(quantity_wrap_deg(-180), 180, 0);
    assert_close(quantity_wrap_deg(190), -170, 1e-12);
    assert_close(quantity_wrap_deg(-190), 170, 1e-12);
    assert_close(quantity_wrap_deg(725), 5, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_standing_wave_table),
        cmocka_unit_test(test_return_loss_table),
        cmocka_unit_test(test_published_input_impedance),
        cmocka_unit_test(test_reflection_to_impedance),
        cmocka_unit_test(test_impedance_at_the_edges),
        cmocka_unit_test(test_published_transistors),
        cmocka_unit_test(test_stability_without_feedback),
        cmocka_unit_test(test_decibels),
        cmocka_unit_test(test_wrapping),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
