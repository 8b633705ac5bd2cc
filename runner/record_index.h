/* index.csv of a batch: its sweeps in the words of an archive's index. */
#ifndef GAINSIEVE_RECORD_INDEX_H
#define GAINSIEVE_RECORD_INDEX_H

#include "runner/record_source.h"

/* Adds the index of the attempts that count, files relative to the batch's folder, so that an
 * archive opened with it holds the same sweeps. A sweep that could not be had is named by a file
 * that is not there: its unit stays INCOMPLETE. */
bool record_index_add(const struct record_source *rs, struct text *out, struct error *e) MUST_CHECK;

#endif
