#include "drivers/board_model.h"

#include <assert.h>
#include <math.h>

#include "drivers/nodal.h"

#define TWO_PI 6.283185307179586
#define PORT_OHM 50.0

enum node {
    IN,
    BASE_1,
    INNER_1, /* behind the base resistance */
    EMITTER_1,
    COLLECTOR_1,
    BASE_2,
    INNER_2,
    EMITTER_2,
    COLLECTOR_2,
    PAD_IN,
    PAD_OUT,
    OUT,
    NODES
};
static_assert(NODES <= NODAL_NODES, "the matrix has a fixed size");

struct stage_nodes {
    enum node base, inner, emitter, collector;
};

static struct nodal_value resistance(double ohm)
{
    return (struct nodal_value){ohm, 0};
}

/* Impedances of a coil and of a capacitor in series with a resistor; admittance of a capacitor with
 * a conductance across. */
static struct nodal_value coil(struct board_inductor l, double w)
{
    return (struct nodal_value){l.ohm, w * l.h};
}

static struct nodal_value capacitor(double f, double series_ohm, double w)
{
    return (struct nodal_value){series_ohm, -1 / (w * f)};
}

static struct nodal_value leaky(double f, double siemens, double w)
{
    return (struct nodal_value){siemens, w * f};
}

/* What feeds a base: the open voltage and the resistance of its divider. */
struct base_supply {
    double v, ohm;
};

static struct base_supply divide(double v, double source_ohm, double to_ground_ohm)
{
    double sum_ohm = source_ohm + to_ground_ohm;

    return (struct base_supply){v * to_ground_ohm / sum_ohm, source_ohm * to_ground_ohm / sum_ohm};
}

static double collector_a(const struct board_stage *stage, struct base_supply base)
{
    double emitter_ohm = stage->emitter_open_ohm + stage->emitter_bypassed_ohm;
    double x = (base.v - stage->transistor.base_emitter_v) /
               (emitter_ohm + base.ohm / stage->transistor.current_gain);

    return (x + sqrt(x * x + 4 * BOARD_FOOT_A * BOARD_FOOT_A)) / 2;
}

double board_first_collector_a(const struct board *board)
{
    const struct board_stage *stage = &board->first;

    return collector_a(stage, divide(BOARD_FIRST_SUPPLY_V, stage->upper_ohm, stage->lower_ohm));
}

static struct base_supply second_base(const struct board *board, double bias_v)
{
    struct base_supply top = divide(bias_v, board->feed_ohm, board->leak_ohm);

    return divide(top.v, top.ohm + board->second.upper_ohm, board->second.lower_ohm);
}

double board_second_collector_a(const struct board *board, double bias_v)
{
    return collector_a(&board->second, second_base(board, bias_v));
}

double board_current_ma(const struct board *board, double bias_v)
{
    struct base_supply top = divide(bias_v, board->feed_ohm, board->leak_ohm);
    struct base_supply base = second_base(board, bias_v);
    double current_a = collector_a(&board->second, base);
    double base_v = base.v - base.ohm * current_a / board->second.transistor.current_gain;
    double upper_a = (top.v - base_v) / (top.ohm + board->second.upper_ohm);
    double top_v = base_v + upper_a * board->second.upper_ohm;

    return 1e3 * (current_a + (bias_v - top_v) / board->feed_ohm);
}

/* The transistor with its emitter and collector parts; the base divider is not here. */
static void add_stage(struct nodal *network, const struct board_stage *stage, struct stage_nodes at,
                      double current_a, double w)
{
    const struct board_transistor *q = &stage->transistor;
    double gm = current_a / BOARD_THERMAL_V;
    struct nodal_value emitter =
        nodal_invert(leaky(stage->bypass_f, 1 / stage->emitter_bypassed_ohm, w));

    nodal_impedance(network, at.base, at.inner, resistance(q->base_ohm));
    nodal_admittance(network, at.inner, at.emitter,
                     leaky(q->emitter_f + gm * q->transit_s, gm / q->current_gain, w));
    nodal_admittance(network, at.inner, at.collector, leaky(q->collector_f, 0, w));
    nodal_transconductance(network, at.collector, at.emitter, at.inner, at.emitter, gm);
    nodal_admittance(network, at.collector, at.emitter,
                     (struct nodal_value){current_a / q->early_v, 0});
    emitter.re += q->emitter_ohm + stage->emitter_open_ohm;
    emitter.im += w * stage->emitter_lead_h;
    nodal_impedance(network, at.emitter, NODAL_GROUND, emitter);
    nodal_impedance(network, at.collector, NODAL_GROUND, coil(stage->choke, w));
    nodal_impedance(network, at.collector, NODAL_GROUND, resistance(stage->damping_ohm));
}

