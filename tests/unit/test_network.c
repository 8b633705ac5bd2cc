/* Conversions to S and between reference impedances, against published and computed values. */
#include "drivers/network.h"
#include "drivers/random_source.h"
#include "tests/sweep_check.h"

#define SEED 1965

static const double ohm_50[2] = {50, 50};

#define assert_value(got, re, im, tolerance) \
    sweep_check_value((got), (re), (im), (tolerance), #got, __FILE__, __LINE__)

/* Network A of the vectors below, at 50 ohm. */
static void assert_network_a(const double complex m[S_PARAMETERS])
{
    assert_value(m[S11], 0.1, 0.05, 1e-8);
    assert_value(m[S12], 0.02, -0.01, 1e-8);
    assert_value(m[S21], 3, 1, 1e-7);
    assert_value(m[S22], 0.2, -0.1, 1e-8);
}

/* Reason: Z, Y, H and G of one network must all lead back to its S. Computed vectors; two programs
 * agree to 1e-14. */
static void every_kind_leads_to_s(void **state)
{
    double complex z[] = {CMPLX(72.50794568, 4.04507368), CMPLX(2.88933834, -1.79138977),
                          CMPLX(468.07281123, 109.79485698), CMPLX(85.56775498, -20.05200809)};
    double complex y[] = {
        CMPLX(0.01830968049, -0.00196622532), CMPLX(-0.00064695156, 0.00029810513),
        CMPLX(-0.09450566875, -0.03488464283), CMPLX(0.01497344010, 0.00270831682)};
    double complex h[] = {CMPLX(53.99326662, 5.79818573), CMPLX(0.03665949687, -0.01234452446),
                          CMPLX(-4.90040213, -2.43149725), CMPLX(0.01107827551, 0.00259609089)};
    double complex g[] = {CMPLX(0.01374880153, -0.00076701822),
                          CMPLX(-0.03835091083, 0.02684563758), CMPLX(6.51965484180, 1.15052732502),
                          CMPLX(64.66922339406, -11.69702780441)};
    double complex s[] = {CMPLX(0.1, 0.05), CMPLX(0.02, -0.01), CMPLX(3, 1), CMPLX(0.2, -0.1)};

    (void)state;
    assert_true(network_to_s(NETWORK_Z, 2, ohm_50, z));
    assert_network_a(z);
    assert_true(network_to_s(NETWORK_Y, 2, ohm_50, y));
    assert_network_a(y);
    assert_true(network_to_s(NETWORK_H, 2, ohm_50, h));
    assert_network_a(h);
    assert_true(network_to_s(NETWORK_G, 2, ohm_50, g));
    assert_network_a(g);
    assert_true(network_to_s(NETWORK_S, 2, ohm_50, s));
    assert_network_a(s);
}

/* Reason: a published attenuator of 3 dB: T of 8.56, 141.8, 8.56 ohm (Pozar, Microwave Engineering,
 * chapter 4, from memory: S11 = 0, S21 = 0.707; to more digits recomputed and by a circuit
 * simulator). Its Z is 8.56 + 141.8 and 141.8 ohm. */
static void attenuator_of_3_db(void **state)
{
    double complex z[] = {150.36, 141.8, 141.8, 150.36};

    (void)state;
    assert_true(network_to_s(NETWORK_Z, 2, ohm_50, z));
    assert_value(z[S11], 4.4398109e-5, 0, 1e-11);
    assert_value(z[S22], 4.4398109e-5, 0, 1e-11);
    assert_value(z[S21], 0.70769467, 0, 1e-8);
    assert_value(z[S12], 0.70769467, 0, 1e-8);
}

/* Reason: one port. 130 + j90 ohm at 50 ohm is 0.598 at 21.8 degrees (Pozar, Microwave Engineering,
 * Smith-chart example of chapter 2; to more digits recomputed); an admittance likewise. */
static void one_port(void **state)
{
    double complex z[S_PARAMETERS] = {CMPLX(130, 90), NAN, NAN, NAN};
    double complex y[S_PARAMETERS] = {1 / CMPLX(130, 90), NAN, NAN, NAN};

    (void)state;
    assert_true(network_to_s(NETWORK_Z, 1, ohm_50, z));
    assert_close(cabs(z[S11]), 0.598352, 5e-7);
    assert_close(carg(z[S11]) * 180 / M_PI, 21.8014, 5e-5);
    assert_true(isnan(creal(z[S22])));
    assert_true(network_to_s(NETWORK_Y, 1, ohm_50, y));
    assert_value(y[S11], creal(z[S11]), cimag(z[S11]), 1e-15);
    assert_false(network_to_s(NETWORK_H, 1, ohm_50, z));
    assert_false(network_to_s(NETWORK_G, 1, ohm_50, z));
}

/* Reason: a short, an open and a match are exact, a negative resistance is not clipped, and what
 * reflects without end is told. */
static void edges_of_one_port(void **state)
{
    static const struct {
        double z_ohm, gamma;
    } rows[] = {{0, -1}, {50, 0}, {25, -1.0 / 3}, {-25, -3}, {-100, 3}, {1e30, 1}};
    double complex m[S_PARAMETERS] = {-50, 0, 0, 0};

    (void)state;
    assert_false(network_to_s(NETWORK_Z, 1, ohm_50, m));
    assert_value(m[S11], -50, 0, 0);
    m[S11] = -0.02;
    assert_false(network_to_s(NETWORK_Y, 1, ohm_50, m));
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        m[S11] = rows[i].z_ohm;
        assert_true(network_to_s(NETWORK_Z, 1, ohm_50, m));
        assert_value(m[S11], rows[i].gamma, 0, 1e-15);
    }
}

