#include "drivers/profile_check.h"

#include <regex.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"
#include "drivers/profile_text.h"

#define VALUE(name) (1U << VALUE_##name)

/* A guardian has no more time than this for the pauses of `safe`. */
#define LONGEST_SAFE_PAUSE_S 1.0

/* Of repetitions in an expression; each may double what the matcher needs. */
#define MOST_REPETITIONS 8

/* What a step must do to be worth its name. A zeroed row may send anything that needs no value. */
static const struct rule {
    unsigned sends;    /* values that its sent texts must hold */
    bool takes_values; /* any value of the kind may stand in it; otherwise none */
    bool takes_parameter;
    bool must_send, must_check, must_wait;
    enum profile_answer asks; /* an answer of this kind must be asked for */
} rules[PROFILE_STEPS] = {
    [STEP_IDENTIFY] = {.asks = ANSWER_TEXT},
    [STEP_RECALL] = {.sends = VALUE(SETUP), .takes_values = true},
    [STEP_CHECK_CORRECTION] = {.must_check = true},
    [STEP_CHECK_LEVEL] = {.must_check = true},
    [STEP_SET_SWEEP] = {.sends = VALUE(START_HZ) | VALUE(STOP_HZ) | VALUE(POINTS),
                        .takes_values = true},
    [STEP_SET_POWER] = {.sends = VALUE(POWER_DBM), .takes_values = true},
    [STEP_RF_ON] = {.must_send = true},
    [STEP_RF_OFF] = {.must_send = true},
    [STEP_SWEEP] = {.takes_values = true, .takes_parameter = true, .must_wait = true},
    [STEP_READ_AXIS] = {.takes_values = true, .asks = ANSWER_AXIS},
    [STEP_READ_TRACE] = {.takes_values = true, .takes_parameter = true, .asks = ANSWER_TRACE},
    [STEP_SET_TRIP] = {.sends = VALUE(TRIP_V), .takes_values = true},
    [STEP_SET_LIMIT] = {.sends = VALUE(CURRENT_A), .takes_values = true},
    [STEP_SET_VOLTAGE] = {.sends = VALUE(VOLTAGE_V), .takes_values = true},
    [STEP_OUTPUT_ON] = {.must_send = true},
    [STEP_OUTPUT_OFF] = {.must_send = true},
    [STEP_READ_VOLTAGE] = {.asks = ANSWER_NUMBER},
    [STEP_READ_CURRENT] = {.asks = ANSWER_NUMBER},
    [STEP_CHECK_TRIP] = {.must_check = true},
    [STEP_CHECK_ERRORS] = {.must_check = true},
    [STEP_SAFE] = {.must_send = true},
};

static const unsigned values_of_kind[] = {
    [PROFILE_ANALYSER] = VALUE(START_HZ) | VALUE(STOP_HZ) | VALUE(POINTS) | VALUE(IFBW_HZ) |
                         VALUE(AVERAGES) | VALUE(POWER_DBM) | VALUE(SETUP) |
                         VALUE(SWEEP_TIMEOUT_MS),
    [PROFILE_SUPPLY] = VALUE(VOLTAGE_V) | VALUE(CURRENT_A) | VALUE(TRIP_V),
};

/* The step being looked at. */
struct place {
    const struct profile *profile;
    enum profile_step step;
    const struct rule *rule;
    const struct profile_actions *actions;
};

__attribute__((format(printf, 4, 5))) static bool fault(const struct profile *profile,
                                                        unsigned long line, struct error *e,
                                                        const char *format, ...)
{
    char words[CEILING_ERROR_TEXT / 2];
    va_list arguments;

    va_start(arguments, format);
    (void)vsnprintf(words, sizeof words, format, arguments);
    va_end(arguments);
    return error_set(e, ERROR_INPUT, "%s:%lu: %s", profile->path, line, words);
}

static const char *name_of(const struct place *at)
{
    return profile_step_name(at->step);
}

/* The name of the first value of a set that is not empty. */
static const char *first_value(unsigned set)
{
    int v = 0;

    while (!(set >> v & 1))
        v++;
    return profile_value_name((enum profile_value)v);
}

static bool uses_of(const struct place *at, const struct profile_action *action, const char *text,
                    struct profile_uses *out, struct error *e)
{
    struct error inner = {0};

    if (profile_uses_add(out, text, &inner)) return true;
    return fault(at->profile, action->line, e, "%s", inner.text);
}

