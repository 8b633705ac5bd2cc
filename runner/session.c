#include "runner/session.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static void put_words(struct text *out, const char *format, va_list rest)
{
    char words[CEILING_ERROR_TEXT];

    (void)vsnprintf(words, sizeof words, format, rest);
    text_reset(out);
    text_add(out, words);
}

bool session_show(struct session *s, enum screen_phase phase, struct error *e, const char *format,
                  ...)
{
    va_list rest;

    va_start(rest, format);
    put_words(&s->said, format, rest);
    va_end(rest);
    s->view.phase = phase;
    s->view.instruction = text_words(&s->said);
    return screen_show(s->screen, &s->view, e);
}

bool session_ask(struct session *s, enum screen_phase phase, bool *ended, struct error *e,
                 const char *format, ...)
{
    va_list rest;

    va_start(rest, format);
    put_words(&s->said, format, rest);
    va_end(rest);
    s->view.phase = phase;
    /* Lines that are there already are read without a word: what was remarked, and a question, must
     * be said all the same. A file of serial numbers needs no prompt for each. */
    s->view.instruction = phase == SCREEN_ENTRY ? NULL : text_words(&s->said);
    if (!s->screen->is_terminal && !screen_show(s->screen, &s->view, e)) return false;
    s->view.instruction = text_words(&s->said);
    return screen_read(s->screen, &s->view, &s->line, ended, e);
}

void session_remark(struct session *s, const char *format, ...)
{
    va_list rest;

    va_start(rest, format);
    put_words(&s->message, format, rest);
    va_end(rest);
    s->view.message = s->message.length > 0 ? text_words(&s->message) : NULL;
}

bool session_has_operator(void)
{
    return isatty(STDIN_FILENO) == 1;
}

bool session_no_answer(struct session *s, const struct operator_command *command, struct error *e)
{
    if (command->kind == COMMAND_SERIAL && !session_has_operator())
        return error_set(
            e, ERROR_BENCH,
            "\"%.64s\" came where a question wants an answer: %.300s From this line on "
            "nothing was tested",
            command->words, text_words(&s->said));
    session_remark(s, "\"%.64s\" is no answer here: nothing was done.", text_words(&s->line));
    return true;
}

bool session_count(struct session *s, struct error *e)
{
    struct record_counts counts;

    if (!record_count(record_reader_of(s->record), &counts, e)) return false;
    s->view.n_units = counts.n_units;
    s->view.n_pass = counts.n_pass;
    s->view.n_fail = counts.n_fail;
    s->view.n_incomplete = counts.n_incomplete;
    return true;
}

static void tell(void *context, const struct bench_doing *doing)
{
    struct session *s = context;
    struct error ignored = {0};

    s->view.phase = SCREEN_MEASURING;
    s->view.doing = doing->words;
    s->view.n_done = doing->n_done;
    s->view.n_steps = doing->n_steps;
    s->view.left_s = doing->left_s;
    s->view.instruction = NULL;
    if (doing->wants_file) {
        text_reset(&s->said);
        /* The folder first: a screen has one row for this, and says the rest above it. */
        text_addf(&s->said, "Into %s: %s, %s", s->file->analyser.port + strlen("folder:"),
                  s->serial, doing->words);
        s->view.instruction = text_words(&s->said);
    }
    (void)!screen_show(s->screen, &s->view, &ignored);
    s->view.doing = NULL; /* lives for the call only */
}

/* The last board's mark and note; the record refuses what is not there. */
static bool mark_last(struct session *s, enum record_note_kind kind, const char *words,
                      const char *answer, struct error *e)
{
    const bool has_last = s->last_serial[0] != '\0';

    if (kind == NOTE_WRONGLY_CONNECTED && !has_last) {
        session_remark(
            s, "There is no last board yet: /wrong marks the one whose verdict is in view.");
        return true;
    }
    if (kind == NOTE_REMARK && words[0] == '\0') {
        session_remark(s, "Write the note behind the command: /note the connector was loose");
        return true;
    }
    if (!record_note(s->record, kind, has_last ? s->last_serial : NULL,
                     has_last ? s->last_attempt : 0, words, e))
        return false;
    session_remark(s, "%s", answer);
    return session_count(s, e);
}

static bool mark_wrong(struct session *s, const char *words, struct error *e)
{
    struct record_last last;

    if (s->last_serial[0] != '\0') {
        if (!record_find(record_reader_of(s->record), s->last_serial, &last, e)) return false;
        if (last.wrongly_connected) {
            session_remark(s, "%s attempt %lu is marked already.", s->last_serial, s->last_attempt);
            return true;
        }
    }
    s->streak = (struct streak){0};
    return mark_last(
        s, NOTE_WRONGLY_CONNECTED, words,
        "Marked as wrongly connected: that attempt does not count. /retest tests the board "
        "again.",
        e);
}

