/* Between limits_read.c and limits_read_limit.c only. */
#ifndef GAINSIEVE_LIMITS_READ_H
#define GAINSIEVE_LIMITS_READ_H

#include "drivers/base/xml.h"
#include "limits/limits.h"

/* Reads one limit element into the zeroed `out`; bias steps and bands of `limits` are there. What
 * was read before a failure stays in `out` for limits_clear(). */
bool limits_read_limit(struct limit *out, const struct limits *limits, const struct xml *xml,
                       const struct xml_node *node, struct error *e) MUST_CHECK;

#endif
