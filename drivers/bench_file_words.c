#include <math.h>
#include <string.h>

#include "drivers/base/plain.h"
#include "drivers/base/value.h"
#include "drivers/bench_file.h"

/* Below this reserve a wrong guess of the gain may reach the receiver's damage level; common
 * practice, see docs/safety.md. */
#define USUAL_RESERVE_DB 6.0

static void add_value(struct text *out, const char *before, double x, enum unit unit,
                      const char *after)
{
    char words[VALUE_TEXT];

    text_add(out, before);
    text_add(out, value_words(x, unit, words));
    text_add(out, after);
}

/* The value, or what stands for it when the file does not state it. */
static void add_stated(struct text *out, const char *before, double x, enum unit unit,
                       const char *otherwise)
{
    text_add(out, before);
    if (isnan(x))
        text_add(out, otherwise);
    else
        add_value(out, "", x, unit, "");
}

static void add_instrument(struct text *out, const char *name,
                           const struct bench_instrument *instrument, const char *layout)
{
    text_addf(out, "%s: ", name);
    if (bench_port_is(instrument, "manual")) {
        text_add(out, "a person sets and confirms each bias\n");
        return;
    }
    if (bench_port_is(instrument, "folder")) {
        text_add(out, "sweeps that the instrument's own program saves into ");
        text_add_plain(out, instrument->port + strlen("folder:"), "");
        text_add(out, layout ? ", named " : ", whatever their names");
        text_add_plain(out, layout ? layout : "", "");
        text_add(out, "\n");
        return;
    }
    text_add_plain(out, instrument->port, "");
    text_add(out, ", spoken to as ");
    text_add_plain(out, instrument->profile, "");
    text_add(out, " tells");
    if (instrument->channel) text_addf(out, ", channel %s", instrument->channel);
    text_add(out, "\n");
}

static void add_instruments(struct text *out, const struct bench_file *file)
{
    add_instrument(out, "Analyser", &file->analyser, file->layout);
    add_instrument(out, "Supply", &file->supply, NULL);
    if (!file->fixture) return;
    text_add(out, "Fixture: ");
    text_add_plain(out, file->fixture, "");
    text_add(out, ", which connects the board of the serial number\n");
}

static void add_sweep(struct text *out, const struct bench_sweep *sweep)
{
    add_value(out, "Sweep: ", sweep->start_hz, UNIT_HZ, " to ");
    add_value(out, "", sweep->stop_hz, UNIT_HZ, "");
    add_value(out, ", ", (double)sweep->points, UNIT_ONE, " points");
    add_value(out, ", IF bandwidth ", sweep->ifbw_hz, UNIT_HZ, "");
    text_addf(out, ", average of %lu", sweep->averages);
    add_value(out, ", source ", sweep->power_dbm, UNIT_DBM, "");
    if (!isnan(sweep->setup))
        add_value(out, ", after recalling setup ", sweep->setup, UNIT_ONE, "");
    text_add(out, "\n");
}

static void add_levels(struct text *out, const struct bench_levels *levels)
{
    if (levels->pad_db > 0)
        add_value(out, "Levels: pad of ", levels->pad_db, UNIT_DB, "");
    else
        text_add(out, "Levels: no pad");
    if (!isnan(levels->pad_rating_dbm))
        add_value(out, " that bears ", levels->pad_rating_dbm, UNIT_DBM, "");
    add_value(out, ", the board gives at most ", levels->saturated_dbm, UNIT_DBM, "");
    add_stated(out, ", its gain is at most ", levels->highest_gain_db, UNIT_DB,
               "6 dB above the highest gain limit");
    add_stated(out, "; receiver unharmed up to ", levels->receiver_damage_dbm, UNIT_DBM,
               "what its profile says");
    add_value(out, " less a reserve of ", levels->reserve_db, UNIT_DB, "");
    add_stated(out, ", linear up to ", levels->receiver_linear_dbm, UNIT_DBM,
               "what its profile says");
    text_add(out, "\n");
}

