/* The single exchanges of an instrument's steps; between the instrument*.c files only. */
#ifndef GAINSIEVE_INSTRUMENT_EXCHANGE_H
#define GAINSIEVE_INSTRUMENT_EXCHANGE_H

#include "drivers/instrument.h"

/* Sends an action's message. Bytes that wait before it are a fault. */
bool exchange_send(struct instrument *i, const struct profile_action *action,
                   const struct profile_values *values, struct error *e) MUST_CHECK;

/* Sends, receives, checks, and keeps in `result` what the action says. The text of the answer,
 * without its terminator, is in i->reply unless it was a block. */
bool exchange_ask(struct instrument *i, const struct profile_action *action,
                  const struct profile_values *values, struct step_result *result,
                  struct error *e) MUST_CHECK;

/* Asks again and again until the masked answer is what it must be. */
bool exchange_poll(struct instrument *i, const struct profile_action *action,
                   const struct profile_values *values, struct error *e) MUST_CHECK;

/* Sends words as they are and receives a line into i->reply, for the way back into step. */
bool exchange_line(struct instrument *i, const char *words, struct deadline deadline,
                   struct error *e) MUST_CHECK;

#endif
