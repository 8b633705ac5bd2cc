#include "limits/coverage.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "limits/interpolate.h"

/* Longer lists of reasons than this are not read by anyone. */
#define ENOUGH_REASONS 1200

const struct bias_sweep *coverage_find_step(const struct limits *limits,
                                            const struct measurement *m, size_t step)
{
    const struct bias_sweep *nearest = NULL;
    double best_v = limits->bias_tolerance_v + SAME_VOLTAGE_V;

    for (size_t i = 0; i < m->n_biases; i++) {
        double off_v = fabs(m->biases[i].bias_v - limits->biases[step].at_v);

        if (!(off_v <= best_v)) continue;
        best_v = off_v;
        nearest = &m->biases[i];
    }
    return nearest;
}

void reason_add(struct text *reason, const char *format, ...)
{
    char words[CEILING_ERROR_TEXT];
    va_list arguments;

    if (reason->length > ENOUGH_REASONS) {
        if (strcmp(reason->data + reason->length - 3, "...") != 0) text_add(reason, "; ...");
        return;
    }
    va_start(arguments, format);
    (void)vsnprintf(words, sizeof words, format, arguments);
    va_end(arguments);
    if (strstr(text_words(reason), words)) return;
    if (reason->length > 0) text_add(reason, "; ");
    text_add(reason, words);
}

void bias_step_words(const struct limits *limits, size_t step, struct text *out)
{
    char words[VALUE_TEXT];

    text_addf(out, "bias %s (%s)", limits->biases[step].id,
              value_words(limits->biases[step].at_v, UNIT_V, words));
}

bool coverage_is_placeholder(const struct sweep *sweep, enum s_parameter parameter)
{
    double complex first;
    bool quiet = true, same = sweep->n_points > 1;

    if (sweep->n_points == 0) return true;
    first = sweep_s(sweep, 0, parameter);
    for (size_t i = 0; i < sweep->n_points && (quiet || same); i++) {
        double complex s = sweep_s(sweep, i, parameter);

        if (!(creal(s) * creal(s) + cimag(s) * cimag(s) < QUIET_POWER)) quiet = false;
        if (creal(s) != creal(first) || cimag(s) != cimag(first)) same = false;
    }
    return quiet || same;
}

static bool has_parameters(const struct sweep *sweep, unsigned needs, const char *step,
                           struct text *missing)
{
    bool all = true;

    for (enum s_parameter p = S11; p < S_PARAMETERS; p++) {
        if (!(needs & S_BIT(p))) continue;
        if (!(sweep->measured & S_BIT(p))) {
            reason_add(missing, "%s: %s was not measured", step, s_parameter_name(p));
            all = false;
        } else if (coverage_is_placeholder(sweep, p)) {
            reason_add(missing,
                       "%s: %s is a placeholder (below -120 dB or the same number everywhere)",
                       step, s_parameter_name(p));
            all = false;
        }
    }
    return all;
}

bool coverage_usable(const struct limits *limits, const struct bias_sweep *bias, size_t step,
                     unsigned needs, struct text *missing)
{
    struct text words = {0};
    bool usable = false;

    bias_step_words(limits, step, &words);
    if (!bias)
        reason_add(missing, "no sweep at %s", text_words(&words));
    else if (bias->missing.length > 0)
        reason_add(missing, "%s: %s", text_words(&words), bias->missing.data);
    else if (bias->sweep.n_points == 0)
        reason_add(missing, "%s: the sweep is empty", text_words(&words));
    else
        usable = has_parameters(&bias->sweep, needs, text_words(&words), missing);
    if (words.failed) missing->failed = missing->no_memory = true;
    text_clear(&words);
    return usable;
}

static bool reaches(const struct sweep *sweep, double frequency_hz)
{
    size_t cursor = 0;
    struct place place;

    return place_find(sweep, &cursor, frequency_hz, 0, &place);
}

/* The first gap that is too wide and has a part within the line, as index of its lower point. */
static bool find_gap(const struct sweep *sweep, const struct bound_line *line, double max_step_hz,
                     size_t *out)
{
    double from_hz = line->frequency_hz[0], to_hz = line->frequency_hz[line->n_points - 1];
    size_t i = sweep_lower_point(sweep, from_hz);

    if (max_step_hz <= 0) return false;
    if (i > 0) i--;
    for (; i + 1 < sweep->n_points && sweep->frequency_hz[i] < to_hz; i++) {
        double low_hz = sweep->frequency_hz[i], high_hz = sweep->frequency_hz[i + 1];
        double inside_from = fmax(low_hz, from_hz), inside_to = fmin(high_hz, to_hz);

        if (!gap_too_wide(low_hz, high_hz, max_step_hz)) continue;
        /* A spot inside the gap counts; an edge a hair from a measured point does not. */
        if (from_hz == to_hz ? !(low_hz < from_hz && high_hz > from_hz)
                             : inside_to - inside_from <= SAME_FREQUENCY * inside_to)
            continue;
        *out = i;
        return true;
    }
    return false;
}

static bool line_is_spanned(const struct bound_line *line, double max_step_hz,
                            const struct sweep *sweep, const char *step, struct text *missing)
{
    double ends_hz[2];
    char a[VALUE_TEXT], b[VALUE_TEXT], c[VALUE_TEXT];
    size_t gap = 0;

    if (line->n_points == 0) return true;
    ends_hz[0] = line->frequency_hz[0];
    ends_hz[1] = line->frequency_hz[line->n_points - 1];
    if (!reaches(sweep, ends_hz[0]) || !reaches(sweep, ends_hz[1])) {
        double last_hz = sweep->frequency_hz[sweep->n_points - 1];

        reason_add(missing, "%s: the sweep from %s to %s does not reach %s", step,
                   value_rounded(sweep->frequency_hz[0], UNIT_HZ, a),
                   value_rounded(last_hz, UNIT_HZ, b),
                   value_rounded(reaches(sweep, ends_hz[0]) ? ends_hz[1] : ends_hz[0], UNIT_HZ, c));
        return false;
    }
    if (find_gap(sweep, line, max_step_hz, &gap)) {
        reason_add(missing, "%s: nothing was measured between %s and %s, wider than %s", step,
                   value_rounded(sweep->frequency_hz[gap], UNIT_HZ, a),
                   value_rounded(sweep->frequency_hz[gap + 1], UNIT_HZ, b),
                   value_rounded(max_step_hz, UNIT_HZ, c));
        return false;
    }
    return true;
}

bool coverage_spans(const struct limits *limits, const struct limit *limit,
                    const struct bias_sweep *bias, size_t step, struct text *missing)
{
    struct text words = {0};
    bool lower, upper;

    bias_step_words(limits, step, &words);
    lower = line_is_spanned(&limit->lower, limit->max_step_hz, &bias->sweep, text_words(&words),
                            missing);
    upper = line_is_spanned(&limit->upper, limit->max_step_hz, &bias->sweep, text_words(&words),
                            missing);
    if (words.failed) missing->failed = missing->no_memory = true;
    text_clear(&words);
    return lower && upper;
}
