#include "drivers/instrument_exchange.h"

#include <math.h>
#include <regex.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "drivers/base/stop.h"
#include "drivers/reply.h"

/* An ASCII number of a trace, with its separator: sign, 17 digits, point, exponent, blanks. */
#define LONGEST_NUMBER ((size_t)26)
/* A line that is no list of numbers: an identity, an error entry. */
#define LONGEST_LINE ((size_t)1024)
/* Entries of an error queue that never gets empty (instruments hold some tens; common practice). */
#define MOST_ERRORS 32

static bool fault(struct instrument *i, const struct profile_action *action, struct error *e,
                  const char *words)
{
    i->is_out_of_step = true;
    return error_set(e, ERROR_BENCH, "%s:%lu, %s: %s", i->profile->path, action->line,
                     i->link->port, words);
}

/* Keeps the words of an inner fault and says where it happened. */
static bool passed_up(struct instrument *i, const struct profile_action *action,
                      const struct error *inner, struct error *e)
{
    i->is_out_of_step = true;
    return error_set(e, inner->kind, "%s:%lu, %s: %s", i->profile->path, action->line,
                     i->link->port, inner->text);
}

static void hear(struct instrument *i, bool sent, const struct text *bytes)
{
    if (i->ear) i->ear(i->ear_context, sent, text_words(bytes), bytes->length);
}

/* How long the whole answer may take. */
static struct deadline answer_deadline(const struct instrument *i,
                                       const struct profile_action *action,
                                       const struct profile_values *values)
{
    if (isnan(action->timeout_s)) return deadline_in(values->value[VALUE_SWEEP_TIMEOUT_MS] / 1e3);
    return deadline_in(action->timeout_s > 0 ? action->timeout_s : i->profile->timeout_s);
}

static bool send_words(struct instrument *i, struct deadline deadline, struct error *e)
{
    if (link_has_bytes(i->link)) {
        i->is_out_of_step = true;
        return error_set(e, ERROR_BENCH,
                         "%s: bytes came that nobody asked for: questions and answers are out of "
                         "step",
                         i->link->port);
    }
    if (!link_send(i->link, i->message.data, i->message.length, deadline, e)) {
        i->is_out_of_step = true;
        return false;
    }
    hear(i, true, &i->message);
    return true;
}

bool exchange_send(struct instrument *i, const struct profile_action *action,
                   const struct profile_values *values, struct error *e)
{
    text_reset(&i->message);
    if (!profile_render(i->profile, action->text, values, &i->message, e)) return false;
    text_add(&i->message, i->profile->terminator);
    if (!text_ok(&i->message, "a message", e)) return false;
    if (!send_words(i, deadline_in(i->profile->timeout_s), e)) return false;
    return !(i->profile->gap_s > 0) || deadline_wait(deadline_in(i->profile->gap_s)) ||
           error_set(e, ERROR_STOPPED, "stopped between two messages to %s", i->link->port);
}

/* Numbers of an answer: one for a point of an axis and of a single part, else two. */
static size_t count_numbers(const struct profile_action *action, const struct step_result *result)
{
    const bool single = action->answer == ANSWER_AXIS || action->layout == LAYOUT_REAL_ONLY ||
                        action->layout == LAYOUT_IMAGINARY_ONLY;

    return (single ? 1 : 2) * result->n;
}

static size_t number_size(enum reply_encoding encoding)
{
    return encoding == ENCODING_REAL32 ? 4 : encoding == ENCODING_REAL64 ? 8 : LONGEST_NUMBER;
}

static bool is_list(const struct profile_action *action)
{
    return action->answer == ANSWER_AXIS || action->answer == ANSWER_TRACE;
}

/* Receives the answer to what was sent, with its terminator, into i->reply. An instrument that
 * repeats what it is sent does so first. */
static bool receive(struct instrument *i, const struct profile_action *action,
                    const struct step_result *result, struct deadline deadline, struct error *e)
{
    struct reply_frame frame = {.terminator = i->profile->answer_terminator};
    size_t most = LONGEST_LINE;

    if (is_list(action)) {
        const size_t n = count_numbers(action, result) + action->format.skip;

        most = n * number_size(action->format.encoding) + 64;
        frame.is_block = action->format.encoding != ENCODING_ASCII;
        if (frame.is_block) frame.expected_bytes = n * number_size(action->format.encoding);
    }
    if (!link_receive(i->link, reply_frame, &frame, most, &i->reply, deadline, e)) {
        i->is_out_of_step = true;
        return false;
    }
    hear(i, false, &i->reply);
    return true;
}

/* Receives what an echoing instrument repeats, which must be exactly what was sent. */
static bool take_echo(struct instrument *i, const struct profile_action *action,
                      struct deadline deadline, struct error *e)
{
    struct reply_frame frame = {.terminator = TERMINATOR_ANY};
    const char *words;
    size_t length, sent = i->message.length - strlen(i->profile->terminator);