static bool obey(struct session *s, const struct operator_command *command, struct error *e)
{
    switch (command->kind) {
    case COMMAND_SERIAL: return session_test(s, command->words, false, e);
    case COMMAND_RETEST:
        if (s->last_serial[0] == '\0') {
            session_remark(s, "There is no last board yet: scan its serial number.");
            return true;
        }
        return session_test(s, s->last_serial, true, e);
    case COMMAND_NOTE: return mark_last(s, NOTE_REMARK, command->words, "Noted.", e);
    case COMMAND_WRONG: return mark_wrong(s, command->words, e);
    case COMMAND_SKIP:
        session_remark(s, "No board is in question: scan one, then /skip.");
        return true;
    case COMMAND_STOP: s->is_over = true; return true;
    case COMMAND_UNKNOWN:
        session_remark(s, "\"%.60s\" is no command: %s", command->words, SCREEN_COMMANDS);
        return true;
    case COMMAND_NONE: return true;
    }
    return true;
}

const char *session_off_words(const struct session *s)
{
    const bool supply = bench_port_is(&s->file->supply, "manual");
    const bool rf = bench_port_is(&s->file->analyser, "folder");

    return supply && rf ? "See that supply and RF are OFF."
           : supply     ? "See that the supply is OFF."
           : rf         ? "The bias is off; see that the RF is OFF."
                        : "The bench is off.";
}

static bool ask_for_next(struct session *s, bool *ended, struct error *e)
{
    if (!s->view.has_verdict || s->file->fixture)
        return session_ask(s, SCREEN_ENTRY, ended, e, "Scan or type the next serial number.");
    return session_ask(s, SCREEN_ENTRY, ended, e,
                       "%s Disconnect the board, bias first. Then scan or type the next serial "
                       "number.",
                       session_off_words(s));
}

static bool next(struct session *s, struct error *e)
{
    struct operator_command command;
    struct text line = {0};
    bool ended = false, is_open, ok;

    s->view.serial = NULL;
    /* A board that was left out has left the bench closed, and perhaps on: nobody is asked for
     * another one before that is read back as off. */
    if (!session_measure(s, NULL, &is_open, e)) return false;
    if (!session_prove_bench(s, e) || s->is_over) return !e->kind;
    s->view.serial = NULL;
    if (!ask_for_next(s, &ended, e)) return false;
    session_remark(s, "%s", "");
    if (ended) {
        s->is_over = true;
        return true;
    }
    /* s->line is used by the questions that follow. */
    text_add(&line, text_words(&s->line));
    command = operator_command_read(text_words(&line));
    ok = text_ok(&line, "what was typed", e) && obey(s, &command, e);
    text_clear(&line);
    return ok;
}

/* Stored sweeps that cannot be read are told before anything is switched on; and limits on phase
 * compare with what the record holds, as its reports will, until the unit is measured anew. */
static bool read_references(struct session *s, struct error *e)
{
    struct measurement read = {0};
    struct text bytes = {0};
    bool ok = !s->file->reference.serial || reference_unit_read(s->file, s->limits, &read, e);

    ok = ok &&
         record_load_reference(record_reader_of(s->record), INT64_MAX, &bytes, &read,
                               &s->has_reference, e) &&
         (!s->has_reference || session_prepare(&read, s->limits->impedance_ohm, &s->reference, e));
    text_clear(&bytes);
    measurement_clear(&read);
    return ok;
}

bool session_run(struct session *s, struct error *e)
{
    bool is_open;

    s->limits = record_limits(s->record);
    s->view.product = s->limits->product;
    s->view.batch = s->batch;
    s->view.operator_name = s->operator_name;
    s->view.bench = s->file->label;
    s->view.most_attempts = s->file->most_attempts;
    s->bench->watcher.tell = tell;
    s->bench->watcher.context = s;
    s->n_since_check = 0;
    session_want_check(s);
    if (!read_references(s, e) || !session_count(s, e) || !session_measure(s, NULL, &is_open, e))
        return false;
    while (!s->is_over)
        if (!next(s, e)) return false;
    return true;
}

void session_clear(struct session *s)
{
    text_clear(&s->line);
    text_clear(&s->said);
    text_clear(&s->reason);
    text_clear(&s->advice);
    text_clear(&s->message);
    measurement_clear(&s->measured);
    measurement_clear(&s->prepared);
    measurement_clear(&s->reference);
    *s = (struct session){0};
}
