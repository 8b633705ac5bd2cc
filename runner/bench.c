#include "runner/bench.h"

#include <math.h>
#include <string.h>
#include <time.h>

#include "drivers/base/value.h"

/* In the errors of what is not known to be off. */
#define NOT_OFF "NOT CONFIRMED OFF"

enum { SLOT_ANALYSER = 0, SLOT_SUPPLY };

/* What the limits judge, and what every report draws. */
static unsigned find_parameters(const struct limits *limits)
{
    unsigned parameters = S_BIT(S11) | S_BIT(S21);

    for (size_t k = 0; k < limits->n_limits; k++)
        parameters |= limits->limits[k].quantity->needs;
    return parameters;
}

static bool is_manual(const struct bench *b)
{
    return bench_port_is(&b->file->supply, "manual");
}

/* Every connection is the guardian's before anything is sent over it. */
static bool hold(void *context, const struct instrument *i, struct error *e)
{
    const struct bench_hold *held = context;

    if (!held->bench->guardian)
        return error_set(e, ERROR_BENCH, "%s: nobody would switch it off: there is no guardian",
                         i->link->port);
    return guardian_hold(held->bench->guardian, held->slot, i, e);
}

static void hear(void *context, bool sent, const char *bytes, size_t n)
{
    static const char *const names[] = {[SLOT_ANALYSER] = "analyser", [SLOT_SUPPLY] = "supply"};
    const struct bench_hold *held = context;

    (void)sent;
    held->bench->heard(names[held->slot], bytes, n);
}

static void set_up(struct bench *b, struct instrument *i, unsigned slot)
{
    b->holds[slot] = (struct bench_hold){b, slot};
    i->rehearses = b->heard != NULL;
    i->ear = b->heard ? hear : NULL;
    i->linked = hold;
    i->ear_context = i->linked_context = &b->holds[slot];
}

/* Levels and ratings are looked at before any port is opened. */
static bool check_safety(struct bench *b, struct error *e)
{
    const bool folder = bench_port_is(&b->file->analyser, "folder");
    const time_t now = time(NULL);
    struct tm utc;
    char today[16];

    if (!gmtime_r(&now, &utc) || strftime(today, sizeof today, "%Y-%m-%d", &utc) == 0)
        return error_set(e, ERROR_BENCH, "the computer's clock cannot be read: set it");
    return safety_check_correction(b->file, today, e) &&
           (folder || profile_read(&b->analyser.profile, b->file->analyser.profile, e)) &&
           (is_manual(b) || profile_read(&b->supply.profile, b->file->supply.profile, e)) &&
           safety_check(b->file, b->limits, folder ? NULL : &b->analyser.profile,
                        is_manual(b) ? NULL : &b->supply.profile, &b->levels, e);
}

/* Both are opened even when one cannot be: the other one may be on, and is to be switched off. */
static bool open_links(struct bench *b, struct error *e)
{
    struct error second = {0};
    bool supply, analyser;

    for (size_t k = 0; k < b->limits->n_biases; k++)
        b->names[k] = (struct bias_name){b->limits->biases[k].id, b->limits->biases[k].at_v};
    b->analyser.biases =
        (struct bias_names){b->names, b->limits->n_biases, b->limits->bias_tolerance_v};
    set_up(b, &b->analyser.instrument, SLOT_ANALYSER);
    set_up(b, &b->supply.instrument, SLOT_SUPPLY);
    b->supply.ask = b->watcher.ask;
    b->supply.ask_context = b->watcher.context;
    supply = supply_open(&b->supply, b->file, e);
    analyser = analyser_open(&b->analyser, b->file, find_parameters(b->limits), &second);
    if (supply && !analyser) return error_set(e, second.kind, "%s", second.text);
    return supply && fixture_open(&b->fixture, b->heard ? NULL : b->file->fixture, e);
}

static bool keep_identity(struct bench *b, struct error *e)
{
    text_reset(&b->identity);
    text_addf(&b->identity, "%s; %s", text_words(&b->analyser.identity),
              b->supply.is_manual ? "bias set by hand"
                                  : text_words(&b->supply.instrument.identity));
    return text_ok(&b->identity, "the instruments' names", e);
}

static void close_all(struct bench *b)
{
    analyser_close(&b->analyser);
    supply_close(&b->supply);
    fixture_close(&b->fixture);
    text_clear(&b->identity);
    b->is_open = false;
}

/* Switches off what could be opened. What was not opened cannot be known, and its error stands. */
static void give_up(struct bench *b, struct error *e)
{
    struct error first = *e, off = {0};

    if (b->analyser.kind && !bench_quiet(b, &off) && b->analyser.instrument.link &&
        b->supply.instrument.link && !strstr(first.text, NOT_OFF)) {
        *e = (struct error){0};
        (void)error_set(e, ERROR_BENCH, "%s (before that: %s)", off.text, first.text);
    }
    close_all(b);
}

