/* The single exchanges of an instrument's steps; between the instrument*.c files only. */
#ifndef GAINSIEVE_INSTRUMENT_EXCHANGE_H
#define GAINSIEVE_INSTRUMENT_EXCHANGE_H

#include "drivers/instrument.h"

/* Sends an action's message. Bytes that wait before it are a fault, but for the late LF of a CR LF
 * where the profile takes any terminator. */
bool exchange_send(struct instrument *i, const struct profile_action *action,
                   const struct profile_values *values, struct error *e) MUST_CHECK;

/* Sends, receives, checks, and keeps in `result` what the action says. The text of the answer,
 * without its terminator, is in i->reply unless it was a list of numbers. */
bool exchange_ask(struct instrument *i, const struct profile_action *action,
                  const struct profile_values *values, struct step_result *result,
                  struct error *e) MUST_CHECK;

/* Asks again and again until the masked answer is what it must be. */
bool exchange_poll(struct instrument *i, const struct profile_action *action,
                   const struct profile_values *values, struct error *e) MUST_CHECK;

/* Sends words as they are, whatever waits, in step or not. */
bool exchange_words(struct instrument *i, const char *words, struct deadline deadline,
                    struct error *e) MUST_CHECK;

/* Receives a line into i->reply, without its terminator, whatever it answers. */
bool exchange_line(struct instrument *i, struct deadline deadline, struct error *e) MUST_CHECK;

/* Waits; false when somebody asked to stop and the link listens to that. */
bool exchange_wait(const struct instrument *i, struct deadline deadline);

/* Seconds that so many bytes may take on the line: half as much again as ten bits each (common
 * practice); 0 where the speed is not known. */
double exchange_line_s(const struct instrument *i, size_t n);

/* "PROFILE:LINE, PORT: words", or words that are not of the bench as they are. */
bool exchange_located(const struct instrument *i, const struct profile_action *action,
                      enum error_kind kind, const char *words, struct error *e);

/* The same, and questions and answers are out of step. */
bool exchange_fault(struct instrument *i, const struct profile_action *action, enum error_kind kind,
                    const char *words, struct error *e);

/* What an answer in i->reply holds; instrument_answer.c. */
bool answer_is_list(const struct profile_action *action);
/* Numbers of a list, those to drop left out, and bytes of its data. */
size_t answer_numbers(const struct profile_action *action, const struct step_result *result);
size_t answer_bytes(const struct profile_action *action, const struct step_result *result);
bool answer_check_text(struct instrument *i, const struct profile_action *action,
                       struct error *e) MUST_CHECK;
bool answer_check_number(struct instrument *i, const struct profile_action *action,
                         const struct profile_values *values, struct step_result *result,
                         struct error *e) MUST_CHECK;
bool answer_take_list(struct instrument *i, const struct profile_action *action,
                      struct step_result *result, struct error *e) MUST_CHECK;
/* One entry of the error queue; `*empty` when there was none. Keeps the first: those behind it
 * mostly follow from it. */
bool answer_take_error(struct instrument *i, const struct profile_action *action, bool *empty,
                       struct reply_error *first, struct error *e) MUST_CHECK;

/* Tells i->linked, if there is one, of the connection that i->link is. */
bool exchange_linked(struct instrument *i, struct error *e) MUST_CHECK;

/* What a rehearsal does instead of a step: messages to the ear, and numbers that hold. */
bool rehearse_step(struct instrument *i, enum profile_step step,
                   const struct profile_values *values, struct step_result *result,
                   struct error *e) MUST_CHECK;

#endif
