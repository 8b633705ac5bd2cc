#include <math.h>

#include "drivers/base/plain.h"
#include "drivers/base/value.h"
#include "drivers/profile.h"

static void add_value(struct text *out, double x, enum unit unit)
{
    char words[VALUE_TEXT];

    text_add(out, value_words(x, unit, words));
}

static void add_time(struct text *out, const char *words, double s)
{
    text_addf(out, "%s ", words);
    add_value(out, s, UNIT_S);
}

static void add_line(const struct link_line *line, struct text *out)
{
    text_addf(out, "Serial line: %lu baud, %d data bits, %s parity, %d stop bit%s, %s\n",
              line->baud ? line->baud : 9600, line->data_bits ? line->data_bits : 8,
              line->parity == 'e'   ? "even"
              : line->parity == 'o' ? "odd"
                                    : "no",
              line->stop_bits == 2 ? 2 : 1, line->stop_bits == 2 ? "s" : "",
              line->rts_cts ? "paced by RTS/CTS" : "no flow control");
}

static void add_link(const struct profile *profile, struct text *out)
{
    static const char *const answers[] = {
        [TERMINATOR_ANY] = "LF, CR, CR LF or the link's own end",
        [TERMINATOR_LF] = "LF",
        [TERMINATOR_CR] = "CR",
        [TERMINATOR_CRLF] = "CR LF",
    };
    const char *sent = profile->terminator;

    text_addf(out, "Link: a message ends with %s%s, an answer with %s within ",
              sent[0] == '\r' ? "CR" : "LF", sent[0] == '\r' && sent[1] ? " LF" : "",
              answers[profile->answer_terminator]);
    add_value(out, profile->timeout_s, UNIT_S);
    if (profile->gap_s > 0) add_time(out, "; a message is followed by", profile->gap_s);
    if (profile->settle_s > 0)
        add_time(out, "; the instrument settles after opening for", profile->settle_s);
    if (profile->echo) text_add(out, "; the instrument repeats what it is sent");
    text_add(out, "\n");
    add_line(&profile->line, out);
}

static void add_ratings(const struct profile *p, struct text *out)
{
    const struct {
        enum profile_kind kind;
        const char *words;
        double x;
        enum unit unit;
    } ratings[] = {
        {PROFILE_ANALYSER, "frequency at least", p->min_hz, UNIT_HZ},
        {PROFILE_ANALYSER, "frequency at most", p->max_hz, UNIT_HZ},
        {PROFILE_ANALYSER, "points at most", p->max_points, UNIT_ONE},
        {PROFILE_ANALYSER, "source at least", p->min_dbm, UNIT_DBM},
        {PROFILE_ANALYSER, "source at most", p->max_dbm, UNIT_DBM},
        {PROFILE_ANALYSER, "receiver linear up to", p->linear_dbm, UNIT_DBM},
        {PROFILE_ANALYSER, "receiver unharmed up to", p->damage_dbm, UNIT_DBM},
        {PROFILE_SUPPLY, "voltage at most", p->max_v, UNIT_V},
        {PROFILE_SUPPLY, "current at most", p->max_a * 1000, UNIT_MA},
    };
    const char *between = " ";

    text_add(out, "Rating:");
    for (size_t i = 0; i < sizeof ratings / sizeof *ratings; i++) {
        if (ratings[i].kind != p->kind) continue;
        text_addf(out, "%s%s ", between, ratings[i].words);
        if (isnan(ratings[i].x))
            text_add(out, "(not stated)");
        else
            add_value(out, ratings[i].x, ratings[i].unit);
        between = ", ";
    }
    text_add(out, "\n");
}

static void add_format(const struct profile_action *action, struct text *out)
{
    static const char *const encodings[] = {
        [ENCODING_ASCII] = "as ASCII",
        [ENCODING_REAL32] = "as a block of 32-bit reals",
        [ENCODING_REAL64] = "as a block of 64-bit reals",
    };

    text_add(out, encodings[action->format.encoding]);
    if (action->format.encoding != ENCODING_ASCII)
        text_add(out, action->format.order == ORDER_BIG ? ", most significant byte first"
                                                        : ", least significant byte first");
    else
        text_addf(out, " with %s between",
                  action->format.separator == ';'    ? "semicolons"
                  : action->format.separator == ' '  ? "blanks"
                  : action->format.separator == '\t' ? "tabs"
                                                     : "commas");
    if (action->format.skip > 0) text_addf(out, ", after %zu to skip", action->format.skip);
}

static void add_scale(const struct profile_action *action, struct text *out)
{
    if (action->scale == 1) return;
    text_add(out, " times ");
    text_add_number(out, action->scale);
}

