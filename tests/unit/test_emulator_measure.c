/* What the emulated analyser sees: the model's board within the bench's own errors. */
#include "drivers/emulator_measure.h"

#include "drivers/base/memory.h"
#include "drivers/board_build.h"
#include "tests/emulator_check.h"

#define POINTS 41

static int start(void **state)
{
    static struct emulator bench;
    const struct emulator_settings settings = {.seed = 1};

    emulator_start(&bench, &settings);
    bench.analyser.settings[ANALYSER_START] = 150e6;
    bench.analyser.settings[ANALYSER_STOP] = 190e6;
    bench.a.rf_on = true;
    plug(&bench, "KW000101");
    *state = &bench;
    return 0;
}

static int end(void **state)
{
    emulator_clear(*state);
    return 0;
}

static void sweep(struct emulator *bench)
{
    struct error e = {0};

    assert_done(emulator_sweep(bench, POINTS, &e), &e);
    assert_int_equal(bench->a.last.n_points, POINTS);
}

/* The model at this bias, without any error. */
static void model(struct emulator *bench, double bias_v, struct sweep *out)
{
    struct error e = {0};

    assert_done(board_sweep(&bench->board, bias_v, bench->a.last.frequency_hz, POINTS, out, &e),
                &e);
}

/* The largest distance of a parameter between two sweeps, relative to the second for S21. */
static double distance(const struct sweep *a, const struct sweep *b, enum s_parameter p)
{
    double most = 0;

    for (size_t i = 0; i < POINTS; i++) {
        double d = cabs(sweep_s(a, i, p) - sweep_s(b, i, p));

        if (p == S21) d /= cabs(sweep_s(b, i, p));
        if (!(d <= most)) most = d;
    }
    return most;
}

/* Reason: the reading is the board at the bias that the supply gives now, off by directivity and
 * connector (0.005 at most together), gain by the connector (0.1 %), noise and drift (0.1 %); with
 * the output off it is the unbiased board, which is far from the biased one. */
static void follows_bias(void **state)
{
    struct emulator *bench = *state;
    struct sweep want = {0};

    assert_answer(&bench->supply, "VOLT 2.4;:OUTP 1\n", "");
    sweep(bench);
    model(bench, 2.4, &want);
    assert_true(distance(&bench->a.last, &want, S11) < 0.0055);
    assert_true(distance(&bench->a.last, &want, S21) < 0.002);
    assert_true(distance(&bench->a.last, &want, S11) > 1e-4);
    model(bench, 3.0, &want);
    assert_true(distance(&bench->a.last, &want, S21) > 0.02);
    assert_answer(&bench->supply, "OUTP 0\n", "");
    sweep(bench);
    assert_true(distance(&bench->a.last, &want, S21) > 0.3);
    model(bench, 0, &want);
    assert_true(distance(&bench->a.last, &want, S21) < 0.01);
    sweep_clear(&want);
}

/* Reason: two honest sweeps are never the same, yet differ by noise alone; averages make it less.
 */
static void noise(void **state)
{
    struct emulator *bench = *state;
    double d;

    sweep(bench);
    sweep(bench);
    d = distance(&bench->a.last, &bench->a.before, S11);
    for (size_t i = 0; i < POINTS; i++)
        assert_true(sweep_s(&bench->a.last, i, S11) != sweep_s(&bench->a.before, i, S11));
    assert_true(d > 2e-5);
    assert_true(d < 3e-4);
    bench->a.averaging = true;
    bench->analyser.settings[ANALYSER_AVERAGES] = 100;
    sweep(bench);
    sweep(bench);
    /* A tenth of the noise; the drift's step stays. */
    assert_true(distance(&bench->a.last, &bench->a.before, S11) < d / 1.5);
}

/* Reason: a connection has its own error, which stays while the board does; the same seed gives the
 * same bench, another one another. */
