/* Writes an archive of emulated boards, as a bench would have left it. */
#ifndef GAINSIEVE_BOARD_ARCHIVE_H
#define GAINSIEVE_BOARD_ARCHIVE_H

#include <stddef.h>
#include <stdint.h>

#include "drivers/base/error.h"

/* Most units: serial numbers have six digits. */
#define BOARD_ARCHIVE_UNITS ((size_t)100000)
/* Points of a sweep, 150 to 190 MHz: the usual number gives steps of 0.1 MHz. */
#define BOARD_ARCHIVE_POINTS ((size_t)401)

/* The bias steps of the board, in rising voltage; docs/demo/kittiwake.xml has the same. */
#define BOARD_STEPS 5
struct board_step {
    const char *id;
    double at_v;
};
extern const struct board_step board_steps[BOARD_STEPS];

/* Called after each unit. */
typedef void board_archive_progress(void *context, size_t n_done, size_t n_units);

/* Writes boards 0 to `n_units` - 1 of `seed` into `folder`, which is made: KW000101_low.s2p and so
 * on, Touchstone 2.0 with `n_points` points (2 or more), and index.csv with serial, attempt, bias,
 * file and current. The index is written last, and one that is there is removed first: without an
 * index the archive is not whole. `progress` may be NULL.
 * ERROR_USAGE for numbers out of range, ERROR_STORE, ERROR_MEMORY, or ERROR_STOPPED when the
 * operator asked to stop (asked between units). */
bool board_archive_write(const char *folder, size_t n_units, uint64_t seed, size_t n_points,
                         board_archive_progress *progress, void *context,
                         struct error *e) MUST_CHECK;

#endif
