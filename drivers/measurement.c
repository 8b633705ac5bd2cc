#include "drivers/measurement.h"

#include <math.h>
#include <stdio.h>

#include "drivers/base/memory.h"

void measurement_reset(struct measurement *m, const char *serial, unsigned long attempt)
{
    (void)snprintf(m->serial, sizeof m->serial, "%s", serial);
    m->attempt = attempt;
    m->n_biases = 0;
    m->circumstances = (struct circumstances){0};
    text_reset(&m->remarks);
}

struct bias_sweep *measurement_add(struct measurement *m, double bias_v, struct error *e)
{
    struct bias_sweep *bigger =
        memory_grow(m->biases, &m->capacity, m->n_biases + 1, sizeof *bigger, CEILING_BIAS_STEPS,
                    "bias settings of one unit", e);
    struct bias_sweep *bias;

    if (!bigger) return NULL;
    m->biases = bigger;
    bias = &m->biases[m->n_biases++];
    bias->bias_v = bias_v;
    bias->bias_current_ma = NAN;
    sweep_reset(&bias->sweep);
    text_reset(&bias->source);
    text_reset(&bias->missing);
    text_reset(&bias->comments);
    bias->sha256[0] = '\0';
    return bias;
}

void measurement_clear(struct measurement *m)
{
    for (size_t i = 0; i < m->capacity; i++) {
        sweep_clear(&m->biases[i].sweep);
        text_clear(&m->biases[i].source);
        text_clear(&m->biases[i].missing);
        text_clear(&m->biases[i].comments);
    }
    memory_free(m->biases);
    text_clear(&m->remarks);
    *m = (struct measurement){0};
}
