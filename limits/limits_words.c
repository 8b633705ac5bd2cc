#include "limits/limits_words.h"

#include <string.h>

static void add_value(struct text *out, double x, enum unit unit)
{
    char words[VALUE_TEXT];

    text_add(out, value_words(x, unit, words));
}

/* "at least 22 dB" for one value, "at least 17.5 dB at 160 MHz, 19 dB at 169 MHz, ..." for a line
 * with corners. */
static void add_bound(struct text *out, const struct bound_line *line, const char *words,
                      enum unit unit)
{
    bool flat = true;

    for (size_t i = 1; i < line->n_points; i++)
        if (line->value[i] != line->value[0]) flat = false;
    text_addf(out, "%s ", words);
    if (flat) {
        add_value(out, line->value[0], unit);
        return;
    }
    for (size_t i = 0; i < line->n_points; i++) {
        if (i > 0) text_add(out, ", ");
        add_value(out, line->value[i], unit);
        text_add(out, " at ");
        add_value(out, line->frequency_hz[i], UNIT_HZ);
    }
    text_add(out, ", straight between");
}

static void add_bounds(struct text *out, const struct limit *limit)
{
    enum unit unit = limit->quantity->unit;
    bool both = limit->lower.n_points && limit->upper.n_points;

    if (limit->lower.n_points) add_bound(out, &limit->lower, "at least", unit);
    if (both) text_add(out, limit->is_mask ? "; and " : " and ");
    if (limit->upper.n_points) add_bound(out, &limit->upper, "at most", unit);
}

static void add_line_range(struct text *out, const struct bound_line *line)
{
    double from_hz = line->frequency_hz[0], to_hz = line->frequency_hz[line->n_points - 1];

    text_add(out, from_hz == to_hz ? "at " : "from ");
    add_value(out, from_hz, UNIT_HZ);
    if (from_hz == to_hz) return;
    text_add(out, " to ");
    add_value(out, to_hz, UNIT_HZ);
}

static bool is_spot(const struct bound_line *line)
{
    return line->n_points < 2;
}

static void add_max_step(struct text *out, const struct limit *limit)
{
    bool spot = is_spot(&limit->lower) && is_spot(&limit->upper);

    if (!(limit->max_step_hz > 0)) {
        if (!spot) text_add(out, ", however far apart the measured points lie");
        return;
    }
    text_add(out, spot ? " between measured points at most " : " measured at least every ");
    add_value(out, limit->max_step_hz, UNIT_HZ);
    if (spot) text_add(out, " apart");
}

/* Whether the band that the limit names reaches further than its mask. */
static bool covers_part_of_band(const struct limits *limits, const struct limit *limit)
{
    const struct bound_line *lines[] = {&limit->lower, &limit->upper};

    for (size_t i = 0; limit->band_id && i < limits->n_bands; i++) {
        const struct band *band = &limits->bands[i];

        if (strcmp(band->id, limit->band_id) != 0) continue;
        for (size_t k = 0; k < 2; k++)
            if (lines[k]->n_points > 0 &&
                (lines[k]->frequency_hz[0] > band->from_hz ||
                 lines[k]->frequency_hz[lines[k]->n_points - 1] < band->to_hz))
                return true;
    }
    return false;
}

static void add_range(struct text *out, const struct limits *limits, const struct limit *limit)
{
    const struct bound_line *lower = &limit->lower, *upper = &limit->upper;

    if (limit->quantity->shape == OVER_CURRENT) return;
    text_add(out, ", ");
    if (limit->band_id)
        text_addf(out, "in %sband %s ", covers_part_of_band(limits, limit) ? "only a part of " : "",
                  limit->band_id);
    add_line_range(out, lower->n_points ? lower : upper);
    if (lower->n_points && upper->n_points &&
        (lower->frequency_hz[0] != upper->frequency_hz[0] ||
         lower->frequency_hz[lower->n_points - 1] != upper->frequency_hz[upper->n_points - 1])) {
        text_add(out, " (the upper bound ");
        add_line_range(out, upper);
        text_add(out, ")");
    }
    add_max_step(out, limit);
}