    if (!i->profile->echo) return true;
    if (!link_receive(i->link, reply_frame, &frame, i->message.length + 2, &i->reply, deadline,
                      e) ||
        !reply_text(i->reply.data, i->reply.length, &words, &length, e)) {
        i->is_out_of_step = true;
        return false;
    }
    if (length == sent && memcmp(words, i->message.data, length) == 0) return true;
    return fault(i, action, e, "what it repeated is not what it was sent");
}

/* The reply's text without its terminator, in place. An answer that is the question is the
 * commonest fault of a first day. */
static bool trim(struct instrument *i, const struct profile_action *action, struct error *e)
{
    const size_t sent = i->message.length - strlen(i->profile->terminator);
    struct error inner = {0};
    const char *words;
    size_t length;

    if (!reply_text(i->reply.data, i->reply.length, &words, &length, &inner))
        return passed_up(i, action, &inner, e);
    if (length == sent && memcmp(words, i->message.data, length) == 0)
        return fault(i, action, e,
                     "it answered with the question itself: the instrument echoes, which the "
                     "profile must say (echo=\"yes\")");
    memmove(i->reply.data, words, length);
    i->reply.data[length] = '\0';
    i->reply.length = length;
    return true;
}

static bool check_text(struct instrument *i, const struct profile_action *action, struct error *e)
{
    struct text words = {0};
    regex_t expression;
    int status;

    if (!action->match) return true;
    if (regcomp(&expression, action->match, REG_EXTENDED | REG_NOSUB) != 0)
        return fault(i, action, e, "its regular expression cannot be used");
    status = regexec(&expression, i->reply.data, 0, NULL, 0);
    regfree(&expression);
    if (status == 0) return true;
    reply_escape(&words, i->reply.data, i->reply.length, 80);
    (void)error_set(e, ERROR_BENCH, "%s:%lu, %s: it answered \"%s\", which does not fit \"%s\"",
                    i->profile->path, action->line, i->link->port, text_words(&words),
                    action->match);
    text_clear(&words);
    return false;
}

/* What the number must be: a literal or a placeholder. */
static bool find_wanted(struct instrument *i, const struct profile_action *action,
                        const struct profile_values *values, double *wanted, struct error *e)
{
    struct text words = {0};
    bool ok = profile_render(i->profile, action->equals, values, &words, e) &&
              text_ok(&words, "a number", e);

    if (ok && !number_parse(text_words(&words), wanted))
        ok = fault(i, action, e, "what it must equal is no number");
    text_clear(&words);
    return ok;
}

static bool check_number(struct instrument *i, const struct profile_action *action,
                         const struct profile_values *values, struct step_result *result,
                         struct error *e)
{
    struct error inner = {0};
    double number, wanted;

    if (!reply_number(i->reply.data, i->reply.length, &number, &inner))
        return passed_up(i, action, &inner, e);
    number *= action->scale;
    if (!action->equals) {
        if (result) result->number = number;
        return true;
    }
    if (!find_wanted(i, action, values, &wanted, e)) return false;
    if (fabs(number - wanted) <= action->within) return true;
    return error_set(e, ERROR_BENCH,
                     "%s:%lu, %s: %s gave %.60s where it was set to %.17g: the instrument did not "
                     "take the setting",
                     i->profile->path, action->line, i->link->port, action->text, i->reply.data,
                     wanted);
}

/* Spreads received numbers over the parts that the answer holds. */
static void spread(const struct profile_action *action, const double *numbers,
                   struct step_result *result)
{
    const bool re_only = action->answer == ANSWER_AXIS || action->layout == LAYOUT_REAL_ONLY;
    const bool im_only = action->answer == ANSWER_TRACE && action->layout == LAYOUT_IMAGINARY_ONLY;

    for (size_t k = 0; k < result->n; k++) {
        if (action->layout == LAYOUT_INTERLEAVED && !re_only) {
            result->re[k] = action->scale * numbers[2 * k];
            result->im[k] = action->scale * numbers[2 * k + 1];
        } else if (action->layout == LAYOUT_SPLIT && !re_only) {
            result->re[k] = action->scale * numbers[k];
            result->im[k] = action->scale * numbers[result->n + k];
        } else {
            (im_only ? result->im : result->re)[k] = action->scale * numbers[k];
        }
    }
    result->has_re = result->has_re || !im_only;
    result->has_im = result->has_im || (action->answer == ANSWER_TRACE && !re_only);
}

static bool take_numbers(struct instrument *i, const struct profile_action *action,
                         struct step_result *result, struct error *e)
{
    const size_t n = count_numbers(action, result);
    double *numbers = memory_make(n, sizeof *numbers, e);
    struct error inner = {0};
    size_t n_invalid = 0;
    bool ok;

