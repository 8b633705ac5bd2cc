#include "drivers/instrument.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drivers/instrument_exchange.h"

/* Opening a port, and one message of the safe step, which must not wait long. */
#define OPEN_S 10.0
#define SAFE_S 2.0
/* A line is taken for quiet after this, unless the caller says another: two of the longest gaps
 * that adapters make (16 ms) and the pause between two answers of a slow device (common practice).
 */
#define SILENCE_S 0.2

bool instrument_open(struct instrument *out, const struct profile *profile, const char *port,
                     struct error *e)
{
    const struct deadline settled = deadline_in(profile->settle_s);
    size_t n = 0;

    out->profile = profile;
    out->is_out_of_step = false;
    if (!(out->silence_s > 0)) out->silence_s = SILENCE_S;
    text_reset(&out->identity);
    out->link = link_open(port, &profile->line, deadline_in(OPEN_S), e);
    if (!out->link) return false;
    if (!deadline_wait(settled)) {
        instrument_close(out);
        return error_set(e, ERROR_STOPPED, "stopped while waiting for %s to settle", port);
    }
    /* A banner belongs to the device's start; later such bytes are a fault. */
    if (!link_has_bytes(out->link) ||
        link_drain(out->link, out->silence_s, &n, deadline_in(OPEN_S), e))
        return true;
    instrument_close(out);
    return false;
}

void instrument_close(struct instrument *i)
{
    link_close(i->link);
    i->link = NULL;
    text_clear(&i->identity);
    text_clear(&i->message);
    text_clear(&i->reply);
}

static bool run(struct instrument *i, const struct profile_action *action,
                const struct profile_values *values, struct step_result *result, struct error *e)
{
    switch (action->kind) {
    case ACTION_SEND: return exchange_send(i, action, values, e);
    case ACTION_ASK: return exchange_ask(i, action, values, result, e);
    case ACTION_POLL: return exchange_poll(i, action, values, e);
    case ACTION_PAUSE:
        return deadline_wait(deadline_in(action->pause_s)) ||
               error_set(e, ERROR_STOPPED, "stopped during a pause of %s", i->link->port);
    }
    return false;
}

bool instrument_step(struct instrument *i, enum profile_step step,
                     const struct profile_values *values, struct step_result *result,
                     struct error *e)
{
    const struct profile_actions *actions = &i->profile->steps[step];

    if (result) {
        result->number = NAN;
        result->n_invalid = 0;
        result->has_re = result->has_im = false;
    }
    if (!i->link) return error_set(e, ERROR_BENCH, "%s: the link is closed", i->profile->label);
    for (size_t k = 0; k < actions->n; k++) {
        if (!run(i, &actions->actions[k], values, result, e)) return false;
        if (step == STEP_IDENTIFY && actions->actions[k].answer == ANSWER_TEXT) {
            text_reset(&i->identity);
            text_add(&i->identity, text_words(&i->reply));
            if (!text_ok(&i->identity, "an identity", e)) return false;
        }
    }
    return true;
}

bool instrument_safe(struct instrument *i, struct error *e)
{
    const struct profile_actions *actions = &i->profile->steps[STEP_SAFE];
    struct profile_values values = profile_no_values();
    bool ok = i->link != NULL;

    values.channel = i->channel;
    for (size_t k = 0; i->link && k < actions->n; k++) {
        struct error one = {0};

        if (actions->actions[k].kind == ACTION_PAUSE) {
            (void)deadline_wait(deadline_in(actions->actions[k].pause_s));
            continue;
        }
        text_reset(&i->message);
        if (profile_render(i->profile, actions->actions[k].text, &values, &i->message, &one)) {
            text_add(&i->message, i->profile->terminator);
            if (text_ok(&i->message, "a message", &one) &&
                link_send(i->link, i->message.data, i->message.length, deadline_in(SAFE_S), &one)) {
                if (i->ear) i->ear(i->ear_context, true, i->message.data, i->message.length);
                continue;
            }
        }
        if (ok) (void)error_set(e, ERROR_BENCH, "%s", one.text);
        ok = false;
    }
    if (!i->link)
        (void)error_set(e, ERROR_BENCH, "%s: cannot be told to switch off: the link is closed",
                        i->profile->label);
    return ok;
}
