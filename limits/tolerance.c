#include "limits/tolerance.h"

#include <math.h>

#include "drivers/base/number.h"
#include "limits/noncentral_t.h"
#include "limits/statistics.h"

/* Nodes of the integral over the mean: 1/8 apart from 0 to 9, beyond which phi adds nothing to a
 * double. The integrand is even and analytic, and the rule is then good to rounding. */
#define N_NODES 73
static const double node_step = 1.0 / 8;

static bool is_inner(double share)
{
    return share >= TOLERANCE_TAIL && share <= 1 - TOLERANCE_TAIL;
}

/* "WHERE of X: give GIVE", X as the user would write it, whatever the locale. */
static bool refuse_share(const char *where, double share, const char *give, struct error *e)
{
    char words[NUMBER_TEXT];

    (void)number_format(share, words);
    return error_set(e, ERROR_USAGE, "%s of %s: give %s", where, words, give);
}

static bool check_wish(size_t n, double coverage, double confidence, struct error *e)
{
    static const char give[] = "a share between 0 and 1, as 0.95";

    if (!is_inner(coverage)) return refuse_share("tolerance bound: a coverage", coverage, give, e);
    if (!is_inner(confidence))
        return refuse_share("tolerance bound: a confidence", confidence, give, e);
    if (n > TOLERANCE_MOST_UNITS)
        return error_set(e, ERROR_USAGE, "tolerance bound: %zu units: at most %zu are taken", n,
                         TOLERANCE_MOST_UNITS);
    return true;
}

static bool check_normal(size_t n, double coverage, double confidence, struct error *e)
{
    if (!check_wish(n, coverage, confidence, e)) return false;
    if (n < 2)
        return error_set(e, ERROR_INPUT,
                         "tolerance bound: too few units (%zu): a normal factor needs 2 or more",
                         n);
    return true;
}

/* What a factor is solved with. */
struct normal_wish {
    size_t n;
    double coverage;
    double half_width[N_NODES]; /* r at each node; of the two-sided one */
};

typedef double confidence_of(const struct normal_wish *, double k);

/* Narrows a bracket of the root to 1e-12. By false position, the value kept twice halved
 * (Illinois), for each step is an integral; every third step halves the bracket, whatever the
 * curve. `at_low` and `at_high`: by how much the confidence is missed there. */
static double narrow_factor(confidence_of *of, const struct normal_wish *wish, double confidence,
                            double low, double at_low, double high, double at_high)
{
    int kept = 0; /* above zero: the high end was kept last; below: the low one */

    for (int i = 0; i < 300 && high - low > 1e-12 * fmax(fabs(low), fabs(high)); i++) {
        const double halfway = low + (high - low) / 2;
        double k = low - at_low * (high - low) / (at_high - at_low), at;

        if (i % 3 == 2 || !(k > low && k < high)) k = halfway;
        at = of(wish, k) - confidence;
        if (at < 0) {
            low = k;
            at_low = at;
            if (kept > 0) at_high /= 2;
            kept = 1;
        } else {
            high = k;
            at_high = at;
            if (kept < 0) at_low /= 2;
            kept = -1;
        }
    }
    return high;
}

/* The factor of a confidence that rises with it. A `low` of 0 is known to be too low. */
static double solve_factor(confidence_of *of, const struct normal_wish *wish, double confidence,
                           double low)
{
    double high = 1, at_low = -confidence, at_high = of(wish, high) - confidence;

    while (at_high < 0) {
        high *= 2;
        at_high = of(wish, high) - confidence;
    }
    if (low < 0) at_low = of(wish, low) - confidence;
    while (at_low > 0) {
        low *= 2;
        at_low = of(wish, low) - confidence;
    }
    return narrow_factor(of, wish, confidence, low, at_low, high, at_high);
}

static double one_sided_confidence(const struct normal_wish *wish, double k)
{
    const double root = sqrt((double)wish->n);

    return noncentral_t_cdf(k * root, (double)wish->n - 1, normal_quantile(wish->coverage) * root);
}

bool tolerance_factor_one_sided(double *out, size_t n, double coverage, double confidence,
                                struct error *e)
{
    const struct normal_wish wish = {.n = n, .coverage = coverage};

    if (!check_normal(n, coverage, confidence, e)) return false;
    *out = solve_factor(one_sided_confidence, &wish, confidence, -1);
    return true;
}

/* r with Phi(x + r) - Phi(x - r) = coverage, from what is left outside, which keeps its digits. */
static double half_width(double x, double coverage)
{
    double low = 0, high = x + normal_quantile(0.5 + coverage / 2);

    for (int i = 0; i < 100; i++) {
        const double middle = low + (high - low) / 2;

        if (middle <= low || middle >= high) break;
        if (normal_cdf(-x - middle) + normal_cdf(x - middle) > 1 - coverage)
            low = middle;
        else
            high = middle;
    }
    return high;
}

static double two_sided_confidence(const struct normal_wish *wish, double k)
{
    const double degrees = (double)wish->n - 1;
    double sum = 0, norm = 0;

    for (size_t i = 0; i < N_NODES; i++) {
        const double z = (double)i * node_step, ratio = wish->half_width[i] / k;
        /* The node at zero stands once, the others for both signs. */
        const double weight = (i == 0 ? 0.5 : 1) * exp(-z * z / 2);

        norm += weight;
        sum += weight * chi_square_upper(degrees * ratio * ratio, degrees);
    }
    return sum / norm;
}

