/* The emulated supply: one channel, 0 to 30 V, 0 to 3 A.
 *
 * The board is a load: board_current_ma() at the voltage of the output. Above the current limit the
 * supply trips when it may (CURRent:PROTection:STATe), else it lowers the voltage until the limit
 * holds. A tripped output stays off, and cannot be switched on, until the trip is cleared. */
#include <math.h>

#include "drivers/emulator_measure.h"

static double current_a(const struct emulator *bench, double v)
{
    const struct emulator_faults *faults = &bench->supply.faults;
    double a = bench->connected && v > 0 ? board_current_ma(&bench->board, v) / 1e3 : 0;

    if (faults->now[EMULATOR_OVER_CURRENT]) a *= faults->value[EMULATOR_OVER_CURRENT];
    return fmax(a, 0);
}

/* The voltage at which the limit is just kept: the current rises with the voltage. */
static double limited_v(const struct emulator *bench, double v, double limit_a)
{
    double low = 0, high = v;

    for (unsigned k = 0; k < 60; k++) {
        const double middle = (low + high) / 2;

        if (current_a(bench, middle) > limit_a)
            high = middle;
        else
            low = middle;
    }
    return low;
}

void emulator_power(struct emulator *bench)
{
    struct emulator_supply_state *s = &bench->s;
    const double *set = bench->supply.settings;
    double v = set[SUPPLY_VOLTAGE];

    s->constant_current = false;
    if (s->output && v > set[SUPPLY_VOLTAGE_TRIP]) {
        s->voltage_tripped = true;
        s->output = false;
    }
    if (s->output && current_a(bench, v) > set[SUPPLY_CURRENT]) {
        s->current_tripped = s->current_trip;
        s->constant_current = !s->current_trip;
        if (s->current_tripped) s->output = false;
        v = limited_v(bench, v, set[SUPPLY_CURRENT]);
    }
    if (bench->supply.faults.now[EMULATOR_CONSTANT_CURRENT] && s->output) {
        s->constant_current = true;
        v /= 2;
    }
    s->output_v = s->output ? v : 0;
    s->output_a = s->output ? current_a(bench, v) : 0;
}

static void reset_supply(struct emulator_instrument *i)
{
    struct emulator_supply_state *s = &i->bench->s;

    if (!emulator_has(i, EMULATOR_STAYS_ON)) s->output = false;
    s->current_trip = false;
    emulator_power(i->bench);
}

static void begin(struct emulator_instrument *i)
{
    struct emulator_supply_state *s = &i->bench->s;

    if (emulator_has(i, EMULATOR_TRIP)) {
        s->current_tripped = true;
        s->output = false;
    }
    /* The faults of now are others than those of before. */
    emulator_power(i->bench);
}

static void changed(struct emulator_instrument *i, const struct emulator_unit *unit,
                    struct text *answer)
{
    (void)unit, (void)answer;
    emulator_power(i->bench);
}

static void set_output(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    struct emulator_supply_state *s = &i->bench->s;
    bool on;

    (void)answer;
    if (!emulator_read_switch(i, unit, &on)) return;
    if (on && (s->current_tripped || s->voltage_tripped)) {
        emulator_error(i, -221);
        return;
    }
    if (on || !emulator_has(i, EMULATOR_STAYS_ON)) s->output = on;
    emulator_power(i->bench);
}

static void set_current_trip(struct emulator_instrument *i, const struct emulator_unit *unit,
                             struct text *answer)
{
    (void)answer;
    if (emulator_read_switch(i, unit, &i->bench->s.current_trip)) emulator_power(i->bench);
}

static void clear_current_trip(struct emulator_instrument *i, const struct emulator_unit *unit,
                               struct text *answer)
{
    (void)unit, (void)answer;
    i->bench->s.current_tripped = false;
}

static void clear_voltage_trip(struct emulator_instrument *i, const struct emulator_unit *unit,
                               struct text *answer)
{
    (void)unit, (void)answer;
    i->bench->s.voltage_tripped = false;
}

static void ask_output(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->s.output ? "1" : "0");
}

static void ask_current_trip(struct emulator_instrument *i, const struct emulator_unit *unit,
                             struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->s.current_trip ? "1" : "0");
}

static void ask_current_tripped(struct emulator_instrument *i, const struct emulator_unit *unit,
                                struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->s.current_tripped ? "1" : "0");
}

static void ask_voltage_tripped(struct emulator_instrument *i, const struct emulator_unit *unit,
                                struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->s.voltage_tripped ? "1" : "0");
}

static void add_reading(struct emulator_instrument *i, double x, struct text *answer)
{
    if (emulator_has(i, EMULATOR_VOLTAGE_SIGN)) x = -x;
    if (emulator_has(i, EMULATOR_MILLI)) x *= 1e3;
    emulator_add_nr3(answer, x);
}

static void measure_voltage(struct emulator_instrument *i, const struct emulator_unit *unit,
                            struct text *answer)
{
    const double v = emulator_read_v(i->bench);

    (void)unit;
    add_reading(i, emulator_has(i, EMULATOR_VOLTAGE_ZERO) ? 0 : v, answer);
}

static void measure_current(struct emulator_instrument *i, const struct emulator_unit *unit,
                            struct text *answer)
{
    (void)unit;
    add_reading(i, emulator_read_a(i->bench), answer);
}

/* Bit 0 voltage, bit 1 current: here "is not what was set", as most supplies have it (SCPI-1999
 * volume 1, 9, from memory; the assignment is common practice). */
static void ask_questionable(struct emulator_instrument *i, const struct emulator_unit *unit,
                             struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->s.constant_current ? "1" : "0");
}

static const struct emulator_header headers[] = {
    {.pattern = "[SOURce#:]VOLTage[:LEVel][:IMMediate][:AMPLitude]",
     .set = changed,
     .unit = "V",
     .setting = SUPPLY_VOLTAGE,
     .max = 30},
    {.pattern = "[SOURce#:]VOLTage:PROTection[:LEVel]",
     .set = changed,
     .unit = "V",
     .setting = SUPPLY_VOLTAGE_TRIP,
     .max = 33,
     .reset = 33},
    {.pattern = "[SOURce#:]VOLTage:PROTection:TRIPped", .ask = ask_voltage_tripped},
    {.pattern = "[SOURce#:]VOLTage:PROTection:CLEar", .set = clear_voltage_trip},
    {.pattern = "[SOURce#:]CURRent[:LEVel][:IMMediate][:AMPLitude]",
     .set = changed,
     .unit = "A",
     .setting = SUPPLY_CURRENT,
     .max = 3,
     .reset = 0.1},
    {.pattern = "[SOURce#:]CURRent:PROTection:STATe",
     .set = set_current_trip,
     .ask = ask_current_trip},
    {.pattern = "[SOURce#:]CURRent:PROTection:TRIPped", .ask = ask_current_tripped},
    {.pattern = "[SOURce#:]CURRent:PROTection:CLEar", .set = clear_current_trip},
    {.pattern = "OUTPut#[:STATe]", .set = set_output, .ask = ask_output},
    {.pattern = "MEASure[:SCALar]:VOLTage[:DC]", .ask = measure_voltage},
    {.pattern = "MEASure[:SCALar]:CURRent[:DC]", .ask = measure_current},
    {.pattern = "STATus:QUEStionable:CONDition", .ask = ask_questionable},
    {.pattern = NULL},
};

const struct emulator_kind emulator_supply = {
    .name = "supply",
    .identity = "gainsieve,emulated supply",
    .headers = headers,
    .begin = begin,
    .reset = reset_supply,
};
