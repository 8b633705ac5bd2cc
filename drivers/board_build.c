#include "drivers/board_build.h"

#include "drivers/random_source.h"

/* Quality factor of every coil, and 2 pi times the frequency at which it is stated. */
#define COIL_QUALITY 40.0
#define COIL_W (6.283185307179586 * 169e6)

/* Tolerances: no part lies further from its nominal value; a third of it is one standard
 * deviation. */
#define RESISTOR_TOLERANCE 0.02
#define CAPACITOR_TOLERANCE 0.05
#define COIL_TOLERANCE 0.05
#define COIL_LOSS_TOLERANCE 0.20
#define CURRENT_GAIN_TOLERANCE 0.30
#define DEVICE_TOLERANCE 0.10
#define BASE_EMITTER_TOLERANCE 0.02

static struct board_inductor coil(double h)
{
    return (struct board_inductor){h, COIL_W * h / COIL_QUALITY};
}

void board_nominal(struct board *out)
{
    const struct board_transistor transistor = {
        .base_ohm = 8,
        .emitter_ohm = 0.4,
        .current_gain = 110,
        .transit_s = 22e-12,
        .emitter_f = 1.2e-12,
        .collector_f = 0.45e-12,
        .early_v = 60,
        .base_emitter_v = 0.72,
    };

    *out = (struct board){
        .input_f = 240e-12,
        .input = coil(24e-9),
        .first = {.transistor = transistor,
                  .upper_ohm = 3900,
                  .lower_ohm = 1200,
                  .emitter_open_ohm = 1.5,
                  .emitter_bypassed_ohm = 68,
                  .bypass_f = 1e-9,
                  .emitter_lead_h = 0.4e-9,
                  .choke = coil(91e-9),
                  .damping_ohm = 47},
        .feedback_ohm = 430,
        .feedback_f = 1e-9,
        .middle = coil(43e-9),
        .middle_f = 2.2e-12,
        .coupling_f = 470e-12,
        .coupling_ohm = 3.9,
        .second = {.transistor = transistor,
                   .upper_ohm = 910,
                   .lower_ohm = 2200,
                   .emitter_open_ohm = 0.56,
                   .emitter_bypassed_ohm = 200,
                   .bypass_f = 1e-9,
                   .emitter_lead_h = 0.3e-9,
                   .choke = coil(6.2e-9),
                   .damping_ohm = 510},
        .feed_ohm = 220,
        .decoupling_f = 1e-9,
        .leak_ohm = 1e8,
        .output = coil(4.3e-9),
        .output_shunt_f = 82e-12,
        .pad_in_ohm = 100,
        .pad_series_ohm = 68,
        .pad_out_ohm = 100,
        .output_f = 220e-12,
    };
}

void board_add_fault(struct board *board, enum board_fault fault)
{
    switch (fault) {
    case FAULT_WRONG_RESISTOR:
        board->feedback_ohm *= 1000.0 / 430.0;
        board->fault = "wrong resistor: 1 kohm instead of 430 ohm in the first stage's feedback";
        break;
    case FAULT_COLD_JOINT:
        board->joint_ohm = 39;
        board->fault = "cold joint: 39 ohm at the output capacitor";
        break;
    case FAULT_LEAKY_CAPACITOR:
        board->leak_ohm = 1200;
        board->fault = "leaky decoupling capacitor: 1.2 kohm across the bias feed";
        break;
    case FAULT_MISSING_RESISTOR:
        board->second.lower_ohm = 1e9;
        board->fault = "missing bias resistor: second stage's divider has no lower part";
        break;
    case FAULT_NONE:
    case BOARD_FAULTS: break;
    }
}

enum board_fault board_fault_of(uint64_t seed, unsigned long number)
{
    struct random_source source;
    unsigned char places[BOARD_BATCH];

