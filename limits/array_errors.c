#include "limits/array_errors.h"

#include <math.h>

#include "drivers/sweep.h" /* CMPLX */

static const double pi = 3.14159265358979323846;

/* Points looked at in the width of a lobe, 1 / (N d) in u. */
#define POINTS_PER_LOBE 16.0

static double to_db(double power)
{
    return 10 * log10(power);
}

static bool is_array(const struct linear_array *array)
{
    return array->n >= 2 && array->n <= ARRAY_ELEMENTS && array->spacing_wl > 0 &&
           array->spacing_wl <= ARRAY_SPACING_WL && fabs(array->beam_deg) < 90;
}

/* sin of the steered direction. */
static double beam_u(const struct linear_array *array)
{
    return sin(array->beam_deg * pi / 180);
}

/* Distance in u from the beam to the first null without errors. */
static double first_null(const struct linear_array *array)
{
    return 1 / ((double)array->n * array->spacing_wl);
}

bool excitation_spread_of(struct excitation_spread *out, const double complex *a, size_t n)
{
    const double count = (double)n;
    double complex mean = 0;
    double mean_size = 0, smallest = INFINITY, largest = 0, squares = 0;
    double mean_phase = 0, lowest = INFINITY, highest = -INFINITY, phase_squares = 0;

    *out = (struct excitation_spread){NAN, NAN, NAN, NAN, NAN};
    for (size_t i = 0; i < n; i++) {
        mean += a[i] / count;
        mean_size += cabs(a[i]) / count;
    }
    /* Also what is not finite ends here. */
    if (n < 2 || !(cabs(mean) > 1e-12 * mean_size) || !isfinite(mean_size)) return false;
    out->mean_error = 0;
    for (size_t i = 0; i < n; i++) {
        const double size = cabs(a[i]), phase = carg(a[i] * conj(mean));

        squares += (size / mean_size - 1) * (size / mean_size - 1);
        smallest = fmin(smallest, size);
        largest = fmax(largest, size);
        mean_phase += phase / count;
        lowest = fmin(lowest, phase);
        highest = fmax(highest, phase);
        out->mean_error += cabs(a[i] / mean - 1) / count;
    }
    for (size_t i = 0; i < n; i++) {
        const double phase = carg(a[i] * conj(mean)) - mean_phase;

        phase_squares += phase * phase;
    }
    out->amplitude = sqrt(squares / (count - 1));
    out->phase_rad = sqrt(phase_squares / (count - 1));
    out->amplitude_ratio = smallest > 0 ? largest / smallest : INFINITY;
    out->half_range_rad = (highest - lowest) / 2;
    return true;
}

double complex array_factor(const struct linear_array *array, const double complex *a, double u)
{
    const double step = 2 * pi * array->spacing_wl * (u - beam_u(array));
    double complex sum = 0;

    for (size_t i = 0; i < array->n; i++) {
        const double phase = step * ((double)i - ((double)array->n - 1) / 2);

        sum += a[i] * CMPLX(cos(phase), sin(phase));
    }
    return sum;
}

/* abs(factor) squared at `offset` in u from the beam, by Horner's rule. Without excitations those
 * of an array without errors, 1. */
static double power_at(const struct linear_array *array, const double complex *a, double offset)
{
    const double step = 2 * pi * array->spacing_wl * offset;
    const double complex z = CMPLX(cos(step), sin(step));
    double complex sum = 0;

    for (size_t i = array->n; i-- > 0;)
        sum = sum * z + (a ? a[i] : 1);
    return creal(sum) * creal(sum) + cimag(sum) * cimag(sum);
}

/* A direction, as offset in u from the beam, and its power. */
struct lobe {
    double offset, power;
};

/* The maximum between two offsets that have one between them, by golden section. */
static struct lobe refine(const struct linear_array *array, const double complex *a, double low,
                          double high)
{
    const double golden = (sqrt(5) - 1) / 2;
    double left = high - golden * (high - low), right = low + golden * (high - low);
    double left_power = power_at(array, a, left), right_power = power_at(array, a, right);

    /* Each step leaves 0.618 of the width; below the root of the precision a maximum is flat. */
    for (int i = 0; i < 40; i++) {
        if (left_power > right_power) {
            high = right;
            right = left;
            right_power = left_power;
            left = high - golden * (high - low);
            left_power = power_at(array, a, left);
        } else {
            low = left;
            left = right;
            left_power = right_power;
            right = low + golden * (high - low);
            right_power = power_at(array, a, right);
        }
    }
    return left_power > right_power ? (struct lobe){left, left_power}
                                    : (struct lobe){right, right_power};
}

/* Raises `best` to the maximum in the cell at an end, where `end_power` is more than at `inner`:
 * the end itself if it counts, otherwise only one that lies off it. */
static void search_end(const struct linear_array *array, const double complex *a, double end,
                       double inner, double end_power, bool end_counts, struct lobe *best)
{
    const struct lobe lobe = refine(array, a, fmin(end, inner), fmax(end, inner));

    if (lobe.power > best->power && fabs(lobe.offset - end) > 1e-6 * fabs(inner - end))
        *best = lobe;
    if (end_counts && end_power > best->power) *best = (struct lobe){end, end_power};
}

