/* An analyser that speaks by a profile: arrange, sweep, read, and every check that keeps another
 * sweep's numbers from being taken for this one's (docs/drivers.md, "Is it a sweep?"). */
#include <math.h>
#include <string.h>

#include "drivers/analyser.h"
#include "drivers/base/memory.h"
#include "drivers/reply.h"

/* The deadline of a sweep: twice what points, IF bandwidth and averages take, and this (ours). */
#define SWEEP_REST_S 2.0
/* How far a point of the axis may be from where it is due, relative: a real of 32 bits is exact to
 * 6e-8. */
#define AXIS_EXACT 1e-6
/* What analysers of this range refer to (common practice); the judgement renormalises. */
#define ANALYSER_OHM 50.0

static struct profile_values values_of(const struct analyser *a)
{
    const struct bench_sweep *sweep = &a->file->sweep;
    struct profile_values values = profile_no_values();
    const double sweep_s = (double)sweep->points / sweep->ifbw_hz * (double)sweep->averages;

    values.channel = a->file->analyser.channel;
    values.value[VALUE_START_HZ] = sweep->start_hz;
    values.value[VALUE_STOP_HZ] = sweep->stop_hz;
    values.value[VALUE_POINTS] = (double)sweep->points;
    values.value[VALUE_IFBW_HZ] = sweep->ifbw_hz;
    values.value[VALUE_AVERAGES] = (double)sweep->averages;
    values.value[VALUE_POWER_DBM] = sweep->power_dbm;
    values.value[VALUE_SETUP] = sweep->setup;
    values.value[VALUE_SWEEP_TIMEOUT_MS] = ceil(1e3 * (2 * sweep_s + SWEEP_REST_S));
    return values;
}

static bool step(struct analyser *a, enum profile_step which, struct error *e)
{
    const struct profile_values values = values_of(a);

    return instrument_step(&a->instrument, which, &values, NULL, e);
}

static bool open_analyser(struct analyser *a, struct error *e)
{
    if (!a->profile.path && !profile_read(&a->profile, a->file->analyser.profile, e)) return false;
    if (a->profile.kind != PROFILE_ANALYSER)
        return error_set(e, ERROR_INPUT,
                         "%s: is the profile of a supply; <analyser> needs an analyser's",
                         a->profile.path);
    a->instrument.channel = a->file->analyser.channel;
    return instrument_open(&a->instrument, &a->profile, a->file->analyser.port, e);
}

static bool keep_identity(struct analyser *a, struct error *e)
{
    text_reset(&a->identity);
    text_add(&a->identity, text_words(&a->instrument.identity));
    return text_ok(&a->identity, "an identity", e);
}

static bool identify(struct analyser *a, struct error *e)
{
    if (!instrument_safe(&a->instrument, e) || !instrument_resync(&a->instrument, e) ||
        !step(a, STEP_RF_OFF, e) || !step(a, STEP_OPEN, e) || !step(a, STEP_IDENTIFY, e) ||
        !keep_identity(a, e) || !step(a, STEP_CHECK_ERRORS, e))
        return false;
    /* When it was switched on before that is no matter. */
    a->has_restarted = a->instrument.has_restarted = false;
    return true;
}

static double axis_at(const struct bench_sweep *sweep, size_t point)
{
    return sweep->start_hz +
           (sweep->stop_hz - sweep->start_hz) * (double)point / (double)(sweep->points - 1);
}

/* The axis as the instrument has it, in the encoding of its traces: it proves their byte order too.
 */
static bool check_axis(struct analyser *a, struct error *e)
{
    const struct bench_sweep *sweep = &a->file->sweep;
    const struct profile_values values = values_of(a);
    struct step_result axis = {.n = sweep->points};
    bool ok;

    if (!a->profile.steps[STEP_READ_AXIS].is_there) return true;
    axis.re = memory_make(sweep->points, sizeof *axis.re, e);
    if (!axis.re) return false;
    ok = instrument_step(&a->instrument, STEP_READ_AXIS, &values, &axis, e);
    for (size_t k = 0; ok && !a->instrument.rehearses && k < sweep->points; k++)
        if (!(fabs(axis.re[k] - axis_at(sweep, k)) <= AXIS_EXACT * axis_at(sweep, k)))
            ok = error_set(
                e, ERROR_BENCH,
                "%s: point %zu of its frequency axis is not where a linear sweep of %zu "
                "points has it: look at sweep type, points and the byte order in the profile",
                a->file->analyser.port, k + 1, (size_t)sweep->points);
    memory_free(axis.re);
    return ok;
}

