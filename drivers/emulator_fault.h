/* What can go wrong with an emulated instrument, on purpose: a table of faults by name.
 *
 * Written in words such as
 *
 *     cut@3           at the third query to the instrument
 *     cut@3+          from the third on
 *     cut             at every one
 *     cut@CALC:DATA?  at every message that holds these letters
 *     cut@CALC:DATA?#2    at the second of them
 *     late=1.5@3      with a number: here seconds
 *     supply.silent@4     one instrument only; without it, each for itself
 *
 * blanks or semicolons between. Queries are counted from 1 for each instrument, over all its
 * connections. Faults of state (the table says which) last once they have begun. */
#ifndef GAINSIEVE_EMULATOR_FAULT_H
#define GAINSIEVE_EMULATOR_FAULT_H

#include "drivers/base/error.h"
#include "drivers/base/text.h"

enum emulator_fault {
    /* Answers as bytes. */
    EMULATOR_LATE = 0,
    EMULATOR_SILENT,
    EMULATOR_BYTES,
    EMULATOR_TWICE,
    EMULATOR_NOISE_BEFORE,
    EMULATOR_NOISE_AFTER,
    EMULATOR_CRLF,
    EMULATOR_CR,
    EMULATOR_LF_CR,
    EMULATOR_DOUBLE_LF,
    EMULATOR_NO_END,
    EMULATOR_ECHO,
    EMULATOR_ECHO_WRONG,
    EMULATOR_PROMPT,
    EMULATOR_NUL,
    EMULATOR_EIGHTH_BIT,
    EMULATOR_CUT,
    EMULATOR_CUT_GONE,
    EMULATOR_GONE_BEFORE,
    EMULATOR_GONE_AFTER,
    EMULATOR_DEAF,
    EMULATOR_BANNER,
    EMULATOR_STALE,
    EMULATOR_TELNET,
    EMULATOR_REFUSES,
    EMULATOR_UNIT_SUFFIX,
    EMULATOR_BLOCK_FOR_TEXT,
    /* Number lists as they are written. */
    EMULATOR_BLOCK_LONG,
    EMULATOR_BLOCK_SHORT,
    EMULATOR_BLOCK_HUGE,
    EMULATOR_BLOCK_INDEFINITE,
    EMULATOR_BLOCK_LETTER,
    EMULATOR_BLOCK_DIGITS,
    EMULATOR_TEXT_FOR_BLOCK,
    EMULATOR_SWAPPED,
    EMULATOR_OTHER_REAL,
    EMULATOR_EMPTY_FIELD,
    EMULATOR_TRAILING_COMMA,
    EMULATOR_DECIMAL_COMMA,
    EMULATOR_TWO_POINTS,
    EMULATOR_HEX,
    EMULATOR_WORD_NAN,
    EMULATOR_WORD_INF,
    EMULATOR_DASHES,
    EMULATOR_BLANK_SEPARATED,
    EMULATOR_LINE_SEPARATED,
    /* The numbers. */
    EMULATOR_POINT_FEWER,
    EMULATOR_POINT_MORE,
    EMULATOR_POINT_HALF,
    EMULATOR_POINT_DOUBLE,
    EMULATOR_AXIS_SHIFTED,
    EMULATOR_AXIS_FALLING,
    EMULATOR_AXIS_REPEATED,
    EMULATOR_AXIS_MHZ,
    EMULATOR_NAN_POINT,
    EMULATOR_INF_POINT,
    EMULATOR_MINUS_INF_POINT,
    EMULATOR_IEEE_NAN,
    EMULATOR_IEEE_INF,
    EMULATOR_ZEROS,
    EMULATOR_CONSTANT,
    EMULATOR_TINY,
    EMULATOR_MIXED_UP,
    EMULATOR_SPLIT,
    /* The instrument's state. */
    EMULATOR_FROZEN,
    EMULATOR_ROUNDS_POINTS,
    EMULATOR_ROUNDS_HIDDEN,
    EMULATOR_CORRECTION_OFF,
    EMULATOR_POWER_ON,
    EMULATOR_OTHER_SERIAL,
    EMULATOR_ERROR,
    EMULATOR_ERRORS_FOR_EVER,
    EMULATOR_OPC_AT_ONCE,
    EMULATOR_OPC_NEVER,
    EMULATOR_OPC_PLUS,
    EMULATOR_OPC_DECIMAL,
    EMULATOR_OPC_ZERO,
    EMULATOR_CLIPS_POWER,
    EMULATOR_OVERLOAD,
    EMULATOR_LONG_IDENTITY,
    EMULATOR_STRANGE_IDENTITY,
    EMULATOR_OVER_CURRENT,
    EMULATOR_TRIP,
    EMULATOR_CONSTANT_CURRENT,
    EMULATOR_VOLTAGE_ZERO,
    EMULATOR_VOLTAGE_SIGN,
    EMULATOR_MILLI,
    EMULATOR_STAYS_ON,
    EMULATOR_FAULTS
};

/* One row: NAME, and what it does in words, for help texts. */
struct emulator_fault_row {
    const char *name, *words;
    bool lasts;
    double value; /* unless the words give another */
};
extern const struct emulator_fault_row emulator_fault_rows[EMULATOR_FAULTS];

/* Faults asked for at once. */
#define EMULATOR_ARMED 16
#define EMULATOR_WHEN 64

struct emulator_armed {
    enum emulator_fault fault;
    double value;
    bool from;                   /* from `count` on */
    bool begun;                  /* a lasting one has begun */
    unsigned long count;         /* 0: at every one */
    unsigned long n_seen;        /* messages that held `letters` */
    char letters[EMULATOR_WHEN]; /* "": queries are counted */
};

/* Of one instrument. */
struct emulator_faults {
    unsigned n;
    struct emulator_armed armed[EMULATOR_ARMED];
    unsigned long n_queries;       /* so far, all connections */
    bool now[EMULATOR_FAULTS];     /* what holds for the message being executed */
    double value[EMULATOR_FAULTS]; /* ... and its number */
};

/* Arms what `words` ask of the instrument called `instrument` and keeps what was armed before;
 * words for other instruments are checked and left. ERROR_USAGE names the word. */
bool emulator_fault_arm(struct emulator_faults *faults, const char *instrument, const char *words,
                        struct error *e) MUST_CHECK;

/* Called for each message before it is executed: sets `now`. `is_query` when it holds a query. */
void emulator_fault_begin(struct emulator_faults *faults, const char *message, bool is_query);

/* Changes the numbers of a trace (pairs, `is_axis` false) or a frequency axis in place. `*n` may
 * become smaller, or larger up to `room`. */
void emulator_fault_numbers(const struct emulator_faults *faults, bool is_axis, double *numbers,
                            size_t *n, size_t room);

#endif
