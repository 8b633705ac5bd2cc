#include "drivers/supply.h"

#include <math.h>

#include "drivers/base/value.h"

/* The output's capacitors have let go after this (common practice), looked at so often. */
#define DISCHARGE_S 2.0
#define DISCHARGE_LOOK_S 0.02
/* A current this close to the limit is the limit: the supply holds it there. */
#define AT_LIMIT 0.98
/* Steps of a ramp: a step of a millivolt over the widest range of a bench supply. */
#define MOST_STEPS 100000.0

static struct profile_values values_of(const struct supply *s)
{
    struct profile_values values = profile_no_values();

    values.channel = s->file->supply.channel;
    return values;
}

static bool step(struct supply *s, enum profile_step which, struct error *e)
{
    const struct profile_values values = values_of(s);

    return instrument_step(&s->instrument, which, &values, NULL, e);
}

static bool read_step(struct supply *s, enum profile_step which, double *out, struct error *e)
{
    const struct profile_values values = values_of(s);
    struct step_result result = {0};

    if (!instrument_step(&s->instrument, which, &values, &result, e)) return false;
    *out = result.number;
    return !isnan(*out) ||
           error_set(e, ERROR_BENCH, "%s: the step \"%s\" of its profile reads nothing",
                     s->file->supply.port, profile_step_name(which));
}

static bool set_voltage(struct supply *s, double v, struct error *e)
{
    struct profile_values values = values_of(s);

    values.value[VALUE_VOLTAGE_V] = v;
    if (!instrument_step(&s->instrument, STEP_SET_VOLTAGE, &values, NULL, e)) return false;
    s->set_v = v;
    return true;
}

bool supply_open(struct supply *out, const struct bench_file *file, struct error *e)
{
    out->file = file;
    out->is_manual = bench_port_is(&file->supply, "manual");
    out->is_off = false;
    if (out->is_manual) return true;
    if (!out->profile.path && !profile_read(&out->profile, file->supply.profile, e)) return false;
    if (out->profile.kind != PROFILE_SUPPLY)
        return error_set(e, ERROR_INPUT,
                         "%s: is the profile of an analyser; <supply> needs a supply's",
                         out->profile.path);
    out->instrument.channel = file->supply.channel;
    return instrument_open(&out->instrument, &out->profile, file->supply.port, e);
}

void supply_close(struct supply *s)
{
    instrument_close(&s->instrument);
    profile_clear(&s->profile);
    *s = (struct supply){0};
}

bool supply_identify(struct supply *s, struct error *e)
{
    if (s->is_manual) return true;
    /* Whatever it does now, off comes before the first question. */
    return instrument_safe(&s->instrument, e) && instrument_resync(&s->instrument, e) &&
           step(s, STEP_OPEN, e) && supply_off(s, e) && step(s, STEP_IDENTIFY, e) &&
           step(s, STEP_CHECK_ERRORS, e);
}

bool supply_prepare(struct supply *s, struct error *e)
{
    struct profile_values values = values_of(s);

    if (s->is_manual) return true;
    values.value[VALUE_CURRENT_A] = s->file->bias.current_limit_a;
    values.value[VALUE_TRIP_V] = s->file->bias.voltage_trip_v;
    return step(s, STEP_CHECK_TRIP, e) &&
           (isnan(values.value[VALUE_TRIP_V]) ||
            instrument_step(&s->instrument, STEP_SET_TRIP, &values, NULL, e)) &&
           instrument_step(&s->instrument, STEP_SET_LIMIT, &values, NULL, e) &&
           set_voltage(s, 0, e) && step(s, STEP_CHECK_ERRORS, e);
}

bool supply_on(struct supply *s, struct error *e)
{
    s->is_off = false;
    s->refused = false;
    if (s->is_manual) return true;
    return step(s, STEP_OUTPUT_ON, e) && supply_look(s, e);
}

/* What is wrong with a reading, in its own figures. */
static bool refuse(struct supply *s, const char *words, double expected, enum unit unit,
                   struct error *e)
{
    char v[VALUE_TEXT], ma[VALUE_TEXT], other[VALUE_TEXT];

    s->refused = true;
    return error_set(e, ERROR_BENCH, "%s: %s at %s: %s %s", s->file->supply.port,
                     value_rounded(1e3 * s->reading.a, UNIT_MA, ma),
                     value_rounded(s->reading.v, UNIT_V, v), words,
                     value_rounded(expected, unit, other));
}

