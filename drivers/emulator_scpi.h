/* Program messages from the instrument's side: IEEE 488.2 syntax and SCPI-1999 headers (both from
 * memory). Pure functions on bytes.
 *
 * Shares nothing with drivers/reply.h or drivers/profile.h, which speak for the controller, so that
 * one misunderstanding cannot hide in both. Blocks as program data are refused (-168), and a
 * newline ends a message wherever it stands. Functions that return an int give 0 or the number of a
 * SCPI error. */
#ifndef GAINSIEVE_EMULATOR_SCPI_H
#define GAINSIEVE_EMULATOR_SCPI_H

#include <stdbool.h>
#include <stddef.h>

#include "drivers/base/text.h"

/* Entries of the error queue; one more turns the last into -350 (SCPI-1999 volume 2, 21.8). */
#define EMULATOR_ERRORS 16
/* Data of one unit; no header here takes more. */
#define EMULATOR_DATA 4
/* A header from the root: eight mnemonics of twelve characters (IEEE 488.2, 7.6.1) with colons. */
#define EMULATOR_NODES 8
#define EMULATOR_MNEMONIC 12
#define EMULATOR_HEADER (EMULATOR_NODES * (EMULATOR_MNEMONIC + 1) + 1)

struct emulator_errors {
    unsigned n;
    int number[EMULATOR_ERRORS]; /* oldest first */
};

/* Adds one, as said above. */
void emulator_error_add(struct emulator_errors *errors, int number);

/* Takes the oldest out and adds it to `answer`, such as -113,"Undefined header"; 0,"No error" when
 * there is none. Numbers that the standard does not have (the maker's own) get an empty text. */
void emulator_error_take(struct emulator_errors *errors, struct text *answer);

/* One datum, without the white space around it; borrowed from the message. */
struct emulator_datum {
    const char *at;
    size_t length;
};

/* One unit of a message: `:SENSe:FREQuency:STARt 1E6`. */
struct emulator_unit {
    char header[EMULATOR_HEADER]; /* from the root, without the first colon and the question mark */
    bool is_query;
    unsigned n_data;
    struct emulator_datum data[EMULATOR_DATA];
};

/* A message being read: set `at` and `end`, zero the rest. `*end` must be a NUL. */
struct emulator_message {
    const char *at, *end;
    bool begun;
    char path[EMULATOR_HEADER]; /* where a header without a first colon continues */
};

/* Reads the next unit; `*there` is false when the message is over. After an error the rest of the
 * message cannot be read. */
int emulator_next_unit(struct emulator_message *message, struct emulator_unit *out, bool *there);

/* Whether the header is the pattern's: `[SENSe#:]FREQuency:STARt`, `TRACe|DATA[:DATA]`. Capitals
 * and digits of a pattern are the short form; short or long form and nothing between, whatever the
 * case; nodes in brackets may be left out; a node with # takes the suffix 1. -113 when it is
 * another header, -114 when only a suffix is not 1. */
int emulator_match(const char *pattern, const char *header);

/* Whether the datum is this word, in short or long form. */
bool emulator_is_word(struct emulator_datum datum, const char *pattern);

/* A decimal number with an optional suffix of `unit`: "HZ", "V", "A", "DBM", or "" for none. `MHZ`
 * is mega, any other M milli. */
int emulator_number(struct emulator_datum datum, const char *unit, double *out);

/* ON, OFF, or a number, of which any that does not round to 0 is on. */
int emulator_boolean(struct emulator_datum datum, bool *out);

/* A string in either quotes, those inside doubled, into `out` of `room` bytes. */
int emulator_string(struct emulator_datum datum, char *out, size_t room);

#endif
