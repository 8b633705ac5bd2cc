/* What errors of the excitations do to an array: closed forms, and the formulas for what is to be
 * expected against direct sums of many random arrays. */
#include <complex.h>
#include <time.h>

#include "tests/check.h"

#include "drivers/random_source.h"
#include "drivers/sweep.h"
#include "limits/array_errors.h"

#define MOST 256

static const double pi = 3.14159265358979323846;

static double complex polar(double size, double phase_rad)
{
    return CMPLX(size * cos(phase_rad), size * sin(phase_rad));
}

static void all_alike(double complex *a, size_t n)
{
    for (size_t i = 0; i < n; i++)
        a[i] = polar(0.7, 0.3);
}

/* The seed of this run, in words; each random test begins from it. */
static uint64_t seed_now(const char *test)
{
    const uint64_t seed = (uint64_t)time(NULL);

    print_message("%s: seed %llu\n", test, (unsigned long long)seed);
    return seed;
}

/* Reason: without errors nothing is lost, at any level and phase that all have. The first side lobe
 * of many elements is that of sin(x)/x, -13.26 dB (textbook figure, from memory; sin(x)/x at x =
 * 4.493409, the first root of tan(x) = x, gives 0.217234). */
static void uniform_array(void **state)
{
    struct linear_array array = {MOST, 0.5, 0};
    double complex a[MOST];
    struct array_exact got;

    (void)state;
    all_alike(a, MOST);
    assert_true(array_sum(&got, &array, a));
    assert_close(got.gain_loss_db, 0, 1e-9);
    assert_close(got.peak_loss_db, 0, 1e-9);
    assert_close(got.pointing_deg, 0, 1e-6);
    assert_close(got.side_lobe_db, -13.26, 0.005);
    assert_close(got.side_lobe_db, 20 * log10(0.217234), 5e-3);
    assert_close(fabs(got.side_lobe_deg), asin(4.493409 / (pi * MOST * 0.5)) * 180 / pi, 1e-3);
    assert_false(got.has_grating_lobe);
}

/* Reason: small arrays have closed forms. Four elements: |cos(x/2) cos(x)| with x = 2 pi d u has
 * its side lobe where cos(x/2)^2 = 1/6, of height 0.272166 (calculus by hand): -11.30 dB. Two
 * elements half a wavelength apart have none. */
static void few_elements(void **state)
{
    struct linear_array array = {4, 0.5, 0};
    double complex a[4];
    struct array_exact got;

    (void)state;
    all_alike(a, 4);
    assert_true(array_sum(&got, &array, a));
    assert_close(got.side_lobe_db, 20 * log10(2 / sqrt(6) * 2 / 3 / 2), 1e-6);
    assert_close(fabs(got.side_lobe_deg), asin(2 * acos(sqrt(1.0 / 6)) / pi) * 180 / pi, 1e-4);
    array.n = 2;
    assert_true(array_sum(&got, &array, a));
    assert_true(isinf(got.side_lobe_db) && got.side_lobe_db < 0);
    assert_true(isnan(got.side_lobe_deg));
    assert_close(cabs(array_factor(&array, a, 0)), 1.4, 1e-12);
    assert_close(cabs(array_factor(&array, a, 1)), 0, 1e-12);
}

/* Reason: two elements with phase error 2 p lose cos(p)^2 in the wanted direction, nothing at the
 * peak, which moves to where the path makes up for the phase: sin = -2 p / (2 pi d). Unequal ones
 * lose 4 r / (1 + r)^2... of half: (1 + r)^2 / (2 (1 + r^2)). Closed forms by hand. */
static void two_elements(void **state)
{
    const struct linear_array array = {2, 0.5, 0};

    (void)state;
    for (double p = 0.05; p < 0.7; p += 0.1) {
        const double complex a[2] = {polar(1, -p), polar(1, p)};
        const double complex unequal[2] = {1, 1 + p};
        struct array_exact got;

        assert_true(array_sum(&got, &array, a));
        assert_close(got.gain_loss_db, -20 * log10(cos(p)), 1e-9);
        assert_close(got.peak_loss_db, 0, 1e-9);
        assert_close(got.pointing_deg, asin(-2 * p / pi) * 180 / pi, 1e-5);
        assert_true(array_sum(&got, &array, unequal));
        assert_close(got.gain_loss_db,
                     -10 * log10((2 + p) * (2 + p) / (2 * (1 + (1 + p) * (1 + p)))), 1e-9);
    }
}

/* Reason: a phase that rises evenly from element to element only turns the beam: known direction,
 * all gain at the peak, side lobes as before; steered arrays likewise. */
