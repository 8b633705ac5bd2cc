#include "runner/safety.h"

#include <math.h>
#include <string.h>

#include "drivers/base/number.h"
#include "drivers/base/value.h"

/* All common practice; docs/safety.md tells why. */
#define GAIN_ALLOWANCE_DB 6.0   /* above the highest gain limit: the boards that fail it */
#define LINEAR_ALLOWANCE_DB 3.0 /* below the receiver's linear range */
#define PAD_ALLOWANCE_DB 3.0    /* below what the first attenuator bears */
/* What adding and subtracting decimals may leave; far below what any level is known to. */
#define ROUNDING 1e-9

/* What is checked against what. */
struct place {
    const struct bench_file *file;
    const struct limits *limits;
    const struct profile *analyser, *supply; /* or NULL */
};

/* "20.5 dBm", for a sentence: without what adding has left behind the sixth decimal. */
struct words {
    char text[VALUE_TEXT];
};

static struct words in_words(double x, enum unit unit)
{
    struct words words = {""};

    (void)value_words(unit == UNIT_HZ ? x : round(x * 1e6) / 1e6, unit, words.text);
    return words;
}

static bool exceeds(double x, double most)
{
    return x > most + ROUNDING;
}

/* A profile must be of the kind of its place, and have the steps that the bench file asks for. */
static bool check_profile(const struct place *at, const struct profile *profile,
                          enum profile_kind kind, struct error *e)
{
    const struct {
        bool is_wanted;
        enum profile_kind kind;
        enum profile_step step;
        const char *what;
    } wanted[] = {
        {!isnan(at->file->sweep.setup), PROFILE_ANALYSER, STEP_RECALL, "setup in <sweep>"},
        {at->file->correction.required, PROFILE_ANALYSER, STEP_CHECK_CORRECTION,
         "required=\"yes\" in <correction>, which is so unless the file says no,"},
        {!isnan(at->file->bias.voltage_trip_v), PROFILE_SUPPLY, STEP_SET_TRIP,
         "voltage-trip in <bias>"},
    };

    if (!profile) return true;
    if (profile->kind != kind)
        return error_set(e, ERROR_BENCH, "%s: %s is the profile of %s: name one of %s in <%s>",
                         at->file->path, profile->path,
                         kind == PROFILE_SUPPLY ? "an analyser" : "a supply",
                         kind == PROFILE_SUPPLY ? "a supply" : "an analyser",
                         kind == PROFILE_SUPPLY ? "supply" : "analyser");
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++)
        if (wanted[i].is_wanted && wanted[i].kind == kind &&
            !profile->steps[wanted[i].step].is_there)
            return error_set(e, ERROR_BENCH,
                             "%s: %s needs a step %s, which %s does not have: add it there, or "
                             "remove what needs it",
                             at->file->path, wanted[i].what, profile_step_name(wanted[i].step),
                             profile->path);
    return true;
}

/* The gain at the highest bias must be bounded: there it usually is highest. */
static bool find_gain(const struct place *at, struct safety_levels *out, struct error *e)
{
    const struct limits *limits = at->limits;
    bool is_bounded = false;

    out->highest_gain_db = at->file->levels.highest_gain_db;
    out->gain_from_limits = isnan(out->highest_gain_db);
    if (!out->gain_from_limits) return true;
    for (size_t i = 0; i < limits->n_limits; i++) {
        const struct limit *limit = &limits->limits[i];

        if (strcmp(limit->quantity->name, "gain") != 0 || limit->upper.n_points == 0) continue;
        if (limit->biases >> (limits->n_biases - 1) & 1) is_bounded = true;
        for (size_t k = 0; k < limit->upper.n_points; k++)
            out->highest_gain_db =
                fmax(out->highest_gain_db, limit->upper.value[k] + GAIN_ALLOWANCE_DB);
    }
    if (is_bounded) return true;
    return error_set(e, ERROR_BENCH,
                     "%s: how high the gain may be is not known, since %s has no gain limit with "
                     "an upper bound at its highest bias step: state highest-gain in <levels>",
                     at->file->path, limits->path);
}

/* A rating of the receiver: the bench file's may be lower than the profile's, never higher. */
static bool find_rating(const struct place *at, const char *name, double stated, double rated,
                        double *out, struct error *e)
{
    if (isnan(stated) && isnan(rated))
        return error_set(e, ERROR_BENCH,
                         "%s: what the receiver bears is not known: state receiver-%s in <levels>, "
                         "from its data sheet",
                         at->file->path, name);
    if (exceeds(stated, rated))
        return error_set(e, ERROR_BENCH,
                         "%s: receiver-%s of %s is above the %s of %s: lower it, or mend %s-power "
                         "in the profile",
                         at->file->path, name, in_words(stated, UNIT_DBM).text,
                         in_words(rated, UNIT_DBM).text, at->analyser->path, name);
    *out = isnan(stated) ? rated : stated;
    return true;
}

