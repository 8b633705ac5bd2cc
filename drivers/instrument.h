/* An instrument behind its link, spoken to in the words of its profile.
 *
 * One exchange at a time: a message is sent whole, its answer is read whole, and only then comes
 * the next. Bytes that nobody asked for mean that answers and questions are out of step, and an
 * answer may belong to another question: such bytes are never thrown away silently, and nothing is
 * said any more, but for switching off. instrument_resync() finds the way back and proves it; a
 * sweep taken across it is void.
 *
 * Errors are ERROR_BENCH and name the profile's line and the port; ERROR_STOPPED and ERROR_MEMORY
 * come as they are. No function switches anything on but by the step it is told to run. */
#ifndef GAINSIEVE_INSTRUMENT_H
#define GAINSIEVE_INSTRUMENT_H

#include "drivers/link.h"
#include "drivers/profile.h"

/* Hears every message, for a log or a rehearsal. `bytes` are borrowed for the call. */
typedef void instrument_ear(void *context, bool sent, const char *bytes, size_t n);

struct instrument;

/* Hears of each new connection before anything is sent over it. False with `e` set: it may not be
 * used.
 */
typedef bool instrument_linked(void *context, const struct instrument *i, struct error *e);

struct instrument {
    const struct profile *profile; /* borrowed */
    struct link *link;             /* NULL: closed */
    const char *channel;           /* borrowed, or NULL */
    struct text identity;          /* the answer to `identify`; empty before */
    bool is_out_of_step;           /* an exchange went wrong: instrument_resync() is due */
    bool rehearses;      /* nothing is sent: messages go to the ear only, and every check holds */
    bool is_half_sent;   /* ... in the middle of a message of ours */
    bool has_restarted;  /* the last resync found that it was switched on since *CLS */
    double silence_s;    /* how long a drained line must be quiet */
    instrument_ear *ear; /* or NULL */
    void *ear_context;
    instrument_linked *linked; /* or NULL */
    void *linked_context;
    struct deadline next;       /* no message before: the profile's gap */
    struct text message, reply; /* reused */
};

/* What a step brought. The caller sets `n` and the two arrays for steps that read an axis or a
 * trace; both have room for n numbers. */
struct step_result {
    double number;    /* the last number that is no check; NaN without */
    size_t n;         /* points */
    double *re, *im;  /* an axis fills `re` */
    size_t n_invalid; /* numbers that the instrument marked as none: NaN in the arrays; the caller
                         decides, and looks whether the rest is plausible */
    bool has_re, has_im;
};

/* Opens the link and waits until the device has settled, dropping what it says of itself meanwhile.
 * Says nothing to it. `out` must be zero or closed; silence_s, ear, linked, rehearses and channel
 * are kept. */
bool instrument_open(struct instrument *out, const struct profile *profile, const char *port,
                     struct error *e) MUST_CHECK;

/* Runs a step, its actions in their order; a step that the profile does not have is done at once.
 * `values` fills the placeholders (NULL: none), its channel is the instrument's own where it has
 * none. The error queue is not looked at: that is a step of its own. Out of step, it is an error
 * that sends nothing. The two steps that switch off go through instrument_switch_off(). `result`
 * may be NULL for steps that read no axis and no trace. */
bool instrument_step(struct instrument *i, enum profile_step step,
                     const struct profile_values *values, struct step_result *result,
                     struct error *e) MUST_CHECK;

/* Runs a step that switches off and reads that back, whether somebody asked to stop or not. What it
 * sends goes out even when questions and answers are out of step; then comes a resync, and the step
 * once more. False: nothing is confirmed, though it may be off. */
bool instrument_switch_off(struct instrument *i, enum profile_step step,
                           const struct profile_values *values, struct error *e) MUST_CHECK;

/* Finds the way back into step: clears the link, lets late bytes run out, makes a half-sent message
 * invalid, asks for a number that only this call knows, and looks whether the same instrument
 * answers. Sends *ESE, *ESR? and *CLS and switches nothing. A TCP link gets a new connection, which
 * a forked process does not share: `linked` hears of it. */
bool instrument_resync(struct instrument *i, struct error *e) MUST_CHECK;

/* Sends the profile's safe step and waits for no answer, whether somebody asked to stop or not.
 * Tries every message even after a failure; a link that is gone is opened anew if it can be. False
 * when any could not be sent. May be called at any time and twice. */
bool instrument_safe(struct instrument *i, struct error *e) MUST_CHECK;

/* Closes and frees what it owns; harmless on zero and twice. Sends nothing. */
void instrument_close(struct instrument *i);

#endif