/* Reason: singular two-ports of each kind, by hand: Z + R singular, 1 + R Y singular,
 * (h11 / R + 1)(h22 R + 1) = h12 h21, and the same for G. */
static void singular_two_ports(void **state)
{
    double complex z[] = {50, 100, 100, 50}, y[] = {0, 0.02, 0.02, 0};
    double complex h[] = {50, 2, 1, 0}, g[] = {0.02, 2, 1, 0};
    double complex endless[] = {INFINITY, 0, 0, 50};

    (void)state;
    assert_false(network_to_s(NETWORK_Z, 2, ohm_50, z));
    assert_false(network_to_s(NETWORK_Y, 2, ohm_50, y));
    assert_false(network_to_s(NETWORK_H, 2, ohm_50, h));
    assert_false(network_to_s(NETWORK_G, 2, ohm_50, g));
    assert_false(network_to_s(NETWORK_Z, 2, ohm_50, endless));
}

/* A sweep of one point. */
static struct sweep one_point(unsigned n_ports, const double complex s[S_PARAMETERS], double z1_ohm,
                              double z2_ohm)
{
    struct sweep sweep = {0};
    struct error e = {0};

    assert_done(sweep_reserve(&sweep, 1, &e), &e);
    sweep.n_points = 1;
    sweep.n_ports = n_ports;
    sweep.measured = n_ports == 1 ? S_BIT(S11) : S_ALL;
    sweep.z0_ohm[0] = z1_ohm;
    sweep.z0_ohm[1] = z2_ohm;
    sweep.frequency_hz[0] = 169e6;
    memcpy(sweep.s, s, S_PARAMETERS * sizeof *s);
    return sweep;
}

/* Reason: vectors computed through Z: network A from 50 to 75 ohm, and 0.2 + j0.1 from 75 to 50
 * ohm. */
