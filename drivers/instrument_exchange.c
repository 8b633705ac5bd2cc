#include "drivers/instrument_exchange.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/base/stop.h"

/* A line that is no list of numbers: an identity, an error entry. */
#define LONGEST_LINE ((size_t)1024)
/* Beside the data of a list: the head of a block, words in front, a terminator. */
#define LIST_MARGIN ((size_t)64)
/* Entries of an error queue that never gets empty (instruments hold some tens; common practice). */
#define MOST_ERRORS 32
/* How often line ends may wait: two halves of a CR LF, and one to spare. */
#define MOST_LINE_ENDS 3

/* ---- faults and waits ---- */

bool exchange_located(const struct instrument *i, const struct profile_action *action,
                      enum error_kind kind, const char *words, struct error *e)
{
    const char *port = i->link->port;
    const size_t length = strlen(port);

    if (kind != ERROR_BENCH) return error_set(e, kind, "%s", words);
    /* Links begin with the port, replies know none. */
    if (strncmp(words, port, length) == 0 && strncmp(words + length, ": ", 2) == 0)
        words += length + 2;
    return error_set(e, kind, "%s:%lu, %s: %s", i->profile->path, action->line, port, words);
}

bool exchange_fault(struct instrument *i, const struct profile_action *action, enum error_kind kind,
                    const char *words, struct error *e)
{
    i->is_out_of_step = true;
    return exchange_located(i, action, kind, words, e);
}

static bool fault(struct instrument *i, const struct profile_action *action, const char *words,
                  struct error *e)
{
    return exchange_fault(i, action, ERROR_BENCH, words, e);
}

bool exchange_wait(const struct instrument *i, struct deadline deadline)
{
    if (!i->link->ignores_stop) return deadline_wait(deadline);
    deadline_sleep(deadline);
    return true;
}

double exchange_line_s(const struct instrument *i, size_t n)
{
    const bool is_known = i->link->kind == &link_serial && i->link->line.baud > 0;

    return is_known ? 1.5 * 10 * (double)n / (double)i->link->line.baud : 0;
}

static void hear(const struct instrument *i, bool sent, const struct text *bytes)
{
    if (i->ear && bytes->length > 0) i->ear(i->ear_context, sent, bytes->data, bytes->length);
}

/* The message that was sent last, without its terminator. */
static size_t sent_length(const struct instrument *i)
{
    const size_t end = strlen(i->profile->terminator);

    return i->message.length > end ? i->message.length - end : 0;
}

static bool is_line_end(char c)
{
    return c == '\n' || c == '\r';
}

static size_t count_line_ends(const char *bytes, size_t n)
{
    size_t count = 0;

    while (count < n && is_line_end(bytes[count]))
        count++;
    return count;
}

/* Whether the bytes begin with the last message as a line of its own. */
static bool is_last_message(const struct instrument *i, const struct text *bytes)
{
    const size_t n = sent_length(i), begin = count_line_ends(text_words(bytes), bytes->length);

    return n > 0 && bytes->length - begin >= n &&
           memcmp(bytes->data + begin, i->message.data, n) == 0 &&
           (bytes->length - begin == n || is_line_end(bytes->data[begin + n]));
}

static bool echo_fault(struct instrument *i, const struct profile_action *action, struct error *e)
{
    return fault(i, action,
                 "it answered with the message itself: the instrument echoes, which the profile "
                 "must say (echo=\"yes\")",
                 e);
}

/* ---- before a message ---- */

/* A frame of line ends in front; anything else is none. `context`: whether they are harmless. */
static size_t frame_line_ends(void *context, const char *bytes, size_t n, bool ended,
                              struct error *e)
{
    const size_t count = *(const bool *)context ? count_line_ends(bytes, n) : 0;

    (void)ended;
    if (count == 0) (void)error_set(e, ERROR_BENCH, "bytes came that nobody asked for");
    return count;
}

/* Bytes wait: late line ends are passed over, all others make a fault that shows them. */
static bool look_at_strays(struct instrument *i, const struct profile_action *action,
                           struct error *e)
{
    bool harmless = i->profile->answer_terminator == TERMINATOR_ANY;
    char words[512], shown[REPLY_SHOWN_TEXT];
    struct error inner = {0};

    for (int n = 0; n < MOST_LINE_ENDS && link_has_bytes(i->link); n++)
        if (!link_receive(i->link, frame_line_ends, &harmless, REPLY_SHOWN, &i->reply,
                          deadline_in(0), &inner))
            break;
    if (inner.kind == ERROR_NONE && !link_has_bytes(i->link)) return true;
    hear(i, false, &i->reply);
    if (inner.kind > ERROR_NONE && inner.kind != ERROR_BENCH)
        return exchange_fault(i, action, inner.kind, inner.text, e);
    if (is_last_message(i, &i->reply)) return echo_fault(i, action, e);
    (void)snprintf(words, sizeof words,
                   "bytes came that nobody asked for, so questions and answers are out of step: "
                   "\"%s\"",
                   reply_shown(i->reply.data, i->reply.length, shown));
    return fault(i, action, words, e);
}