static void turned_beam(void **state)
{
    double complex a[16];

    (void)state;
    for (double beam_deg = -40; beam_deg <= 40; beam_deg += 20) {
        const struct linear_array array = {16, 0.5, beam_deg};
        const double step = 0.1, u = sin(beam_deg * pi / 180);
        struct array_exact got, alike;

        all_alike(a, 16);
        assert_true(array_sum(&alike, &array, a));
        for (size_t i = 0; i < 16; i++)
            a[i] = polar(1, step * (double)i);
        assert_true(array_sum(&got, &array, a));
        assert_close(got.peak_loss_db, 0, 1e-9);
        assert_close(got.pointing_deg, asin(u - step / pi) * 180 / pi - beam_deg, 1e-5);
        assert_close(got.side_lobe_db, alike.side_lobe_db, 1e-6);
        /* Array factor of N elements, textbook: sin(N x / 2) / (N sin(x / 2)). */
        assert_close(got.gain_loss_db, -20 * log10(sin(0.8) / (16 * sin(0.05))), 1e-9);
    }
}

/* Reason: the highest side lobe must be found wherever it is, also where only a part of a period of
 * the pattern is visible and where main beams repeat. Against a fine comb of array_factor(). */
static void side_lobe_against_comb(void **state)
{
    static const double spacings[] = {0.3, 0.45, 0.5, 0.6, 0.9, 1.4};
    struct random_source source;
    double complex a[8];

    (void)state;
    random_begin(&source, seed_now("side_lobe_against_comb"), 1, 1);
    for (size_t run = 0; run < 120; run++) {
        const struct linear_array array = {8, spacings[run % 6],
                                           -60 + 120 * random_uniform(&source)};
        const double u0 = sin(array.beam_deg * pi / 180), null = 1 / (8 * array.spacing_wl);
        double side = 0, peak = 0;
        struct array_exact got;

        for (size_t i = 0; i < 8; i++)
            a[i] = polar(1 + 0.1 * random_normal(&source), 0.2 * random_normal(&source));
        assert_true(array_sum(&got, &array, a));
        for (int k = -20000; k <= 20000; k++) {
            const double u = k / 20000.0, size = cabs(array_factor(&array, a, u));
            const double off = fabs(remainder(u - u0, 1 / array.spacing_wl));

            if (fabs(u - u0) <= null && size > peak) peak = size;
            /* A hair inside the null, where a falling skirt would be taken for a lobe. */
            if (off > null && size > side &&
                (fabs(u) >= 1 || (size >= cabs(array_factor(&array, a, u - 5e-5)) &&
                                  size >= cabs(array_factor(&array, a, u + 5e-5)))))
                side = size;
        }
        assert_close(got.side_lobe_db, 20 * log10(side / peak), 1e-3);
    }
}

/* Reason: wide spacings show main beams twice, which must be told and not be called side lobes. */
static void grating_lobes(void **state)
{
    struct linear_array array = {8, 1.0, 0};
    double complex a[8];
    struct array_exact got;

    (void)state;
    all_alike(a, 8);
    assert_true(array_sum(&got, &array, a));
    assert_true(got.has_grating_lobe);
    assert_true(got.side_lobe_db < -12);
    array.spacing_wl = 0.6;
    assert_true(array_sum(&got, &array, a));
    assert_false(got.has_grating_lobe);
    array.beam_deg = 50; /* 1 / 0.6 - sin(50) = 0.90 < 1 */
    assert_true(array_sum(&got, &array, a));
    assert_true(got.has_grating_lobe);
}

/* Reason: the spread of four known excitations, by hand; a common factor changes nothing, also one
 * that puts the phases across 180 degrees. */
static void spread_by_hand(void **state)
{
    struct excitation_spread spread;

    (void)state;
    for (double turn = 0; turn < 6.5; turn += 0.5) {
        const double complex a[4] = {polar(0.9, turn + 0.1), polar(1.1, turn - 0.1),
                                     polar(0.9, turn - 0.1), polar(1.1, turn + 0.1)};

        assert_true(excitation_spread_of(&spread, a, 4));
        assert_close(spread.amplitude, sqrt(0.04 / 3), 1e-12);
        assert_close(spread.phase_rad, sqrt(0.04 / 3), 1e-12);
        assert_close(spread.amplitude_ratio, 11.0 / 9, 1e-12);
        assert_close(spread.half_range_rad, 0.1, 1e-12);
        assert_close(spread.mean_error,
                     (cabs(0.9 * cexp(CMPLX(0, 0.1)) / cos(0.1) - 1) +
                      cabs(1.1 * cexp(CMPLX(0, 0.1)) / cos(0.1) - 1)) /
                         2,
                     1e-12);
    }
}

/* Reason: what is no array and what has no mean must be refused with nothing that looks like a
 * figure. */
