/* Where the measurements of a job come from, an archive or a batch record: a list of attempts, and
 * a way to read one. */
#ifndef GAINSIEVE_SOURCE_H
#define GAINSIEVE_SOURCE_H

#include "drivers/archive.h"
#include "limits/limits.h"

/* One attempt; everything is borrowed from where it came from. */
struct source_attempt {
    const char *serial;
    unsigned long attempt;
    size_t place; /* for load() */
    struct circumstances circumstances;
    const struct limits *limits;         /* to judge it by; NULL: those of the job */
    const struct measurement *reference; /* for limits on phase; NULL: that of the job */
};

struct source {
    size_t n_attempts;
    struct source_attempt *attempts; /* by serial (bytewise) and attempt; owned */
    /* Reads the sweeps of an attempt into `out`, whose memory is reused; `bytes` is a reused
     * buffer. Called by several threads at once. */
    bool (*load)(void *data, size_t place, struct text *bytes, struct measurement *out,
                 struct error *e);
    void *data; /* borrowed */
};

/* The attempts of an archive, which must outlive the source. */
bool source_of_archive(struct source *out, struct archive *archive, struct error *e) MUST_CHECK;
/* Reads attempt `i` with its circumstances. */
bool source_load(const struct source *source, size_t i, struct text *bytes, struct measurement *out,
                 struct error *e) MUST_CHECK;
/* One past the last attempt of the unit that begins at `first`. */
size_t source_unit_end(const struct source *source, size_t first);
/* Frees and zeroes; harmless on zero and twice. */
void source_clear(struct source *source);

#endif