static void add_step(struct text *out, const struct limits *limits, size_t step)
{
    text_addf(out, "%s (", limits->biases[step].id);
    add_value(out, limits->biases[step].at_v, UNIT_V);
    text_add(out, ")");
}

static void add_biases(struct text *out, const struct limits *limits, const struct limit *limit)
{
    enum quantity_shape shape = limit->quantity->shape;
    const char *between = " ";

    if (shape == OVER_SLOPE || shape == OVER_RANGE) {
        text_add(out, shape == OVER_RANGE          ? ", from bias "
                      : limit->method == SLOPE_FIT ? ", of the least-squares line from bias "
                                                   : ", between neighbouring steps from bias ");
        add_step(out, limits, limit->from);
        text_add(out, " to ");
        add_step(out, limits, limit->to);
        return;
    }
    if (limit->biases == UINT64_MAX >> (64 - limits->n_biases)) {
        text_add(out, ", at every bias step");
    } else {
        text_add(out, ", at bias");
        for (size_t i = 0; i < limits->n_biases; i++) {
            if (!(limit->biases >> i & 1)) continue;
            text_add(out, between);
            add_step(out, limits, i);
            between = ", ";
        }
    }
    if (shape == OVER_SHIFT) {
        text_add(out, ", against bias ");
        add_step(out, limits, limit->reference);
    }
}

static void add_uncertainty(struct text *out, const struct limit *limit)
{
    if (!limit->has_uncertainty) {
        text_add(out, "; no uncertainty stated");
        return;
    }
    text_add(out, "; uncertainty ");
    add_value(out, limit->uncertainty,
              limit->linear_uncertainty ? UNIT_ONE : limit->quantity->unit);
    if (limit->linear_uncertainty) text_add(out, " in linear abs(S)");
    text_add(out, " (k = 2)");
}

void limit_words(const struct limits *limits, const struct limit *limit, struct text *out)
{
    text_addf(out, "%s ", limit->quantity->words);
    add_bounds(out, limit);
    add_range(out, limits, limit);
    add_biases(out, limits, limit);
    add_uncertainty(out, limit);
}

static void add_head(const struct limits *limits, struct text *out)
{
    text_addf(out, "Product: %s", limits->product);
    if (limits->revision) text_addf(out, ", revision %s", limits->revision);
    text_add(out, "\nImpedance: ");
    add_value(out, limits->impedance_ohm, UNIT_OHM);
    text_add(out, "\nSerial numbers: ");
    if (limits->serial.pattern)
        text_addf(out, "of the pattern %s", limits->serial.pattern);
    else
        text_add(out, "any");
    if (limits->serial.check != CHECK_NONE)
        text_addf(out, ", check characters %s (ISO/IEC 7064)",
                  check_character_name(limits->serial.check));
    text_add(out, "\nBias steps:");
    for (size_t i = 0; i < limits->n_biases; i++) {
        text_add(out, i ? ", " : " ");
        add_step(out, limits, i);
    }
    text_add(out, ", each within ");
    add_value(out, limits->bias_tolerance_v, UNIT_V);
    text_add(out, "\nDecision: ");
    if (limits->rule == SIMPLE_ACCEPTANCE)
        text_add(out, "simple acceptance: a value on or inside its limit is accepted; the guard "
                      "band only marks what is close");
    else
        text_add(out, "guarded acceptance: a value is accepted when it is inside its limit by at "
                      "least the guard band");
    text_add(out, " (guard band ");
    text_add_number(out, limits->guard_factor);
    text_add(out, " times the uncertainty)\n");
}

void limits_words(const struct limits *limits, struct text *out)
{
    add_head(limits, out);
    for (size_t i = 0; i < limits->n_limits; i++) {
        text_addf(out, "Limit %s: ", limits->limits[i].id);
        limit_words(limits, &limits->limits[i], out);
        text_add(out, ".\n");
    }
}