static void refused(void **state)
{
    const struct linear_array good = {2, 0.5, 0};
    const struct linear_array bad[] = {{1, 0.5, 0},   {2, 0, 0},    {2, NAN, 0},   {2, 0.5, 90},
                                       {2, 0.5, NAN}, {2, 16.5, 0}, {1025, 0.5, 0}};
    const double complex opposed[2] = {1, -1}, zero[2] = {0, 0}, none[2] = {1, CMPLX(NAN, 0)};
    struct excitation_spread spread = {0.1, 0.1, 1.2, 0.1, 0.1};
    struct array_expectation expected;
    struct array_exact got;

    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_false(array_expect(&expected, &bad[i], &spread));
        assert_true(isnan(expected.gain_loss_db));
        assert_false(array_sum(&got, &bad[i], opposed));
        assert_true(isnan(got.gain_loss_db));
    }
    assert_false(array_sum(&got, &good, zero));
    assert_false(array_sum(&got, &good, none));
    assert_false(excitation_spread_of(&spread, opposed, 2));
    assert_true(isnan(spread.amplitude));
    assert_false(excitation_spread_of(&spread, none, 2));
    assert_false(excitation_spread_of(&spread, zero, 2));
    assert_false(excitation_spread_of(&spread, opposed, 1));
    assert_false(array_expect(&expected, &good, &spread));
    /* Opposed excitations are an array all the same, whose beam is gone. */
    assert_true(array_sum(&got, &good, opposed));
    assert_true(got.gain_loss_db > 200);
}

/* Mean and its own deviation, piece by piece. */
struct sums {
    double n, sum, squares;
};

static void add(struct sums *s, double x)
{
    s->n++;
    s->sum += x;
    s->squares += x * x;
}

static double mean_of(const struct sums *s)
{
    return s->sum / s->n;
}

static double error_of(const struct sums *s)
{
    const double mean = mean_of(s);

    return sqrt((s->squares / s->n - mean * mean) / s->n);
}

/* What a simulation of many arrays found. */
struct simulated {
    struct sums efficiency; /* in the steered direction */
    struct sums pointing;   /* deg squared */
    struct sums lost;       /* power there over that of the peak */
    struct sums side, beam; /* power in the direction of the ideal side lobe and of the beam */
};

/* Adds up `runs` arrays with these standard deviations. */
static void simulate(struct simulated *out, const struct linear_array *array, double amplitude,
                     double phase_rad, double side_deg, struct random_source *source)
{
    const double side_u = sin(side_deg * pi / 180), beam_u = sin(array->beam_deg * pi / 180);
    double complex a[32];

    for (size_t run = 0; run < 1500; run++) {
        struct array_exact got;

        for (size_t i = 0; i < array->n; i++)
            a[i] = polar(1 + amplitude * random_normal(source), phase_rad * random_normal(source));
        assert_true(array_sum(&got, array, a));
        add(&out->efficiency, pow(10, -got.gain_loss_db / 10));
        add(&out->pointing, got.pointing_deg * got.pointing_deg);
        add(&out->lost, pow(10, (got.peak_loss_db - got.gain_loss_db) / 10));
        add(&out->side, pow(cabs(array_factor(array, a, side_u)), 2));
        add(&out->beam, pow(cabs(array_factor(array, a, beam_u)), 2));
    }
}

/* Fails unless each expectation is within four and a half statistical errors and what its formula
 * neglects: `second`, the square of the errors, or its square. */
static void compare(const struct simulated *got, const struct array_expectation *want, size_t n,
                    double second)
{
    const double ratio = mean_of(&got->side) / mean_of(&got->beam);

    print_message(
        "N %zu: loss %.4f dB, simulated %.4f; pointing %.4f deg, simulated %.4f; side lobe "
        "%.3f dB, simulated %.3f\n",
        n, want->gain_loss_db, -10 * log10(mean_of(&got->efficiency)), want->pointing_deviation_deg,
        sqrt(mean_of(&got->pointing)), want->side_lobe_db, 10 * log10(ratio));
    assert_close(mean_of(&got->efficiency), pow(10, -want->gain_loss_db / 10),
                 4.5 * error_of(&got->efficiency) + second * second);
    assert_close(mean_of(&got->lost), pow(10, -want->pointing_loss_db / 10),
                 4.5 * error_of(&got->lost) + second * second / (double)n);
    assert_close(sqrt(mean_of(&got->pointing)) / want->pointing_deviation_deg, 1,
                 4.5 * error_of(&got->pointing) / mean_of(&got->pointing) / 2 + second);
    /* A ratio of means, as the formula is. */
    assert_close(ratio, pow(10, want->side_lobe_db / 10),
                 4.5 * (error_of(&got->side) + ratio * error_of(&got->beam)) / mean_of(&got->beam));
}

