#include "reports/results_csv.h"

#include <math.h>

#include "drivers/base/csv.h"

static void add_cells_head(struct text *out, const struct judgement *judgement)
{
    csv_add_text(out, judgement->serial);
    text_addf(out, ",%lu,", judgement->attempt);
}

void units_csv_add_head(struct text *out)
{
    text_add(out, "serial,attempt,verdict,limits_failed,worst_limit,worst_margin,worst_margin_unit,"
                  "worst_frequency_hz,worst_bias_v,reason\r\n");
}

void units_csv_add(struct text *out, const struct judgement *judgement)
{
    const struct finding *worst = judgement->worst;

    add_cells_head(out, judgement);
    text_addf(out, "%s,%zu,", verdict_name(judgement->verdict), judgement->n_failed);
    if (worst) {
        csv_add_text(out, worst->limit->id);
        text_add(out, ",");
        csv_add_number(out, worst->margin);
        text_addf(out, ",%s,", unit_name(worst->limit->quantity->unit));
        csv_add_number(out, worst->frequency_hz);
        text_add(out, ",");
        csv_add_number(out, worst->bias_v);
        text_add(out, ",");
    } else {
        text_add(out, ",,,,,");
    }
    if (judgement->reason) csv_add_text(out, judgement->reason);
    text_add(out, "\r\n");
}

void results_csv_add_head(struct text *out)
{
    text_add(out, "serial,attempt,limit,quantity,outcome,accepted,value,bound,margin,unit,"
                  "frequency_hz,bias_v,uncertainty,conformance_probability,reason\r\n");
}

static void add_finding(struct text *out, const struct finding *finding)
{
    const struct limit *limit = finding->limit;
    const double numbers[] = {finding->value, finding->bound, finding->margin};

    csv_add_text(out, limit->id);
    text_addf(out, ",%s,%s,%s,", limit->quantity->name, outcome_name(finding->outcome),
              finding->accepted ? "yes" : "no");
    for (size_t i = 0; i < 3; i++) {
        csv_add_number(out, numbers[i]);
        text_add(out, ",");
    }
    text_addf(out, "%s,", unit_name(limit->quantity->unit));
    csv_add_number(out, finding->frequency_hz);
    text_add(out, ",");
    csv_add_number(out, finding->bias_v);
    text_add(out, ",");
    /* As the limits file states it: for a linear one of a reflection, in linear abs(S). */
    if (limit->has_uncertainty) csv_add_number(out, limit->uncertainty);
    text_add(out, ",");
    csv_add_number(out, finding->conformance_probability);
    text_add(out, ",");
    if (finding->reason) csv_add_text(out, finding->reason);
    text_add(out, "\r\n");
}

void results_csv_add(struct text *out, const struct judgement *judgement)
{
    for (size_t i = 0; i < judgement->n_findings; i++) {
        add_cells_head(out, judgement);
        add_finding(out, &judgement->findings[i]);
    }
}