static void renormalised_vectors(void **state)
{
    const double complex a[] = {CMPLX(0.1, 0.05), CMPLX(0.02, -0.01), CMPLX(3, 1),
                                CMPLX(0.2, -0.1)};
    const double complex gamma[] = {CMPLX(0.2, 0.1), CMPLX(NAN, NAN), CMPLX(NAN, NAN),
                                    CMPLX(NAN, NAN)};
    struct sweep s = one_point(2, a, 50, 50);
    struct error e = {0};

    (void)state;
    assert_done(network_renormalise(&s, 75, &e), &e);
    assert_s(&s, 0, S11, -0.08793660177, 0.04787309812, 1e-11);
    assert_s(&s, 0, S12, 0.02034879296, -0.01045792736, 1e-11);
    assert_s(&s, 0, S21, 3.08067203179, 0.98908656030, 1e-11);
    assert_s(&s, 0, S22, 0.01267323952, -0.10672756522, 1e-11);
    assert_close(s.z0_ohm[0], 75, 0);
    assert_close(s.z0_ohm[1], 75, 0);
    sweep_clear(&s);
    s = one_point(1, gamma, 75, 75);
    assert_done(network_renormalise(&s, 50, &e), &e);
    assert_s(&s, 0, S11, 0.386321626617, 0.088724584104, 1e-12);
    assert_close(s.z0_ohm[1], 50, 0);
    sweep_clear(&s);
}

/* Reason: a lossless line of 75 ohm and 5 ns between 50 ohm (computed, with a circuit simulator)
 * reflects nothing at 75 ohm and only turns the phase, by 288 degrees at 160 MHz. */
static void line_at_its_own_impedance(void **state)
{
    const double complex line[] = {CMPLX(0.35287254771749416, -0.10583560708919987),
                                   CMPLX(0.2670771428006818, 0.8904771693495851),
                                   CMPLX(0.2670771428006818, 0.8904771693495851),
                                   CMPLX(0.35287254771749416, -0.10583560708919987)};
    const double angle = -288 * M_PI / 180;
    struct sweep s = one_point(2, line, 50, 50);
    struct error e = {0};

    (void)state;
    assert_done(network_renormalise(&s, 75, &e), &e);
    assert_s(&s, 0, S11, 0, 0, 1e-14);
    assert_s(&s, 0, S22, 0, 0, 1e-14);
    assert_s(&s, 0, S21, cos(angle), sin(angle), 1e-14);
    assert_s(&s, 0, S12, cos(angle), sin(angle), 1e-14);
    sweep_clear(&s);
}

/* Reason: a through connection has no Z and no Y, an open no Z; both must survive. */
static void renormalising_needs_no_impedance(void **state)
{
    const double complex through[] = {0, 1, 1, 0}, open[] = {1, 0, 0, 1};
    struct sweep s = one_point(2, through, 50, 50);
    struct error e = {0};

    (void)state;
    assert_done(network_renormalise(&s, 75, &e), &e);
    assert_s(&s, 0, S11, 0, 0, 1e-15);
    assert_s(&s, 0, S21, 1, 0, 1e-15);
    sweep_clear(&s);
    s = one_point(2, open, 50, 50);
    assert_done(network_renormalise(&s, 75, &e), &e);
    assert_s(&s, 0, S11, 1, 0, 1e-15);
    assert_s(&s, 0, S21, 0, 0, 1e-15);
    sweep_clear(&s);
}

static double complex any_value(struct random_source *random, double size)
{
    double re = random_uniform(random) - 0.5, im = random_uniform(random) - 0.5;

    return CMPLX(re * 2 * size, im * 2 * size);
}

/* Reason: there and back must give the start, gains above one included. */
static void round_trips(void **state)
{
    struct random_source random;

    (void)state;
    print_message("seed %d\n", SEED);
    random_begin(&random, SEED, 0, 0);
    for (size_t n = 0; n < 1000; n++) {
        double complex a[S_PARAMETERS];
        struct error e = {0};
        struct sweep s;

        a[S11] = any_value(&random, 0.5);
        a[S12] = any_value(&random, 0.02);
        a[S21] = any_value(&random, 10);
        a[S22] = any_value(&random, 0.5);
        s = one_point(2, a, 50, 50);
        assert_done(network_renormalise(&s, 75, &e), &e);
        assert_true(cabs(sweep_s(&s, 0, S11) - a[S11]) > 1e-3);
        assert_done(network_renormalise(&s, 50, &e), &e);
        for (size_t k = 0; k < S_PARAMETERS; k++)
            assert_s(&s, 0, (enum s_parameter)k, creal(a[k]), cimag(a[k]), 2e-14);
        sweep_clear(&s);
    }
}