/* A supply that was left on by hand cannot be read: its operator is asked before anything else. */
static bool end_bias_by_hand(struct bench *b, struct error *e)
{
    if (!is_manual(b) || !b->may_be_on) return true;
    b->supply.off_is_due = true;
    return supply_off(&b->supply, e);
}

bool bench_open(struct bench *b, struct error *e)
{
    b->step_s = NAN;
    /* What an earlier opening read back says nothing of now. */
    b->is_off = false;
    /* The supply first: what its output was before is not known. */
    b->is_open = check_safety(b, e) && open_links(b, e) && end_bias_by_hand(b, e) &&
                 supply_identify(&b->supply, e) && b->analyser.kind->identify(&b->analyser, e) &&
                 keep_identity(b, e) && b->analyser.kind->arrange(&b->analyser, e);
    b->is_off = b->is_open;
    if (b->is_open)
        b->may_be_on = false;
    else
        give_up(b, e);
    return b->is_open;
}

/* An analyser out of step may never answer again, and the way back to it takes seconds: it is told,
 * and asked only when the bias is off. Who sets the bias by hand comes last all the same. */
static bool tell_rf_off(struct bench *b)
{
    struct instrument *i = &b->analyser.instrument;
    struct error ignored = {0};

    if (!i->is_out_of_step || is_manual(b)) return false;
    /* What cannot be written waits, too. */
    if (i->link && i->link->fault != LINK_GONE && !i->is_half_sent)
        (void)!instrument_safe(i, &ignored);
    return true;
}

bool bench_quiet(struct bench *b, struct error *e)
{
    struct error rf = {0}, bias = {0};
    const bool was_told = tell_rf_off(b);
    bool rf_off = !was_told && b->analyser.kind->quiet(&b->analyser, &rf);
    /* A supply that was not even tried, since the analyser could not be reached, was told nothing.
     */
    const bool bias_off = b->supply.file && supply_off(&b->supply, &bias);

    if (was_told) rf_off = b->analyser.kind->quiet(&b->analyser, &rf);
    b->is_off = rf_off && bias_off;
    if (bias_off) b->may_be_on = false;
    if (b->is_off) return true;
    return error_set(e, ERROR_BENCH, "%s%s%s", bias.text, bias.text[0] && rf.text[0] ? " " : "",
                     rf.text);
}

void bench_close(struct bench *b)
{
    struct error ignored = {0};

    if (b->analyser.kind && !b->is_off) (void)!bench_quiet(b, &ignored);
    close_all(b);
}

static void tell(const struct bench *b, size_t k, const char *what, bool wants_file)
{
    const struct bias_step *step = &b->limits->biases[k];
    char volts[VALUE_TEXT];
    struct text words = {0};
    struct bench_doing doing = {.n_done = k,
                                .n_steps = b->limits->n_biases,
                                .left_s = b->step_s * (double)(b->limits->n_biases - k),
                                .wants_file = wants_file};

    if (!b->watcher.tell) return;
    text_addf(&words, "bias %s, %s: %s", step->id, value_rounded(step->at_v, UNIT_V, volts), what);
    doing.words = text_words(&words);
    b->watcher.tell(b->watcher.context, &doing);
    text_clear(&words);
}

static bool settle(const struct bench *b, struct error *e)
{
    const double s = b->supply.instrument.rehearses ? 0 : b->file->bias.settling_s;

    return deadline_wait(deadline_in(s)) ||
           error_set(e, ERROR_STOPPED, "stopped while the bias settles");
}

/* The words of why a step has no sweep. Its current is not known either: what was read was read on
 * the way there, or behind a trip. */
static bool add_missing(struct bench *b, size_t k, const char *why, struct measurement *out,
                        struct error *e)
{
    struct bias_sweep *bias = measurement_add(out, b->limits->biases[k].at_v, e);

    if (!bias) return false;
    bias->bias_current_ma = NAN;
    text_add(&bias->missing, why);
    return text_ok(&bias->missing, "a reason", e);
}

static bool look(struct bench *b, struct error *e)
{
    return b->supply.is_manual || supply_look(&b->supply, e);
}

/* The reading is that after the sweep: it was the same before, or one of the two looks says so. */
static void keep_reading(const struct bench *b, size_t k, struct bias_sweep *bias)
{
    bias->bias_v = b->supply.instrument.rehearses ? b->limits->biases[k].at_v : b->supply.reading.v;
    bias->bias_current_ma = 1e3 * b->supply.reading.a;
}