    /* The first places of a shuffled batch get the faults, one each. */
    random_begin(&source, seed, number / BOARD_BATCH, PURPOSE_FAULTS);
    for (unsigned i = 0; i < BOARD_BATCH; i++)
        places[i] = (unsigned char)i;
    for (unsigned i = 0; i + 1 < BOARD_FAULTS; i++) {
        unsigned other = i + (unsigned)(random_uniform(&source) * (BOARD_BATCH - i));
        unsigned char kept = places[i];

        places[i] = places[other];
        places[other] = kept;
        if (places[i] == number % BOARD_BATCH) return (enum board_fault)(i + 1);
    }
    return FAULT_NONE;
}

/* The value with a random error; no part leaves its tolerance. */
static void vary(struct random_source *source, double tolerance, double *value)
{
    double deviate = random_normal(source) / 3;

    if (deviate > 1) deviate = 1;
    if (deviate < -1) deviate = -1;
    *value *= 1 + tolerance * deviate;
}

static void vary_coil(struct random_source *source, struct board_inductor *l)
{
    vary(source, COIL_TOLERANCE, &l->h);
    vary(source, COIL_LOSS_TOLERANCE, &l->ohm);
}

static void vary_stage(struct random_source *source, struct board_stage *stage)
{
    struct board_transistor *q = &stage->transistor;

    vary(source, DEVICE_TOLERANCE, &q->base_ohm);
    vary(source, DEVICE_TOLERANCE, &q->emitter_ohm);
    vary(source, CURRENT_GAIN_TOLERANCE, &q->current_gain);
    vary(source, DEVICE_TOLERANCE, &q->transit_s);
    vary(source, DEVICE_TOLERANCE, &q->emitter_f);
    vary(source, DEVICE_TOLERANCE, &q->collector_f);
    vary(source, DEVICE_TOLERANCE, &q->early_v);
    vary(source, BASE_EMITTER_TOLERANCE, &q->base_emitter_v);
    vary(source, RESISTOR_TOLERANCE, &stage->upper_ohm);
    vary(source, RESISTOR_TOLERANCE, &stage->lower_ohm);
    vary(source, RESISTOR_TOLERANCE, &stage->emitter_open_ohm);
    vary(source, RESISTOR_TOLERANCE, &stage->emitter_bypassed_ohm);
    vary(source, CAPACITOR_TOLERANCE, &stage->bypass_f);
    vary(source, DEVICE_TOLERANCE, &stage->emitter_lead_h);
    vary_coil(source, &stage->choke);
    vary(source, RESISTOR_TOLERANCE, &stage->damping_ohm);
}

void board_build(struct board *out, uint64_t seed, unsigned long number)
{
    struct random_source source;

    board_nominal(out);
    random_begin(&source, seed, number, PURPOSE_COMPONENTS);
    vary(&source, CAPACITOR_TOLERANCE, &out->input_f);
    vary_coil(&source, &out->input);
    vary_stage(&source, &out->first);
    vary(&source, RESISTOR_TOLERANCE, &out->feedback_ohm);
    vary(&source, CAPACITOR_TOLERANCE, &out->feedback_f);
    vary_coil(&source, &out->middle);
    vary(&source, CAPACITOR_TOLERANCE, &out->middle_f);
    vary(&source, CAPACITOR_TOLERANCE, &out->coupling_f);
    vary(&source, RESISTOR_TOLERANCE, &out->coupling_ohm);
    vary_stage(&source, &out->second);
    vary(&source, RESISTOR_TOLERANCE, &out->feed_ohm);
    vary(&source, CAPACITOR_TOLERANCE, &out->decoupling_f);
    vary_coil(&source, &out->output);
    vary(&source, CAPACITOR_TOLERANCE, &out->output_shunt_f);
    vary(&source, RESISTOR_TOLERANCE, &out->pad_in_ohm);
    vary(&source, RESISTOR_TOLERANCE, &out->pad_series_ohm);
    vary(&source, RESISTOR_TOLERANCE, &out->pad_out_ohm);
    vary(&source, CAPACITOR_TOLERANCE, &out->output_f);
    board_add_fault(out, board_fault_of(seed, number));
}
