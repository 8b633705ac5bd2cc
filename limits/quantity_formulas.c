#include <math.h>

#include "limits/quantity.h"

/* A magnitude that no double can hold as a square; quieter than any instrument by 200 dB. */
#define FLOOR_DB (-400.0)

double quantity_power_db(double power)
{
    return power == 0 ? FLOOR_DB : 10 * log10(power);
}

/* By way of the square and not of hypot(), so that one value and the extreme of a trace, which is
 * found by comparing squares, come from the same function. */
double quantity_magnitude_db(double complex s)
{
    return quantity_power_db(creal(s) * creal(s) + cimag(s) * cimag(s));
}

double quantity_gain_db(const double complex s[S_PARAMETERS], double z0_ohm)
{
    (void)z0_ohm;
    return quantity_magnitude_db(s[S21]);
}

double quantity_input_reflection_db(const double complex s[S_PARAMETERS], double z0_ohm)
{
    (void)z0_ohm;
    return quantity_magnitude_db(s[S11]);
}

double quantity_output_reflection_db(const double complex s[S_PARAMETERS], double z0_ohm)
{
    (void)z0_ohm;
    return quantity_magnitude_db(s[S22]);
}

double quantity_reverse_isolation_db(const double complex s[S_PARAMETERS], double z0_ohm)
{
    (void)z0_ohm;
    return quantity_magnitude_db(s[S12]);
}

/* Z = Z0 (1 + S11) / (1 - S11), the definition of the reflection coefficient turned round; written
 * out, so that the compiler's complex division plays no part. Infinite for an open. */
double quantity_input_resistance_ohm(const double complex s[S_PARAMETERS], double z0_ohm)
{
    double re = creal(s[S11]), im = cimag(s[S11]);
    double below = (1 - re) * (1 - re) + im * im;

    return z0_ohm * (1 - re * re - im * im) / below;
}

double quantity_input_reactance_ohm(const double complex s[S_PARAMETERS], double z0_ohm)
{
    double re = creal(s[S11]), im = cimag(s[S11]);
    double below = (1 - re) * (1 - re) + im * im;

    return z0_ohm * 2 * im / below;
}

/* mu = (1 - abs(S11)^2) / (abs(S22 - D conj(S11)) + abs(S12 S21)), D = S11 S22 - S12 S21:
 * M. L. Edwards, J. H. Sinsky, IEEE Trans. MTT-40 (1992) 2303 (from memory). Above 1 alone:
 * unconditionally stable. Infinite for a network with neither output reflection nor transmission.
 */
double quantity_stability_mu(const double complex s[S_PARAMETERS], double z0_ohm)
{
    double complex determinant = s[S11] * s[S22] - s[S12] * s[S21];
    double abs_s11 = cabs(s[S11]);

    (void)z0_ohm;
    return (1 - abs_s11 * abs_s11) /
           (cabs(s[S22] - determinant * conj(s[S11])) + cabs(s[S12] * s[S21]));
}

double quantity_wrap_deg(double angle_deg)
{
    double wrapped = remainder(angle_deg, 360);

    return wrapped == -180 ? 180 : wrapped;
}
