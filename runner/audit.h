/* Proves that a batch is whole and unaltered: its chain, its tables, its files.
 *
 * What that proves and what not is told in docs/record.md. */
#ifndef GAINSIEVE_AUDIT_H
#define GAINSIEVE_AUDIT_H

#include "runner/record_chain.h"

struct audit {
    unsigned long n_faults;
    struct text faults;  /* a line each, "WHERE: what", at most CEILING_AUDIT_LINES of them */
    bool is_unborn;      /* interrupted while it was made: no entry, nothing tested */
    struct text remarks; /* lines on what is no fault: interrupted attempts, a batch at work */
    size_t n_entries, n_attempts, n_sweeps; /* looked at */
    struct chain_link end;                  /* the last entry */
};

/* Looks at the whole batch; `known` is a digest that an earlier audit gave for the last entry then,
 * or NULL: it must still stand in the chain. ERROR_INPUT when the folder is no batch. What is wrong
 * with a batch is no error: it stands in `out`, which must be zero. */
bool audit_batch(const char *folder, const char *known, struct audit *out,
                 struct error *e) MUST_CHECK;
void audit_clear(struct audit *audit);

#endif
