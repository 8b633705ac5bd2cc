#include "drivers/network.h"

#include <math.h>

/* Two-by-two matrices, row-major. For one port the matrix is diag(m, 1), so that the same algebra
 * serves; only element 11 is used then. */

static double complex determinant(const double complex m[S_PARAMETERS])
{
    return m[S11] * m[S22] - m[S12] * m[S21];
}

static bool is_usable(double complex divisor)
{
    double size = cabs(divisor);

    return isfinite(size) && size > 0;
}

/* out = a b^-1; false when b is singular. */
static bool right_divide(const double complex a[S_PARAMETERS], const double complex b[S_PARAMETERS],
                         double complex out[S_PARAMETERS])
{
    double complex d = determinant(b);
    double complex made[S_PARAMETERS] = {
        a[S11] * b[S22] - a[S12] * b[S21],
        a[S12] * b[S11] - a[S11] * b[S12],
        a[S21] * b[S22] - a[S22] * b[S21],
        a[S22] * b[S11] - a[S21] * b[S12],
    };

    if (!is_usable(d)) return false;
    for (size_t i = 0; i < S_PARAMETERS; i++)
        out[i] = made[i] / d;
    return true;
}

/* S = (z - 1)(z + 1)^-1 with z = R^-1/2 Z R^-1/2. */
static bool z_to_s(const double z0_ohm[2], double complex m[S_PARAMETERS])
{
    double cross = sqrt(z0_ohm[0] * z0_ohm[1]);
    double complex z[S_PARAMETERS] = {m[S11] / z0_ohm[0], m[S12] / cross, m[S21] / cross,
                                      m[S22] / z0_ohm[1]};
    double complex less[S_PARAMETERS] = {z[S11] - 1, z[S12], z[S21], z[S22] - 1};
    double complex more[S_PARAMETERS] = {z[S11] + 1, z[S12], z[S21], z[S22] + 1};

    return right_divide(less, more, m);
}

/* S = (1 - y)(1 + y)^-1 with y = R^1/2 Y R^1/2. */
static bool y_to_s(const double z0_ohm[2], double complex m[S_PARAMETERS])
{
    double cross = sqrt(z0_ohm[0] * z0_ohm[1]);
    double complex y[S_PARAMETERS] = {m[S11] * z0_ohm[0], m[S12] * cross, m[S21] * cross,
                                      m[S22] * z0_ohm[1]};
    double complex less[S_PARAMETERS] = {1 - y[S11], -y[S12], -y[S21], 1 - y[S22]};
    double complex more[S_PARAMETERS] = {1 + y[S11], y[S12], y[S21], 1 + y[S22]};

    return right_divide(less, more, m);
}

/* V1 = h11 I1 + h12 V2, I2 = h21 I1 + h22 V2, with V = sqrt R (a + b), I = (a - b) / sqrt R, solved
 * for b: with h made dimensionless, D = (h11 + 1)(h22 + 1) - h12 h21,
 * S11 = ((h11 - 1)(h22 + 1) - h12 h21) / D, S12 = 2 h12 / D, S21 = -2 h21 / D,
 * S22 = ((1 + h11)(1 - h22) + h12 h21) / D (derived here; the test checks it against Z). */
static bool h_to_s(const double z0_ohm[2], double complex m[S_PARAMETERS])
{
    double ratio = sqrt(z0_ohm[1] / z0_ohm[0]);
    double complex h11 = m[S11] / z0_ohm[0], h12 = m[S12] * ratio, h21 = m[S21] * ratio;
    double complex h22 = m[S22] * z0_ohm[1];
    double complex d = (h11 + 1) * (h22 + 1) - h12 * h21;

    if (!is_usable(d)) return false;
    m[S11] = ((h11 - 1) * (h22 + 1) - h12 * h21) / d;
    m[S12] = 2 * h12 / d;
    m[S21] = -2 * h21 / d;
    m[S22] = ((1 + h11) * (1 - h22) + h12 * h21) / d;
    return true;
}

/* I1 = g11 V1 + g12 I2, V2 = g21 V1 + g22 I2: the H form with both ports' V and I exchanged, so the
 * reflections change sign with respect to h_to_s(). */