/* Reason: the conversions and the renormalisation are derived apart; with a different impedance at
 * each port, going to S there and on to 50 ohm must be going to S at 50 ohm. */
static void conversions_and_renormalisation_agree(void **state)
{
    static const enum network_kind kinds[] = {NETWORK_Z, NETWORK_Y, NETWORK_H, NETWORK_G};
    static const double sizes[][S_PARAMETERS] = {
        {100, 100, 100, 100}, {0.02, 0.02, 0.02, 0.02}, {50, 1, 5, 0.02}, {0.02, 1, 5, 50}};
    struct random_source random;

    (void)state;
    print_message("seed %d\n", SEED);
    random_begin(&random, SEED, 1, 0);
    for (size_t n = 0; n < 1000; n++) {
        const double z0_ohm[2] = {10 + 90 * random_uniform(&random),
                                  10 + 90 * random_uniform(&random)};
        double complex there[S_PARAMETERS], here[S_PARAMETERS];
        struct error e = {0};
        struct sweep s;

        for (size_t k = 0; k < S_PARAMETERS; k++)
            there[k] = here[k] = any_value(&random, sizes[n % 4][k]);
        /* Passive diagonals keep away from singular networks. */
        there[S11] = here[S11] = CMPLX(fabs(creal(here[S11])) + sizes[n % 4][0], cimag(here[S11]));
        there[S22] = here[S22] = CMPLX(fabs(creal(here[S22])) + sizes[n % 4][3], cimag(here[S22]));
        assert_true(network_to_s(kinds[n % 4], 2, z0_ohm, there));
        assert_true(network_to_s(kinds[n % 4], 2, ohm_50, here));
        s = one_point(2, there, z0_ohm[0], z0_ohm[1]);
        assert_done(network_renormalise(&s, 50, &e), &e);
        for (size_t k = 0; k < S_PARAMETERS; k++)
            assert_s(&s, 0, (enum s_parameter)k, creal(here[k]), cimag(here[k]), 1e-11);
        sweep_clear(&s);
    }
}

/* Reason: S21 moves with S11 and the rest; without all four it would be guessed. At the same
 * impedance nothing is missing and nothing changes, not a bit. */
static void missing_parameters_are_told(void **state)
{
    const double complex a[] = {0.1, CMPLX(NAN, NAN), 3, CMPLX(NAN, NAN)};
    struct sweep s = one_point(2, a, 50, 50);
    struct error e = {0};

    (void)state;
    s.measured = S_BIT(S11) | S_BIT(S21);
    assert_done(network_renormalise(&s, 50, &e), &e);
    assert_s(&s, 0, S11, 0.1, 0, 0);
    assert_false(network_renormalise(&s, 75, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "takes all four parameters");
    assert_s(&s, 0, S11, 0.1, 0, 0);
    assert_close(s.z0_ohm[0], 50, 0);
    sweep_clear(&s);
}

/* Reason: -25 ohm cannot be told from anything at 25 ohm: 1 / 0. gamma at 50 ohm is -3. */
static void a_point_without_s_is_told(void **state)
{
    const double complex negative[] = {-3, 0, 0, 0};
    struct sweep s = one_point(1, negative, 50, 50);
    struct error e = {0};

    (void)state;
    assert_false(network_renormalise(&s, 25, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "169000000 Hz");
    sweep_clear(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_leads_to_s),
        cmocka_unit_test(attenuator_of_3_db),
        cmocka_unit_test(one_port),
        cmocka_unit_test(edges_of_one_port),
        cmocka_unit_test(singular_two_ports),
        cmocka_unit_test(renormalised_vectors),
        cmocka_unit_test(line_at_its_own_impedance),
        cmocka_unit_test(renormalising_needs_no_impedance),
        cmocka_unit_test(round_trips),
        cmocka_unit_test(conversions_and_renormalisation_agree),
        cmocka_unit_test(missing_parameters_are_told),
        cmocka_unit_test(a_point_without_s_is_told),
    };

    return cmocka_run_group_tests_name("network", tests, NULL, NULL);
}
