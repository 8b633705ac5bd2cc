#include "runner/reference_unit.h"

#include <math.h>

#include "drivers/base/value.h"
#include "drivers/sweep_file.h"
#include "limits/coverage.h"
#include "limits/interpolate.h"

bool reference_unit_read(const struct bench_file *file, const struct limits *limits,
                         struct measurement *out, struct error *e)
{
    struct text path = {0}, bytes = {0};
    bool ok = true;

    measurement_reset(out, file->reference.serial, 1);
    for (size_t k = 0; ok && k < limits->n_biases; k++) {
        struct bias_sweep *bias = measurement_add(out, limits->biases[k].at_v, e);

        text_reset(&path);
        text_addf(&path, "%s/%s.s2p", file->reference.sweeps, limits->biases[k].id);
        ok = bias && text_ok(&path, "a file name", e) &&
             sweep_file_read(path.data, &bytes, &bias->sweep, e);
    }
    text_clear(&bytes);
    text_clear(&path);
    return ok;
}

/* The worst difference so far, each in its own unit, with where it was. */
struct worst {
    double gain_db, gain_hz, gain_v;
    double reflection, reflection_hz, reflection_v;
};

/* Files and instruments write placeholders where nothing was measured; two of them are the same. */
static bool has_traces(const struct sweep *sweep)
{
    return sweep->n_points > 0 && !coverage_is_placeholder(sweep, S21) &&
           !coverage_is_placeholder(sweep, S11);
}

/* False when a point lies outside the stored sweep or is no number. */
static bool compare_step(const struct bias_sweep *stored, const struct bias_sweep *now,
                         struct worst *worst)
{
    size_t cursor = 0;

    for (size_t k = 0; k < now->sweep.n_points; k++) {
        const double hz = now->sweep.frequency_hz[k];
        struct place place;
        double gain_db, reflection;

        if (!place_find(&stored->sweep, &cursor, hz, 0, &place)) return false;
        gain_db = fabs(quantity_magnitude_db(sweep_s(&now->sweep, k, S21)) -
                       quantity_magnitude_db(place_value(&stored->sweep, &place, S21)));
        reflection = cabs(sweep_s(&now->sweep, k, S11) - place_value(&stored->sweep, &place, S11));
        if (isnan(gain_db) || isnan(reflection)) return false;
        if (gain_db >= worst->gain_db) {
            worst->gain_db = gain_db;
            worst->gain_hz = hz;
            worst->gain_v = now->bias_v;
        }
        if (reflection >= worst->reflection) {
            worst->reflection = reflection;
            worst->reflection_hz = hz;
            worst->reflection_v = now->bias_v;
        }
    }
    return now->sweep.n_points > 0;
}

static void add_worst(const struct bench_file *file, const struct worst *worst, struct text *words)
{
    char db[VALUE_TEXT], most_db[VALUE_TEXT], hz[VALUE_TEXT], v[VALUE_TEXT];
    char one[VALUE_TEXT], most[VALUE_TEXT], hz2[VALUE_TEXT], v2[VALUE_TEXT];

    text_addf(
        words,
        "gain differs by %s at %s and %s (tolerance %s), S11 by %s at %s and %s (tolerance %s)",
        value_rounded(worst->gain_db, UNIT_DB, db), value_rounded(worst->gain_hz, UNIT_HZ, hz),
        value_rounded(worst->gain_v, UNIT_V, v),
        value_words(file->reference.gain_tolerance_db, UNIT_DB, most_db),
        value_rounded(worst->reflection, UNIT_ONE, one),
        value_rounded(worst->reflection_hz, UNIT_HZ, hz2),
        value_rounded(worst->reflection_v, UNIT_V, v2),
        value_words(file->reference.reflection_tolerance, UNIT_ONE, most));
}

bool reference_unit_compare(const struct bench_file *file, const struct limits *limits,
                            const struct measurement *stored, const struct measurement *now,
                            bool *good, struct text *words, struct error *e)
{
    struct worst worst = {0};
    bool whole = true;

    *good = false;
    for (size_t k = 0; whole && k < limits->n_biases; k++) {
        const struct bias_sweep *before = coverage_find_step(limits, stored, k);
        const struct bias_sweep *after = coverage_find_step(limits, now, k);

        const bool measured = before && after && after->missing.length == 0 &&
                              has_traces(&before->sweep) && has_traces(&after->sweep);

        whole = measured && compare_step(before, after, &worst);
        if (whole) continue;
        text_addf(words, "bias step \"%s\" cannot be compared: ", limits->biases[k].id);
        if (!after || after->missing.length > 0)
            text_add(words, after ? text_words(&after->missing) : "it was not measured");
        else if (!measured)
            text_add(words, "S11 or S21, stored or now, is no trace that an instrument measures");
        else
            text_add(words, "the stored sweep does not cover what was measured");
    }
    if (whole) {
        *good = worst.gain_db <= file->reference.gain_tolerance_db &&
                worst.reflection <= file->reference.reflection_tolerance;
        add_worst(file, &worst, words);
    }
    return text_ok(words, "the comparison", e);
}
