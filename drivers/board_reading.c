#include "drivers/board_reading.h"

#include "drivers/board_build.h"
#include "drivers/random_source.h"

/* Far enough below the largest int64_t. */
#define LARGEST_STEPS 9e18

/* A whole number of steps, divided by the steps in one unit: the double nearest to that decimal. */
static double round_steps(double x, double steps_per_unit)
{
    double steps = x * steps_per_unit;

    if (!(steps > -LARGEST_STEPS && steps < LARGEST_STEPS)) return x;
    return (double)(int64_t)(steps < 0 ? steps - 0.5 : steps + 0.5) / steps_per_unit;
}

static void begin(struct random_source *source, uint64_t seed, unsigned long number, unsigned step,
                  unsigned kind)
{
    random_begin(source, seed, number, PURPOSE_READINGS + 2 * (uint64_t)step + kind);
}

void board_reading_sweep(struct sweep *sweep, uint64_t seed, unsigned long number, unsigned step)
{
    struct random_source source;

    begin(&source, seed, number, step, 0);
    for (size_t i = 0; i < S_PARAMETERS * sweep->n_points; i++) {
        double re = creal(sweep->s[i]), im = cimag(sweep->s[i]);
        double a = random_normal(&source), b = random_normal(&source);
        double noise_re = READING_NOISE * a, noise_im = READING_NOISE * b;

        if (i % S_PARAMETERS == S21) {
            noise_re = READING_GAIN_NOISE * (a * re - b * im);
            noise_im = READING_GAIN_NOISE * (a * im + b * re);
        }
        sweep->s[i] = round_steps(re + noise_re, READING_STEPS_PER_UNIT) +
                      round_steps(im + noise_im, READING_STEPS_PER_UNIT) * I;
    }
}

double board_reading_current_ma(double current_ma, uint64_t seed, unsigned long number,
                                unsigned step)
{
    struct random_source source;

    begin(&source, seed, number, step, 1);
    return round_steps(current_ma * (1 + READING_CURRENT_NOISE * random_normal(&source)),
                       READING_STEPS_PER_MA);
}
