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

/* While measuring, first thing on the screen; and the commands of operator_command.h, its last row.
 */
#define SCREEN_POWERED "POWERED: do not touch the board"
#define SCREEN_COMMANDS "/retest /skip /note WORDS /wrong /stop"

/* Everything that can be seen. Texts are borrowed for the call and may hold anything: what is no
 * printable ASCII is drawn as '?', a line end or tab as a blank. NULL where there is none. */
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
    /* The last board's verdict, in view until the next one is measured: then it shrinks to a word,
     * and the large letters say POWERED. */
    bool has_verdict;
    const char *verdict_serial;
    unsigned long verdict_attempt; /* 0: that of `serial` if it is the same board, else not said */
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
    int output;             /* where to write: standard output, or its terminal opened once more */
    unsigned columns, rows; /* of `drawn` */
    struct text line;       /* what is being typed */
    struct text drawn;      /* what is on the terminal, to write only the rows that differ */
    struct text said;       /* last words of the plain form */
    struct text input;      /* bytes read and not yet used */
    bool after_cr;          /* a line feed that comes next belongs to the line that ended */
    int escape;             /* within the bytes of a key such as an arrow */
};

/* Takes the terminal over (alternate screen, no echo) when there is one. Born `= {0}`. Ctrl-C stays
 * a signal; Ctrl-Z and Ctrl-\ do nothing, since a program that is suspended or killed leaves the
 * board powered, and neither does Ctrl-S, which would stop it at its next word. */
bool screen_open(struct screen *out, bool colour, struct error *e) MUST_CHECK;
/* Gives the terminal back as it was; harmless on zero and twice. */
void screen_close(struct screen *screen);

/* Shows the view: what differs from what is shown, so that a slow line keeps up. Output that cannot
 * be written is ERROR_STORE; a terminal or a reader that is gone (EIO, EPIPE, ENXIO) is
 * ERROR_STOPPED, for nobody is there to be asked. A terminal that takes nothing for a second is
 * left alone until the next call. */
bool screen_show(struct screen *screen, const struct screen_view *view, struct error *e) MUST_CHECK;

/* The pure part: the whole screen as text of `rows` lines, each ended by a line feed, of less than
 * `columns` characters, escape sequences of colour, bold and reverse not counted; `line` is what is
 * being typed, and shown on the last line but one. */
void screen_draw(const struct screen_view *view, const char *line, unsigned columns, unsigned rows,
                 bool colour, struct text *out);

/* Reads a line, redrawing `view` as it is typed, until Enter. Blanks at both ends are dropped,
 * control characters and keys such as arrows ignored, at most CEILING_LINE (screen_parts.h) bytes
 * kept, what is no UTF-8 replaced by U+FFFD; a scanner's CR, LF or CR LF ends one line. Backspace
 * takes a character away, Ctrl-U all, Ctrl-L draws afresh. `*ended` is set at the end of input: a
 * file's, a terminal's that hangs up, or Ctrl-D where nothing is typed. ERROR_STOPPED when somebody
 * asks to stop. What was typed while nobody asked is thrown away with screen_forget(), so that a
 * double scan answers no question: what is still coming in as well. Lines of a pipe or file are not
 * typed and stay. */
bool screen_read(struct screen *screen, const struct screen_view *view, struct text *out,
                 bool *ended, struct error *e) MUST_CHECK;
void screen_forget(struct screen *screen);

#endif
