/* What a file's name says about the sweep in it. */
#ifndef GAINSIEVE_ARCHIVE_NAME_H
#define GAINSIEVE_ARCHIVE_NAME_H

#include "drivers/archive.h"

/* Parts of a path, borrowed from it. */
struct name_part {
    const char *at;
    size_t length;
};

struct archive_name {
    struct name_part serial;
    struct name_part bias; /* length 0: none in the name */
    unsigned long attempt; /* 1 when the name holds none */
};

/* Finds the step that a text means: a step's id, or volts ("2.40", "2.40V") within the tolerance of
 * one. `*bias_v` is then the step's voltage or the voltage as written. */
bool archive_bias_find(const struct bias_names *biases, struct name_part text, size_t *step,
                       double *bias_v);

/* By the usual names: SERIAL_BIAS.ending, or SERIAL/BIAS.ending, or SERIAL.ending when the limits
 * have one bias step only. A BIAS is a step's id (the longest one that the name ends in), volts
 * with a unit or a decimal point though they fit no step, or, with more steps than one, a whole
 * number of volts that fits a step. A name that holds none gives what stands before its last '_'
 * (or all of it) as the serial number, and the rest as a bias that fits no step. */
void archive_name_by_default(const char *path, const struct bias_names *biases,
                             struct archive_name *out);

/* A copy of the serial number, freed with memory_free(); NULL with `e` set. ERROR_INPUT when it
 * cannot be used: empty, longer than CEILING_SERIAL bytes, not UTF-8, with control characters, "."
 * or "..", beginning with = + - @ (a spreadsheet's formula) or a blank, or ending with a blank.
 * `where` names the place in the message, which holds nothing that is unfit to print of the serial
 * number. */
char *archive_serial_copy(struct name_part serial, const char *where, struct error *e) MUST_CHECK;

/* Checks a layout pattern: {serial}, {bias}, {attempt}, {any}, each but {any} once at most,
 * {serial} needed, and {bias} too unless there is one bias step only. ERROR_USAGE. */
bool archive_layout_check(const char *layout, const struct bias_names *biases,
                          struct error *e) MUST_CHECK;

/* Matches the pattern against the end of the path, as many folders as the pattern has. Each field
 * keeps within one folder and takes as much as leaves the rest a match, the first field first;
 * {any} may be empty. False when the path does not fit, or {attempt} is not 1 to CEILING_ATTEMPTS.
 */
bool archive_name_by_layout(const char *path, const char *layout, const struct bias_names *biases,
                            struct archive_name *out);

/* Adds one file to the list; takes copies. ERROR_INPUT for an unusable serial number. `where` names
 * the place in messages. */
bool archive_add(struct archive *archive, const char *where, const struct archive_name *name,
                 const char *path, const struct bias_names *biases, double bias_current_ma,
                 struct error *e) MUST_CHECK;

/* Adds the files of an index CSV; relative paths are relative to `folder`,
 * "" for the current one. ERROR_INPUT with the line of what is wrong. */
bool archive_read_index(struct archive *archive, const char *index, const char *folder,
                        const struct bias_names *biases, struct error *e) MUST_CHECK;

#endif
