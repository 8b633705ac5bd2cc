/* The way back into step; docs/drivers.md tells the reasons. */
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "drivers/instrument_exchange.h"

/* Beside the time of the longest answer on the line: late bytes may come for so long, and so much
 * later than the profile allows (ours). */
#define LATE_S 2.0
/* Lines thrown away while looking for a token, answers of questions from before. */
#define MOST_LINES 16
#define MOST_ROUNDS 8
/* A stale number may be equal to one token; not to two. */
#define ROUNDS_IN_ROW 2
/* The longest answer where the profile states no largest number of points. */
#define POINTS 1601.0
#define BYTES_OF_POINT 52.0
/* IEEE 488.2, 11.5.1.1 (from memory): the event of being switched on. */
#define EVENT_POWER_ON 128

/* Whatever was underway, on a line of this speed. */
static double late_s(const struct instrument *i)
{
    const double points = i->profile->max_points > 0 ? i->profile->max_points : POINTS;

    return LATE_S + exchange_line_s(i, (size_t)(BYTES_OF_POINT * points));
}

static bool let_run_out(struct instrument *i, struct error *e)
{
    size_t n;

    return link_drain(i->link, i->silence_s, &n, deadline_in(late_s(i)), e);
}

/* A number from 1 to 127 other than the last. */
static int pick_token(int last)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return 1 + (last + (int)(now.tv_nsec / 1000 % 126)) % 127;
}

/* The next line that is not `a` or `b` repeated by an instrument that echoes. A line that cannot be
 * one is a fault of the past as long as the link is there: `*is_line` is false then. */
static bool next_line(struct instrument *i, const char *a, const char *b, bool *is_line,
                      struct error *e)
{
    for (int n = 0; n < 3; n++) {
        struct error inner = {0};

        *is_line = exchange_line(i, deadline_in(i->profile->timeout_s + LATE_S), &inner);
        if (!*is_line) {
            if (inner.kind == ERROR_BENCH &&
                (i->link->fault == LINK_OK || i->link->fault == LINK_OTHER ||
                 i->link->fault == LINK_TOO_LONG))
                return true;
            return error_set(e, inner.kind, "%s", inner.text);
        }
        if (!i->profile->echo) break;
        if (strcmp(i->reply.data, a) != 0 && strcmp(i->reply.data, b) != 0) break;
    }
    return true;
}

/* Sets the event status enable register and asks for it. IEEE 488.2 makes *ESE and *ESE? mandatory,
 * and nothing of ours depends on the register. `*clean`: the first line was the answer. */
static bool try_token(struct instrument *i, int token, bool *clean, struct error *e)
{
    const struct deadline sent = deadline_in(i->profile->timeout_s + LATE_S);
    char words[32];

    *clean = false;
    (void)snprintf(words, sizeof words, "*ESE %d", token);
    if (!exchange_words(i, words, sent, e) || !exchange_words(i, "*ESE?", sent, e)) return false;
    for (int n = 0; n < MOST_LINES; n++) {
        struct error inner = {0};
        double number;
        bool is_line;

        if (!next_line(i, words, "*ESE?", &is_line, e)) return false;
        if (!is_line) break;
        if (!reply_number(i->reply.data, i->reply.length, &number, &inner) || number != token)
            continue;
        *clean = n == 0;
        return *clean || let_run_out(i, e);
    }
    return let_run_out(i, e);
}

/* Until two tokens in a row came at once: then answers belong to questions again. */
static bool find_token(struct instrument *i, struct error *e)
{
    int token = 0, in_row = 0;

    for (int n = 0; n < MOST_ROUNDS && in_row < ROUNDS_IN_ROW; n++) {
        bool clean;

        token = pick_token(token);
        if (!try_token(i, token, &clean, e)) return false;
        in_row = clean ? in_row + 1 : 0;
    }
    if (in_row == ROUNDS_IN_ROW) return true;
    return error_set(e, ERROR_BENCH,
                     "%s: questions and answers stay out of step: switch the instrument off and on "
                     "and look at the line settings",
                     i->link->port);
}

/* Whether it was switched off and on, which *CLS would forget; then puts the registers back. */
static bool tidy_up(struct instrument *i, struct error *e)
{
    const struct deadline sent = deadline_in(i->profile->timeout_s + LATE_S);
    double number;
    bool is_line;

    if (!exchange_words(i, "*ESR?", sent, e) || !next_line(i, "*ESR?", "", &is_line, e))
        return false;
    if (!is_line || !reply_number(i->reply.data, i->reply.length, &number, e))
        return e->kind != ERROR_NONE
                   ? false
                   : error_set(e, ERROR_BENCH, "%s: *ESR? is not answered with a line",
                               i->link->port);
    i->has_restarted = number >= 0 && number < 256 && ((int)number & EVENT_POWER_ON);
    if (!exchange_words(i, "*ESE 0", sent, e) || !exchange_words(i, "*CLS", sent, e)) return false;
    return !i->profile->echo || let_run_out(i, e);
}

/* The instrument that answers must be the one that was there. */
static bool check_identity(struct instrument *i, struct error *e)
{
    struct text before = {0};
    bool ok;

    if (i->identity.length == 0) return true;
    text_add_bytes(&before, i->identity.data, i->identity.length);
    ok = text_ok(&before, "an identity", e) && instrument_step(i, STEP_IDENTIFY, NULL, NULL, e);
    if (ok && strcmp(text_words(&before), text_words(&i->identity)) != 0) {
        char shown[REPLY_SHOWN_TEXT], now[REPLY_SHOWN_TEXT];

        ok = error_set(e, ERROR_BENCH,
                       "%s: another instrument answers, \"%s\" instead of \"%s\": stop, and start "
                       "again with the right one",
                       i->link->port, reply_shown(i->identity.data, i->identity.length, now),
                       reply_shown(before.data, before.length, shown));
    }
    text_clear(&before);
    return ok;
}

bool instrument_resync(struct instrument *i, struct error *e)
{
    const struct deadline cleared = deadline_in(i->profile->timeout_s + LATE_S);

    if (i->rehearses) return true;
    if (!i->link) return error_set(e, ERROR_BENCH, "%s: the link is closed", i->profile->label);
    i->is_out_of_step = true;
    if (!link_clear(i->link, cleared, e) || !exchange_linked(i, e) || !let_run_out(i, e))
        return false;
    /* A half-sent message must become an error and not a shorter number: a line end alone would
     * make "-2" of "-20". */
    if (!exchange_words(i, "@", deadline_in(i->profile->timeout_s + LATE_S), e) ||
        !let_run_out(i, e) || !find_token(i, e) || !tidy_up(i, e))
        return false;
    i->is_out_of_step = i->is_half_sent = false;
    return check_identity(i, e);
}