/* Raises `best` to the highest maximum between two offsets, and to the ends that count. */
static void search(const struct linear_array *array, const double complex *a, double from,
                   double to, bool from_counts, bool to_counts, struct lobe *best)
{
    const double steps = fmax(8, ceil((to - from) / first_null(array) * POINTS_PER_LOBE));
    const double step = (to - from) / steps;
    double last = 0, here;

    if (!(to > from)) return;
    here = power_at(array, a, from);
    for (size_t i = 1; i <= (size_t)steps; i++) {
        const double next = power_at(array, a, from + (double)i * step);

        if (i == 1 && here > next) {
            search_end(array, a, from, from + step, here, from_counts, best);
        } else if (i > 1 && here > last && here >= next) {
            const struct lobe lobe =
                refine(array, a, from + ((double)i - 2) * step, from + (double)i * step);

            if (lobe.power > best->power) *best = lobe;
        }
        last = here;
        here = next;
    }
    if (here > last) search_end(array, a, to, to - step, here, to_counts, best);
}

/* The highest side lobe; power 0 when there is none. */
static struct lobe highest_side_lobe(const struct linear_array *array, const double complex *a)
{
    const double null = first_null(array), period = 1 / array->spacing_wl;
    const double from = -1 - beam_u(array), to = 1 - beam_u(array);
    struct lobe best = {NAN, 0};

    if (to - from >= period) {
        /* All of a period is visible, from one main beam to the next one. */
        search(array, a, null, period - null, false, false, &best);
        if (best.offset > period / 2) best.offset -= period;
        /* The nearer of its repetitions may lie where nothing is seen. */
        if (best.offset > to) best.offset -= period;
        if (best.offset < from) best.offset += period;
        return best;
    }
    /* Less than a period is visible: the next main beam may still begin in it. */
    search(array, a, fmax(from, null - period), -null, from > null - period, false, &best);
    search(array, a, null, fmin(to, period - null), false, to < period - null, &best);
    return best;
}

/* Angle from broadside of an offset from the beam. */
static double offset_deg(const struct linear_array *array, double offset)
{
    return asin(fmax(-1, fmin(1, beam_u(array) + offset))) * 180 / pi;
}

/* Mean and worst of the direction's error, first order. */
static void expect_pointing(struct array_expectation *out, const struct linear_array *array,
                            const struct excitation_spread *spread)
{
    const double n = (double)array->n, below = (double)(array->n / 2);
    const double squares = n * (n * n - 1) / 12; /* of the places from the middle */
    const double per_slope_deg =
        180 / pi / (2 * pi * array->spacing_wl * cos(array->beam_deg * pi / 180));
    const double lost = spread->phase_rad * spread->phase_rad / n;

    out->pointing_deviation_deg = per_slope_deg * spread->phase_rad / sqrt(squares);
    out->worst_pointing_deg =
        per_slope_deg * spread->half_range_rad * below * (n - below) / squares;
    out->pointing_loss_db = lost < 1 ? -to_db(1 - lost) : INFINITY;
}

bool array_expect(struct array_expectation *out, const struct linear_array *array,
                  const struct excitation_spread *spread)
{
    const double n = (double)array->n, ratio = spread->amplitude_ratio;
    const double square = 1 + spread->amplitude * spread->amplitude; /* mean of abs(a)^2 */
    const double coherent = exp(-spread->phase_rad * spread->phase_rad);
    const double variance = square - coherent;
    /* Smallest of (sum a)^2 / (N sum a^2) for sizes of that ratio. */
    const double even = isinf(ratio) ? 0 : 4 * ratio / ((1 + ratio) * (1 + ratio));
    double ideal;

    *out = (struct array_expectation){NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN};
    if (!is_array(array) || !(spread->amplitude >= 0 && spread->phase_rad >= 0 && ratio >= 1 &&
                              spread->half_range_rad >= 0 && spread->mean_error >= 0))
        return false;
    out->gain_loss_db = -to_db((coherent + variance / n) / square);
    out->worst_gain_loss_db = INFINITY;
    if (spread->half_range_rad < pi / 2 && even > 0)
        out->worst_gain_loss_db = -to_db(even) - 2 * to_db(cos(spread->half_range_rad));
    expect_pointing(out, array, spread);
    ideal = sqrt(highest_side_lobe(array, NULL).power) / n;
    out->ideal_side_lobe_db = 2 * to_db(ideal);
    out->side_lobe_db = out->worst_side_lobe_db = out->ideal_side_lobe_db;
    if (ideal > 0) {
        out->side_lobe_db =
            to_db((ideal * ideal * n * coherent + variance) / (n * coherent + variance));
        out->worst_side_lobe_db = 2 * to_db(fmin(1, ideal + spread->mean_error));
    }
    return true;
}

bool array_sum(struct array_exact *out, const struct linear_array *array, const double complex *a)
{
    struct lobe side, peak;
    double squares = 0, full;
    double null;

    *out = (struct array_exact){NAN, NAN, NAN, NAN, NAN, false};
    if (!is_array(array)) return false;
    for (size_t i = 0; i < array->n; i++)
        squares += creal(a[i]) * creal(a[i]) + cimag(a[i]) * cimag(a[i]);
    if (!(squares > 0 && isfinite(squares))) return false;
    full = squares * (double)array->n; /* the power of the beam when all are alike */
    null = first_null(array);
    peak = (struct lobe){0, power_at(array, a, 0)};
    out->gain_loss_db = -to_db(peak.power / full);
    search(array, a, fmax(-null, -1 - beam_u(array)), fmin(null, 1 - beam_u(array)), true, true,
           &peak);
    out->peak_loss_db = -to_db(peak.power / full);
    out->pointing_deg = offset_deg(array, peak.offset) - array->beam_deg;
    side = highest_side_lobe(array, a);
    out->side_lobe_db = to_db(side.power / peak.power);
    if (side.power > 0) out->side_lobe_deg = offset_deg(array, side.offset);
    out->has_grating_lobe = 1 / array->spacing_wl - fabs(beam_u(array)) - null < 1;
    return true;
}