/* What a step's texts may hold. */
static bool check_uses(const struct place *at, const struct profile_action *action,
                       const struct profile_uses *uses, struct error *e)
{
    unsigned foreign = uses->values & ~values_of_kind[at->profile->kind];

    if (foreign)
        return fault(at->profile, action->line, e, "{%s} is no value of %s: remove it",
                     first_value(foreign),
                     at->profile->kind == PROFILE_SUPPLY ? "a supply" : "an analyser");
    if (uses->values && !at->rule->takes_values)
        return fault(at->profile, action->line, e,
                     "{%s} stands in the step %s, which must do without values: only {channel} may "
                     "stand there",
                     first_value(uses->values), name_of(at));
    if (uses->parameter && !at->rule->takes_parameter)
        return fault(at->profile, action->line, e,
                     "{parameter} may stand in the steps sweep and read-trace only: move it there");
    return true;
}

static size_t count_of(const char *text, char c)
{
    size_t n = 0;

    for (; *text; text++)
        n += *text == c;
    return n;
}

static bool check_text(const struct place *at, const struct profile_action *action, struct error *e)
{
    struct profile_uses uses = {0};

    if (!uses_of(at, action, action->text, &uses, e)) return false;
    if (!check_uses(at, action, &uses, e)) return false;
    if (action->kind == ACTION_SEND && strchr(action->text, '?'))
        return fault(at->profile, action->line, e,
                     "\"%s\" asks something, and an answer that nobody reads is taken for that of "
                     "the next question: write <ask>",
                     action->text);
    if (action->kind != ACTION_SEND && count_of(action->text, '?') > 1)
        return fault(at->profile, action->line, e,
                     "\"%s\" asks more than one thing: write an <ask> for each", action->text);
    return true;
}

/* Counts in braces, references to groups and many nested repetitions may ask the matcher for any
 * amount of memory and time. */
static bool is_harmless(const char *match)
{
    size_t repetitions = 0;

    for (const char *p = match; *p; p++) {
        if (*p == '\\' && p[1]) {
            p++;
            if (*p >= '1' && *p <= '9') return false;
            continue;
        }
        if (*p == '{') return false;
        repetitions += *p == '+' || *p == '*';
    }
    return repetitions <= MOST_REPETITIONS;
}

static bool check_match(const struct place *at, const struct profile_action *action,
                        struct error *e)
{
    regex_t matcher;

    if (!action->match) return true;
    if (!is_harmless(action->match))
        return fault(at->profile, action->line, e,
                     "match=\"%s\" counts in braces, refers back to a group or repeats more than "
                     "%d times: write a simpler expression",
                     action->match, MOST_REPETITIONS);
    if (regcomp(&matcher, action->match, REG_EXTENDED | REG_NOSUB) != 0)
        return fault(at->profile, action->line, e,
                     "match=\"%s\" is no extended regular expression: correct it", action->match);
    regfree(&matcher);
    return true;
}

/* A number, or one placeholder without a format, since it is compared and not sent. */
static bool check_equals(const struct place *at, const struct profile_action *action,
                         struct error *e)
{
    const char *text = action->equals;
    struct profile_uses uses = {0};
    struct profile_piece piece;
    struct error inner = {0};
    double number;

    if (!text || number_parse(text, &number)) return true;
    if (!uses_of(at, action, text, &uses, e) || !check_uses(at, action, &uses, e)) return false;
    if (profile_piece_next(&text, &piece, &inner) && piece.kind == PIECE_VALUE &&
        piece.style == STYLE_PLAIN && !*text)
        return true;
    return fault(at->profile, action->line, e,
                 "equals=\"%s\" is neither a number nor one placeholder without a format: write "
                 "for instance \"1\", \"{points}\" or \"{start_hz/1e6}\"",
                 action->equals);
}

static bool is_binary(const struct profile_action *action)
{
    return action->format.encoding != ENCODING_ASCII;
}

static bool check_format(const struct place *at, const struct profile_action *action,
                         struct error *e)
{
    const struct link_line *line = &at->profile->line;

