/* The physics of an invented board, the Kittiwake KW-170 of the demo: two transistor stages as
 * small-signal networks, solved over frequency at one bias. docs/board-model.md draws the network.
 *
 * Like drivers/nodal.h, and for its reason, only + - * / and the square root are used (IEEE 754
 * rounds all five exactly): the same board gives the same bits on every machine. GSL's solver is
 * not used because it goes through BLAS, whose order of operations differs between builds.
 *
 * Sources: hybrid-pi model of the bipolar transistor, textbook knowledge; the collector current by
 * a straight line with a rounded foot, own (told at board_collector_a()). */
#ifndef GAINSIEVE_BOARD_MODEL_H
#define GAINSIEVE_BOARD_MODEL_H

#include <stddef.h>

#include "drivers/base/error.h"
#include "drivers/sweep.h"

/* kT/q at 300 K. */
#define BOARD_THERMAL_V 0.02585
/* The fixture's fixed supply of the first stage. */
#define BOARD_FIRST_SUPPLY_V 5.0
/* The collector current's rounded foot: what flows when the base's open voltage just reaches the
 * base-emitter voltage. */
#define BOARD_FOOT_A 0.5e-3

struct board_inductor {
    double h;
    double ohm; /* series resistance, from the quality factor at 169 MHz */
};

struct board_transistor {
    double base_ohm, emitter_ohm; /* resistances inside the device */
    double current_gain;
    double transit_s;   /* diffusion capacitance is this times the transconductance */
    double emitter_f;   /* base-emitter junction capacitance */
    double collector_f; /* collector-base capacitance */
    double early_v;
    double base_emitter_v;
};

struct board_stage {
    struct board_transistor transistor;
    double upper_ohm, lower_ohm; /* base bias divider, to the supply and to ground */
    double emitter_open_ohm;     /* not bypassed: series feedback */
    double emitter_bypassed_ohm; /* bypassed: sets the current only */
    double bypass_f;
    double emitter_lead_h;
    struct board_inductor choke; /* collector to supply, which is ground for the signal */
    double damping_ohm;          /* across the choke */
};

struct board {
    const char *fault; /* in words, NULL for a good board; static */
    double input_f;
    struct board_inductor input;
    struct board_stage first;
    double feedback_ohm, feedback_f; /* collector to base of the first stage */
    struct board_inductor middle; /* collector of the first stage to the second base, in series */
    double coupling_f, coupling_ohm; /* ... with these */
    double middle_f;                 /* second base to ground */
    struct board_stage second;
    double feed_ohm;     /* control bias to the top of the second divider */
    double decoupling_f; /* from there to ground */
    double leak_ohm;     /* across the decoupling capacitor */
    struct board_inductor output;
    double output_shunt_f; /* behind the inductor to ground */
    double pad_in_ohm, pad_series_ohm, pad_out_ohm;
    double output_f;  /* pad to connector */
    double joint_ohm; /* in series with that; 0 when the joint is sound */
};

/* Collector currents in A. The first does not depend on the bias. With V and R the open voltage and
 * the resistance of the base's divider, x = (V - base_emitter_v)/(emitter resistors + R/current
 * gain), the current is (x + sqrt(x^2 + 4 foot^2))/2: x well above the foot, never negative. */
double board_first_collector_a(const struct board *board);
double board_second_collector_a(const struct board *board, double bias_v);

/* What the control supply delivers at `bias_v`: collector, divider and leak of the second stage. */
double board_current_ma(const struct board *board, double bias_v);

/* Fills `out` (its memory is reused) with the two-port's S-parameters at 50 ohm at `n_points`
 * rising frequencies above zero; no noise. ERROR_INPUT for a frequency that is not above the one
 * before it or a network without a solution. */
bool board_sweep(const struct board *board, double bias_v, const double *frequency_hz,
                 size_t n_points, struct sweep *out, struct error *e) MUST_CHECK;

#endif