/* What was recalled may have RF on, and a data format of its own: the opening words come once more.
 */
static bool recall(struct analyser *a, struct error *e)
{
    return isnan(a->file->sweep.setup) ||
           (step(a, STEP_RECALL, e) && step(a, STEP_RF_OFF, e) && step(a, STEP_OPEN, e));
}

static bool arrange(struct analyser *a, struct error *e)
{
    return step(a, STEP_RF_OFF, e) && recall(a, e) && step(a, STEP_SET_SWEEP, e) &&
           step(a, STEP_SET_POWER, e) &&
           (!a->file->correction.required || step(a, STEP_CHECK_CORRECTION, e)) &&
           check_axis(a, e) && step(a, STEP_CHECK_ERRORS, e);
}

/* Room for one trace: its parts, and the two as pairs. */
struct room {
    double *re, *im, *pairs;
};

static bool make_room(struct room *room, size_t n, struct error *e)
{
    room->re = memory_make(n, sizeof *room->re, e);
    room->im = room->re ? memory_make(n, sizeof *room->im, e) : NULL;
    room->pairs = room->im ? memory_make(2 * n, sizeof *room->pairs, e) : NULL;
    return room->pairs != NULL;
}

static void free_room(struct room *room)
{
    memory_free(room->re);
    memory_free(room->im);
    memory_free(room->pairs);
}

/* Refuses numbers that are no measurement. */
static bool check_trace(const struct analyser *a, enum s_parameter parameter,
                        const struct step_result *trace, double *pairs, struct error *e)
{
    const char *port = a->file->analyser.port, *name = s_parameter_name(parameter);
    struct error why = {0};

    if (!trace->has_re || !trace->has_im)
        return error_set(e, ERROR_BENCH,
                         "%s: the step \"read-trace\" of its profile reads no %s part", port,
                         trace->has_re ? "imaginary" : "real");
    if (trace->n_invalid > 0)
        return error_set(
            e, ERROR_BENCH,
            "%s: %zu values of %s are marked as no number: the sweep is void; look for an "
            "overload or a sweep that did not end",
            port, trace->n_invalid, name);
    for (size_t k = 0; k < trace->n; k++) {
        pairs[2 * k] = trace->re[k];
        pairs[2 * k + 1] = trace->im[k];
    }
    if (reply_is_plausible(pairs, trace->n, &why)) return true;
    return error_set(e, why.kind, "%s: %s: %s", port, name, why.text);
}

/* Noise differs, even where two parameters do not: a trace that is alike to the last bit to that of
 * another parameter is that one, and the choice of the parameter was not heard. */
static bool is_own(const struct analyser *a, enum s_parameter parameter, const struct sweep *now,
                   struct error *e)
{
    for (int p = 0; p < (int)parameter; p++) {
        size_t n_same = 0;

        if (!(a->parameters & S_BIT(p))) continue;
        while (n_same < now->n_points &&
               sweep_s(now, n_same, (enum s_parameter)p) == sweep_s(now, n_same, parameter))
            n_same++;
        if (n_same == now->n_points)
            return error_set(e, ERROR_BENCH,
                             "%s: gave for %s the trace of %s once more: look at the step "
                             "\"read-trace\" of its profile",
                             a->file->analyser.port, s_parameter_name(parameter),
                             s_parameter_name((enum s_parameter)p));
    }
    return true;
}

/* One parameter of the sweep that was taken, into its column. */
static bool read_trace(struct analyser *a, enum s_parameter parameter, const struct room *room,
                       struct sweep *out, struct error *e)
{
    struct profile_values values = values_of(a);
    struct step_result trace = {.n = a->file->sweep.points, .re = room->re, .im = room->im};

    values.parameter = s_parameter_name(parameter);
    if (!instrument_step(&a->instrument, STEP_READ_TRACE, &values, &trace, e)) return false;
    if (a->instrument.rehearses) return true;
    if (!check_trace(a, parameter, &trace, room->pairs, e)) return false;
    for (size_t k = 0; k < trace.n; k++)
        out->s[S_PARAMETERS * k + parameter] = CMPLX(trace.re[k], trace.im[k]);
    return is_own(a, parameter, out, e);
}

/* Whether the instrument measures one parameter a sweep: the profile's sweep then names it. */
static bool sweeps_each(const struct profile *profile)
{
    const struct profile_actions *actions = &profile->steps[STEP_SWEEP];

    for (size_t k = 0; k < actions->n; k++)
        if (actions->actions[k].text && strstr(actions->actions[k].text, "{parameter")) return true;
    return false;
}

