/* What a record says of its units against what was judged anew. */
#ifndef GAINSIEVE_RECORD_COMPARE_H
#define GAINSIEVE_RECORD_COMPARE_H

#include "runner/record_source.h"

/* Compares the judgements of a source's attempts, in its order, with the recorded verdicts and
 * findings. The first that differs is ERROR_INPUT and named with serial number, attempt and limit:
 * the same sweeps by the same limits give the same verdict, or something was altered. Outcomes must
 * be the same, numbers up to the last digits of another machine's mathematics. */
bool record_compare(const struct record_source *rs, const struct source *source,
                    const struct judgement *judgements, struct error *e) MUST_CHECK;

/* Units whose verdict by other limits is another than that of the night. */
struct record_changes {
    size_t n_units, n_changed;
    size_t from_to[VERDICT_PASS + 1][VERDICT_PASS + 1]; /* [recorded][now] */
    struct text lines; /* "KW1: PASS -> FAIL: gain: gain 18.2 dB at ..." and a line feed, each */
};
/* Fills `out` by the last attempts of the counted ones. A unit that is no longer PASS is told with
 * the limits that do not accept it now, one that was not with those that did not accept it then. */
bool record_changes_find(struct record_changes *out, const struct record_source *rs,
                         const struct judgement *judgements, struct error *e) MUST_CHECK;
/* Harmless on zero and twice. */
void record_changes_clear(struct record_changes *changes);

#endif
