/* The bench in an operator's hands: a measurement that may fail, and the reference unit. */
#include <math.h>
#include <string.h>

#include "drivers/base/number.h"
#include "drivers/base/value.h"
#include "runner/session.h"

/* A drop of the link in the middle of a batch is told, recorded, and tried again when the operator
 * has looked; with nobody to look (input is no keyboard) it is an error. */
static bool ask_to_go_on(struct session *s, const char *why, bool *go, struct error *e)
{
    bool ended = false;

    *go = false;
    screen_forget(s->screen);
    while (!*go && !s->is_over) {
        struct operator_command command;

        if (!session_ask(s, SCREEN_HALT, &ended, e,
                         "%s%s Enter opens the bench anew and measures again, /stop ends.",
                         s->bench->is_off ? "The bench is off. " : "", why))
            return false;
        command = operator_command_read(text_words(&s->line));
        s->is_over = ended || command.kind == COMMAND_STOP;
        *go = command.kind == COMMAND_NONE && !s->is_over;
    }
    return true;
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
        if (!s->screen->is_terminal) return error_set(e, ERROR_BENCH, "%s", why.text);
        bench_close(s->bench);
        if (!ask_to_go_on(s, why.text, &go, e)) return false;
        if (!go) return true;
    }
}

bool session_ask_bias(struct session *s, double bias_v, double *current_ma, struct error *e)
{
    char volts[VALUE_TEXT];
    bool ended = false;

    (void)value_rounded(bias_v, UNIT_V, volts);
    while (!s->is_over) {
        struct operator_command command;
        double ma;
        const bool ok =
            bias_v > 0
                ? session_ask(s, SCREEN_QUESTION, &ended, e,
                              "Set the bias of %s to %s and switch it on. Type the current in mA "
                              "that the supply shows, or just Enter.",
                              s->serial, volts)
                : session_ask(s, SCREEN_QUESTION, &ended, e,
                              "Switch the bias of %s OFF, then press Enter.", s->serial);

        if (!ok) return false;
        if (ended) break;
        command = operator_command_read(text_words(&s->line));
        *current_ma = NAN;
        if (command.kind == COMMAND_NONE) return true;
        if (bias_v > 0 && command.kind == COMMAND_SERIAL && number_parse(command.words, &ma)) {
            *current_ma = ma;
            return true;
        }
    }
    return error_set(e, ERROR_BENCH,
                     "nobody said that the bias is %s: switch the supply off by hand",
                     bias_v > 0 ? volts : "off");
}

static bool is_due(const struct session *s)
{
    return s->file->reference.serial &&
           (deadline_passed(s->check_due) || (s->file->reference.every_units > 0 &&
                                              s->n_since_check >= s->file->reference.every_units));
}

static void set_next_check(struct session *s)
{
    const double hours = s->file->reference.every_hours;

    s->n_since_check = 0;
    s->check_due = deadline_in(isnan(hours) ? 1e9 : 3600 * hours);
}

/* One comparison, recorded. */
static bool check_bench(struct session *s, bool *good, struct text *words, struct error *e)
{
    struct measurement stored = {0};
    bool ok = reference_unit_read(s->file, s->limits, &stored, e) &&
              reference_unit_compare(s->file, s->limits, &stored, &s->measured, good, words, e) &&
              record_note(s->record, *good ? NOTE_REFERENCE_GOOD : NOTE_REFERENCE_BAD,
                          s->file->reference.serial, 0, words->data, e);

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

static bool ask_for_reference(struct session *s, bool *go, struct error *e)
{
    const char *serial = s->file->reference.serial;
    bool ended = false;

    *go = s->file->fixture != NULL && s->message.length == 0;
    if (*go) return true;
    screen_forget(s->screen);
    while (!*go && !s->is_over) {
        struct operator_command command;

        if (!session_ask(
                s, SCREEN_QUESTION, &ended, e,
                "The bench is off. Connect the reference unit %s, output first, then press "
                "Enter: it proves the bench before boards are tested.",
                serial))
            return false;
        command = operator_command_read(text_words(&s->line));
        s->is_over = ended || command.kind == COMMAND_STOP;
        *go = !s->is_over && (command.kind == COMMAND_NONE || (command.kind == COMMAND_SERIAL &&
                                                               strcmp(command.words, serial) == 0));
    }
    return true;
}

bool session_prove_bench(struct session *s, struct error *e)
{
    struct text words = {0};
    bool good = false, ok = true, go = false, done = false;

    while (ok && !s->is_over && is_due(s)) {
        text_reset(&words);
        s->view.serial = s->file->reference.serial;
        s->view.attempt = 0;
        ok = ask_for_reference(s, &go, e);
        if (!ok || !go) continue;
        ok = session_measure(s, s->file->reference.serial, &done, e);
        if (!ok || !done) continue;
        ok = check_bench(s, &good, &words, e);
        if (!ok) continue;
        if (good) {
            session_remark(s, "The bench is proven: %s.", words.data);
            ok = keep_reference(s, e);
        } else if (!s->screen->is_terminal) {
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