/* Reason: what is to be expected must come true on average over arrays that the direct sum
 * computes. */
static void expectation_against_simulation(void **state)
{
    static const struct {
        struct linear_array array;
        double amplitude, phase_rad;
    } table[] = {{{4, 0.5, 0}, 0.05, 0.05},
                 {{8, 0.5, 0}, 0.05, 0.1},
                 {{16, 0.6, 20}, 0.1, 0.1},
                 {{32, 0.5, -35}, 0.02, 0.2}};
    struct random_source source;
    double complex a[32];

    (void)state;
    random_begin(&source, seed_now("expectation_against_simulation"), 1, 1);
    for (size_t row = 0; row < sizeof table / sizeof *table; row++) {
        const struct linear_array *array = &table[row].array;
        const double amplitude = table[row].amplitude, phase = table[row].phase_rad;
        const struct excitation_spread spread = {amplitude, phase, 1, 0, 0};
        struct simulated got = {0};
        struct array_expectation expected;
        struct array_exact alike;

        assert_true(array_expect(&expected, array, &spread));
        all_alike(a, array->n);
        assert_true(array_sum(&alike, array, a));
        assert_close(expected.ideal_side_lobe_db, alike.side_lobe_db, 1e-6);
        simulate(&got, array, amplitude, phase, alike.side_lobe_deg, &source);
        compare(&got, &expected, array->n, amplitude * amplitude + phase * phase);
    }
}

/* Reason: no set of whatever order may be worse than the worst that is told for it. Pointing is of
 * the first order: one part in ten more is allowed for phases within 0.2 rad. */
static void worst_is_never_passed(void **state)
{
    struct random_source source;
    double complex a[12];

    (void)state;
    random_begin(&source, seed_now("worst_is_never_passed"), 1, 1);
    for (size_t run = 0; run < 1500; run++) {
        const struct linear_array array = {2 + run % 11, 0.4 + 0.3 * random_uniform(&source),
                                           -30 + 60 * random_uniform(&source)};
        const double spread_db = 0.3 * random_uniform(&source);
        struct excitation_spread spread;
        struct array_expectation expected;
        struct array_exact got;

        for (size_t i = 0; i < array.n; i++) /* half of the runs with phases at two ends */
            a[i] = polar(1 + spread_db * (random_uniform(&source) - 0.5),
                         run % 2 ? 0.2 * (2 * random_uniform(&source) - 1)
                                 : (i < array.n / 2 ? 0.2 : -0.2));
        assert_true(excitation_spread_of(&spread, a, array.n));
        assert_true(array_expect(&expected, &array, &spread));
        assert_true(array_sum(&got, &array, a));
        assert_true(got.gain_loss_db <= expected.worst_gain_loss_db + 1e-9);
        assert_true(got.side_lobe_db <= expected.worst_side_lobe_db + 1e-9);
        assert_true(fabs(got.pointing_deg) <= 1.1 * expected.worst_pointing_deg);
    }
}

/* Reason: the worst must also be possible: half of the elements at each end of the phases lose
 * cos^2, and the halves side by side turn the beam as told. */
static void worst_is_reached(void **state)
{
    const struct linear_array array = {8, 0.5, 0};
    struct excitation_spread spread;
    struct array_expectation expected;
    struct array_exact got;
    double complex a[8];

    (void)state;
    for (size_t i = 0; i < 8; i++)
        a[i] = polar(1, i < 4 ? 0.02 : -0.02);
    assert_true(excitation_spread_of(&spread, a, 8));
    assert_true(array_expect(&expected, &array, &spread));
    assert_true(array_sum(&got, &array, a));
    assert_close(got.gain_loss_db, -20 * log10(cos(0.02)), 1e-9);
    assert_close(expected.worst_gain_loss_db, got.gain_loss_db, 1e-9);
    assert_close(got.pointing_deg / expected.worst_pointing_deg, 1, 1e-3);
    spread.half_range_rad = 1.6;
    assert_true(array_expect(&expected, &array, &spread));
    assert_true(isinf(expected.worst_gain_loss_db));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uniform_array),
        cmocka_unit_test(few_elements),
        cmocka_unit_test(two_elements),
        cmocka_unit_test(turned_beam),
        cmocka_unit_test(side_lobe_against_comb),
        cmocka_unit_test(grating_lobes),
        cmocka_unit_test(spread_by_hand),
        cmocka_unit_test(refused),
        cmocka_unit_test(expectation_against_simulation),
        cmocka_unit_test(worst_is_never_passed),
        cmocka_unit_test(worst_is_reached),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