static bool g_to_s(const double z0_ohm[2], double complex m[S_PARAMETERS])
{
    double ratio = sqrt(z0_ohm[0] / z0_ohm[1]);
    double complex g11 = m[S11] * z0_ohm[0], g12 = m[S12] * ratio, g21 = m[S21] * ratio;
    double complex g22 = m[S22] / z0_ohm[1];
    double complex d = (g11 + 1) * (g22 + 1) - g12 * g21;

    if (!is_usable(d)) return false;
    m[S11] = ((1 - g11) * (g22 + 1) + g12 * g21) / d;
    m[S12] = -2 * g12 / d;
    m[S21] = 2 * g21 / d;
    m[S22] = ((1 + g11) * (g22 - 1) - g12 * g21) / d;
    return true;
}

bool network_to_s(enum network_kind kind, unsigned n_ports, const double z0_ohm[2],
                  double complex m[S_PARAMETERS])
{
    double complex made[S_PARAMETERS] = {m[S11], 0, 0, 1};
    bool ok = true;

    for (size_t i = S12; n_ports == 2 && i < S_PARAMETERS; i++)
        made[i] = m[i];
    switch (kind) {
    case NETWORK_S: break;
    case NETWORK_Y: ok = y_to_s(z0_ohm, made); break;
    case NETWORK_Z: ok = z_to_s(z0_ohm, made); break;
    case NETWORK_G: ok = n_ports == 2 && g_to_s(z0_ohm, made); break;
    case NETWORK_H: ok = n_ports == 2 && h_to_s(z0_ohm, made); break;
    }
    if (!ok) return false;
    for (size_t i = 0; i < (n_ports == 2 ? S_PARAMETERS : 1); i++)
        m[i] = made[i];
    return true;
}

/* From S at R to S' at R': with r = (R' - R) / (R' + R) at each port and
 * A = diag(2 sqrt(R R') / (R + R')), S' = A^-1 (S - r)(1 - r S)^-1 A. It needs no impedance matrix,
 * which a through connection does not have. (Derived from the definition of the waves; checked by
 * computed vectors and against Z.) */
static bool renormalise_point(unsigned n_ports, const double r[2], const double a[2],
                              double complex s[S_PARAMETERS])
{
    double complex less[S_PARAMETERS] = {s[S11] - r[0], 0, 0, 1};
    double complex more[S_PARAMETERS] = {1 - r[0] * s[S11], 0, 0, 1};

    if (n_ports == 2) {
        less[S12] = s[S12];
        less[S21] = s[S21];
        less[S22] = s[S22] - r[1];
        more[S12] = -r[0] * s[S12];
        more[S21] = -r[1] * s[S21];
        more[S22] = 1 - r[1] * s[S22];
    }
    if (!right_divide(less, more, less)) return false;
    s[S11] = less[S11];
    if (n_ports == 1) return true;
    s[S12] = less[S12] * a[1] / a[0];
    s[S21] = less[S21] * a[0] / a[1];
    s[S22] = less[S22];
    return true;
}

bool network_renormalise(struct sweep *sweep, double z0_ohm, struct error *e)
{
    unsigned needs = sweep->n_ports == 1 ? S_BIT(S11) : S_ALL;
    double r[2], a[2];

    if (sweep->z0_ohm[0] == z0_ohm && (sweep->n_ports == 1 || sweep->z0_ohm[1] == z0_ohm)) {
        sweep->z0_ohm[1] = z0_ohm;
        return true;
    }
    if ((sweep->measured & needs) != needs)
        return error_set(e, ERROR_INPUT,
                         "measured at %g ohm and needed at %g ohm, which takes all four parameters",
                         sweep->z0_ohm[0], z0_ohm);
    for (size_t i = 0; i < 2; i++) {
        r[i] = (z0_ohm - sweep->z0_ohm[i]) / (z0_ohm + sweep->z0_ohm[i]);
        a[i] = 2 * sqrt(z0_ohm * sweep->z0_ohm[i]) / (z0_ohm + sweep->z0_ohm[i]);
    }
    for (size_t i = 0; i < sweep->n_points; i++) {
        if (renormalise_point(sweep->n_ports, r, a, &sweep->s[S_PARAMETERS * i])) continue;
        return error_set(e, ERROR_INPUT, "the point at %.0f Hz has no S-parameters at %g ohm",
                         sweep->frequency_hz[i], z0_ohm);
    }
    sweep->z0_ohm[0] = sweep->z0_ohm[1] = z0_ohm;
    return true;
}
