/* The emulated fixture: what a hand and an eye at the bench do. Tests and demos connect boards and
 * look at the true state of supply and analyser here, past the instruments' own links.
 *
 *     FIXTure:CONNect "KW000101"      FIXTure:CONNect NONE      FIXTure:CONNect?
 *     FIXTure:STATe?                  output 0 or 1, volts, amperes, RF 0 or 1, sweeps taken
 *     FIXTure:FAULt "cut@3"           more faults, as in emulator_fault.h */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "drivers/emulator.h"

static void connect_board(struct emulator_instrument *i, const struct emulator_unit *unit,
                          struct text *answer)
{
    const struct emulator_datum *datum = emulator_one(i, unit);
    char serial[32] = "";
    struct error e = {0};
    int number = 0;

    (void)answer;
    if (!datum) return;
    if (!emulator_is_word(*datum, "NONE")) number = emulator_string(*datum, serial, sizeof serial);
    if (number == 0 && !emulator_connect(i->bench, serial, &e)) number = -224;
    if (number) emulator_error(i, number);
}

static void ask_board(struct emulator_instrument *i, const struct emulator_unit *unit,
                      struct text *answer)
{
    (void)unit;
    if (i->bench->connected)
        text_addf(answer, "\"KW%06lu\"", i->bench->number + 101);
    else
        text_add(answer, "NONE");
}

static void ask_state(struct emulator_instrument *i, const struct emulator_unit *unit,
                      struct text *answer)
{
    const struct emulator *bench = i->bench;

    (void)unit;
    text_addf(answer, "%d,", bench->s.output);
    emulator_add_nr3(answer, bench->s.output_v);
    text_add(answer, ",");
    emulator_add_nr3(answer, bench->s.output_a);
    text_addf(answer, ",%d,%" PRIu64, bench->a.rf_on, bench->a.n_sweeps);
}

static void arm(struct emulator_instrument *i, const struct emulator_unit *unit,
                struct text *answer)
{
    const struct emulator_datum *datum = emulator_one(i, unit);
    struct error e = {0};
    char words[1024];
    int number;

    (void)answer;
    if (!datum) return;
    number = emulator_string(*datum, words, sizeof words);
    if (number == 0 && !emulator_arm(i->bench, words, &e)) number = -224;
    if (number) emulator_error(i, number);
}

static const struct emulator_header headers[] = {
    {.pattern = "FIXTure:CONNect", .set = connect_board, .ask = ask_board},
    {.pattern = "FIXTure:STATe", .ask = ask_state},
    {.pattern = "FIXTure:FAULt", .set = arm},
    {.pattern = NULL},
};

const struct emulator_kind emulator_fixture = {
    .name = "fixture", .identity = "gainsieve,emulated fixture", .headers = headers};
