/* Long options from a table, in the GNU manner, and `--help` from the same table. */
#ifndef GAINSIEVE_OPTIONS_H
#define GAINSIEVE_OPTIONS_H

#include <stddef.h>

#include "drivers/base/error.h"

/* One option; a table ends with a NULL name. Either `value` or `flag` is set. */
struct option_row {
    const char *name;       /* without the dashes */
    const char *value_name; /* "FILE", or NULL for a flag */
    const char *words;      /* one line of help */
    const char **value;
    bool *flag;
};

struct option_table {
    const char *usage; /* "check --limits FILE [--out DIR] PATH..." */
    const char *about; /* a sentence or two */
    const struct option_row *rows;
};

/* Reads the options of argv[1] and on; the other arguments are moved to argv[1], argv[2], ... and
 * counted in `*n_others`. `--help` prints the help and sets `*helped`. ERROR_USAGE otherwise; an
 * unknown option is answered with the nearest one. */
bool options_read(const struct option_table *table, int argc, char **argv, size_t *n_others,
                  bool *helped, struct error *e) MUST_CHECK;

/* The candidate that is nearest to what was written, or NULL when none is near. */
const char *nearest_word(const char *written, const char *const *candidates, size_t n);

#endif
