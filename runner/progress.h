/* How far a long task is, on standard error, on a terminal only and after the first second. */
#ifndef GAINSIEVE_PROGRESS_H
#define GAINSIEVE_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>

struct progress {
    const char *words; /* "judged" */
    const char *items; /* "units" */
    size_t n_items;
    bool on_terminal, shown;
    double started_s, shown_s;
};

/* Begins: "WORDS 3 of 24 ITEMS". Both texts are borrowed. */
void progress_start(struct progress *p, const char *words, const char *items, size_t n_items);
/* Shows how many are done, at most five times a second. */
void progress_show(struct progress *p, size_t n_done);
/* Wipes the line. */
void progress_end(struct progress *p);

/* True when colours are wanted on standard output: a terminal, and NO_COLOR not set. */
bool colour_wanted(void);

#endif
