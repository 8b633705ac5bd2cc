#include "drivers/instrument.h"

#include <math.h>
#include <string.h>

#include "drivers/base/stop.h"
#include "drivers/instrument_exchange.h"

/* Opening a port, and one message that switches off, which must not wait long. */
#define OPEN_S 10.0
#define SAFE_S 2.0
/* A line is taken for quiet after this, unless the caller says another: ten of the longest gaps
 * that adapters make (16 ms; common practice). */
#define SILENCE_S 0.2
/* Room for what switches off, so that it needs no memory. */
#define ROOM ((size_t)1024)

/* ---- opening and closing ---- */

/* A banner belongs to the device's start; later such bytes are a fault. */
static bool settle(struct instrument *i, struct error *e)
{
    size_t n;

    if (!deadline_wait(deadline_in(i->profile->settle_s))) return stop_error(e);
    return !link_has_bytes(i->link) ||
           link_drain(i->link, i->silence_s, &n, deadline_in(OPEN_S), e);
}

bool instrument_open(struct instrument *out, const struct profile *profile, const char *port,
                     struct error *e)
{
    out->profile = profile;
    out->is_out_of_step = out->is_half_sent = out->has_restarted = false;
    out->next = deadline_in(0);
    if (!(out->silence_s > 0)) out->silence_s = SILENCE_S;
    text_reset(&out->identity);
    (void)text_reserve(&out->message, ROOM);
    if (out->rehearses) return true;
    out->link = link_open(port, &profile->line, deadline_in(OPEN_S), e);
    if (out->link && text_ok(&out->message, "a message", e) && exchange_linked(out, e) &&
        settle(out, e))
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

/* ---- steps ---- */

static bool run(struct instrument *i, const struct profile_action *action,
                const struct profile_values *values, struct step_result *result, struct error *e)
{
    switch (action->kind) {
    case ACTION_SEND: return exchange_send(i, action, values, e);
    case ACTION_ASK: return exchange_ask(i, action, values, result, e);
    case ACTION_POLL: return exchange_poll(i, action, values, e);
    case ACTION_PAUSE: return exchange_wait(i, deadline_in(action->pause_s)) || stop_error(e);
    }
    return false;
}

static bool keep_identity(struct instrument *i, struct error *e)
{
    text_reset(&i->identity);
    text_add(&i->identity, text_words(&i->reply));
    return text_ok(&i->identity, "an identity", e);
}

static bool run_step(struct instrument *i, enum profile_step step,
                     const struct profile_values *values, struct step_result *result,
                     struct error *e)
{
    const struct profile_actions *actions = &i->profile->steps[step];

    for (size_t k = 0; k < actions->n; k++) {
        if (!run(i, &actions->actions[k], values, result, e)) return false;
        if (step == STEP_IDENTIFY && actions->actions[k].answer == ANSWER_TEXT &&
            !keep_identity(i, e))
            return false;
    }
    return true;
}

static struct profile_values complete(const struct instrument *i,
                                      const struct profile_values *values)
{
    struct profile_values all = values ? *values : profile_no_values();

    if (!all.channel) all.channel = i->channel;
    return all;
}

bool instrument_step(struct instrument *i, enum profile_step step,
                     const struct profile_values *values, struct step_result *result,
                     struct error *e)
{
    const struct profile_values all = complete(i, values);

