/* Whole files in, whole files out.
 *
 * Reading takes one open, one read and one close of a regular file into a buffer that the caller
 * reuses (mapping was eight times slower for files of this size). Writing goes aside, is synced,
 * renamed into place, and the folder synced, so that a reader sees the old file or the new one. */
#ifndef GAINSIEVE_BASE_FILE_H
#define GAINSIEVE_BASE_FILE_H

#include <stddef.h>

#include "drivers/base/error.h"
#include "drivers/base/text.h"

/* Replaces `out` by the file's bytes (its memory is reused), NUL-ended. ERROR_INPUT when the file
 * is missing, not a regular file, empty of meaning for us only by the caller's judgement, or longer
 * than `ceiling` bytes. */
bool file_read(const char *path, size_t ceiling, struct text *out, struct error *e) MUST_CHECK;

enum file_durability {
    FILE_PLAIN = 0, /* whole or absent to readers */
    FILE_DURABLE,   /* ... and on the disk when this returns */
};

/* Writes `length` bytes as described above. ERROR_STORE names the file and the reason. */
bool file_write(const char *path, const char *bytes, size_t length, enum file_durability durability,
                struct error *e) MUST_CHECK;

/* Makes the folder and those above it; an existing folder is fine. */
bool file_make_folder(const char *path, struct error *e) MUST_CHECK;

#endif