static void add_bias(struct text *out, const struct bench_bias *bias)
{
    add_value(out, "Bias: at most ", bias->most_v, UNIT_V, "");
    add_value(out, " and ", bias->current_limit_a * 1000, UNIT_MA, "");
    add_stated(out, ", over-voltage trip at ", bias->voltage_trip_v, UNIT_V, "(not set)");
    add_value(out, "; ramped by ", bias->ramp_step_v, UNIT_V, "");
    add_value(out, " every ", bias->ramp_interval_s, UNIT_S, "");
    add_value(out, ", settles for ", bias->settling_s, UNIT_S, "");
    add_value(out, ", must be there within ", bias->tolerance_v, UNIT_V, "");
    add_value(out, "; off is below ", bias->off_below_v, UNIT_V, "");
    add_value(out, ", powered for at most ", bias->longest_s, UNIT_S, "\n");
}

static void add_correction(struct text *out, const struct bench_correction *correction)
{
    text_addf(out, "Correction: %s",
              correction->required ? "must be on" : "the instrument is not asked");
    if (correction->done) text_addf(out, ", done on %s", correction->done);
    if (!isnan(correction->valid_days))
        add_value(out, ", valid for ", correction->valid_days, UNIT_ONE,
                  correction->valid_days == 1 ? " day" : " days");
    text_add(out, "\n");
}

static void add_reference(struct text *out, const struct bench_reference *reference)
{
    text_add(out, "Reference unit: ");
    if (!reference->serial) {
        text_add(out, "none\n");
        return;
    }
    text_add_plain(out, reference->serial, "");
    text_add(out, " with its sweeps in ");
    text_add_plain(out, reference->sweeps, "");
    add_value(out, ", gain within ", reference->gain_tolerance_db, UNIT_DB, "");
    add_value(out, ", input reflection within ", reference->reflection_tolerance, UNIT_ONE, "");
    text_add(out, "; at start");
    if (reference->every_units > 0) text_addf(out, ", after %lu units", reference->every_units);
    if (!isnan(reference->every_hours))
        add_value(out, ", after ", reference->every_hours, UNIT_ONE,
                  reference->every_hours == 1 ? " hour" : " hours");
    text_add(out, "\n");
}

/* Right all the same, but worth a thought. */
static void add_cautions(struct text *out, const struct bench_file *file)
{
    const struct {
        bool is_so;
        const char *words;
    } cautions[] = {
        {file->levels.pad_db <= 0, "no pad: an oscillating board reaches the receiver as it is"},
        {file->levels.reserve_db < USUAL_RESERVE_DB,
         "the reserve is below 6 dB: a gain above what was assumed may harm the receiver"},
        {isnan(file->bias.voltage_trip_v) && !bench_port_is(&file->supply, "manual"),
         "no voltage-trip: the supply's own over-voltage trip is not set"},
        {bench_port_is(&file->supply, "manual"),
         "a manual supply: the program can neither limit nor cut its current, nor switch it off"},
        {bench_port_is(&file->analyser, "folder") && !file->layout,
         "no layout: the next sweep that is saved is taken, whichever board it is of"},
        {!file->correction.required, "a sweep without calibration goes unseen"},
        {!file->correction.done, "no day of the correction: its age is not known"},
        {!file->reference.serial, "no reference unit: a bench that drifts goes unseen"},
        {file->streak == 0, "a streak of the same failure does not stop the batch"},
    };

    for (size_t i = 0; i < sizeof cautions / sizeof *cautions; i++)
        if (cautions[i].is_so) text_addf(out, "Caution: %s.\n", cautions[i].words);
}

void bench_file_words(const struct bench_file *file, struct text *out)
{
    text_add(out, "Bench: ");
    text_add_plain(out, file->label, "");
    text_add(out, "\n");
    if (file->note) {
        text_add(out, "Note: ");
        text_add_plain(out, file->note, "");
        text_add(out, "\n");
    }
    add_instruments(out, file);
    add_sweep(out, &file->sweep);
    add_levels(out, &file->levels);
    add_bias(out, &file->bias);
    add_correction(out, &file->correction);
    add_reference(out, &file->reference);
    text_addf(out, "Attempts: %lu of one serial number\n", file->most_attempts);
    if (file->streak > 0)
        text_addf(out, "Streak: %lu boards in a row that fail one limit stop the batch\n",
                  file->streak);
    add_cautions(out, file);
}
