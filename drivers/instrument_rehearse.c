/* A rehearsal: the steps of a test are gone through and every message is heard, but nothing is
 * sent. The order is that of the real thing, because it is the same code that asks for the steps.
 */
#include "drivers/instrument_exchange.h"

bool exchange_linked(struct instrument *i, struct error *e)
{
    return !i->linked || i->linked(i->linked_context, i, e);
}

bool rehearse_step(struct instrument *i, enum profile_step step,
                   const struct profile_values *values, struct step_result *result, struct error *e)
{
    const struct profile_actions *actions = &i->profile->steps[step];

    for (size_t k = 0; k < actions->n; k++) {
        const struct profile_action *action = &actions->actions[k];

        if (action->kind == ACTION_PAUSE) continue;
        text_reset(&i->message);
        if (!profile_render(i->profile, action->text, values, &i->message, e) ||
            !text_ok(&i->message, "a message", e))
            return false;
        if (i->ear) i->ear(i->ear_context, true, i->message.data, i->message.length);
    }
    if (result) {
        result->number = 0;
        result->has_re = result->has_im = true;
    }
    return true;
}