    if (!numbers) return false;
    ok = reply_numbers(i->reply.data, i->reply.length, &action->format, numbers, n, &n_invalid,
                       &inner) ||
         passed_up(i, action, &inner, e);
    if (ok) {
        spread(action, numbers, result);
        result->n_invalid += n_invalid;
    }
    memory_free(numbers);
    return ok;
}

/* One entry of the error queue; `*empty` when there was none. The first one is told: those behind
 * it mostly follow from it. */
static bool check_error(struct instrument *i, const struct profile_action *action, bool *empty,
                        struct reply_error *first, struct error *e)
{
    struct reply_error entry;
    struct error inner = {0};

    if (!reply_error_entry(i->reply.data, i->reply.length, &entry, &inner))
        return passed_up(i, action, &inner, e);
    *empty = entry.number == 0;
    if (!*empty && first->number == 0) *first = entry;
    return true;
}

static bool ask_once(struct instrument *i, const struct profile_action *action,
                     const struct profile_values *values, const struct step_result *result,
                     struct error *e)
{
    const struct deadline deadline = answer_deadline(i, action, values);

    return exchange_send(i, action, values, e) && take_echo(i, action, deadline, e) &&
           receive(i, action, result, deadline, e) && (is_list(action) || trim(i, action, e));
}

/* Asks until the queue is empty, which takes a bounded number of questions. */
static bool ask_errors(struct instrument *i, const struct profile_action *action,
                       const struct profile_values *values, struct error *e)
{
    struct reply_error first = {0};
    bool empty = false;

    for (int n = 0; n < MOST_ERRORS && !empty; n++)
        if (!ask_once(i, action, values, NULL, e) || !check_error(i, action, &empty, &first, e))
            return false;
    if (!empty) return fault(i, action, e, "its error queue does not get empty");
    if (first.number == 0) return true;
    return error_set(e, ERROR_BENCH, "%s:%lu, %s: it reports error %ld, \"%s\"", i->profile->path,
                     action->line, i->link->port, first.number, first.words);
}

bool exchange_ask(struct instrument *i, const struct profile_action *action,
                  const struct profile_values *values, struct step_result *result, struct error *e)
{
    if (action->answer == ANSWER_ERROR) return ask_errors(i, action, values, e);
    if (is_list(action) && (!result || result->n == 0))
        return fault(i, action, e, "nobody said how many points are wanted");
    if (!ask_once(i, action, values, result, e)) return false;
    switch (action->answer) {
    case ANSWER_TEXT: return check_text(i, action, e);
    case ANSWER_NUMBER: return check_number(i, action, values, result, e);
    case ANSWER_AXIS:
    case ANSWER_TRACE: return take_numbers(i, action, result, e);
    case ANSWER_IGNORED:
    case ANSWER_ERROR: break;
    }
    return true;
}

bool exchange_poll(struct instrument *i, const struct profile_action *action,
                   const struct profile_values *values, struct error *e)
{
    const struct deadline deadline = answer_deadline(i, action, values);

    for (;;) {
        struct error inner = {0};
        double number;

        if (!ask_once(i, action, values, NULL, e)) return false;
        if (!reply_number(i->reply.data, i->reply.length, &number, &inner))
            return passed_up(i, action, &inner, e);
        if (!(number >= 0 && number <= 4294967295.0 && number == floor(number)))
            return fault(i, action, e, "its answer is no register of bits");
        if (((unsigned long)number & action->mask) == action->equals_masked) return true;
        if (deadline_passed(deadline))
            return fault(i, action, e, "it was not ready in the time given");
        if (!deadline_wait(deadline_first(deadline, deadline_in(action->every_s))))
            return error_set(e, ERROR_STOPPED, "stopped while waiting for %s", i->link->port);
    }
}

bool exchange_line(struct instrument *i, const char *words, struct deadline deadline,
                   struct error *e)
{
    struct reply_frame frame = {.terminator = i->profile->answer_terminator};
    const char *text;
    size_t length;

    text_reset(&i->message);
    text_add(&i->message, words);
    text_add(&i->message, i->profile->terminator);
    if (!text_ok(&i->message, "a message", e) ||
        !link_send(i->link, i->message.data, i->message.length, deadline, e))
        return false;
    hear(i, true, &i->message);
    if (!strchr(words, '?')) return true;
    if (!link_receive(i->link, reply_frame, &frame, LONGEST_LINE, &i->reply, deadline, e))
        return false;
    hear(i, false, &i->reply);
    if (!reply_text(i->reply.data, i->reply.length, &text, &length, e)) return false;
    memmove(i->reply.data, text, length);
    i->reply.data[length] = '\0';
    i->reply.length = length;
    return true;
}
