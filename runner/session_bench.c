/* The bench in an operator's hands: a measurement that may fail, and the reference unit. */
#include <math.h>
#include <string.h>

#include "drivers/base/number.h"
#include "drivers/base/value.h"
#include "runner/session.h"

/* Ten times the limit of the supply: more is a serial number, not a current. */
#define NO_CURRENT_MA(file) (1e4 * (file)->bias.current_limit_a)

static bool is_reference(const struct session *s, const char *serial)
{
    return s->file->reference.serial && strcmp(serial, s->file->reference.serial) == 0;
}

/* A drop of the link in the middle of a batch is told, recorded, and tried again when the operator
 * has looked; with nobody to look it is an error. What to do comes first: why may be long. */
static bool ask_to_go_on(struct session *s, const char *serial, const char *why, bool *go,
                         struct error *e)
{
    const bool may_skip = serial && !is_reference(s, serial);
    const char *next = !serial                                 ? ""
                       : may_skip && s->file->reference.serial ? "; the reference unit is next"
                                                               : " and measures again";
    bool ended = false, skip = false;

    *go = false;
    session_remark(s, "%s", why);
    screen_forget(s->screen);
    while (!*go && !skip) {
        struct operator_command command;

        if (!session_ask(
                s, SCREEN_HALT, &ended, e, "%s Enter opens the bench anew%s%s, /stop ends.",
                s->bench->is_off      ? session_off_words(s)
                : s->bench->may_be_on ? "THE BOARD MAY BE POWERED: switch the supply off by hand."
                                      : "Whether the bench is off is not known.",
                next, may_skip ? ", /skip leaves the board out" : ""))
            return false;
        command = operator_command_read(text_words(&s->line));
        if (ended || command.kind == COMMAND_STOP) return error_set(e, ERROR_BENCH, "%s", why);
        *go = command.kind == COMMAND_NONE;
        skip = command.kind == COMMAND_SKIP && may_skip;
        /* The reason stays in view: a wrong key changes nothing. */
        if (command.kind == COMMAND_SERIAL && !session_has_operator())
            return session_no_answer(s, &command, e);
    }
    session_remark(s, "%s", "");
    if (!skip) return true;
    session_remark(s, "%s was left out; the record says so.", serial);
    return record_note(s->record, NOTE_SKIPPED, serial, 0, why, e);
}

static bool open_bench(struct session *s, struct error *e)
{
    if (s->bench->is_open) return true;
    return session_show(s, SCREEN_WAIT, e, "Opening the bench.") && bench_open(s->bench, e);
}

/* What the bench is to do: be open, and measure when a serial number is given. */
static bool do_once(struct session *s, const char *serial, struct error *e)
{
    return open_bench(s, e) && (!serial || bench_measure(s->bench, serial, &s->measured, e));
}

bool session_measure(struct session *s, const char *serial, bool *done, struct error *e)
{
    *done = false;
    for (;;) {
        struct error why = {0}, ignored = {0};
        bool go;

        *done = do_once(s, serial, &why);
        if (*done) return true;
        if (why.kind != ERROR_BENCH) return error_set(e, why.kind, "%s", why.text);
        /* What cannot be recorded either is the lesser trouble: the operator must hear of the
         * bench.
         */
        (void)!record_note(s->record, NOTE_BENCH, serial, 0, why.text, &ignored);
        if (!session_has_operator()) return error_set(e, ERROR_BENCH, "%s", why.text);
        bench_close(s->bench);
        /* An instrument that was lost may have been off, or be another one by now. */
        session_want_check(s);
        if (!ask_to_go_on(s, serial, why.text, &go, e)) return false;
        if (!go) return true;
        if (serial && !is_reference(s, serial) && s->file->reference.serial) {
            session_remark(s, "%s was not tested: scan it again when the bench is proven.", serial);
            return true;
        }
    }
}

/* A line that says which current, or nothing of it. */
static bool is_current(const struct session *s, const struct operator_command *command, double *ma)
{
    *ma = NAN;
    if (command->kind == COMMAND_NONE) return true;
    return command->kind == COMMAND_SERIAL && number_parse(command->words, ma) && *ma >= 0 &&
           *ma < NO_CURRENT_MA(s->file);
}

bool session_ask_bias(struct session *s, double bias_v, double *current_ma, struct error *e)
{
    const char *serial = s->view.serial ? s->view.serial : "the board";
    char volts[VALUE_TEXT];
    bool ended = false;

    (void)value_rounded(bias_v, UNIT_V, volts);
    /* An Enter too many says nothing of what is asked only now. */
    screen_forget(s->screen);
    while (!ended) {
        struct operator_command command;
        const bool ok =
            bias_v > 0
                ? session_ask(s, SCREEN_QUESTION, &ended, e,
                              "Set the bias of %s to %s and switch it on, hands off the board. "
                              "Type the current in mA that the supply shows, or just Enter.",
                              serial, volts)
                : session_ask(s, SCREEN_QUESTION, &ended, e,
                              "Switch the bias of %s OFF, then press Enter.", serial);

        if (!ok) return false;
        if (ended) break;
        command = operator_command_read(text_words(&s->line));
        if (bias_v > 0 ? is_current(s, &command, current_ma) : command.kind == COMMAND_NONE) {
            session_remark(s, "%s", "");
            return true;
        }
        if (command.kind == COMMAND_STOP && bias_v > 0)
            return error_set(e, ERROR_STOPPED, "stopped by the operator while %s was powered",
                             serial);
        if (bias_v > 0)
            session_remark(s, "\"%.40s\" is no current: type mA such as 12.5, or just Enter.",
                           text_words(&s->line));
        else
            session_remark(s, "First the bias goes off: Enter says that it is.");
    }
    return error_set(e, ERROR_BENCH,
                     "nobody said that the bias is %s: switch the supply off by hand",
                     bias_v > 0 ? volts : "off");
}

