/* The folder of a batch: its names, its disk, and making it so that a power cut leaves it there.
 *
 *     batch.sqlite  batch.lock  limits.xml  bench.xml
 *     sweeps/SERIAL/ATTEMPT/BIAS.s2p    what was measured
 *     reference/NUMBER/BIAS.s2p         the reference unit's own sweeps
 *     earlier/limits-SHA256.xml ...     limits and bench files that were changed for a reason
 *     unfinished/                       sweeps of attempts that were interrupted
 *     units.csv results.csv index.csv report.html units/    reports */
#ifndef GAINSIEVE_BATCH_FOLDER_H
#define GAINSIEVE_BATCH_FOLDER_H

#include <stdbool.h>
#include <sys/types.h>

#include "drivers/base/error.h"
#include "drivers/base/text.h"

#define BATCH_DATABASE "batch.sqlite"
#define BATCH_LIMITS "limits.xml"
#define BATCH_BENCH "bench.xml"
#define BATCH_SWEEPS "sweeps"
#define BATCH_REFERENCE "reference"
#define BATCH_EARLIER "earlier"
#define BATCH_UNFINISHED "unfinished"

/* Replaces `out` by FOLDER/NAME. */
bool batch_path(struct text *out, const char *folder, const char *name, struct error *e) MUST_CHECK;
bool batch_has(const char *folder, const char *name);

/* Adds `name` as a file name: bytes other than letters, digits, '-', '_' and an inner '.' as %XX,
 * so that any serial number is one name and two never share one. */
void batch_add_name(struct text *out, const char *name);

/* Makes FOLDER/NAME with the folders between; their names are on the disk when this returns. */
bool batch_make_folder(const char *folder, const char *name, struct error *e) MUST_CHECK;

/* Refuses (ERROR_STORE) a folder on a network file system, whose locks and syncs cannot be trusted,
 * as far as that can be told. */
bool batch_check_disk(const char *folder, struct error *e) MUST_CHECK;
/* The part that knows: the name of the network file system, or NULL. `magic` comes from statfs(),
 * `mounts` is /proc/self/mountinfo, `device` the folder's. `room` holds the name. */
const char *batch_network_name(unsigned long magic, const char *mounts, dev_t device,
                               char room[64]);

/* Calls `take` for every file below FOLDER/NAME (all, for ""), in a fixed order, with its name from
 * the batch's folder on. Links are files. A folder that is not there holds none; one that cannot be
 * read is ERROR_INPUT. */
typedef bool batch_file_function(void *context, const char *name, struct error *e);
bool batch_each_file(const char *folder, const char *name, batch_file_function *take, void *context,
                     struct error *e) MUST_CHECK;

#endif
