/* Complex S-parameters over rising frequency, with a reference impedance for each port.
 *
 * Plain data. Born `= {0}`, ended by sweep_clear(). The arrays are reused when a sweep is filled
 * again, so that reading an archive does not allocate for each file. Values may be NaN; nothing is
 * ever silently removed or patched. */
#ifndef GAINSIEVE_SWEEP_H
#define GAINSIEVE_SWEEP_H

#include <complex.h>
#include <stddef.h>

#include "drivers/base/error.h"

/* clang 14 does not take the C library's definition. */
#ifndef CMPLX
#define CMPLX(re, im) __builtin_complex((double)(re), (double)(im))
#endif

/* A parameter of a two-port by its place in `s`: row-major S11, S12, S21, S22. */
enum s_parameter { S11 = 0, S12 = 1, S21 = 2, S22 = 3, S_PARAMETERS = 4 };

/* A set of parameters: bit `1u << S21` and so on. */
#define S_BIT(parameter) (1u << (parameter))
#define S_ALL (S_BIT(S11) | S_BIT(S12) | S_BIT(S21) | S_BIT(S22))

struct sweep {
    size_t n_points;
    unsigned n_ports;  /* 1 or 2 */
    unsigned measured; /* which parameters were: a set of S_BIT() */
    double z0_ohm[2];  /* reference impedance of each port, positive; both set, even for one port */
    double *frequency_hz; /* n_points, finite, not negative, strictly rising */
    double complex *s;    /* S_PARAMETERS values a point: s[S_PARAMETERS * point + S21]; what
                             was not measured is NaN */
    size_t capacity;      /* points that the arrays have room for */
};

/* Makes room for `n_points` in both arrays, keeping what is there. */
bool sweep_reserve(struct sweep *sweep, size_t n_points, struct error *e) MUST_CHECK;

/* Empties the sweep but keeps its memory. */
void sweep_reset(struct sweep *sweep);

/* Frees and zeroes; harmless on zero and twice. */
void sweep_clear(struct sweep *sweep);

/* Copies `from` into `to`, which keeps its memory. */
bool sweep_copy(struct sweep *to, const struct sweep *from, struct error *e) MUST_CHECK;

static inline double complex sweep_s(const struct sweep *sweep, size_t point,
                                     enum s_parameter parameter)
{
    return sweep->s[S_PARAMETERS * point + parameter];
}

/* "S11", "S12", "S21", "S22". */
const char *s_parameter_name(enum s_parameter parameter);

#endif
