/* How many boards in a row failed one limit, or were cut off by the supply: then the bench is
 * rather to blame than the boards. Each limit has its own row, whichever others failed beside it.
 */
#ifndef GAINSIEVE_STREAK_H
#define GAINSIEVE_STREAK_H

#include <stdbool.h>

#include "drivers/base/ceilings.h"
#include "limits/judge.h"

/* The row of boards that the supply cut off. */
#define STREAK_REFUSED CEILING_LIMITS

/* Born zero. */
struct streak {
    char serial[CEILING_SERIAL + 1]; /* of the last board: a retest is not another one */
    unsigned long row[CEILING_LIMITS + 1];
};

/* Takes in what became of a board; findings of one limits file throughout. `refused`: the supply
 * cut it off. A row ends with a board that does not fail the limit: what was not judged ends it,
 * too. */
void streak_take(struct streak *streak, const struct judgement *judgement, bool refused);

/* The longest row, and whose it is: an index into the findings, or STREAK_REFUSED. The first of
 * equal ones. */
unsigned long streak_longest(const struct streak *streak, size_t *which);

#endif
