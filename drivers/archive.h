/* Finds serial number, bias and attempt of sweep files: by their names, by a layout pattern or by
 * an index CSV. Whatever the folder's own order, files come out by serial, attempt and path. */
#ifndef GAINSIEVE_ARCHIVE_H
#define GAINSIEVE_ARCHIVE_H

#include <stddef.h>

#include "drivers/base/error.h"
#include "drivers/base/text.h"
#include "drivers/measurement.h"

/* A bias step by name; the archive knows no limits file, only these. */
struct bias_name {
    const char *id;
    double at_v;
};

struct bias_names {
    const struct bias_name *names; /* in rising at_v; borrowed */
    size_t n;
    double tolerance_v; /* how far a voltage in a name may lie from a step */
};

struct archive_file {
    char *serial;
    unsigned long attempt;
    char *path;
    bool has_bias;             /* false when the file fits no bias step */
    size_t step;               /* which of the names, when it fits one */
    double bias_v;             /* the named step's voltage, or the voltage as written */
    char *bias_text;           /* as written, for messages; "" when the name holds none */
    double bias_current_ma;    /* from an index; NaN without */
    struct circumstances told; /* from an index; owned */
};

struct archive {
    size_t n_files, capacity;
    struct archive_file *files; /* by serial (bytewise), attempt, bias_v, path */
    size_t n_left_out;          /* files in the folders that do not fit the layout */
    char *left_out;             /* the first of them by name; NULL without */
    size_t n_links;             /* linked folders, which are not followed */
    bool with_origin;           /* archive_load() notes digest and comments of each file */
};

struct archive_request {
    char *const *paths; /* folders and files */
    size_t n_paths;
    const char *layout; /* or NULL: by name */
    const char *index;  /* or NULL; paths may then hold one folder that its files are relative to */
    struct bias_names biases;
    bool with_origin; /* see struct archive: for reports, at some cost */
};

/* Lists the files; reads none but the index. ERROR_INPUT when a path cannot be read, no sweep file
 * is found, a serial number is unusable, the index is wrong, or two files claim the same serial,
 * attempt and bias (both are named). ERROR_USAGE when the layout is wrong, or what is named beside
 * an index is no single folder. */
bool archive_open(struct archive *out, const struct archive_request *request,
                  struct error *e) MUST_CHECK;
void archive_clear(struct archive *archive);

/* One past the last file of the attempt that begins at `first`. */
size_t archive_attempt_end(const struct archive *archive, size_t first);

/* The circumstances of the attempt that begins at `first`: the earliest time of its files. */
struct circumstances archive_circumstances(const struct archive *archive, size_t first);

/* Reads the files of the attempt that begins at `first` into `out`, whose memory is reused. A file
 * that cannot be used is not an error: its bias sweep says why in `missing`. Fails on lack of
 * memory only. `bytes` is a reused buffer. */
bool archive_load(const struct archive *archive, size_t first, struct text *bytes,
                  struct measurement *out, struct error *e) MUST_CHECK;

#endif