static bool check_in_step(struct instrument *i, const struct profile_action *action,
                          struct error *e)
{
    if (i->is_out_of_step)
        return fault(i, action,
                     "nothing was sent, since questions and answers are out of step after an "
                     "earlier fault",
                     e);
    return !link_has_bytes(i->link) || look_at_strays(i, action, e);
}

/* ---- sending ---- */

static bool send_message(struct instrument *i, struct deadline deadline, struct error *e)
{
    if (!link_send(i->link, i->message.data, i->message.length, deadline, e)) {
        i->is_out_of_step = i->is_half_sent = true;
        return false;
    }
    hear(i, true, &i->message);
    i->next = deadline_in(i->profile->gap_s);
    return true;
}

/* A frame of what an echoing instrument repeats: the last message, or another line. Its terminator
 * is waited for whole: the rest of it would be taken for an empty answer. */
static size_t frame_echo(void *context, const char *bytes, size_t n, bool ended, struct error *e)
{
    const struct text *message = context;
    const size_t begin = count_line_ends(bytes, n);
    const size_t there = n - begin < message->length ? n - begin : message->length;
    size_t end = begin;

    (void)ended, (void)e;
    if (memcmp(bytes + begin, message->data, there) == 0) {
        if (there < message->length) return 0;
        end = begin + there;
    } else {
        while (end < n && !is_line_end(bytes[end]))
            end++;
        if (end == n) return 0;
    }
    return end + count_line_ends(bytes + end, n - end);
}

/* Receives what an echoing instrument repeats, which must be exactly what was sent. */
static bool take_echo(struct instrument *i, const struct profile_action *action, struct error *e)
{
    const size_t most = i->message.length + LIST_MARGIN;
    const struct deadline deadline =
        deadline_in(i->profile->timeout_s + exchange_line_s(i, 2 * most));
    char words[512], shown[REPLY_SHOWN_TEXT];
    struct error inner = {0};

    if (!link_receive(i->link, frame_echo, &i->message, most, &i->reply, deadline, &inner))
        return exchange_fault(i, action, inner.kind, inner.text, e);
    hear(i, false, &i->reply);
    if (is_last_message(i, &i->reply)) return true;
    (void)snprintf(words, sizeof words,
                   "what it repeated is not what it was sent: \"%s\"; look at the line settings, "
                   "and whether it echoes at all (echo in the profile)",
                   reply_shown(i->reply.data, i->reply.length, shown));
    return fault(i, action, words, e);
}

bool exchange_send(struct instrument *i, const struct profile_action *action,
                   const struct profile_values *values, struct error *e)
{
    struct error inner = {0};

    if (!exchange_wait(i, i->next)) return stop_error(e);
    if (!check_in_step(i, action, e)) return false;
    text_reset(&i->message);
    if (!profile_render(i->profile, action->text, values, &i->message, &inner))
        return exchange_located(i, action, inner.kind, inner.text, e);
    text_add(&i->message, i->profile->terminator);
    if (!text_ok(&i->message, "a message", e)) return false;
    if (!send_message(i, deadline_in(i->profile->timeout_s + exchange_line_s(i, i->message.length)),
                      &inner))
        return exchange_fault(i, action, inner.kind, inner.text, e);
    return !i->profile->echo || take_echo(i, action, e);
}

bool exchange_words(struct instrument *i, const char *words, struct deadline deadline,
                    struct error *e)
{
    (void)exchange_wait(i, i->next);
    text_reset(&i->message);
    text_add(&i->message, words);
    text_add(&i->message, i->profile->terminator);
    return text_ok(&i->message, "a message", e) && send_message(i, deadline, e);
}

/* ---- receiving ---- */

/* The reply's text without its terminator, in place. */
static bool trim(struct instrument *i, struct error *e)
{
    const char *words;
    size_t length;

    if (!reply_text(i->reply.data, i->reply.length, &words, &length, e)) return false;
    memmove(i->reply.data, words, length);
    i->reply.data[length] = '\0';
    i->reply.length = length;
    return true;
}

bool exchange_line(struct instrument *i, struct deadline deadline, struct error *e)
{
    /* What is repeated ends as it was sent, which may be otherwise than answers do. */
    struct reply_frame frame = {.terminator = i->profile->echo ? TERMINATOR_ANY
                                                               : i->profile->answer_terminator,
                                .link_tells_end = i->link->message_ends};

    if (!link_receive(i->link, reply_frame, &frame, LONGEST_LINE, &i->reply, deadline, e))
        return false;
    hear(i, false, &i->reply);
    i->next = deadline_in(i->profile->gap_s);
    return trim(i, e);
}

/* An answer without an end: bytes that no text has say more than the lack of a terminator. */
static void blame_line(const struct instrument *i, struct error *inner)
{
    struct error other = {0};
    const char *words;
    size_t length;

    if (!reply_text(i->reply.data, i->reply.length, &words, &length, &other)) *inner = other;
}