static void connections(void **state)
{
    struct emulator *bench = *state;
    struct sweep first = {0};
    struct error e = {0};
    const struct emulator_settings same = {.seed = 1};
    struct emulator other;

    sweep(bench);
    assert_done(sweep_copy(&first, &bench->a.last, &e), &e);
    sweep(bench);
    assert_true(distance(&bench->a.last, &first, S11) < 3e-4);
    plug(bench, "");
    plug(bench, "KW000101");
    sweep(bench);
    assert_true(distance(&bench->a.last, &first, S11) > 3e-4);
    assert_true(distance(&bench->a.last, &first, S11) < 0.005);
    emulator_start(&other, &same);
    other.analyser.settings[ANALYSER_START] = 150e6;
    other.analyser.settings[ANALYSER_STOP] = 190e6;
    other.a.rf_on = true;
    plug(&other, "KW000101");
    sweep(&other);
    assert_close(distance(&other.a.last, &first, S11), 0, 0);
    emulator_clear(&other);
    sweep_clear(&first);
}

/* Reason: what a bench must notice: no correction, no RF, no board. */
static void off_states(void **state)
{
    struct emulator *bench = *state;
    struct sweep want = {0};

    bench->a.correction = false;
    assert_answer(&bench->supply, "VOLT 2.4;:OUTP 1\n", "");
    sweep(bench);
    model(bench, 2.4, &want);
    assert_true(distance(&bench->a.last, &want, S11) > 0.03);
    assert_close(distance(&bench->a.last, &want, S21), 0.09, 0.005);
    bench->a.correction = true;
    plug(bench, "");
    sweep(bench);
    for (size_t i = 0; i < POINTS; i++) {
        assert_close(cabs(sweep_s(&bench->a.last, i, S11)), 1, 0.01);
        assert_true(cabs(sweep_s(&bench->a.last, i, S21)) < 1e-5);
    }
    bench->a.rf_on = false;
    sweep(bench);
    sweep(bench);
    assert_true(distance(&bench->a.last, &bench->a.before, S11) > 0.2);
    sweep_clear(&want);
}

/* Reason: drift is slow and bounded: a thousand sweeps stay within a few times its spread,
 * 1e-5/sqrt(1 - 0.995^2) = 1e-4. */
static void drifts(void **state)
{
    struct emulator *bench = *state;
    struct error e = {0};
    double most = 0;

    for (unsigned i = 0; i < 1000; i++) {
        assert_done(emulator_sweep(bench, 2, &e), &e);
        most = fmax(most, fabs(bench->a.drift[0]));
    }
    assert_true(most > 5e-5);
    assert_true(most < 6e-4);
}

/* Reason: readings of the meter, noise and resolution. */
static void meter(void **state)
{
    struct emulator *bench = *state;
    double sum = 0;

    bench->s.output_v = 2.4;
    bench->s.output_a = 0.01;
    for (unsigned i = 0; i < 1000; i++) {
        const double v = emulator_read_v(bench), a = emulator_read_a(bench);

        assert_close(v * 1e4, round(v * 1e4), 1e-6);
        assert_close(a * 1e6, round(a * 1e6), 1e-6);
        assert_close(v, 2.4, 1.3e-3);
        sum += a;
    }
    assert_close(sum / 1000, 0.01, 1e-6);
}

/* Reason: no memory leaves the bench as it was. */
static void no_memory(void **state)
{
    struct emulator *bench = *state;
    struct error e = {0};
    unsigned long nth = 1;

    for (memory_fail_at(nth); !emulator_sweep(bench, POINTS, &e); memory_fail_at(++nth)) {
        memory_fail_at(0);
        assert_int_equal(e.kind, ERROR_MEMORY);
        assert_int_equal(bench->a.last.n_points, 0);
        e = (struct error){0};
    }
    memory_fail_at(0);
    assert_true(nth >= 3);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, start, end)

int main(void)
{
    const struct CMUnitTest tests[] = {TEST(follows_bias), TEST(noise),  TEST(connections),
                                       TEST(off_states),   TEST(drifts), TEST(meter),
                                       TEST(no_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