static void add_answer(const struct profile_action *action, struct text *out)
{
    static const char *const layouts[] = {
        [LAYOUT_INTERLEAVED] = "real and imaginary parts in turn",
        [LAYOUT_SPLIT] = "all real parts, then all imaginary ones",
        [LAYOUT_REAL_ONLY] = "the real parts",
        [LAYOUT_IMAGINARY_ONLY] = "the imaginary parts",
    };

    switch (action->answer) {
    case ANSWER_IGNORED: break;
    case ANSWER_TEXT:
        text_add(out, "a text");
        if (action->match) text_addf(out, " that matches %s", action->match);
        break;
    case ANSWER_NUMBER:
        text_add(out, "a number");
        add_scale(action, out);
        if (action->equals) text_addf(out, " that is %s", action->equals);
        if (action->within > 0) {
            text_add(out, " within ");
            text_add_number(out, action->within);
        }
        break;
    case ANSWER_ERROR: text_add(out, "an error, again until there is none"); break;
    case ANSWER_AXIS:
        text_add(out, "the frequencies");
        add_scale(action, out);
        text_add(out, " ");
        add_format(action, out);
        break;
    case ANSWER_TRACE:
        text_addf(out, "%s ", layouts[action->layout]);
        add_format(action, out);
        break;
    }
}

static void add_timeout(const struct profile_action *action, struct text *out)
{
    if (isnan(action->timeout_s))
        text_add(out, ", for as long as the sweep may take");
    else if (action->timeout_s > 0)
        add_time(out, ", within", action->timeout_s);
}

static void add_action(const struct profile_action *action, struct text *out)
{
    switch (action->kind) {
    case ACTION_SEND: text_addf(out, "send \"%s\"", action->text); break;
    case ACTION_ASK:
        text_addf(out, "ask \"%s\" for ", action->text);
        add_answer(action, out);
        add_timeout(action, out);
        break;
    case ACTION_POLL:
        text_addf(out, "ask \"%s\" every ", action->text);
        add_value(out, action->every_s, UNIT_S);
        text_addf(out, " until its bits of %lu are %lu", action->mask, action->equals_masked);
        add_timeout(action, out);
        break;
    case ACTION_PAUSE: add_time(out, "pause for", action->pause_s); break;
    }
}

/* Whether something is asked and compared behind the last message that was sent. */
static bool reads_back(const struct profile_actions *step)
{
    bool compared = false;

    for (size_t i = 0; i < step->n; i++) {
        const struct profile_action *action = &step->actions[i];

        if (action->kind == ACTION_SEND) compared = false;
        if (action->equals || action->match || action->kind == ACTION_POLL) compared = true;
    }
    return compared;
}

/* What the profile leaves open, each in a line: right all the same, but worth a thought. */
static void add_cautions(const struct profile *profile, struct text *out)
{
    static const enum profile_step set[] = {STEP_SET_SWEEP, STEP_SET_POWER,   STEP_RF_ON,
                                            STEP_RF_OFF,    STEP_SET_TRIP,    STEP_SET_LIMIT,
                                            STEP_OUTPUT_ON, STEP_SET_VOLTAGE, STEP_OUTPUT_OFF};
    static const struct {
        enum profile_step step;
        const char *words;
    } wanted[] = {
        {STEP_CHECK_CORRECTION, "no check-correction: a sweep without calibration goes unseen"},
        {STEP_READ_AXIS, "no read-axis: frequencies are computed, and the byte order of reals is "
                         "not proved by them"},
        {STEP_SET_TRIP, "no set-trip: the supply's own over-voltage trip is not set"},
        {STEP_CHECK_TRIP, "no check-trip: a trip is seen only by its voltage and current"},
    };

    for (size_t i = 0; i < sizeof set / sizeof *set; i++) {
        const struct profile_actions *step = &profile->steps[set[i]];

        if (step->is_there && !reads_back(step))
            text_addf(out,
                      "Caution: %s is not read back: a setting that the instrument ignores or "
                      "changes goes unseen.\n",
                      profile_step_name(set[i]));
    }
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++)
        if (profile_need(profile->kind, wanted[i].step) != STEP_FOREIGN &&
            !profile->steps[wanted[i].step].is_there)
            text_addf(out, "Caution: %s.\n", wanted[i].words);
}

void profile_words(const struct profile *profile, struct text *out)
{
    text_add(out, profile->kind == PROFILE_SUPPLY ? "Supply: " : "Analyser: ");
    text_add_plain(out, profile->label, "");
    text_add(out, "\n");
    add_link(profile, out);
    add_ratings(profile, out);
    for (size_t i = 0; i < profile->n_parameters; i++)
        text_addf(out, "%s%s is \"%s\"%s", i ? ", " : "Parameters: ", profile->parameters[i].name,
                  profile->parameters[i].text, i + 1 == profile->n_parameters ? "\n" : "");
    for (int s = 0; s < PROFILE_STEPS; s++) {
        const struct profile_actions *step = &profile->steps[s];

        if (!step->is_there) continue;
        text_addf(out, "Step %s: ", profile_step_name((enum profile_step)s));
        for (size_t i = 0; i < step->n; i++) {
            if (i > 0) text_add(out, "; ");
            add_action(&step->actions[i], out);
        }
        text_add(out, ".\n");
    }
    add_cautions(profile, out);
}
