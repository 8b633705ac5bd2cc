/* The limits file in sentences, for `validate` and for the heads of reports. */
#ifndef GAINSIEVE_LIMITS_WORDS_H
#define GAINSIEVE_LIMITS_WORDS_H

#include "drivers/base/text.h"
#include "limits/limits.h"

/* One limit as a sentence without a full stop: "gain is at least 22 dB and at most 26 dB, from
 * 160 MHz to 178 MHz, at bias high (3 V)". */
void limit_words(const struct limits *limits, const struct limit *limit, struct text *out);

/* The whole file, a line a limit. */
void limits_words(const struct limits *limits, struct text *out);

#endif
