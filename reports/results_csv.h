/* `units.csv` and `results.csv`: RFC 4180, UTF-8, numbers in the shortest form that reads back the
 * same, nothing where a number does not apply. */
#ifndef GAINSIEVE_RESULTS_CSV_H
#define GAINSIEVE_RESULTS_CSV_H

#include "drivers/base/text.h"
#include "limits/judge.h"

/* serial,attempt,verdict,limits_failed,worst_limit,worst_margin,worst_margin_unit,
 * worst_frequency_hz,worst_bias_v,reason */
void units_csv_add_head(struct text *out);
void units_csv_add(struct text *out, const struct judgement *judgement);

/* serial,attempt,limit,quantity,outcome,accepted,value,bound,margin,unit,frequency_hz,bias_v,
 * uncertainty,conformance_probability,reason */
void results_csv_add_head(struct text *out);
void results_csv_add(struct text *out, const struct judgement *judgement);

#endif
