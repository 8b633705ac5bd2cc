/* The nodal solver against networks solved by hand, and against the reference amplifier that an
 * independent circuit simulator solved. */
#include "tests/check.h"

#include "drivers/nodal.h"

#define TWO_PI 6.283185307179586

static const struct nodal_value fifty_ohm = {50, 0};

static void assert_value(struct nodal_value got, double re, double im, double tolerance)
{
    assert_close(got.re, re, tolerance);
    assert_close(got.im, im, tolerance);
}

/* Reason: everything else stands on these three. */
static void own_complex_arithmetic(void **state)
{
    (void)state;
    assert_value(nodal_add((struct nodal_value){1, 2}, (struct nodal_value){3, -5}), 4, -3, 0);
    assert_value(nodal_multiply((struct nodal_value){1, 2}, (struct nodal_value){3, -5}), 13, 1, 0);
    assert_value(nodal_invert((struct nodal_value){3, -4}), 0.12, 0.16, 1e-17);
}

/* Reason: two elements, solved by hand. Series impedance Z, then shunt admittance Y at the output,
 * in units of 50 ohm: with a = 1 + zy, b = z, c = y, d = 1 of the chain matrix, S11 = (a + b - c -
 * d) / D, S21 = S12 = 2/D, S22 = (-a + b - c + d)/D, D = a + b + c + d (textbook). With z = 1 and y
 * = 1: D = 5, S11 = 1/5, S21 = 2/5, S22 = -1/5. */
static void two_resistors_by_hand(void **state)
{
    struct nodal network;
    struct nodal_value s[4];

    (void)state;
    nodal_begin(&network, 2);
    nodal_impedance(&network, 0, 1, fifty_ohm);
    nodal_impedance(&network, 1, NODAL_GROUND, fifty_ohm);
    assert_true(nodal_two_port(&network, 0, 1, 50, s));
    assert_value(s[0], 0.2, 0, 1e-15);
    assert_value(s[1], 0.4, 0, 1e-15);
    assert_value(s[2], 0.4, 0, 1e-15);
    assert_value(s[3], -0.2, 0, 1e-15);
}

/* Reason: the same by hand with a reactance. z = j, y = 0: D = 2 + j, S11 = j/(2 + j) = (1 + 2j)/5,
 * S21 = 2/(2 + j) = (4 - 2j)/5; lossless, so the squares add up to 1. */
static void one_coil_by_hand(void **state)
{
    struct nodal network;
    struct nodal_value s[4];

    (void)state;
    nodal_begin(&network, 2);
    nodal_impedance(&network, 0, 1, (struct nodal_value){0, 50});
    assert_true(nodal_two_port(&network, 0, 1, 50, s));
    assert_value(s[0], 0.2, 0.4, 1e-15);
    assert_value(s[2], 0.8, -0.4, 1e-15);
    assert_value(s[3], 0.2, 0.4, 1e-15);
}

static struct nodal_value farad(double siemens, double f, double w)
{
    return (struct nodal_value){siemens, w * f};
}

/* Reason: a transistor-like network with feedback. In, 100 pF to b; b to ground 1 kohm and 2 pF;
 * 0.2 S from b; c to ground 2 kohm and 1 pF; 400 ohm from b to c; 10 nH from c to out; 50 ohm
 * ports; 169 MHz. Values from ngspice (Debian 39.3), whose solver shares nothing with this one. */
static void amplifier_by_another_solver(void **state)
{
    enum { IN, B, C, OUT };
    const double w = TWO_PI * 169e6;
    struct nodal network;
    struct nodal_value s[4];

    (void)state;
    nodal_begin(&network, 4);
    nodal_admittance(&network, IN, B, farad(0, 100e-12, w));
    nodal_admittance(&network, B, NODAL_GROUND, farad(1e-3, 2e-12, w));
    nodal_transconductance(&network, C, NODAL_GROUND, B, NODAL_GROUND, 0.2);
    nodal_admittance(&network, C, NODAL_GROUND, farad(0.5e-3, 1e-12, w));
    nodal_impedance(&network, B, C, (struct nodal_value){400, 0});
    nodal_impedance(&network, C, OUT, (struct nodal_value){0, w * 10e-9});
    assert_true(nodal_two_port(&network, IN, OUT, 50, s));
    assert_value(s[0], -9.723415606292599e-02, -2.124266806818906e-01, 1e-13);
    assert_value(s[2], -7.436685938632254, 6.047580389426581e-01, 1e-13);
    assert_value(s[1], 9.413526504597805e-02, -7.655165049907087e-03, 1e-13);
    assert_value(s[3], -5.196791950454094e-02, 2.053690481048486e-01, 1e-13);
}

/* Reason: a zero on the diagonal must be stepped over by a pivot, and a node that hangs in the air
 * must be refused, not divided by. Two controlled sources back to back (a gyrator) at an inner
 * node: the inner node has no admittance of its own. With g = 1/50 S from in to inner and back, out
 * joined to inner by nothing but 50 ohm: in sees g^2 * 100 ohm = 1/25 S, a match to 25 ohm. */
static void pivots_and_refuses(void **state)
{
    struct nodal network;
    struct nodal_value s[4];

    (void)state;
    nodal_begin(&network, 3);
    nodal_transconductance(&network, 1, NODAL_GROUND, 0, NODAL_GROUND, 0.02);
    nodal_transconductance(&network, 0, NODAL_GROUND, 1, NODAL_GROUND, -0.02);
    nodal_impedance(&network, 1, 2, fifty_ohm);
    assert_true(nodal_two_port(&network, 0, 2, 50, s));
    assert_value(s[0], -1.0 / 3, 0, 1e-15);

    nodal_begin(&network, 3);
    nodal_impedance(&network, 0, 1, fifty_ohm);
    assert_false(nodal_two_port(&network, 0, 1, 50, s));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(own_complex_arithmetic), cmocka_unit_test(two_resistors_by_hand),
        cmocka_unit_test(one_coil_by_hand),       cmocka_unit_test(amplifier_by_another_solver),
        cmocka_unit_test(pivots_and_refuses),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