/* Receives the answer to what was sent, with its terminator, into i->reply. */
static bool receive(struct instrument *i, const struct profile_action *action,
                    const struct step_result *result, double allowed_s, struct error *e)
{
    struct reply_frame frame = {.terminator = i->profile->answer_terminator,
                                .link_tells_end = i->link->message_ends};
    struct error inner = {0};
    size_t most = LONGEST_LINE;
    bool ok;

    if (answer_is_list(action)) {
        most = answer_bytes(action, result) + LIST_MARGIN;
        frame.is_block = action->format.encoding != ENCODING_ASCII;
        if (frame.is_block) frame.expected_bytes = most - LIST_MARGIN;
    }
    ok = link_receive(i->link, reply_frame, &frame, most, &i->reply,
                      deadline_in(allowed_s + exchange_line_s(i, most)), &inner);
    hear(i, false, &i->reply);
    i->next = deadline_in(i->profile->gap_s);
    /* The commonest fault of a first day. */
    if ((ok || inner.kind == ERROR_BENCH) && is_last_message(i, &i->reply))
        return echo_fault(i, action, e);
    if (ok && !answer_is_list(action)) ok = trim(i, &inner);
    if (!ok && i->link->fault == LINK_TIMEOUT && i->reply.length > 0 && !answer_is_list(action))
        blame_line(i, &inner);
    return ok || exchange_fault(i, action, inner.kind, inner.text, e);
}

static bool ask_once(struct instrument *i, const struct profile_action *action,
                     const struct profile_values *values, const struct step_result *result,
                     double allowed_s, struct error *e)
{
    return exchange_send(i, action, values, e) && receive(i, action, result, allowed_s, e);
}

/* How long the answer may take, beside its time on the line. */
static bool find_time(const struct instrument *i, const struct profile_action *action,
                      const struct profile_values *values, double *allowed_s, struct error *e)
{
    *allowed_s = isnan(action->timeout_s) ? values->value[VALUE_SWEEP_TIMEOUT_MS] / 1e3
                 : action->timeout_s > 0  ? action->timeout_s
                                          : i->profile->timeout_s;
    if (*allowed_s > 0) return true;
    return exchange_located(i, action, ERROR_BENCH, "nobody said how long a sweep may take", e);
}

/* Asks until the queue is empty, which takes a bounded number of questions. */
static bool ask_errors(struct instrument *i, const struct profile_action *action,
                       const struct profile_values *values, double allowed_s, struct error *e)
{
    struct reply_error first = {0};
    char words[512];
    bool empty = false;

    for (int n = 0; n < MOST_ERRORS && !empty; n++)
        if (!ask_once(i, action, values, NULL, allowed_s, e) ||
            !answer_take_error(i, action, &empty, &first, e))
            return false;
    if (empty && first.number == 0) return true;
    (void)snprintf(words, sizeof words, "it reports error %ld, \"%s\"%s", first.number, first.words,
                   empty ? "" : ", and its error queue does not get empty");
    return exchange_located(i, action, ERROR_BENCH, words, e);
}

bool exchange_ask(struct instrument *i, const struct profile_action *action,
                  const struct profile_values *values, struct step_result *result, struct error *e)
{
    double allowed_s;

    if (!find_time(i, action, values, &allowed_s, e)) return false;
    if (action->answer == ANSWER_ERROR) return ask_errors(i, action, values, allowed_s, e);
    if (answer_is_list(action) && (!result || result->n == 0))
        return exchange_located(i, action, ERROR_BENCH, "nobody said how many points are wanted",
                                e);
    if (!ask_once(i, action, values, result, allowed_s, e)) return false;
    switch (action->answer) {
    case ANSWER_TEXT: return answer_check_text(i, action, e);
    case ANSWER_NUMBER: return answer_check_number(i, action, values, result, e);
    case ANSWER_AXIS:
    case ANSWER_TRACE: return answer_take_list(i, action, result, e);
    case ANSWER_IGNORED:
    case ANSWER_ERROR: break;
    }
    return true;
}

/* Each answer has the profile's time; the whole ends with the action's. */
bool exchange_poll(struct instrument *i, const struct profile_action *action,
                   const struct profile_values *values, struct error *e)
{
    struct deadline deadline;
    double allowed_s;

    if (!find_time(i, action, values, &allowed_s, e)) return false;
    for (deadline = deadline_in(allowed_s);;) {
        struct error inner = {0};
        double number;

        if (!ask_once(i, action, values, NULL, i->profile->timeout_s, e)) return false;
        if (!reply_number(i->reply.data, i->reply.length, &number, &inner))
            return exchange_fault(i, action, inner.kind, inner.text, e);
        if (!(number >= 0 && number <= 4294967295.0 && number == floor(number)))
            return fault(i, action, "its answer is no register of bits", e);
        if (((unsigned long)number & action->mask) == action->equals_masked) return true;
        if (deadline_passed(deadline))
            return exchange_located(i, action, ERROR_BENCH,
                                    "it was not ready in the time that the profile gives", e);
        if (!exchange_wait(i, deadline_first(deadline, deadline_in(action->every_s))))
            return stop_error(e);
    }
}
