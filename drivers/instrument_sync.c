/* The way back into step: chapter and reasons in docs/drivers.md. */
#include <stdio.h>
#include <time.h>

#include "drivers/base/number.h"
#include "drivers/instrument_exchange.h"

/* The whole of it: a late answer must run out, then a few short exchanges. */
#define RESYNC_S 20.0
/* Lines thrown away while looking for the token, answers of questions from before. */
#define MOST_LINES 16

/* A number from 1 to 127 that the last resync did not use. */
static int pick_token(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return 1 + (int)((now.tv_nsec / 1000) % 127);
}

/* Asks for the event status enable register until the token comes: then answers belong to questions
 * again. IEEE 488.2 makes *ESE and *ESE? mandatory, and nothing of ours depends on the register. */
static bool find_token(struct instrument *i, struct deadline deadline, struct error *e)
{
    const int token = pick_token();
    char words[32];
    double number;

    (void)snprintf(words, sizeof words, "*ESE %d", token);
    if (!exchange_line(i, words, deadline, e)) return false;
    for (int n = 0; n < MOST_LINES; n++) {
        if (!exchange_line(i, "*ESE?", deadline, e)) return false;
        if (number_parse(text_words(&i->reply), &number) && number == token)
            return exchange_line(i, "*ESE 0", deadline, e);
    }
    return error_set(e, ERROR_BENCH,
                     "%s: questions and answers stay out of step: switch the instrument off and on "
                     "and check the line settings",
                     i->link->port);
}

bool instrument_resync(struct instrument *i, struct error *e)
{
    const struct deadline deadline = deadline_in(RESYNC_S);
    size_t n;

    if (!i->link) return error_set(e, ERROR_BENCH, "%s: the link is closed", i->profile->label);
    /* '@' makes a half-sent message an error instead of a shorter number. */
    if (!link_clear(i->link, deadline, e) || !link_drain(i->link, i->silence_s, &n, deadline, e) ||
        !exchange_line(i, "@", deadline, e) ||
        !link_drain(i->link, i->silence_s, &n, deadline, e) ||
        !exchange_line(i, "*CLS", deadline, e) || !find_token(i, deadline, e) ||
        /* Every stale line made one more question: its answer is still to come. */
        !link_drain(i->link, i->silence_s, &n, deadline, e))
        return false;
    i->is_out_of_step = false;
    return true;
}
