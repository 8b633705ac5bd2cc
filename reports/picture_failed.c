#include <math.h>

#include "limits/limit_series.h"
#include "limits/yield.h"
#include "reports/pictures.h"

static bool has(uint64_t steps, size_t step)
{
    return step < 64 && (steps >> step & 1);
}

/* Whether the slope from this step to the next is rejected at the frequency that is drawn. */
static bool is_steep(const struct limits *limits, const struct limit *limit,
                     const struct unit_traces *traces, size_t step)
{
    const double centre_hz = traces_centre_hz(limits);
    const double slope = (traces->gain_db[step + 1] - traces->gain_db[step]) /
                         (traces->bias_v[step + 1] - traces->bias_v[step]);
    const bool is_guarded = limits->rule == GUARDED_ACCEPTANCE;
    double low = bound_line_at(&limit->lower, centre_hz);
    double high = bound_line_at(&limit->upper, centre_hz);

    if (is_guarded) low = limit_guarded(limits, limit, low, true);
    if (is_guarded) high = limit_guarded(limits, limit, high, false);
    /* A NaN is no bound. */
    return slope < low || slope > high;
}

/* Whether the limit found the gain outside on its way from this step to the next. A finding names
 * both ends of every slope that is outside. Where both ends may be named for the slopes before and
 * behind, the gain that is drawn decides. */
static bool is_part(const struct limits *limits, const struct finding *finding,
                    const struct unit_traces *traces, size_t step)
{
    const struct limit *limit = finding->limit;
    const uint64_t steps = finding->failed_steps;
    const size_t first = limit->from < limit->to ? limit->from : limit->to;
    const size_t last = limit->from < limit->to ? limit->to : limit->from;

    if (!finding_has_failed(finding) || !picture_is_of_bias(limit)) return false;
    if (step < first || step >= last) return false;
    if (limit->quantity->shape == OVER_RANGE || limit->method == SLOPE_FIT) return steps != 0;
    if (!has(steps, step) || !has(steps, step + 1)) return false;
    if (step > first && has(steps, step - 1) && has(steps, step + 2))
        return is_steep(limits, limit, traces, step);
    return true;
}

static void add_point(struct trace *out, double x, double y)
{
    out->x[out->n_points] = (float)x;
    out->y[out->n_points++] = (float)y;
}

struct trace picture_failed_parts(const struct limits *limits, const struct judgement *judgement,
                                  const struct unit_traces *traces, float *x, float *y)
{
    struct trace out = {0, x, y};
    bool goes_on = false;

    for (size_t step = 0; step + 1 < traces->n_biases; step++) {
        bool failed = false;

        for (size_t i = 0; i < judgement->n_findings && !failed; i++)
            failed = is_part(limits, &judgement->findings[i], traces, step);
        failed = failed && !isnan(traces->gain_db[step]) && !isnan(traces->gain_db[step + 1]);
        if (failed && !goes_on) {
            if (out.n_points > 0) add_point(&out, traces->bias_v[step], NAN);
            add_point(&out, traces->bias_v[step], traces->gain_db[step]);
        }
        if (failed) add_point(&out, traces->bias_v[step + 1], traces->gain_db[step + 1]);
        goes_on = failed;
    }
    return out;
}