bool tolerance_factor_two_sided(double *out, size_t n, double coverage, double confidence,
                                struct error *e)
{
    struct normal_wish wish = {.n = n, .coverage = coverage};

    if (!check_normal(n, coverage, confidence, e)) return false;
    for (size_t i = 0; i < N_NODES; i++)
        wish.half_width[i] = half_width((double)i * node_step / sqrt((double)n), coverage);
    *out = solve_factor(two_sided_confidence, &wish, confidence, 0);
    return true;
}

bool tolerance_factor_howe(double *out, size_t n, double coverage, double confidence,
                           struct error *e)
{
    const double count = (double)n, degrees = count - 1;

    if (!check_normal(n, coverage, confidence, e)) return false;
    *out = normal_quantile(0.5 + coverage / 2) *
           sqrt(degrees * (1 + 1 / count) / chi_square_quantile(1 - confidence, degrees));
    return true;
}

double tolerance_order_confidence(size_t n, size_t n_excluded, double coverage)
{
    return binomial_at_least(n_excluded, n, 1 - coverage);
}

/* The largest rank, `sides` gaps each, that still has the confidence; 0 for none. */
static size_t innermost_rank(size_t n, size_t sides, double coverage, double confidence)
{
    size_t good = 0, bad = n / sides + 1;

    while (bad - good > 1) {
        const size_t middle = good + (bad - good) / 2;

        if (tolerance_order_confidence(n, sides * middle, coverage) >= confidence)
            good = middle;
        else
            bad = middle;
    }
    return good;
}

bool tolerance_least_units(size_t *out, bool two_sided, double coverage, double confidence,
                           struct error *e)
{
    const size_t sides = two_sided ? 2 : 1;
    size_t bad = 0, good = TOLERANCE_MOST_UNITS;

    if (!check_wish(0, coverage, confidence, e)) return false;
    while (good - bad > 1) {
        const size_t middle = bad + (good - bad) / 2;

        if (tolerance_order_confidence(middle, sides, coverage) >= confidence)
            good = middle;
        else
            bad = middle;
    }
    *out = good;
    return true;
}

/* Too few units, and how many would do. */
static bool refuse_few(size_t n, size_t sides, double coverage, double confidence, struct error *e)
{
    char covers[NUMBER_TEXT], sure[NUMBER_TEXT];
    size_t needed;

    if (!tolerance_least_units(&needed, sides == 2, coverage, confidence, e)) return false;
    (void)number_format(coverage, covers);
    (void)number_format(confidence, sure);
    return error_set(e, ERROR_INPUT,
                     "tolerance bound: too few units (%zu): order statistics need %zu for a "
                     "coverage of %s with confidence %s",
                     n, needed, covers, sure);
}

static bool find_rank(struct tolerance_rank *out, size_t n, size_t sides, double coverage,
                      double confidence, struct error *e)
{
    size_t rank;

    if (!check_wish(n, coverage, confidence, e)) return false;
    rank = innermost_rank(n, sides, coverage, confidence);
    if (rank == 0) return refuse_few(n, sides, coverage, confidence, e);
    out->rank = rank;
    out->confidence = tolerance_order_confidence(n, sides * rank, coverage);
    return true;
}

bool tolerance_order_one_sided(struct tolerance_rank *out, size_t n, double coverage,
                               double confidence, struct error *e)
{
    return find_rank(out, n, 1, coverage, confidence, e);
}

bool tolerance_order_two_sided(struct tolerance_rank *out, size_t n, double coverage,
                               double confidence, struct error *e)
{
    return find_rank(out, n, 2, coverage, confidence, e);
}

/* The smallest k of 0..n + 1 for which at least k values lie below the quantile with `tail` at
 * most.
 */
static size_t first_unlikely(size_t n, double share, double tail)
{
    size_t likely = 0, unlikely = n + 1;

    while (unlikely - likely > 1) {
        const size_t middle = likely + (unlikely - likely) / 2;

        if (binomial_at_least(middle, n, share) <= tail)
            unlikely = middle;
        else
            likely = middle;
    }
    return unlikely;
}

bool tolerance_quantile_ranks(struct quantile_ranks *out, size_t n, double share, double confidence,
                              struct error *e)
{
    const double tail = (1 - confidence) / 2;

    if (!check_wish(n, 0.5, confidence, e)) return false;
    if (!(share >= 0 && share <= 1))
        return refuse_share("quantile: a share", share, "one from 0 to 1, as 0.95", e);
    if (n < 1) return error_set(e, ERROR_INPUT, "quantile: no units: 1 or more are needed");
    out->high = first_unlikely(n, share, tail);
    /* The low end is the high end of the sample turned over. */
    out->low = n + 1 - first_unlikely(n, 1 - share, tail);
    out->confidence = 1 - binomial_at_least(out->high, n, share) -
                      binomial_at_least(n + 1 - out->low, n, 1 - share);
    return true;
}

void wilson_interval(size_t k, size_t n, double confidence, double *low, double *high)
{
    const double count = (double)n, successes = (double)k, failures = count - successes;
    double z, middle, spread;

    *low = *high = NAN;
    if (n == 0 || k > n || !(confidence > 0 && confidence < 1)) return;
    z = normal_quantile(0.5 + confidence / 2);
    middle = successes + z * z / 2;
    spread = z * sqrt(successes * failures / count + z * z / 4);
    *low = k == 0 ? 0 : (middle - spread) / (count + z * z);
    *high = k == n ? 1 : (middle + spread) / (count + z * z);
}