static bool find_ratings(const struct place *at, struct safety_levels *out, struct error *e)
{
    const struct bench_levels *levels = &at->file->levels;
    const double damage = at->analyser ? at->analyser->damage_dbm : NAN;
    const double linear = at->analyser ? at->analyser->linear_dbm : NAN;

    return find_rating(at, "damage", levels->receiver_damage_dbm, damage, &out->damage_dbm, e) &&
           find_rating(at, "linear", levels->receiver_linear_dbm, linear, &out->linear_dbm, e);
}

static bool check_levels(const struct place *at, struct safety_levels *out, struct error *e)
{
    const struct bench_levels *levels = &at->file->levels;
    const double source = at->file->sweep.power_dbm,
                 unharmed = out->damage_dbm - levels->reserve_db,
                 linear = out->linear_dbm - LINEAR_ALLOWANCE_DB;
    const struct {
        double is, most;
        const char *what, *remedy;
    } rules[] = {
        {levels->pad_db > 0 ? levels->saturated_dbm : -INFINITY,
         levels->pad_rating_dbm - PAD_ALLOWANCE_DB,
         "the board's highest output is above what the pad bears less 3 dB",
         "fit a pad of a higher rating"},
        {out->oscillating_dbm, unharmed,
         "an oscillating board reaches the receiver above its damage level less the reserve",
         "fit a larger pad"},
        {out->driven_dbm, unharmed,
         "a driven board reaches the receiver above its damage level less the reserve",
         "fit a larger pad or lower power in <sweep>"},
        {out->driven_dbm, linear,
         "a driven board reaches the receiver above its linear range less 3 dB",
         "fit a larger pad or lower power in <sweep>"},
        {source, unharmed,
         "the source, thrown back whole by the board's input, is above the receiver's damage level "
         "less the reserve",
         "lower power in <sweep>"},
    };

    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++)
        if (exceeds(rules[i].is, rules[i].most))
            return error_set(e, ERROR_BENCH, "%s: %s: %s against %s: %s", at->file->path,
                             rules[i].what, in_words(rules[i].is, UNIT_DBM).text,
                             in_words(rules[i].most, UNIT_DBM).text, rules[i].remedy);
    return true;
}

/* What the sweep asks of the analyser; a rating that its profile does not state bounds nothing. */
static bool check_sweep(const struct place *at, struct error *e)
{
    const struct bench_sweep *sweep = &at->file->sweep;
    const struct profile *p = at->analyser;
    const struct {
        const char *name;
        double is, least, most;
        enum unit unit;
    } asked[] = {
        {"from", sweep->start_hz, p->min_hz, p->max_hz, UNIT_HZ},
        {"to", sweep->stop_hz, p->min_hz, p->max_hz, UNIT_HZ},
        {"points", (double)sweep->points, NAN, p->max_points, UNIT_ONE},
        {"power", sweep->power_dbm, p->min_dbm, p->max_dbm, UNIT_DBM},
    };

    for (size_t i = 0; i < sizeof asked / sizeof *asked; i++) {
        const bool is_high = exceeds(asked[i].is, asked[i].most);

        if (!is_high && !exceeds(asked[i].least, asked[i].is)) continue;
        return error_set(
            e, ERROR_BENCH, "%s: %s of %s in <sweep> is %s the %s of %s: change it", at->file->path,
            asked[i].name, in_words(asked[i].is, asked[i].unit).text, is_high ? "above" : "below",
            in_words(is_high ? asked[i].most : asked[i].least, asked[i].unit).text, p->path);
    }
    return true;
}

