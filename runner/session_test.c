/* One board, from its serial number to its verdict. */
#include <stdio.h>
#include <string.h>

#include "runner/session.h"

#define CONNECT                                                                               \
    "%s Connect %s: output to its load first, then input, then bias. Press Enter or scan it " \
    "again when it is connected; /skip leaves it out."
/* A scanner that reads a label twice does so sooner than a board can be connected (ours). */
#define TWICE_S 2.0

/* Whether the board may be tested, asking where it was before. `*go` false: not now, and a remark
 * or a note says why. `*other` when another serial number was given instead. */
static bool may_test(struct session *s, bool retest, bool *go, bool *other, struct error *e)
{
    struct record_last last;
    bool ended = false;

    *go = *other = false;
    if (!record_find(record_reader_of(s->record), s->serial, &last, e)) return false;
    s->view.attempt = last.attempts + 1;
    if (last.attempts >= s->file->most_attempts) {
        session_remark(
            s,
            "%s has had %lu attempts, as many as the bench file allows: set it aside for the "
            "engineer.",
            s->serial, last.attempts);
        return true;
    }
    if (last.attempts == 0 || retest || last.wrongly_connected) {
        *go = true;
        return true;
    }
    while (!*go && !*other) {
        struct operator_command command;

        if (!session_ask(
                s, SCREEN_QUESTION, &ended, e,
                "%s was tested before: %s at attempt %lu. Type /retest to test it again, /skip to "
                "leave it, or scan another board.",
                s->serial, verdict_name(last.verdict), last.attempts))
            return false;
        command = operator_command_read(text_words(&s->line));
        if (ended || command.kind == COMMAND_STOP) s->is_over = true;
        if (s->is_over || command.kind == COMMAND_SKIP) return true;
        *go = command.kind == COMMAND_RETEST;
        *other = command.kind == COMMAND_SERIAL && strcmp(command.words, s->serial) != 0;
        if (!*go && !*other && command.kind != COMMAND_NONE && command.kind != COMMAND_SERIAL &&
            !session_no_answer(s, &command, e))
            return false;
    }
    return true;
}

/* Asks the operator to connect the board, which a fixture of an emulated bench does by itself. */
static bool connect_board(struct session *s, bool *go, bool *other, struct error *e)
{
    const struct deadline twice = deadline_in(TWICE_S);
    bool ended = false;

    *go = s->file->fixture != NULL;
    *other = false;
    if (*go) return true;
    screen_forget(s->screen);
    while (!*go && !*other) {
        struct operator_command command;

        if (!session_ask(s, SCREEN_QUESTION, &ended, e, CONNECT, session_off_words(s), s->serial))
            return false;
        command = operator_command_read(text_words(&s->line));
        if (ended || command.kind == COMMAND_STOP) {
            s->is_over = true;
            return true;
        }
        if (command.kind == COMMAND_SKIP) {
            session_remark(s, "%s was left out; the record says so.", s->serial);
            return record_note(s->record, NOTE_SKIPPED, s->serial, 0, command.words, e);
        }
        *other = command.kind == COMMAND_SERIAL && strcmp(command.words, s->serial) != 0;
        *go = command.kind == COMMAND_NONE || (command.kind == COMMAND_SERIAL && !*other);
        if (*go && command.kind == COMMAND_SERIAL && session_has_operator() &&
            !deadline_passed(twice)) {
            *go = false;
            session_remark(s, "Scanned twice: connect the board first.");
        } else if (!*go && !*other && !session_no_answer(s, &command, e)) {
            return false;
        }
    }
    return true;
}

bool session_prepare(const struct measurement *from, double z0_ohm, struct measurement *out,
                     struct error *e)
{
    measurement_reset(out, from->serial, from->attempt);
    for (size_t k = 0; k < from->n_biases; k++) {
        const struct bias_sweep *bias = &from->biases[k];
        struct bias_sweep *copy = measurement_add(out, bias->bias_v, e);

        if (!copy || !sweep_copy(&copy->sweep, &bias->sweep, e)) return false;
        copy->bias_current_ma = bias->bias_current_ma;
        text_add(&copy->missing, text_words(&bias->missing));
        text_add(&copy->source, text_words(&bias->source));
        if (!text_ok(&copy->missing, "a reason", e) || !text_ok(&copy->source, "a source", e))
            return false;
    }
    return measurement_prepare(out, z0_ohm, e);
}

/* The worst limit in words, and the names of the others that failed: what an operator can take in.
 * The record has it all. */
static void add_reason(const struct judgement *judgement, struct text *out)
{
    const struct finding *worst = judgement->worst;
    const bool has_worst = worst && !worst->accepted && worst->reason;
    bool any = false;

    if (!has_worst) {
        text_add(out, judgement->reason ? judgement->reason : "");
        return;
    }
    text_addf(out, "%s: %s", worst->limit->id, worst->reason);
    for (size_t k = 0; k < judgement->n_findings; k++) {
        const struct finding *f = &judgement->findings[k];

        if (f == worst || f->accepted) continue;
        text_addf(out, "%s%s", any ? ", " : "; also: ", f->limit->id);
        any = true;
    }
}