    if (is_binary(action) && action->format.order == ORDER_NONE)
        return fault(at->profile, action->line, e,
                     "reals need their byte order, since swapped bytes look like a perfect match: "
                     "write byte-order=\"big\" or \"little\"");
    if (is_binary(action) && action->format.separator)
        return fault(at->profile, action->line, e,
                     "reals have no separator between them: remove separator, or write "
                     "encoding=\"ascii\"");
    if (is_binary(action) && line->data_bits == 7)
        return fault(at->profile, action->line, e,
                     "seven data bits cut every byte of a block: write data-bits=\"8\" or "
                     "encoding=\"ascii\"");
    if (!is_binary(action) && action->format.order != ORDER_NONE)
        return fault(at->profile, action->line, e,
                     "ASCII numbers have no byte order: remove byte-order, or write "
                     "encoding=\"real32\" or \"real64\"");
    return true;
}

static bool check_answer(const struct place *at, const struct profile_action *action,
                         struct error *e)
{
    bool list = action->answer == ANSWER_AXIS || action->answer == ANSWER_TRACE;

    if (!check_match(at, action, e) || !check_equals(at, action, e)) return false;
    if (list && action->answer != at->rule->asks)
        return fault(at->profile, action->line, e, "<%s> may stand in the step %s only: move it",
                     action->answer == ANSWER_AXIS ? "axis" : "trace",
                     action->answer == ANSWER_AXIS ? "read-axis" : "read-trace");
    return !list || check_format(at, action, e);
}

static bool check_poll(const struct place *at, const struct profile_action *action, struct error *e)
{
    if (action->mask == 0 || (action->equals_masked & ~action->mask))
        return fault(at->profile, action->line, e,
                     "equals=\"%lu\" can never be, or is always so, with mask=\"%lu\": state the "
                     "bits to look at in mask and their wanted state in equals",
                     action->equals_masked, action->mask);
    return true;
}

/* Whether the action can find something wrong. */
static bool checks(const struct profile_action *action)
{
    return action->kind == ACTION_POLL || action->match || action->equals ||
           action->answer == ANSWER_ERROR;
}

/* The two parts of complex numbers come in one answer, or each in one of its own. */
static bool check_traces(const struct place *at, struct error *e)
{
    size_t n[4] = {0};
    size_t whole, halves;

    for (size_t i = 0; i < at->actions->n; i++)
        if (at->actions->actions[i].answer == ANSWER_TRACE) n[at->actions->actions[i].layout]++;
    whole = n[LAYOUT_INTERLEAVED] + n[LAYOUT_SPLIT];
    halves = n[LAYOUT_REAL_ONLY] + n[LAYOUT_IMAGINARY_ONLY];
    if (whole == 1 && halves == 0) return true;
    if (whole == 0 && n[LAYOUT_REAL_ONLY] == 1 && n[LAYOUT_IMAGINARY_ONLY] == 1) return true;
    return fault(at->profile, at->actions->line, e,
                 "the step read-trace must ask for one <trace> of both parts, or for one "
                 "real-only and one imaginary-only");
}

/* What the step asks for is there, once where it is kept. */
static bool check_asks(const struct place *at, struct error *e)
{
    static const char *const elements[] = {
        [ANSWER_TEXT] = "text", [ANSWER_NUMBER] = "number", [ANSWER_ERROR] = "error",
        [ANSWER_AXIS] = "axis", [ANSWER_TRACE] = "trace",   [ANSWER_IGNORED] = "",
    };
    size_t n = 0;

    if (at->rule->asks == ANSWER_IGNORED) return true;
    if (at->rule->asks == ANSWER_TRACE) return check_traces(at, e);
    for (size_t i = 0; i < at->actions->n; i++) {
        const struct profile_action *action = &at->actions->actions[i];

        /* A number that is compared is a check, not a reading. */
        n += action->answer == at->rule->asks && !action->equals;
    }
    if (n == 1) return true;
    return fault(at->profile, at->actions->line, e,
                 "the step %s must ask for one <%s>%s, whose answer is kept: it asks for %zu",
                 name_of(at), elements[at->rule->asks],
                 at->rule->asks == ANSWER_NUMBER ? " without equals" : "", n);
}