/* Every step of the limits file must be one that the bench may set. */
static bool check_bias(const struct place *at, struct error *e)
{
    const struct bench_bias *bias = &at->file->bias;
    const double rated_v = at->supply ? at->supply->max_v : NAN;
    const double rated_a = at->supply ? at->supply->max_a : NAN;

    if (exceeds(bias->current_limit_a, rated_a))
        return error_set(e, ERROR_BENCH,
                         "%s: current-limit of %s in <bias> is above the %s of %s: lower it",
                         at->file->path, in_words(bias->current_limit_a * 1000, UNIT_MA).text,
                         in_words(rated_a * 1000, UNIT_MA).text, at->supply->path);
    for (size_t i = 0; i < at->limits->n_biases; i++) {
        const struct bias_step *step = &at->limits->biases[i];
        const struct words at_v = in_words(step->at_v, UNIT_V);

        if (exceeds(step->at_v, rated_v))
            return error_set(e, ERROR_BENCH,
                             "%s: bias step %s at %s is above the %s of %s: use another supply",
                             at->limits->path, step->id, at_v.text, in_words(rated_v, UNIT_V).text,
                             at->supply->path);
        if (exceeds(step->at_v, bias->most_v))
            return error_set(e, ERROR_BENCH,
                             "%s: bias step %s of %s at %s is above most in <bias>, %s: raise it "
                             "only if board and supply bear it",
                             at->file->path, step->id, at->limits->path, at_v.text,
                             in_words(bias->most_v, UNIT_V).text);
        if (!exceeds(step->at_v, bias->off_below_v))
            return error_set(e, ERROR_BENCH,
                             "%s: bias step %s of %s at %s is not above off-below in <bias>, %s, "
                             "so that a powered board would count as off: lower off-below",
                             at->file->path, step->id, at->limits->path, at_v.text,
                             in_words(bias->off_below_v, UNIT_V).text);
    }
    return true;
}

bool safety_check(const struct bench_file *file, const struct limits *limits,
                  const struct profile *analyser, const struct profile *supply,
                  struct safety_levels *out, struct error *e)
{
    const struct place at = {file, limits, analyser, supply};
    struct safety_levels made = {0};

    if (!check_profile(&at, analyser, PROFILE_ANALYSER, e)) return false;
    if (!check_profile(&at, supply, PROFILE_SUPPLY, e)) return false;
    if (!find_gain(&at, &made, e) || !find_ratings(&at, &made, e)) return false;
    made.driven_dbm = file->sweep.power_dbm + made.highest_gain_db - file->levels.pad_db;
    made.oscillating_dbm = file->levels.saturated_dbm - file->levels.pad_db;
    if (!check_levels(&at, &made, e)) return false;
    if ((analyser && !check_sweep(&at, e)) || !check_bias(&at, e)) return false;
    *out = made;
    return true;
}

static void add_level(struct text *out, const char *before, double x, enum unit unit)
{
    text_add(out, before);
    text_add(out, in_words(x, unit).text);
}

void safety_words(const struct safety_levels *levels, struct text *out)
{
    add_level(out, "Highest gain assumed: ", levels->highest_gain_db, UNIT_DB);
    text_add(out, levels->gain_from_limits ? ", 6 dB above the highest gain limit\n"
                                           : ", as the bench file states\n");
    add_level(out, "At the receiver, board driven: ", levels->driven_dbm, UNIT_DBM);
    add_level(out, " (linear up to ", levels->linear_dbm, UNIT_DBM);
    add_level(out, ")\nAt the receiver, board oscillating: ", levels->oscillating_dbm, UNIT_DBM);
    add_level(out, " (damage from ", levels->damage_dbm, UNIT_DBM);
    text_add(out, ")\n");
}

/* Days since 1 March of the year 0, in the calendar that ISO 8601 uses: years begin in March here,
 * so that the leap day is their last. Its own arithmetic: mktime() follows the time zone. */
static bool count_days(const char *date, long *out)
{
    unsigned long y, m, d;
    char year[5] = {0}, month[3] = {0}, day[3] = {0};

    if (strlen(date) < 10) return false;
    memcpy(year, date, 4);
    memcpy(month, date + 5, 2);
    memcpy(day, date + 8, 2);
    if (!number_parse_whole(year, 9999, &y) || !number_parse_whole(month, 12, &m) ||
        !number_parse_whole(day, 31, &d) || m < 1 || d < 1)
        return false;
    y -= m < 3;
    m = m < 3 ? m + 9 : m - 3;
    *out = (long)(365 * y + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + d - 1);
    return true;
}

bool safety_check_correction(const struct bench_file *file, const char *today, struct error *e)
{
    const struct bench_correction *correction = &file->correction;
    long done, now;

    if (!correction->done || isnan(correction->valid_days)) return true;
    if (!count_days(correction->done, &done) || !count_days(today, &now))
        return error_set(e, ERROR_BENCH,
                         "%s: the day of the correction cannot be compared with today's",
                         file->path);
    /* Today is told in UTC: east of Greenwich the day begins before. */
    if (done > now + 1)
        return error_set(
            e, ERROR_BENCH,
            "%s: the correction was done on %s, after today (%s): set the clock or the file "
            "right",
            file->path, correction->done, today);
    if ((double)(now - done) <= correction->valid_days) return true;
    return error_set(
        e, ERROR_BENCH,
        "%s: the correction was done on %s, %ld days ago, longer than its valid-days: do it "
        "again and write the new day into the bench file",
        file->path, correction->done, now - done);
}