/* The verdict into the view: only called when it is on the disk. */
static bool show_verdict(struct session *s, const struct judgement *judgement, struct error *e)
{
    const struct finding *worst = judgement->worst;
    const bool failed = worst && !worst->accepted && judgement->verdict != VERDICT_PASS;

    text_reset(&s->reason);
    text_reset(&s->advice);
    add_reason(judgement, &s->reason);
    text_add(&s->advice, failed && worst->limit->when_failed ? worst->limit->when_failed : "");
    if (!text_ok(&s->reason, "a reason", e) || !text_ok(&s->advice, "the advice", e)) return false;
    (void)snprintf(s->last_serial, sizeof s->last_serial, "%s", s->serial);
    s->view.has_verdict = true;
    s->view.verdict_serial = s->last_serial;
    s->view.verdict_attempt = s->last_attempt;
    s->view.verdict = judgement->verdict;
    s->view.reason = s->reason.length > 0 ? text_words(&s->reason) : NULL;
    s->view.advice = s->advice.length > 0 ? text_words(&s->advice) : NULL;
    s->view.phase = SCREEN_WAIT;
    s->view.instruction = NULL;
    return session_count(s, e) && screen_show(s->screen, &s->view, e);
}

/* So many boards in a row with one fault are rather one bench with a fault. */
static bool stop_at_streak(struct session *s, struct error *e)
{
    struct operator_command command = {COMMAND_UNKNOWN, ""};
    struct text words = {0};
    size_t which;
    const unsigned long n = streak_longest(&s->streak, &which);
    bool ended = false, ok;

    if (s->file->streak == 0 || n < s->file->streak) return true;
    if (which == STREAK_REFUSED)
        text_addf(&words, "%lu boards in a row drew too much or tripped the supply", n);
    else
        text_addf(&words, "%lu boards in a row failed \"%s\"", n, s->limits->limits[which].id);
    ok = text_ok(&words, "a note", e) &&
         record_note(s->record, NOTE_BENCH, s->serial, s->last_attempt, words.data, e);
    s->streak = (struct streak){0};
    session_want_check(s);
    screen_forget(s->screen);
    while (ok && !s->is_over && command.kind != COMMAND_NONE) {
        ok = session_ask(
            s, SCREEN_HALT, &ended, e,
            "%s: prove the bench first. Look at cables, connectors, load and pad%s. Enter "
            "goes on, /stop ends.",
            words.data, s->file->reference.serial ? "; the reference unit is next" : "");
        if (!ok) break;
        command = operator_command_read(text_words(&s->line));
        s->is_over = ended || command.kind == COMMAND_STOP;
        if (!s->is_over && command.kind != COMMAND_NONE) ok = session_no_answer(s, &command, e);
    }
    session_remark(s, "%s", "");
    text_clear(&words);
    return ok;
}

static bool judge_and_store(struct session *s, struct judgement *judgement, struct error *e)
{
    struct record_entry entry = {&s->measured, judgement, text_words(&s->bench->identity)};

    return session_prepare(&s->measured, s->limits->impedance_ohm, &s->prepared, e) &&
           judge(s->limits, &s->prepared, s->has_reference ? &s->reference : NULL, judgement, e) &&
           record_store(s->record, &entry, &s->last_attempt, e);
}

static bool measure_and_judge(struct session *s, struct error *e)
{
    struct judgement judgement = {0};
    bool done = false, ok;

    s->view.has_verdict = false;
    session_remark(s, "%s", "");
    if (!session_measure(s, s->serial, &done, e)) return false;
    if (!done) return true;
    ok = judge_and_store(s, &judgement, e) && show_verdict(s, &judgement, e);
    if (ok) {
        s->n_since_check++;
        streak_take(&s->streak, &judgement, s->bench->board_refused);
        if (s->bench->board_refused)
            session_remark(
                s, "The board was switched off: it drew too much or tripped the supply. A trip "
                   "is cleared at the supply, by a person who looked.");
        ok = stop_at_streak(s, e);
    }
    judgement_clear(&judgement);
    return ok;
}

bool session_test(struct session *s, const char *serial, bool retest, struct error *e)
{
    bool go, other = true;
    char why[256];

    session_remark(s, "%s", "");
    if (serial != s->serial) (void)snprintf(s->serial, sizeof s->serial, "%s", serial);
    /* Another board may be scanned instead at either question. */
    while (other) {
        if (strlen(serial) > CEILING_SERIAL ||
            !serial_rule_fits(&s->limits->serial, serial, why, sizeof why)) {
            session_remark(s, "\"%.64s\": %s. Scan the label again.", serial,
                           strlen(serial) > CEILING_SERIAL ? "too long for a serial number" : why);
            return true;
        }
        s->view.serial = s->serial;
        if (s->file->reference.serial && strcmp(s->serial, s->file->reference.serial) == 0) {
            session_remark(s, "%s is the reference unit: it proves the bench, and is no board.",
                           s->serial);
            session_want_check(s);
            return true;
        }
        if (!may_test(s, retest, &go, &other, e)) return false;
        if (go && !connect_board(s, &go, &other, e)) return false;
        if (!other) break;
        session_remark(s, "%s was not tested.", s->serial);
        (void)snprintf(s->serial, sizeof s->serial, "%s", text_words(&s->line));
        serial = text_words(&s->line);
        retest = false;
    }
    return !go || s->is_over || measure_and_judge(s, e);
}