/* A trip, as the profile checks it, is the board's doing; a link that fails is not. */
static bool look_at_trips(struct supply *s, struct error *e)
{
    const bool ok = step(s, STEP_CHECK_TRIP, e);

    if (!ok && e->kind == ERROR_BENCH && !s->instrument.is_out_of_step) s->refused = true;
    return ok;
}

bool supply_look(struct supply *s, struct error *e)
{
    const struct bench_bias *bias = &s->file->bias;
    struct supply_reading r = {NAN, NAN};

    s->refused = false;
    s->reading = r;
    if (!read_step(s, STEP_READ_VOLTAGE, &r.v, e) || !read_step(s, STEP_READ_CURRENT, &r.a, e))
        return false;
    if (s->instrument.rehearses) return step(s, STEP_CHECK_TRIP, e);
    s->reading = r;
    /* The trip first: after one, voltage and current say nothing any more. */
    if (!look_at_trips(s, e)) return false;
    if (fabs(r.a) >= AT_LIMIT * bias->current_limit_a)
        return refuse(s, "the board draws too much; the limit is", 1e3 * bias->current_limit_a,
                      UNIT_MA, e);
    if (fabs(r.v - s->set_v) <= bias->tolerance_v) return true;
    return refuse(s,
                  "the current limit holds the voltage down, or it is read in another unit; set is",
                  s->set_v, UNIT_V, e);
}

bool supply_to(struct supply *s, double bias_v, struct error *e)
{
    const double from = s->set_v, way = bias_v - from;
    const double n = ceil(fabs(way) / s->file->bias.ramp_step_v - 1e-9);

    if (s->is_manual) {
        double current_ma = NAN;

        /* Whoever is asked to switch on may have done so whatever the answer is. */
        if (bias_v != 0) s->set_v = bias_v;
        if (!s->ask(s->ask_context, bias_v, &current_ma, e)) return false;
        s->set_v = bias_v;
        s->reading = (struct supply_reading){bias_v, current_ma / 1e3};
        return true;
    }
    if (!(n <= MOST_STEPS))
        return error_set(e, ERROR_BENCH, "%s: the ramp is too fine: raise ramp-step",
                         s->file->path);
    if (n < 1) return supply_look(s, e);
    for (double k = 1; k <= n; k++) {
        if (!set_voltage(s, k < n ? from + way * k / n : bias_v, e)) return false;
        if (!deadline_wait(
                deadline_in(s->instrument.rehearses ? 0 : s->file->bias.ramp_interval_s)))
            return error_set(e, ERROR_STOPPED, "stopped during the ramp of the bias");
        if (!supply_look(s, e)) return false;
    }
    return true;
}

/* The output's voltage is down: only then may somebody touch the board. */
static bool wait_for_discharge(struct supply *s, struct error *e)
{
    const struct deadline deadline = deadline_in(DISCHARGE_S);
    char words[VALUE_TEXT];
    double v;

    if (s->instrument.rehearses) return true;
    for (;;) {
        if (!read_step(s, STEP_READ_VOLTAGE, &v, e)) return false;
        if (fabs(v) < s->file->bias.off_below_v) return true;
        if (deadline_passed(deadline))
            return error_set(e, ERROR_BENCH,
                             "%s: still reads %s two seconds after it was switched off",
                             s->file->supply.port, value_rounded(v, UNIT_V, words));
        deadline_sleep(deadline_in(DISCHARGE_LOOK_S));
    }
}

static bool switch_off(struct supply *s, struct error *e)
{
    return step(s, STEP_OUTPUT_OFF, e) && wait_for_discharge(s, e);
}

static bool off_by_hand(struct supply *s, struct error *e)
{
    double none;

    if (s->set_v != 0 && s->ask && !s->ask(s->ask_context, 0, &none, e)) return false;
    s->set_v = 0;
    return true;
}

bool supply_off(struct supply *s, struct error *e)
{
    struct error why = {0}, ignored = {0};
    bool before = false;

    if (s->is_manual) {
        s->is_off = off_by_hand(s, e);
        return s->is_off;
    }
    /* Reading the voltage back, too, goes on when somebody asked to stop. */
    if (s->instrument.link) {
        before = s->instrument.link->ignores_stop;
        s->instrument.link->ignores_stop = true;
    }
    s->is_off = switch_off(s, &why);
    if (!s->is_off) (void)!instrument_safe(&s->instrument, &ignored);
    if (s->instrument.link) s->instrument.link->ignores_stop = before;
    if (s->is_off) {
        s->set_v = 0;
        return true;
    }
    return error_set(
        e, ERROR_BENCH,
        "the bias output is NOT CONFIRMED OFF: switch the supply off by hand before you "
        "touch the board. %.600s",
        why.text);
}