static void add_first(struct nodal *network, const struct board *board, double current_a, double w)
{
    const struct stage_nodes at = {BASE_1, INNER_1, EMITTER_1, COLLECTOR_1};

    nodal_impedance(network, IN, BASE_1,
                    nodal_add(coil(board->input, w), capacitor(board->input_f, 0, w)));
    nodal_impedance(network, BASE_1, NODAL_GROUND, resistance(board->first.upper_ohm));
    nodal_impedance(network, BASE_1, NODAL_GROUND, resistance(board->first.lower_ohm));
    nodal_impedance(network, BASE_1, COLLECTOR_1,
                    capacitor(board->feedback_f, board->feedback_ohm, w));
    add_stage(network, &board->first, at, current_a, w);
}

static void add_second(struct nodal *network, const struct board *board, double current_a, double w)
{
    const struct stage_nodes at = {BASE_2, INNER_2, EMITTER_2, COLLECTOR_2};
    struct nodal_value top =
        nodal_invert(leaky(board->decoupling_f, 1 / board->feed_ohm + 1 / board->leak_ohm, w));

    nodal_impedance(
        network, COLLECTOR_1, BASE_2,
        nodal_add(coil(board->middle, w), capacitor(board->coupling_f, board->coupling_ohm, w)));
    nodal_admittance(network, BASE_2, NODAL_GROUND, leaky(board->middle_f, 0, w));
    nodal_impedance(network, BASE_2, NODAL_GROUND,
                    nodal_add(top, resistance(board->second.upper_ohm)));
    nodal_impedance(network, BASE_2, NODAL_GROUND, resistance(board->second.lower_ohm));
    add_stage(network, &board->second, at, current_a, w);
}

static void add_output(struct nodal *network, const struct board *board, double w)
{
    nodal_impedance(network, COLLECTOR_2, PAD_IN, coil(board->output, w));
    nodal_admittance(network, PAD_IN, NODAL_GROUND,
                     leaky(board->output_shunt_f, 1 / board->pad_in_ohm, w));
    nodal_impedance(network, PAD_IN, PAD_OUT, resistance(board->pad_series_ohm));
    nodal_impedance(network, PAD_OUT, NODAL_GROUND, resistance(board->pad_out_ohm));
    nodal_impedance(network, PAD_OUT, OUT, capacitor(board->output_f, board->joint_ohm, w));
}

bool board_sweep(const struct board *board, double bias_v, const double *frequency_hz,
                 size_t n_points, struct sweep *out, struct error *e)
{
    const double first_a = board_first_collector_a(board);
    const double second_a = board_second_collector_a(board, bias_v);

    sweep_reset(out);
    if (!sweep_reserve(out, n_points, e)) return false;
    for (size_t i = 0; i < n_points; i++) {
        const double w = TWO_PI * frequency_hz[i];
        struct nodal network;
        struct nodal_value s[S_PARAMETERS];

        if (!(frequency_hz[i] > (i > 0 ? frequency_hz[i - 1] : 0)))
            return error_set(e, ERROR_INPUT,
                             "board model: frequencies must rise from above 0 Hz; point %zu "
                             "does not",
                             i + 1);
        nodal_begin(&network, NODES);
        add_first(&network, board, first_a, w);
        add_second(&network, board, second_a, w);
        add_output(&network, board, w);
        if (!nodal_two_port(&network, IN, OUT, PORT_OHM, s))
            return error_set(e, ERROR_INPUT, "board model: no solution at %.17g Hz and %.17g V",
                             frequency_hz[i], bias_v);
        out->frequency_hz[i] = frequency_hz[i];
        for (unsigned parameter = 0; parameter < S_PARAMETERS; parameter++)
            out->s[S_PARAMETERS * i + parameter] = s[parameter].re + s[parameter].im * I;
    }
    out->n_points = n_points;
    out->n_ports = 2;
    out->measured = S_ALL;
    out->z0_ohm[0] = out->z0_ohm[1] = PORT_OHM;
    return true;
}
