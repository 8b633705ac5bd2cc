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
 * have one bias step only. A name that holds no bias gives what stands before its last '_' (or all
 * of it) as the serial number. */
void archive_name_by_default(const char *path, const struct bias_names *biases,
                             struct archive_name *out);

/* Checks a layout pattern: {serial}, {bias}, {attempt}, {any}, each but {any} once at most,
 * {serial} needed, and {bias} too unless there is one bias step only. ERROR_USAGE. */
bool archive_layout_check(const char *layout, const struct bias_names *biases,
                          struct error *e) MUST_CHECK;

/* Matches the pattern against the end of the path, as many folders as the pattern has. False when
 * the path does not fit. */
bool archive_name_by_layout(const char *path, const char *layout, struct archive_name *out);

/* Adds one file to the list; takes copies. ERROR_INPUT for an unusable serial number. `where` names
 * the place in messages. */
bool archive_add(struct archive *archive, const char *where, const struct archive_name *name,
                 const char *path, const struct bias_names *biases, double bias_current_ma,
                 struct error *e) MUST_CHECK;

/* Adds the files of an index CSV; relative paths are relative to `folder`. */
bool archive_read_index(struct archive *archive, const char *index, const char *folder,
                        const struct bias_names *biases, struct error *e) MUST_CHECK;

#endif