static bool sweep_once(struct analyser *a, enum s_parameter parameter, struct error *e)
{
    struct profile_values values = values_of(a);

    values.parameter = s_parameter_name(parameter);
    return instrument_step(&a->instrument, STEP_SWEEP, &values, NULL, e) &&
           step(a, STEP_CHECK_LEVEL, e);
}

static bool take_sweep(struct analyser *a, const struct room *room, struct sweep *out,
                       struct error *e)
{
    const bool each = sweeps_each(&a->profile);
    bool swept = false;

    for (int p = 0; p < S_PARAMETERS; p++) {
        const enum s_parameter parameter = (enum s_parameter)p;

        if (!(a->parameters & S_BIT(parameter))) continue;
        if ((each || !swept) && !sweep_once(a, parameter, e)) return false;
        swept = true;
        if (!read_trace(a, parameter, room, out, e)) return false;
    }
    return step(a, STEP_CHECK_ERRORS, e);
}

static bool prepare(const struct analyser *a, struct sweep *out, struct error *e)
{
    const struct bench_sweep *sweep = &a->file->sweep;

    sweep_reset(out);
    if (!sweep_reserve(out, sweep->points, e)) return false;
    out->n_points = sweep->points;
    out->n_ports = 2;
    out->measured = a->parameters;
    out->z0_ohm[0] = out->z0_ohm[1] = ANALYSER_OHM;
    for (size_t k = 0; k < sweep->points; k++) {
        out->frequency_hz[k] = axis_at(sweep, k);
        for (int p = 0; p < S_PARAMETERS; p++)
            out->s[S_PARAMETERS * k + (size_t)p] = CMPLX(NAN, NAN);
    }
    return true;
}

/* Noise is new in every sweep: two traces that are alike to the last bit are one, read twice. */
static bool is_new(struct analyser *a, const struct sweep *now, struct error *e)
{
    if (a->instrument.rehearses) return true;
    if (!analyser_has_old_trace(a, now)) return sweep_copy(&a->last, now, e);
    return error_set(
        e, ERROR_BENCH,
        "%s: gave a trace of the sweep before once more, the same to the last bit: it did not "
        "sweep; look at the step \"sweep\" of its profile",
        a->file->analyser.port);
}

static bool measure_once(struct analyser *a, struct sweep *out, struct error *e)
{
    struct room room = {0};
    bool ok = make_room(&room, a->file->sweep.points, e) && prepare(a, out, e) &&
              (!a->file->correction.required || step(a, STEP_CHECK_CORRECTION, e)) &&
              check_axis(a, e) && step(a, STEP_RF_ON, e) && take_sweep(a, &room, out, e) &&
              step(a, STEP_RF_OFF, e) && is_new(a, out, e);

    free_room(&room);
    if (!ok) sweep_reset(out);
    return ok;
}

/* Of one that lost its power nothing holds any more that was proven, whatever it answers. */
static bool look_at_power(struct analyser *a, struct error *e)
{
    a->has_restarted = a->has_restarted || a->instrument.has_restarted;
    return !a->has_restarted ||
           error_set(e, ERROR_BENCH,
                     "%s: the analyser was switched off and on meanwhile: let it warm up, open the "
                     "bench anew and prove it",
                     a->file->analyser.port);
}

static bool measure(struct analyser *a, struct sweep *out, struct error *e)
{
    sweep_reset(out);
    return look_at_power(a, e) && measure_once(a, out, e);
}

static bool quiet(struct analyser *a, struct error *e)
{
    struct error why = {0}, ignored = {0};
    bool ok;

    if (!a->instrument.profile)
        return error_set(e, ERROR_BENCH, "RF is NOT CONFIRMED OFF: the analyser was not opened");
    ok = step(a, STEP_RF_OFF, &why);
    a->has_restarted = a->has_restarted || a->instrument.has_restarted;
    if (ok) return true;
    (void)!instrument_safe(&a->instrument, &ignored);
    return error_set(e, ERROR_BENCH,
                     "RF is NOT CONFIRMED OFF: switch the source off by hand. %.600s", why.text);
}

static void close_analyser(struct analyser *a)
{
    instrument_close(&a->instrument);
    profile_clear(&a->profile);
}

const struct analyser_kind analyser_profile = {
    .name = "profile",
    .open = open_analyser,
    .identify = identify,
    .arrange = arrange,
    .measure = measure,
    .quiet = quiet,
    .close = close_analyser,
};
