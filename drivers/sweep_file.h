/* Any sweep file that the program reads, by its name: .csv is CSV, everything else Touchstone. */
#ifndef GAINSIEVE_SWEEP_FILE_H
#define GAINSIEVE_SWEEP_FILE_H

#include "drivers/base/error.h"
#include "drivers/base/text.h"
#include "drivers/sweep.h"

/* Reads the file at `path`. `bytes` is the caller's buffer, reused from file to file. */
bool sweep_file_read(const char *path, struct text *bytes, struct sweep *out,
                     struct error *e) MUST_CHECK;

/* True for names that an archive takes as sweeps: .s1p, .s2p and other .sNp, .ts, .csv. */
bool sweep_file_name(const char *path);

#endif
