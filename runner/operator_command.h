/* What an operator types: a serial number, or a command that begins with a slash, which no label's
 * code does. */
#ifndef GAINSIEVE_OPERATOR_COMMAND_H
#define GAINSIEVE_OPERATOR_COMMAND_H

enum operator_command_kind {
    COMMAND_SERIAL = 0, /* `words` is the serial number */
    COMMAND_NONE,       /* just Enter */
    COMMAND_RETEST,     /* the board in question, or the last one */
    COMMAND_SKIP,       /* the board in question is not tested; `words` may say why */
    COMMAND_NOTE,       /* `words` go to the record, with the last board */
    COMMAND_WRONG,      /* the last board was wrongly connected; `words` may say how */
    COMMAND_STOP,
    COMMAND_UNKNOWN, /* `words` is what was typed */
};

struct operator_command {
    enum operator_command_kind kind;
    const char *words; /* borrowed from the line; "" without */
};

/* Reads a line without blanks at its ends. */
struct operator_command operator_command_read(const char *line);

#endif
