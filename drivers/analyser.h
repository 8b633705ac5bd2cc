/* Where the bench's sweeps come from: a row of the table in analyser.c for each way.
 *
 * The contract, tested for every row:
 * - `open` finds nothing out about the device and switches nothing on. `identify` is the first
 *   exchange; on a wrong device it says which it found.
 * - `arrange` sends settings and reads them back; what the device rounded is an error, never
 *   ignored.
 * - `measure` takes one whole sweep with as many points as asked, or fails; it never gives a
 *   shorter, older or patched one. A sweep that an exchange out of step went through is void. The
 *   way back takes seconds: `quiet` goes it, when the board has no bias any more; then `arrange`
 * again.
 * - `quiet` puts RF off and reads it back. It may be called at any time, twice, before `arrange`
 *   and after any failure; it tries even when the link looks dead. A folder's cannot switch
 *   anything, and says that it is off all the same: the operator's instrument is the operator's.
 * - `close` cannot fail and leaves no descriptor. The caller has called `quiet`.
 * - No function prints, exits, waits past its deadline or keeps file-scope state.
 * - Errors are ERROR_BENCH; ERROR_INPUT for a profile, ERROR_STOPPED and ERROR_MEMORY come as they
 *   are. */
#ifndef GAINSIEVE_ANALYSER_H
#define GAINSIEVE_ANALYSER_H

#include "drivers/archive.h"
#include "drivers/bench_file.h"
#include "drivers/instrument.h"
#include "drivers/sweep.h"

struct analyser;

struct analyser_kind {
    const char *name;
    bool (*open)(struct analyser *a, struct error *e);
    bool (*identify)(struct analyser *a, struct error *e);
    bool (*arrange)(struct analyser *a, struct error *e);
    bool (*measure)(struct analyser *a, struct sweep *out, struct error *e);
    bool (*quiet)(struct analyser *a, struct error *e);
    void (*close)(struct analyser *a);
};
extern const struct analyser_kind analyser_profile, analyser_folder;

struct analyser {
    const struct analyser_kind *kind;
    const struct bench_file *file; /* borrowed; `sweep` says what is wanted */
    unsigned parameters;           /* which S-parameters are read: a set of S_BIT() */
    struct text identity;          /* of the device, for the record; empty before `identify` */
    /* analyser_profile */
    struct profile profile;
    struct instrument instrument;
    struct sweep last;  /* of the sweep before: two that are alike to the bit were not measured */
    bool has_restarted; /* lost its power since `identify`: nothing is measured any more */
    /* Set by the caller before each `measure`; analyser_folder finds the file by them. */
    struct bias_names biases;
    const char *serial; /* borrowed */
    size_t step;        /* of `biases` */
    /* analyser_folder */
    int watch;          /* inotify descriptor; 0: none */
    struct text folder; /* that is watched */
};

/* Chooses the row by the bench file and opens. `parameters` as in the struct. After a failure
 * analyser_close() is still due. */
bool analyser_open(struct analyser *out, const struct bench_file *file, unsigned parameters,
                   struct error *e) MUST_CHECK;
/* For the kinds: whether a parameter of the sweep `last` is the same in `now` to the last bit:
 * noise is new in every sweep. */
bool analyser_has_old_trace(const struct analyser *a, const struct sweep *now);
/* Harmless on zero and twice. */
void analyser_close(struct analyser *a);

#endif