    if (result) {
        result->number = NAN;
        result->n_invalid = 0;
        result->has_re = result->has_im = false;
    }
    if (i->rehearses) return rehearse_step(i, step, &all, result, e);
    if (step == STEP_RF_OFF || step == STEP_OUTPUT_OFF)
        return instrument_switch_off(i, step, &all, e);
    if (!i->link) return error_set(e, ERROR_BENCH, "%s: the link is closed", i->profile->label);
    return run_step(i, step, &all, result, e);
}

/* ---- switching off ---- */

/* Opens a link that is gone once more; the old one stays when that fails. A descriptor that was
 * handed over cannot be opened again: its number may be another file's by now. */
static void reopen(struct instrument *i)
{
    struct error unused = {0};
    struct link *again;

    if (i->link->fault != LINK_GONE && i->link->descriptor >= 0) return;
    if (i->link->kind == &link_descriptor) return;
    again = link_open(i->link->port, &i->profile->line, deadline_in(SAFE_S), &unused);
    if (!again) return;
    again->ignores_stop = i->link->ignores_stop;
    link_close(i->link);
    i->link = again;
    i->is_out_of_step = true;
    /* What comes is "off": it is sent whether or not somebody else could send it too. */
    (void)!exchange_linked(i, &unused);
}

/* A text without placeholders needs no memory. */
static bool send_off(struct instrument *i, const struct profile_action *action,
                     const struct profile_values *values, struct error *e)
{
    struct text made = {0};
    bool ok;

    if (!strchr(action->text, '{')) return exchange_words(i, action->text, deadline_in(SAFE_S), e);
    ok = profile_render(i->profile, action->text, values, &made, e) &&
         exchange_words(i, text_words(&made), deadline_in(SAFE_S), e);
    text_clear(&made);
    return ok;
}

/* Sends what a step sends, whatever fails on the way, and asks nothing. The first error is told. */
static bool send_all(struct instrument *i, enum profile_step step,
                     const struct profile_values *values, struct error *e)
{
    const struct profile_actions *actions = &i->profile->steps[step];
    struct error unused = {0};
    bool ok = true;

    reopen(i);
    /* What follows half a message would be its end and not a message. */
    if (i->is_half_sent && exchange_words(i, "@", deadline_in(SAFE_S), &unused))
        i->is_half_sent = false;
    for (size_t k = 0; k < actions->n; k++) {
        const struct profile_action *action = &actions->actions[k];
        struct error one = {0};

        if (action->kind == ACTION_PAUSE) deadline_sleep(deadline_in(action->pause_s));
        if (action->kind != ACTION_SEND || send_off(i, action, values, &one)) continue;
        if (ok) (void)exchange_located(i, action, one.kind, one.text, e);
        ok = false;
    }
    /* Their echoes, if any, still come. */
    if (i->profile->echo) i->is_out_of_step = true;
    return ok;
}

static bool cannot_switch_off(const struct instrument *i, struct error *e)
{
    return error_set(e, ERROR_BENCH, "%s: cannot be told to switch off: the link is closed",
                     i->profile->label);
}

/* The way for an instrument out of step: off first, then the way back, then the step for its
 * reading. Also when the resync found another instrument in step: that must be off, too. */
static bool off_out_of_step(struct instrument *i, enum profile_step step,
                            const struct profile_values *values, struct error *e)
{
    struct error unsent = {0}, lost = {0}, quiet = {0};
    const bool sent = send_all(i, step, values, &unsent);
    size_t n;

    /* A TCP connection that is closed with bytes unread takes with it what is still on its way. */
    if (link_drain(i->link, i->silence_s, &n, deadline_in(SAFE_S), &quiet)) {
        /* If not, the resync says why. */
    }
    if (!instrument_resync(i, &lost) && i->is_out_of_step)
        return sent ? error_set(e, lost.kind, "%s", lost.text)
                    : error_set(e, unsent.kind, "%s", unsent.text);
    return run_step(i, step, values, NULL, e);
}

bool instrument_switch_off(struct instrument *i, enum profile_step step,
                           const struct profile_values *values, struct error *e)
{
    const struct profile_values all = complete(i, values);
    struct error first = {0};
    bool ok, before;

    if (i->rehearses) return rehearse_step(i, step, &all, NULL, e);
    if (!i->link) return cannot_switch_off(i, e);
    before = i->link->ignores_stop;
    i->link->ignores_stop = true;
    ok = !i->is_out_of_step && run_step(i, step, &all, NULL, &first);
    if (!ok && i->is_out_of_step)
        ok = off_out_of_step(i, step, &all, e);
    else if (!ok)
        (void)error_set(e, first.kind, "%s", first.text);
    i->link->ignores_stop = before;
    return ok;
}

bool instrument_safe(struct instrument *i, struct error *e)
{
    const struct profile_values values = complete(i, NULL);
    bool ok, before;

    if (i->rehearses) return rehearse_step(i, STEP_SAFE, &values, NULL, e);
    if (!i->link) return cannot_switch_off(i, e);
    before = i->link->ignores_stop;
    i->link->ignores_stop = true;
    ok = send_all(i, STEP_SAFE, &values, e);
    i->link->ignores_stop = before;
    return ok;
}
