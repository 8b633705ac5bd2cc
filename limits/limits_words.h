/* The limits file in sentences, for `validate` and for the heads of reports. */
#ifndef GAINSIEVE_LIMITS_WORDS_H
#define GAINSIEVE_LIMITS_WORDS_H

#include "drivers/base/text.h"
#include "limits/limits.h"

/* One limit in words, without a full stop: "gain at least 22 dB and at most 26 dB, in band working
 * from 160 MHz to 178 MHz measured at least every 1 MHz, at bias high (3 V); uncertainty 0.15 dB
 * (k = 2)". */
void limit_words(const struct limits *limits, const struct limit *limit, struct text *out);

/* The whole file, a line a limit. */
void limits_words(const struct limits *limits, struct text *out);

#endif
