#include "runner/streak.h"

#include <stdio.h>
#include <string.h>

#include "limits/yield.h"

static void follow(unsigned long *row, bool failed, bool is_another)
{
    if (!failed)
        *row = 0;
    else if (is_another || *row == 0)
        ++*row;
}

void streak_take(struct streak *streak, const struct judgement *judgement, bool refused)
{
    const bool is_another = strcmp(streak->serial, judgement->serial) != 0;

    for (size_t k = 0; k < judgement->n_findings && k < CEILING_LIMITS; k++)
        follow(&streak->row[k], finding_has_failed(&judgement->findings[k]), is_another);
    follow(&streak->row[STREAK_REFUSED], refused, is_another);
    (void)snprintf(streak->serial, sizeof streak->serial, "%s", judgement->serial);
}

unsigned long streak_longest(const struct streak *streak, size_t *which)
{
    *which = 0;
    for (size_t k = 1; k <= STREAK_REFUSED; k++)
        if (streak->row[k] > streak->row[*which]) *which = k;
    return streak->row[*which];
}
