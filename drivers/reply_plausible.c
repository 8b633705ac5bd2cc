#include <math.h>

#include "drivers/base/number.h"
#include "drivers/reply.h"

/* Our choices: no board has a gain of 80 dB, no receiver sees -400 dB, and a trace that lies mostly
 * under -140 dB is noise or zeros. */
#define LARGEST 1e4
#define SMALLEST 1e-20
#define SMALLEST_MEDIAN 1e-7

#define SWAPPED "as of reals in the wrong byte order or of the wrong width"

/* What a trace's points are like. */
struct look {
    size_t n, n_low, n_zero, n_like_first;
    double first_re, first_im;
};

static void take_in(struct look *look, double re, double im, double magnitude)
{
    if (look->n == 0) {
        look->first_re = re;
        look->first_im = im;
    }
    look->n++;
    if (magnitude < SMALLEST_MEDIAN) look->n_low++;
    if (magnitude == 0) look->n_zero++;
    if (re == look->first_re && im == look->first_im) look->n_like_first++;
}

static bool refuse_point(size_t point, size_t n, double magnitude, struct error *e)
{
    char number[NUMBER_TEXT];

    (void)number_format(magnitude, number);
    return error_set(
        e, ERROR_BENCH,
        "the trace has |S| = %s at point %zu of %zu, which no analyser measures, " SWAPPED
        ": look at the encoding and the byte order in the profile",
        number, point, n);
}

bool reply_is_plausible(const double *re_im, size_t n_complex, struct error *e)
{
    struct look look = {0};

    for (size_t i = 0; i < n_complex; i++) {
        const double re = re_im[2 * i], im = re_im[2 * i + 1];
        const double magnitude = hypot(re, im);

        if (isnan(re) || isnan(im)) continue;
        if (magnitude > LARGEST || (magnitude > 0 && magnitude < SMALLEST))
            return refuse_point(i + 1, n_complex, magnitude, e);
        take_in(&look, re, im, magnitude);
    }
    if (look.n == 0) return n_complex > 0 || error_set(e, ERROR_BENCH, "the trace has no points");
    if (look.n_zero == look.n)
        return error_set(e, ERROR_BENCH,
                         "the trace is zero at every point: there was no sweep, or the source, the "
                         "receiver or the trace that was asked for is off");
    if (look.n > 1 && look.n_like_first == look.n)
        return error_set(e, ERROR_BENCH,
                         "the trace has the same value at every point: there was no sweep, or the "
                         "answer is not the trace that was asked for");
    if (2 * look.n_low >= look.n)
        return error_set(
            e, ERROR_BENCH,
            "the trace is below 1e-7 (-140 dB) at half of its points or more, which no "
            "analyser measures, " SWAPPED ", or of an answer in other units: look at the profile");
    return true;
}