static bool is_due(const struct session *s)
{
    return s->file->reference.serial && (deadline_now_s() >= s->check_due_s ||
                                         (s->file->reference.every_units > 0 &&
                                          s->n_since_check >= s->file->reference.every_units));
}

static void set_next_check(struct session *s)
{
    const double hours = s->file->reference.every_hours;

    s->n_since_check = 0;
    s->check_due_s = isnan(hours) ? INFINITY : deadline_now_s() + 3600 * hours;
}

void session_want_check(struct session *s)
{
    s->check_due_s = -INFINITY;
}

/* One comparison, recorded. */
static bool check_bench(struct session *s, bool *good, struct text *words, struct error *e)
{
    const double z0_ohm = s->limits->impedance_ohm;
    struct measurement stored = {0}, before = {0};
    bool ok = reference_unit_read(s->file, s->limits, &stored, e) &&
              session_prepare(&stored, z0_ohm, &before, e) &&
              session_prepare(&s->measured, z0_ohm, &s->prepared, e) &&
              reference_unit_compare(s->file, s->limits, &before, &s->prepared, good, words, e) &&
              record_note(s->record, *good ? NOTE_REFERENCE_GOOD : NOTE_REFERENCE_BAD,
                          s->file->reference.serial, 0, words->data, e);

    measurement_clear(&before);
    measurement_clear(&stored);
    return ok;
}

/* A good one is what limits on phase compare with from now on. */
static bool keep_reference(struct session *s, struct error *e)
{
    if (!record_store_reference(s->record, &s->measured, e) ||
        !session_prepare(&s->measured, s->limits->impedance_ohm, &s->reference, e))
        return false;
    s->has_reference = true;
    set_next_check(s);
    return true;
}

/* A fixture connects it by itself, but somebody must look at a bench that it has not proven. */
static bool ask_for_reference(struct session *s, bool has_failed, bool *go, struct error *e)
{
    const char *serial = s->file->reference.serial;
    bool ended = false;

    *go = s->file->fixture != NULL && !has_failed;
    if (*go) return true;
    screen_forget(s->screen);
    while (!*go && !s->is_over) {
        struct operator_command command;

        if (!session_ask(
                s, SCREEN_QUESTION, &ended, e,
                "%s Connect the reference unit %s, output first, then press Enter: it proves the "
                "bench before boards are tested.",
                session_off_words(s), serial))
            return false;
        command = operator_command_read(text_words(&s->line));
        s->is_over = ended || command.kind == COMMAND_STOP;
        *go = !s->is_over && (command.kind == COMMAND_NONE || (command.kind == COMMAND_SERIAL &&
                                                               strcmp(command.words, serial) == 0));
        if (s->is_over && has_failed)
            return error_set(e, ERROR_BENCH, "%s", text_words(&s->message));
        /* Of a bench that is not proven the reason stays in view. */
        if (!*go && !s->is_over && (!has_failed || !session_has_operator()) &&
            !session_no_answer(s, &command, e))
            return false;
    }
    return true;
}

bool session_prove_bench(struct session *s, struct error *e)
{
    struct text words = {0};
    bool good = false, ok = true, go = false, done = false, has_failed = false;

    while (ok && !s->is_over && is_due(s)) {
        text_reset(&words);
        s->view.serial = s->file->reference.serial;
        s->view.attempt = 0;
        ok = ask_for_reference(s, has_failed, &go, e);
        if (!ok || !go) continue;
        ok = session_measure(s, s->file->reference.serial, &done, e);
        if (!ok || !done) continue;
        ok = check_bench(s, &good, &words, e);
        if (!ok) continue;
        has_failed = !good;
        if (good) {
            session_remark(s, "The bench is proven: %s.", words.data);
            ok = keep_reference(s, e);
        } else if (!session_has_operator()) {
            ok = error_set(
                e, ERROR_BENCH,
                "the reference unit %s is not what it was: %s. Boards are not tested: look at "
                "cables, connectors, pad and correction",
                s->file->reference.serial, words.data);
        } else {
            session_remark(s,
                           "The bench is NOT proven: %s. Look at cables, connectors, pad and "
                           "correction.",
                           words.data);
        }
    }
    s->view.serial = NULL;
    text_clear(&words);
    return ok;
}
