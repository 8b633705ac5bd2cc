/* The folder that reports go to: an earlier report stays whole until the new one is.
 *
 * Unit pages are written aside, in `folder`/units.part, and moved to `folder`/units when everything
 * else is in its place; pages of an earlier report that have no successor are removed then, because
 * they would stand beside the new report and contradict it. Only pages of ours are ever removed
 * (see HTML_GENERATOR). */
#ifndef GAINSIEVE_REPORT_FOLDER_H
#define GAINSIEVE_REPORT_FOLDER_H

#include <stdbool.h>

#include "drivers/base/error.h"
#include "drivers/base/text.h"

struct report_folder {
    struct text units;   /* FOLDER/units */
    struct text writing; /* FOLDER/units.part: where unit pages are written */
};

/* Makes the folder, and with unit pages an empty place for them and units/. ERROR_STORE. */
bool report_folder_open(struct report_folder *out, const char *folder, bool with_units,
                        struct error *e) MUST_CHECK;
/* Moves the new pages to units/ and removes those of earlier reports. ERROR_STORE. */
bool report_folder_commit(struct report_folder *r, struct error *e) MUST_CHECK;
/* Removes what was not moved, and frees; harmless on zero and after a commit. */
void report_folder_close(struct report_folder *r);

#endif