static bool check_purpose(const struct place *at, struct error *e)
{
    const struct profile_actions *step = at->actions;
    struct profile_uses sent = {0};
    bool sends = false, found = false, waits = false;
    unsigned missing;

    for (size_t i = 0; i < step->n; i++) {
        const struct profile_action *action = &step->actions[i];

        waits = checks(action); /* the last counts */
        found = found || checks(action);
        if (action->kind != ACTION_SEND) continue;
        sends = true;
        if (!uses_of(at, action, action->text, &sent, e)) return false;
    }
    missing = at->rule->sends & ~sent.values;
    if (missing)
        return fault(at->profile, step->line, e,
                     "the step %s sends no {%s}: write it where the instrument expects it",
                     name_of(at), first_value(missing));
    if (at->rule->must_send && !sends)
        return fault(at->profile, step->line, e, "the step %s sends nothing: add a <send>",
                     name_of(at));
    if (at->rule->must_check && !found)
        return fault(at->profile, step->line, e,
                     "the step %s checks nothing: add an <ask> with match, equals or <error/>, or "
                     "a <poll>",
                     name_of(at));
    if (at->rule->must_wait && !waits)
        return fault(at->profile, step->line, e,
                     "the step %s must end by waiting for the sweep's end, or an old trace is "
                     "read: end it with an <ask> that has equals or match, or with a <poll>",
                     name_of(at));
    return check_asks(at, e);
}

/* What the guardian sends is rendered beforehand and its answers are read by nobody. */
static bool check_safe(const struct place *at, struct error *e)
{
    double pause_s = 0;

    if (at->step != STEP_SAFE) return true;
    for (size_t i = 0; i < at->actions->n; i++) {
        const struct profile_action *action = &at->actions->actions[i];

        if (action->kind == ACTION_ASK || action->kind == ACTION_POLL)
            return fault(at->profile, action->line, e,
                         "the step safe is sent when nobody is left to read an answer: it may hold "
                         "<send> and <pause> only");
        pause_s += action->pause_s;
    }
    if (pause_s <= LONGEST_SAFE_PAUSE_S) return true;
    return fault(at->profile, at->actions->line, e,
                 "the step safe pauses for more than 1 s in all: shorten it");
}

static bool check_step(const struct place *at, struct error *e)
{
    if (profile_need(at->profile->kind, at->step) == STEP_FOREIGN)
        return fault(at->profile, at->actions->line, e, "%s has no step %s: remove it",
                     at->profile->kind == PROFILE_SUPPLY ? "a supply" : "an analyser", name_of(at));
    if (!check_safe(at, e)) return false;
    for (size_t i = 0; i < at->actions->n; i++) {
        const struct profile_action *action = &at->actions->actions[i];

        if (action->kind == ACTION_PAUSE) continue;
        if (!check_text(at, action, e)) return false;
        if (action->kind == ACTION_ASK && !check_answer(at, action, e)) return false;
        if (action->kind == ACTION_POLL && !check_poll(at, action, e)) return false;
    }
    return check_purpose(at, e);
}

/* Without {parameter} every trace would be the same one. */
static bool check_parameters(const struct profile *profile, unsigned long line, struct error *e)
{
    static const enum profile_step takers[] = {STEP_SWEEP, STEP_READ_TRACE};
    struct profile_uses uses = {0};

    if (profile->kind == PROFILE_SUPPLY && profile->n_parameters > 0)
        return fault(profile, line, e, "a supply has no <parameter>: remove it");
    if (profile->kind == PROFILE_SUPPLY) return true;
    if (profile->n_parameters == 0)
        return fault(
            profile, line, e,
            "an analyser needs a <parameter name=\"S21\" text=\"...\"/> for each parameter "
            "that it measures");
    for (size_t t = 0; t < sizeof takers / sizeof *takers; t++) {
        const struct profile_actions *step = &profile->steps[takers[t]];

        for (size_t i = 0; i < step->n; i++)
            if (step->actions[i].text && !profile_uses_add(&uses, step->actions[i].text, e))
                return false;
    }
    if (uses.parameter) return true;
    return fault(profile, profile->steps[STEP_READ_TRACE].line, e,
                 "neither sweep nor read-trace holds {parameter}: every trace would be the same "
                 "one");
}

bool profile_check(const struct profile *profile, unsigned long line, struct error *e)
{
    for (int s = 0; s < PROFILE_STEPS; s++) {
        struct place at = {profile, (enum profile_step)s, &rules[s], &profile->steps[s]};

        if (at.actions->is_there && !check_step(&at, e)) return false;
        if (!at.actions->is_there && profile_need(profile->kind, at.step) == STEP_REQUIRED)
            return fault(profile, line, e, "needs a step %s: add <step name=\"%s\">", name_of(&at),
                         name_of(&at));
    }
    return check_parameters(profile, line, e);
}
