/* The operator's screen: what to do now, progress, a verdict that can be read from three metres,
 * and the counts. Drawn as a whole from a plain struct, so that nothing on it can be stale.
 *
 * On a terminal it uses the whole of it (80 x 24 is enough) with the escape sequences of ECMA-48
 * that every terminal has; where standard output or input is no terminal, or TERM is "dumb", each
 * change is a line of plain words on standard output instead. Only ASCII is drawn. */
#ifndef GAINSIEVE_SCREEN_H
#define GAINSIEVE_SCREEN_H

#include <stddef.h>
#include <termios.h>

#include "drivers/base/deadline.h"
#include "drivers/base/error.h"
#include "drivers/base/text.h"
#include "limits/judge.h"

enum screen_phase {
    SCREEN_WAIT = 0,  /* something is being prepared: `instruction` says what */
    SCREEN_ENTRY,     /* a serial number or a command is wanted */
    SCREEN_QUESTION,  /* Enter, or a word, is wanted: `instruction` asks */
    SCREEN_MEASURING, /* powered: do not touch the board */
    SCREEN_HALT,      /* the bench must be looked at: `instruction` says why */
};

/* Everything that can be seen. Texts are borrowed for the call and may hold anything: what is no
 * printable ASCII is drawn as '?'. NULL where there is none. */
struct screen_view {
    const char *product, *batch, *operator_name, *bench;
    size_t n_units, n_pass, n_fail, n_incomplete;
    enum screen_phase phase;
    const char *instruction; /* one or two sentences */
    const char *serial;      /* the board in hand, and which attempt of how many */
    unsigned long attempt, most_attempts;
    /* SCREEN_MEASURING */
    const char *doing;      /* "bias mid, 2.40 V: sweep" */
    size_t n_done, n_steps; /* bias steps */
    double left_s;          /* NaN: not known */
    /* The last board's verdict, in view until the next one is measured. */
    bool has_verdict;
    const char *verdict_serial;
    enum verdict verdict;
    const char *reason;  /* the limit in words */
    const char *advice;  /* when-failed */
    const char *message; /* a remark or an error, in words */
};

struct screen {
    bool is_terminal; /* else lines of words */
    bool colour;
    struct termios before;
    bool changed_terminal;
    struct text line;  /* what is being typed */
    struct text drawn; /* what is on the terminal, to write only when it differs */
    struct text said;  /* last words of the plain form */
    struct text input; /* bytes read and not yet used */
};

/* Takes the terminal over (alternate screen, no echo) when there is one. Born `= {0}`. */
bool screen_open(struct screen *out, bool colour, struct error *e) MUST_CHECK;
/* Gives the terminal back as it was; harmless on zero and twice. */
void screen_close(struct screen *screen);

/* Shows the view; at most one write. */
bool screen_show(struct screen *screen, const struct screen_view *view, struct error *e) MUST_CHECK;

/* The pure part: the whole screen as text of `rows` lines of at most `columns` characters, escape
 * sequences of colour not counted; `line` is what is being typed. */
void screen_draw(const struct screen_view *view, const char *line, unsigned columns, unsigned rows,
                 bool colour, struct text *out);

/* Reads a line, redrawing `view` as it is typed, until Enter. Blanks at both ends are dropped,
 * control characters ignored, at most CEILING_LINE (screen.c) characters kept; a scanner's CR, LF
 * or CR LF ends one line. `*ended` is set at the end of input. ERROR_STOPPED when somebody asks to
 * stop. What was typed while nobody asked is thrown away with screen_forget(), so that a double
 * scan answers no question. */
bool screen_read(struct screen *screen, const struct screen_view *view, struct text *out,
                 bool *ended, struct error *e) MUST_CHECK;
void screen_forget(struct screen *screen);

#endif
