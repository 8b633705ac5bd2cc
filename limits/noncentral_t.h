/* The distribution of non-central t, which the one-sided normal tolerance factor comes from and
 * which GSL does not have. */
#ifndef GAINSIEVE_NONCENTRAL_T_H
#define GAINSIEVE_NONCENTRAL_T_H

/* The largest shift taken: the work grows with it. */
#define NONCENTRAL_T_SHIFT 1e5

/* The probability that T <= t, T = (Z + shift) / W with Z standard normal and W^2 a chi-square
 * variable of `degrees` over its degrees. With f the density of W it is, by definition,
 *
 *     integral over w > 0 of Phi(t w - shift) f(w) dw,     f(w) ~ w^(degrees - 1) exp(-degrees w^2
 * / 2)
 *
 * (N. L. Johnson, B. L. Welch, Biometrika 31 (1940) 362; from memory), summed by the trapezoidal
 * rule over log w, which converges exponentially for it; the sum of f itself is the norm, so that
 * no gamma function is needed. Good to 1e-12, not in relative terms far out in a tail. Degrees need
 * not be whole. NaN for degrees below 1 or not finite, a shift beyond NONCENTRAL_T_SHIFT, and NaN.
 */
double noncentral_t_cdf(double t, double degrees, double shift);

#endif
