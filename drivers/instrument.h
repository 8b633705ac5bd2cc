/* An instrument behind its link, spoken to in the words of its profile.
 *
 * One exchange at a time: a message is sent whole, its answer is read whole, and only then comes
 * the next. Bytes that nobody asked for mean that answers and questions are out of step, and an
 * answer may belong to another question: such bytes are never thrown away silently.
 * instrument_resync() finds the way back and proves it; a sweep taken across it is void.
 *
 * Errors are ERROR_BENCH and name the profile's line and the port. No function switches anything on
 * but by the step it is told to run. */
#ifndef GAINSIEVE_INSTRUMENT_H
#define GAINSIEVE_INSTRUMENT_H

#include "drivers/link.h"
#include "drivers/profile.h"

/* Hears every message, for a log or a rehearsal. `bytes` are borrowed for the call. */
typedef void instrument_ear(void *context, bool sent, const char *bytes, size_t n);

struct instrument {
    const struct profile *profile; /* borrowed */
    struct link *link;             /* NULL: closed */
    const char *channel;           /* borrowed, or NULL */
    struct text identity;          /* the answer to `identify`; empty before */
    bool is_out_of_step;           /* an exchange went wrong: instrument_resync() is due */
    bool rehearses;    /* nothing is sent: messages go to the ear only, and every check holds */
    double silence_s;              /* how long a drained line must be quiet */
    instrument_ear *ear;           /* or NULL */
    void *ear_context;
    struct text message, reply; /* reused */
};

/* What a step brought. The caller sets `n` and the two arrays for steps that read an axis or a
 * trace; both have room for n numbers. */
struct step_result {
    double number;    /* the last number that is no check; NaN without */
    size_t n;         /* points */
    double *re, *im;  /* an axis fills `re` */
    size_t n_invalid; /* points that the instrument marked as no number: NaN in the arrays */
    bool has_re, has_im;
};

/* Opens the link and waits until the device has settled, dropping what it says of itself meanwhile.
 * Says nothing to it. `out` must be zero or closed; silence_s, ear and channel are kept. */
bool instrument_open(struct instrument *out, const struct profile *profile, const char *port,
                     struct error *e) MUST_CHECK;

/* Runs a step, its actions in their order; a step that the profile does not have is done at once.
 * `values` fills the placeholders. The error queue is not looked at: that is a step of its own. */
bool instrument_step(struct instrument *i, enum profile_step step,
                     const struct profile_values *values, struct step_result *result,
                     struct error *e) MUST_CHECK;

/* Finds the way back into step: clears the link, lets late bytes run out, makes a half-sent message
 * invalid, and asks for a number that only this call knows. */
bool instrument_resync(struct instrument *i, struct error *e) MUST_CHECK;

/* Sends the profile's safe step. Tries every message even after a failure, and also on a link that
 * looks dead. False when any could not be sent. May be called at any time and twice. */
bool instrument_safe(struct instrument *i, struct error *e) MUST_CHECK;

/* Closes and frees what it owns; harmless on zero and twice. Sends nothing. */
void instrument_close(struct instrument *i);

#endif