static bool measure_step(struct bench *b, size_t k, struct measurement *out, struct error *e)
{
    struct bias_sweep *bias;
    const bool by_hand = b->analyser.kind == &analyser_folder;

    tell(b, k, "ramp", false);
    if (!supply_to(&b->supply, b->limits->biases[k].at_v, e) || !settle(b, e) || !look(b, e))
        return false;
    tell(b, k, by_hand ? "save its sweep now" : "sweep", by_hand);
    bias = measurement_add(out, b->limits->biases[k].at_v, e);
    if (!bias) return false;
    b->analyser.step = k;
    text_add(&bias->source, b->file->analyser.port);
    if (!text_ok(&bias->source, "a source", e) ||
        !b->analyser.kind->measure(&b->analyser, &bias->sweep, e) || !look(b, e))
        return false;
    keep_reading(b, k, bias);
    return true;
}

/* Void: a board that was refused during its sweep was not measured in it. */
static void drop_step(size_t k, struct measurement *out)
{
    if (out->n_biases <= k) return;
    sweep_reset(&out->biases[k].sweep);
    text_reset(&out->biases[k].source);
    out->n_biases = k;
}

/* Every bias step in rising voltage. A board that draws too much ends it without being a fault. */
static bool measure_steps(struct bench *b, struct measurement *out, struct error *e)
{
    const double begun_s = deadline_now_s();
    struct error why = {0};

    for (size_t k = 0; k < b->limits->n_biases; k++) {
        const double before_s = deadline_now_s();

        if (before_s - begun_s > b->file->bias.longest_s)
            return error_set(
                e, ERROR_BENCH,
                "the board was powered for longer than %s allows (longest): raise it, or "
                "look for what is slow",
                b->file->path);
        if (!measure_step(b, k, out, &why)) {
            if (!b->supply.refused) return error_set(e, why.kind, "%s", why.text);
            b->board_refused = true;
            drop_step(k, out);
            for (size_t rest = k; rest < b->limits->n_biases; rest++)
                if (!add_missing(b, rest, why.text, out, e)) return false;
            return true;
        }
        b->step_s = deadline_now_s() - before_s;
    }
    return true;
}

static bool power_and_measure(struct bench *b, struct measurement *out, struct error *e)
{
    struct error why = {0};

    b->is_off = false;
    b->may_be_on = true;
    if (supply_on(&b->supply, &why)) return measure_steps(b, out, e);
    if (!b->supply.refused) return error_set(e, why.kind, "%s", why.text);
    b->board_refused = true;
    for (size_t k = 0; k < b->limits->n_biases; k++)
        if (!add_missing(b, k, why.text, out, e)) return false;
    return true;
}

static bool is_lost(const struct instrument *i)
{
    return i->is_out_of_step && i->link && i->link->fault != LINK_GONE;
}

/* One whole test; the bench is off behind it, or `e` says that it is not. `may_repeat`: an exchange
 * went wrong, and nothing else. */
static bool measure_once(struct bench *b, const char *serial, struct measurement *out,
                         bool *may_repeat, struct error *e)
{
    struct error quiet = {0};
    bool ok;

    measurement_reset(out, serial, 1);
    b->board_refused = false;
    b->analyser.serial = serial;
    ok = (!b->guardian || guardian_check(b->guardian, e)) &&
         fixture_connect(&b->fixture, serial, e) && supply_prepare(&b->supply, e) &&
         power_and_measure(b, out, e);
    /* Down the ramp where all is well; else off at once. */
    if (ok && !b->board_refused) ok = supply_to(&b->supply, 0, e);
    *may_repeat = !ok && e->kind == ERROR_BENCH &&
                  (is_lost(&b->analyser.instrument) || is_lost(&b->supply.instrument));
    if (bench_quiet(b, &quiet)) return ok;
    *may_repeat = false;
    if (!ok) {
        struct error first = *e;

        *e = (struct error){0};
        return error_set(e, ERROR_BENCH, "%s (before that: %s)", quiet.text, first.text);
    }
    return error_set(e, ERROR_BENCH, "%s", quiet.text);
}

/* What is recalled may have RF on: the bench is off only when that was read back once more. */
static bool arrange_again(struct bench *b, struct error *e)
{
    struct error why = {0}, quiet = {0};

    b->is_off = false;
    if (b->analyser.kind->arrange(&b->analyser, &why)) return true;
    if (bench_quiet(b, &quiet)) return error_set(e, why.kind, "%s", why.text);
    return error_set(e, ERROR_BENCH, "%s (before that: %s)", quiet.text, why.text);
}

bool bench_measure(struct bench *b, const char *serial, struct measurement *out, struct error *e)
{
    struct error first = {0}, second = {0};
    bool may_repeat = false;

    if (!b->is_open) return error_set(e, ERROR_BENCH, "the bench is not open");
    if (measure_once(b, serial, out, &may_repeat, &first)) return true;
    if (!may_repeat) return error_set(e, first.kind, "%s", first.text);
    /* What an exchange went wrong in is void. The way back was gone without bias; now the whole
     * test begins anew, once. */
    if (arrange_again(b, &second) && measure_once(b, serial, out, &may_repeat, &second))
        return true;
    return error_set(e, second.kind, "%s (before that: %.600s)", second.text, first.text);
}
