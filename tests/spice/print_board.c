/* Prints an emulated board for tests/cli/test_spice.sh:
 *   print_board values SEED NUMBER FAULT BIAS_V   component values as NAME=VALUE lines
 *   print_board table SEED NUMBER FAULT BIAS_V    S-parameters at 160, 169 and 178 MHz, a line
 * each: frequency, then S11, S12, S21, S22 as re im FAULT 0 leaves the board as it was built;
 * others are put on it, by the order of enum board_fault. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drivers/board_build.h"

static void print_value(const char *prefix, const char *name, double value)
{
    (void)printf("%s%s=%.17g\n", prefix, name, value);
}

static void print_stage(const char *prefix, const struct board_stage *stage)
{
    const struct board_transistor *q = &stage->transistor;

    print_value(prefix, "base_ohm", q->base_ohm);
    print_value(prefix, "emitter_ohm", q->emitter_ohm);
    print_value(prefix, "current_gain", q->current_gain);
    print_value(prefix, "transit_s", q->transit_s);
    print_value(prefix, "emitter_f", q->emitter_f);
    print_value(prefix, "collector_f", q->collector_f);
    print_value(prefix, "early_v", q->early_v);
    print_value(prefix, "base_emitter_v", q->base_emitter_v);
    print_value(prefix, "upper_ohm", stage->upper_ohm);
    print_value(prefix, "lower_ohm", stage->lower_ohm);
    print_value(prefix, "emitter_open_ohm", stage->emitter_open_ohm);
    print_value(prefix, "emitter_bypassed_ohm", stage->emitter_bypassed_ohm);
    print_value(prefix, "bypass_f", stage->bypass_f);
    print_value(prefix, "emitter_lead_h", stage->emitter_lead_h);
    print_value(prefix, "choke_h", stage->choke.h);
    print_value(prefix, "choke_ohm", stage->choke.ohm);
    print_value(prefix, "damping_ohm", stage->damping_ohm);
}

static void print_values(const struct board *board)
{
    print_value("", "input_f", board->input_f);
    print_value("", "input_h", board->input.h);
    print_value("", "input_ohm", board->input.ohm);
    print_stage("first_", &board->first);
    print_value("", "feedback_ohm", board->feedback_ohm);
    print_value("", "feedback_f", board->feedback_f);
    print_value("", "middle_h", board->middle.h);
    print_value("", "middle_ohm", board->middle.ohm);
    print_value("", "coupling_f", board->coupling_f);
    print_value("", "coupling_ohm", board->coupling_ohm);
    print_value("", "middle_f", board->middle_f);
    print_stage("second_", &board->second);
    print_value("", "feed_ohm", board->feed_ohm);
    print_value("", "decoupling_f", board->decoupling_f);
    print_value("", "leak_ohm", board->leak_ohm);
    print_value("", "output_h", board->output.h);
    print_value("", "output_ohm", board->output.ohm);
    print_value("", "output_shunt_f", board->output_shunt_f);
    print_value("", "pad_in_ohm", board->pad_in_ohm);
    print_value("", "pad_series_ohm", board->pad_series_ohm);
    print_value("", "pad_out_ohm", board->pad_out_ohm);
    print_value("", "output_f", board->output_f);
    print_value("", "joint_ohm", board->joint_ohm);
}

static int print_table(const struct board *board, double bias_v)
{
    static const double frequency_hz[] = {160e6, 169e6, 178e6};
    struct sweep sweep = {0};
    struct error e = {0};

    if (!board_sweep(board, bias_v, frequency_hz, 3, &sweep, &e)) {
        (void)fprintf(stderr, "%s\n", e.text);
        return 1;
    }
    for (size_t i = 0; i < sweep.n_points; i++) {
        (void)printf("%.17g", sweep.frequency_hz[i]);
        for (unsigned parameter = 0; parameter < S_PARAMETERS; parameter++) {
            double complex s = sweep_s(&sweep, i, (enum s_parameter)parameter);

            (void)printf(" %.17g %.17g", creal(s), cimag(s));
        }
        (void)printf("\n");
    }
    sweep_clear(&sweep);
    return 0;
}

int main(int argc, char **argv)
{
    struct board board;
    unsigned long fault;

    if (argc != 6 || (strcmp(argv[1], "values") != 0 && strcmp(argv[1], "table") != 0)) {
        (void)fprintf(stderr, "usage: print_board values|table SEED NUMBER FAULT BIAS_V\n");
        return 2;
    }
    fault = strtoul(argv[4], NULL, 10);
    if (fault >= BOARD_FAULTS) return 2;
    board_build(&board, strtoull(argv[2], NULL, 10), strtoul(argv[3], NULL, 10));
    board_add_fault(&board, (enum board_fault)fault);
    if (strcmp(argv[1], "table") == 0) return print_table(&board, strtod(argv[5], NULL));
    print_values(&board);
    return 0;
}
