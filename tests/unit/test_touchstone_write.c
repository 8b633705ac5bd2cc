/* Touchstone out: the text itself, and that it reads back to the same bits. */
#include "drivers/random_source.h"
#include "drivers/touchstone.h"
#include "tests/sweep_check.h"

#define SEED 20240126

static struct sweep make_sweep(unsigned n_ports, size_t n_points)
{
    struct sweep s = {
        .n_ports = n_ports, .measured = n_ports == 1 ? S_BIT(S11) : S_ALL, .z0_ohm = {50, 50}};
    struct error e = {0};

    assert_done(sweep_reserve(&s, n_points, &e), &e);
    s.n_points = n_points;
    for (size_t i = 0; i < n_points; i++) {
        s.frequency_hz[i] = 1e6 * (double)(i + 1);
        for (size_t k = 0; k < S_PARAMETERS; k++)
            s.s[S_PARAMETERS * i + k] =
                n_ports == 1 && k > 0 ? CMPLX(NAN, NAN) : CMPLX(0.5 * (double)k, -0.25);
    }
    return s;
}

/* Reason: the text is read by programs that are stricter than ours; row-major 12_21, a reference
 * for each port. */
static void the_text_is_version_2(void **state)
{
    struct sweep s = make_sweep(2, 1);
    struct text out = {0};
    struct error e = {0};

    (void)state;
    s.z0_ohm[1] = 75.5;
    assert_done(touchstone_write(&s, "KW000101, \xC2\xB5 of\n[End]", &out, &e), &e);
    assert_string_equal(text_words(&out), "! KW000101, ?? of?[End]\n"
                                          "[Version] 2.0\n# Hz S RI R 50\n[Number of Ports] 2\n"
                                          "[Two-Port Data Order] 12_21\n[Number of Frequencies] 1\n"
                                          "[Reference] 50 75.5\n[Network Data]\n"
                                          "1000000 0 -0.25 0.5 -0.25 1 -0.25 1.5 -0.25\n[End]\n");
    text_reset(&out);
    sweep_clear(&s);
    s = make_sweep(1, 1);
    assert_done(touchstone_write(&s, NULL, &out, &e), &e);
    assert_string_equal(
        text_words(&out),
        "[Version] 2.0\n# Hz S RI R 50\n[Number of Ports] 1\n[Number of Frequencies] "
        "1\n[Reference] 50\n[Network Data]\n1000000 0 -0.25\n[End]\n");
    text_clear(&out);
    sweep_clear(&s);
}

static bool same_bits(double a, double b)
{
    return memcmp(&a, &b, sizeof a) == 0;
}

static void assert_reads_back(const struct sweep *s, const char *path)
{
    struct sweep again = {0};
    struct text out = {0};
    struct error e = {0};

    assert_done(touchstone_write(s, NULL, &out, &e), &e);
    assert_done(sweep_check_read(touchstone_read, path, out.data, out.length, &again, &e), &e);
    assert_int_equal(again.n_points, s->n_points);
    assert_int_equal(again.n_ports, s->n_ports);
    assert_int_equal(again.measured, s->measured);
    for (size_t p = 0; p < s->n_ports; p++)
        assert_true(same_bits(again.z0_ohm[p], s->z0_ohm[p]));
    for (size_t i = 0; i < s->n_points; i++) {
        assert_true(same_bits(again.frequency_hz[i], s->frequency_hz[i]));
        for (size_t k = 0; k < (s->n_ports == 1 ? 1 : S_PARAMETERS); k++) {
            double complex a = again.s[S_PARAMETERS * i + k], b = s->s[S_PARAMETERS * i + k];

            assert_true(same_bits(creal(a), creal(b)) && same_bits(cimag(a), cimag(b)));
        }
    }
    text_clear(&out);
    sweep_clear(&again);
}

/* A finite double of any size and sign. */
static double any_double(struct random_source *random)
{
    double x;

    do {
        uint64_t bits = random_bits(random);

        memcpy(&x, &bits, sizeof x);
    } while (!isfinite(x));
    return x;
}

/* Reason: a stored sweep is judged again years later and must give the same verdict, so every bit
 * counts: for numbers of any size, for usual ones, at the ends of the range. */
static void every_bit_reads_back(void **state)
{
    static const double edges[] = {
        0.0,  -0.0,   0x1p-1074,  -0x1p-1074, 0x1p-1022, 0x1.fffffffffffffp1023, 1.0 / 3, 0.1, 1e22,
        1e23, 0x1p53, 0x1p53 + 2, 5e-324,     9.5e-7};
    struct random_source random;

    (void)state;
    print_message("seed %d\n", SEED);
    random_begin(&random, SEED, 0, 0);
    for (unsigned n_ports = 1; n_ports <= 2; n_ports++) {
        struct sweep s = make_sweep(n_ports, 500);
        size_t n_values = S_PARAMETERS * s.n_points;

        s.z0_ohm[0] = 50.000000000000007;
        s.z0_ohm[1] = 0.1;
        for (size_t i = 0; i < n_values; i++) {
            double re = any_double(&random), im = random_uniform(&random);

            if (i < sizeof edges / sizeof *edges) re = edges[i];
            s.s[i] = CMPLX(re, im);
        }
        for (size_t i = 0; i < s.n_points; i++)
            s.frequency_hz[i] = 1e6 * ((double)i + 1 / 3.0);
        s.frequency_hz[0] = 0;
        assert_reads_back(&s, n_ports == 1 ? "back.s1p" : "back.s2p");
        sweep_clear(&s);
    }
}

/* Reason: what a file cannot hold must be told, not written as something else. */
static void what_cannot_be_written_is_refused(void **state)
{
    struct sweep s = make_sweep(2, 2);
    struct text out = {0};
    struct error e = {0};

    (void)state;
    s.measured = S_BIT(S11) | S_BIT(S21);
    assert_false(touchstone_write(&s, NULL, &out, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "needs every parameter of its ports");
    s.measured = S_ALL;
    s.s[S_PARAMETERS + S12] = CMPLX(0, NAN);
    e = (struct error){0};
    assert_false(touchstone_write(&s, "comment", &out, &e));
    assert_holds(e.text, "S12 at 2000000 Hz is not a finite number");
    s.n_points = 0;
    e = (struct error){0};
    assert_false(touchstone_write(&s, NULL, &out, &e));
    assert_holds(e.text, "at least one point");
    assert_int_equal(out.length, 0);
    sweep_clear(&s);
    /* One port is not asked for the others. */
    s = make_sweep(1, 2);
    e = (struct error){0};
    assert_done(touchstone_write(&s, NULL, &out, &e), &e);
    text_clear(&out);
    sweep_clear(&s);
}

/* Reason: a full buffer must be an error and not a file that ends early. */
static void a_full_text_is_told(void **state)
{
    struct sweep s = make_sweep(2, 10);
    struct text out = {.ceiling = 300};
    struct error e = {0};

    (void)state;
    assert_false(touchstone_write(&s, NULL, &out, &e));
    assert_int_not_equal(e.kind, ERROR_NONE);
    text_clear(&out);
    sweep_clear(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_text_is_version_2),
        cmocka_unit_test(every_bit_reads_back),
        cmocka_unit_test(what_cannot_be_written_is_refused),
        cmocka_unit_test(a_full_text_is_told),
    };

    return cmocka_run_group_tests_name("touchstone_write", tests, NULL, NULL);
}
