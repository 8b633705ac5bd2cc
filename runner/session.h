/* An operator and a batch: serial number in, verdict out, until there are no more boards.
 *
 * A verdict is shown only after its sweeps and its row are on the disk (record.h); nobody is asked
 * to touch a board unless the bench was read back as off. */
#ifndef GAINSIEVE_SESSION_H
#define GAINSIEVE_SESSION_H

#include "drivers/base/deadline.h"
#include "runner/bench.h"
#include "runner/operator_command.h"
#include "runner/record.h"
#include "runner/reference_unit.h"
#include "runner/screen.h"
#include "runner/streak.h"

struct session {
    /* Set by the caller, borrowed. */
    const struct bench_file *file;
    struct bench *bench; /* set up, not open yet */
    struct record *record;
    struct screen *screen;
    const char *batch, *operator_name;
    /* The session's own; born zero. */
    const struct limits *limits; /* of the record */
    struct screen_view view;
    struct text line, said, reason, advice, message; /* what the view shows, and what was typed */
    char serial[CEILING_SERIAL + 1];                 /* the board in hand */
    char last_serial[CEILING_SERIAL + 1]; /* of the verdict in view; "" before the first */
    unsigned long last_attempt;
    struct streak streak;
    struct measurement measured, prepared; /* as measured; at the limits' impedance */
    struct measurement reference;          /* the reference unit's last good sweeps, prepared */
    bool has_reference;
    unsigned long n_since_check; /* boards since the reference unit was measured */
    double check_due_s; /* when it is due again, on CLOCK_MONOTONIC; infinite: by boards only */
    bool is_over;       /* nothing more is to be tested */
};

/* Tests boards until the operator stops, input ends, or the bench cannot be used. True when it
 * ended as somebody wished; giving up a bench that cannot be used, or that its reference unit does
 * not prove, is ERROR_BENCH. ERROR_INPUT for the reference unit's stored sweeps, before anything is
 * opened. ERROR_STORE, ERROR_STOPPED. */
bool session_run(struct session *s, struct error *e) MUST_CHECK;
void session_clear(struct session *s);

/* For a manual supply: asks the operator to set the bias and to say the current that it shows. */
bool session_ask_bias(struct session *s, double bias_v, double *current_ma,
                      struct error *e) MUST_CHECK;

/* ---- between the session_*.c files ---- */

/* Shows words and reads an answer into s->line; `*ended` as screen_read() has it. */
bool session_ask(struct session *s, enum screen_phase phase, bool *ended, struct error *e,
                 const char *format, ...) __attribute__((format(printf, 5, 6))) MUST_CHECK;
/* Shows the phase with its words, asking nothing. */
bool session_show(struct session *s, enum screen_phase phase, struct error *e, const char *format,
                  ...) __attribute__((format(printf, 4, 5))) MUST_CHECK;
/* The remark at the foot of the screen. */
void session_remark(struct session *s, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Whether a person is at the keyboard. Lines of a pipe or file were written before the question was
 * asked: a serial number among them is no answer, and may not be thrown away either. */
bool session_has_operator(void);
/* For a line that answers no question: a remark to the operator, who is asked again; ERROR_BENCH
 * for a serial number where nobody is at the keyboard, since that board would be passed over. */
bool session_no_answer(struct session *s, const struct operator_command *command,
                       struct error *e) MUST_CHECK;
/* What is known of the bench before a hand goes to it: what the program cannot switch, a manual
 * supply or the RF of an analyser that saves files, the operator must look at. Only when the bench
 * `is_off`. */
const char *session_off_words(const struct session *s);
/* The bench is to be proven before the next board. */
void session_want_check(struct session *s);

/* Tests one board: questions, measurement, judgement, record, verdict. */
bool session_test(struct session *s, const char *serial, bool retest, struct error *e) MUST_CHECK;
/* Measures with the bench (`serial` NULL: only opens it), and brings the bench back when it fails,
 * as long as the operator wants that; ERROR_BENCH when they give up.
 * `*done` is false, with `e` not set, when they skip this board (not the reference unit), and when
 * the reference unit comes first, since the bench has to be opened anew. */
bool session_measure(struct session *s, const char *serial, bool *done, struct error *e) MUST_CHECK;
/* Replaces `out` by a copy at the limits' impedance: the record keeps what was measured. */
bool session_prepare(const struct measurement *from, double z0_ohm, struct measurement *out,
                     struct error *e) MUST_CHECK;
/* Asks for the reference unit when it is due, as often as it takes. */
bool session_prove_bench(struct session *s, struct error *e) MUST_CHECK;
/* Brings the counts in view up to date. */
bool session_count(struct session *s, struct error *e) MUST_CHECK;

#endif
