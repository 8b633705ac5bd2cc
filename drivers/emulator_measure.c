#include "drivers/emulator_measure.h"

#include <math.h>

#include "drivers/base/memory.h"
#include "drivers/random_source.h"

/* Random sequences of their own; board_build.h has those below. */
enum { PURPOSE_CONNECTOR = 1000, PURPOSE_SWEEP, PURPOSE_METER, PURPOSE_DIRECTIVITY };

/* Readings are rounded to what a receiver resolves, which also keeps their digits few. */
#define STEPS_PER_UNIT 1e9
#define TURN_HZ 400e6

static double complex any_direction(struct random_source *source)
{
    double complex z;

    do
        z = CMPLX(2 * random_uniform(source) - 1, 2 * random_uniform(source) - 1);
    while (cabs(z) > 1);
    return z;
}

static double complex normal(struct random_source *source)
{
    const double re = random_normal(source);

    return CMPLX(re, random_normal(source));
}

/* The bench's own errors that stay from sweep to sweep. */
struct errors {
    double complex directivity, connector_reflection, connector_gain;
    double reflection_noise, gain_noise, tracking;
};

static struct errors find_errors(const struct emulator *bench)
{
    const double *set = bench->analyser.settings;
    const double averages = bench->a.averaging ? set[ANALYSER_AVERAGES] : 1;
    const double quiet = sqrt(set[ANALYSER_IFBW] / 1e3 / averages);
    const bool corrected = bench->a.correction;
    struct random_source source;
    struct errors errors;
    double complex direction;

    random_begin(&source, bench->settings.seed, 0, PURPOSE_DIRECTIVITY);
    direction = any_direction(&source);
    errors.directivity =
        direction / cabs(direction) * (corrected ? EMULATOR_DIRECTIVITY : EMULATOR_RAW_DIRECTIVITY);
    errors.tracking = corrected ? 1 : EMULATOR_RAW_TRACKING;
    random_begin(&source, bench->settings.seed, bench->n_connections, PURPOSE_CONNECTOR);
    errors.connector_reflection = EMULATOR_CONNECTOR_REFLECTION * any_direction(&source);
    errors.connector_gain = 1 + EMULATOR_CONNECTOR_GAIN * any_direction(&source);
    errors.reflection_noise = EMULATOR_NOISE * quiet;
    errors.gain_noise = EMULATOR_GAIN_NOISE * quiet;
    return errors;
}

static double rounded(double x, double steps_per_unit)
{
    return round(x * steps_per_unit) / steps_per_unit;
}

static void drift(struct emulator *bench, struct random_source *source)
{
    for (unsigned k = 0; k < 2; k++)
        bench->a.drift[k] =
            EMULATOR_DRIFT_KEPT * bench->a.drift[k] + EMULATOR_DRIFT_STEP * random_normal(source);
}

static void add_errors(const struct emulator *bench, const struct errors *errors, double hz,
                       double complex s[S_PARAMETERS], struct random_source *source)
{
    const double turn = 6.283185307179586 * hz / TURN_HZ;
    const double complex standing =
        errors->directivity * CMPLX(cos(turn), -sin(turn)) + bench->a.drift[1];
    const double complex through =
        errors->connector_gain * (1 + bench->a.drift[0]) * errors->tracking;

    s[S11] += standing + (bench->connected ? errors->connector_reflection : 0);
    s[S22] += standing;
    s[S21] *= through;
    s[S12] *= through;
    for (unsigned p = 0; p < S_PARAMETERS; p++) {
        const bool is_through = p == S21 || p == S12;
        const double complex noise = normal(source);

        s[p] += is_through ? errors->gain_noise * noise * s[p] + 1e-7 * normal(source)
                           : errors->reflection_noise * noise;
        /* Both receivers see nothing but themselves: a ratio of two noises. */
        if (!bench->a.rf_on) s[p] = 0.5 * noise;
        s[p] = CMPLX(rounded(creal(s[p]), STEPS_PER_UNIT), rounded(cimag(s[p]), STEPS_PER_UNIT));
    }
}

void emulator_axis(const struct emulator *bench, size_t n, double *frequency_hz)
{
    const double start = bench->analyser.settings[ANALYSER_START];
    const double span = bench->analyser.settings[ANALYSER_STOP] - start;

    for (size_t i = 0; i < n; i++)
        frequency_hz[i] = start + span * (double)i / (double)(n - 1);
}

/* The board alone, or two open ports. */
static bool look(struct emulator *bench, size_t n, struct sweep *out, struct error *e)
{
    double *hz = memory_make(n, sizeof *hz, e);
    bool ok;

    if (!hz) return false;
    emulator_axis(bench, n, hz);
    if (bench->connected) {
        ok = board_sweep(&bench->board, bench->s.output_v, hz, n, out, e);
    } else {
        sweep_reset(out);
        ok = sweep_reserve(out, n, e);
        for (size_t i = 0; ok && i < n; i++) {
            out->frequency_hz[i] = hz[i];
            for (unsigned p = 0; p < S_PARAMETERS; p++)
                out->s[S_PARAMETERS * i + p] = p == S11 || p == S22 ? 1 : 0;
        }
        if (ok) out->n_points = n;
    }
    memory_free(hz);
    return ok;
}

bool emulator_sweep(struct emulator *bench, size_t n, struct error *e)
{
    const struct errors errors = find_errors(bench);
    struct random_source source;
    struct sweep kept;

    if (!look(bench, n, &bench->a.before, e)) return false;
    random_begin(&source, bench->settings.seed, bench->a.n_sweeps++, PURPOSE_SWEEP);
    drift(bench, &source);
    for (size_t i = 0; i < n; i++)
        add_errors(bench, &errors, bench->a.before.frequency_hz[i],
                   &bench->a.before.s[S_PARAMETERS * i], &source);
    kept = bench->a.before;
    bench->a.before = bench->a.last;
    bench->a.last = kept;
    return true;
}

static double meter_noise(struct emulator *bench)
{
    struct random_source source;

    random_begin(&source, bench->settings.seed, bench->s.n_readings++, PURPOSE_METER);
    return random_normal(&source);
}

double emulator_read_v(struct emulator *bench)
{
    return rounded(bench->s.output_v + 2e-4 * meter_noise(bench), 1e4);
}

double emulator_read_a(struct emulator *bench)
{
    return rounded(bench->s.output_a * (1 + 5e-4 * meter_noise(bench)) + 5e-7 * meter_noise(bench),
                   1e6);
}
