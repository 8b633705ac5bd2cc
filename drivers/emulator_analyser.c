/* The emulated analyser: two ports, 100 kHz to 3 GHz, all four parameters in one sweep. */
#include <math.h>
#include <string.h>

#include "drivers/base/memory.h"
#include "drivers/emulator_measure.h"

#define MOST_POINTS 1601
/* Pairs of a trace, or twice the points of an axis: the fault that doubles has room. */
#define ROOM ((size_t)4 * MOST_POINTS)

static void reset_analyser(struct emulator_instrument *i)
{
    struct emulator_analyser_state *a = &i->bench->a;

    /* SCPI-1999 *RST (from memory): output and correction off, ASCII, NORMal byte order. */
    a->rf_on = a->averaging = a->correction = a->continuous = a->swapped = false;
    a->format = EMULATOR_ASCII;
    a->parameter = S11;
    a->is_stale = true;
    a->done_s = i->now_s;
}

/* A stored set-up brings the correction back, which is why a bench recalls instead of presetting.
 */
static void recall_analyser(struct emulator_instrument *i)
{
    i->bench->a.correction = true;
}

static double done_s(const struct emulator_instrument *i)
{
    return i->bench->a.done_s;
}

static void begin(struct emulator_instrument *i)
{
    double *power = &i->settings[ANALYSER_POWER];

    if (emulator_has(i, EMULATOR_CORRECTION_OFF)) i->bench->a.correction = false;
    if (emulator_has(i, EMULATOR_CLIPS_POWER))
        *power = fmin(*power, i->faults.value[EMULATOR_CLIPS_POWER]);
}

/* A setting that the last sweep was not taken with. */
static void changed(struct emulator_instrument *i, const struct emulator_unit *unit,
                    struct text *answer)
{
    double *points = &i->settings[ANALYSER_POINTS];

    (void)unit, (void)answer;
    i->bench->a.is_stale = true;
    if (emulator_has(i, EMULATOR_ROUNDS_POINTS) && *points > 2) *points = 2 * floor(*points / 2);
    begin(i);
}

static void set_switch(struct emulator_instrument *i, const struct emulator_unit *unit, bool *which,
                       bool matters)
{
    if (emulator_read_switch(i, unit, which) && matters) i->bench->a.is_stale = true;
}

static void set_output(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    bool on;

    (void)answer;
    if (!emulator_read_switch(i, unit, &on)) return;
    if (on || !emulator_has(i, EMULATOR_STAYS_ON)) i->bench->a.rf_on = on;
}

static void set_averaging(struct emulator_instrument *i, const struct emulator_unit *unit,
                          struct text *answer)
{
    (void)answer;
    set_switch(i, unit, &i->bench->a.averaging, true);
}

static void set_correction(struct emulator_instrument *i, const struct emulator_unit *unit,
                           struct text *answer)
{
    (void)answer;
    set_switch(i, unit, &i->bench->a.correction, true);
    begin(i);
}

static void set_continuous(struct emulator_instrument *i, const struct emulator_unit *unit,
                           struct text *answer)
{
    (void)answer;
    set_switch(i, unit, &i->bench->a.continuous, false);
}

static void ask_output(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->a.rf_on ? "1" : "0");
}

static void ask_averaging(struct emulator_instrument *i, const struct emulator_unit *unit,
                          struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->a.averaging ? "1" : "0");
}

static void ask_correction(struct emulator_instrument *i, const struct emulator_unit *unit,
                           struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->a.correction ? "1" : "0");
}

static void ask_continuous(struct emulator_instrument *i, const struct emulator_unit *unit,
                           struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->a.continuous ? "1" : "0");
}

/* ASCii[,digits] or REAL[,32 or 64]. */
static void set_format(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    struct emulator_analyser_state *a = &i->bench->a;
    double length = 0;
    int number = 0;

    (void)answer;
    if (unit->n_data == 0 || unit->n_data > 2) {
        emulator_error(i, unit->n_data == 0 ? -109 : -108);
        return;
    }
    if (unit->n_data == 2) number = emulator_number(unit->data[1], "", &length);
    if (number)
        emulator_error(i, number);
    else if (emulator_is_word(unit->data[0], "ASCii") && length >= 0 && length <= 17)
        a->format = EMULATOR_ASCII;
    else if (emulator_is_word(unit->data[0], "REAL") && (unit->n_data == 1 || length == 64))
        a->format = EMULATOR_REAL64;
    else if (emulator_is_word(unit->data[0], "REAL") && length == 32)
        a->format = EMULATOR_REAL32;
    else
        emulator_error(i, -224);
}

static void ask_format(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    static const char *const words[] = {"ASC,0", "REAL,32", "REAL,64"};

    (void)unit;
    text_add(answer, words[i->bench->a.format]);
}

static void set_border(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    const struct emulator_datum *datum = emulator_one(i, unit);

    (void)answer;
    if (!datum) return;
    if (emulator_is_word(*datum, "NORMal"))
        i->bench->a.swapped = false;
    else if (emulator_is_word(*datum, "SWAPped"))
        i->bench->a.swapped = true;
    else
        emulator_error(i, -224);
}

static void ask_border(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    (void)unit;
    text_add(answer, i->bench->a.swapped ? "SWAP" : "NORM");
}

static const char *const functions[S_PARAMETERS] = {
    [S11] = "XFRequency:POWer:S11",
    [S12] = "XFRequency:POWer:S12",
    [S21] = "XFRequency:POWer:S21",
    [S22] = "XFRequency:POWer:S22",
};

static void set_function(struct emulator_instrument *i, const struct emulator_unit *unit,
                         struct text *answer)
{
    const struct emulator_datum *datum = emulator_one(i, unit);
    char name[64];
    int number;

    (void)answer;
    if (!datum) return;
    number = emulator_string(*datum, name, sizeof name);
    if (number == 0) number = -224;
    for (unsigned p = 0; number == -224 && p < S_PARAMETERS; p++)
        if (emulator_match(functions[p], name) == 0) {
            i->bench->a.parameter = (enum s_parameter)p;
            return;
        }
    emulator_error(i, number);
}

static void ask_function(struct emulator_instrument *i, const struct emulator_unit *unit,
                         struct text *answer)
{
    (void)unit;
    text_addf(answer, "\"XFR:POW:%s\"", s_parameter_name(i->bench->a.parameter));
}

static void initiate(struct emulator_instrument *i, const struct emulator_unit *unit,
                     struct text *answer)
{
    struct emulator_analyser_state *a = &i->bench->a;
    const double *set = i->settings;
    const size_t n = (size_t)set[ANALYSER_POINTS];
    struct error e = {0};

    (void)answer;
    if (unit->n_data > 0) {
        emulator_error(i, -108);
    } else if (a->continuous || i->now_s < a->done_s) {
        emulator_error(i, -213);
    } else if (!(set[ANALYSER_START] < set[ANALYSER_STOP])) {
        emulator_error(i, -221);
    } else if (emulator_has(i, EMULATOR_FROZEN) && a->is_swept && a->last.n_points == n) {
        a->is_stale = false;
    } else if (!emulator_sweep(i->bench, n, &e)) {
        emulator_error(i, -225);
    } else {
        a->is_swept = true;
        a->is_stale = false;
        if (i->bench->settings.takes_time)
            a->done_s = i->now_s + (double)n / set[ANALYSER_IFBW] *
                                       (a->averaging ? set[ANALYSER_AVERAGES] : 1);
    }
}

/* A sweep that was broken off leaves nothing to read. */
static void stop_sweep(struct emulator_instrument *i, const struct emulator_unit *unit,
                       struct text *answer)
{
    struct emulator_analyser_state *a = &i->bench->a;

    (void)unit, (void)answer;
    if (i->now_s < a->done_s) a->is_stale = true;
    a->done_s = i->now_s;
}

/* Pairs, or all first parts and then all second ones. */
static void fill_trace(const struct emulator_instrument *i, const struct sweep *sweep,
                       double *numbers)
{
    enum s_parameter p = i->bench->a.parameter;
    const size_t n = sweep->n_points;
    const bool split = emulator_has(i, EMULATOR_SPLIT);

    if (emulator_has(i, EMULATOR_MIXED_UP)) p = p == S11 ? S21 : p == S21 ? S11 : p;
    for (size_t k = 0; k < n; k++) {
        const double complex s = sweep_s(sweep, k, p);

        numbers[split ? k : 2 * k] = creal(s);
        numbers[split ? n + k : 2 * k + 1] = cimag(s);
    }
}

static void add_numbers(struct emulator_instrument *i, bool is_axis, double *numbers, size_t n,
                        struct text *answer)
{
    const struct emulator_analyser_state *a = &i->bench->a;

    if (emulator_has(i, EMULATOR_ROUNDS_HIDDEN)) n = n / (is_axis ? 2 : 4) * (is_axis ? 2 : 4);
    emulator_fault_numbers(&i->faults, is_axis, numbers, &n, ROOM);
    emulator_add_numbers(answer, numbers, n, a->format, a->swapped, &i->faults);
}

/* The last sweep's values. While a sweep runs: those before it, and an error that says so. */
static void ask_trace(struct emulator_instrument *i, const struct emulator_unit *unit,
                      struct text *answer)
{
    struct emulator_analyser_state *a = &i->bench->a;
    const bool runs = i->now_s < a->done_s;
    const struct sweep *sweep = runs ? &a->before : &a->last;
    struct error e = {0};
    double *numbers;

    (void)unit;
    if (!a->is_swept || a->is_stale || runs) emulator_error(i, -230);
    if (!a->is_swept || a->is_stale || sweep->n_points == 0) return;
    numbers = memory_make(ROOM, sizeof *numbers, &e);
    if (!numbers) {
        emulator_error(i, -225);
        return;
    }
    fill_trace(i, sweep, numbers);
    add_numbers(i, false, numbers, 2 * sweep->n_points, answer);
    memory_free(numbers);
}

static void ask_axis(struct emulator_instrument *i, const struct emulator_unit *unit,
                     struct text *answer)
{
    const struct emulator_datum *datum = emulator_one(i, unit);
    const size_t n = (size_t)i->settings[ANALYSER_POINTS];
    struct error e = {0};
    double *numbers;

    if (!datum) return;
    if (!emulator_is_word(*datum, "FREQuency")) {
        emulator_error(i, -224);
        return;
    }
    numbers = memory_make(ROOM, sizeof *numbers, &e);
    if (!numbers) {
        emulator_error(i, -225);
        return;
    }
    emulator_axis(i->bench, n, numbers);
    add_numbers(i, true, numbers, n, answer);
    memory_free(numbers);
}

/* SCPI-1999: bit 3 of OPERation is "sweeping", bit 3 of QUEStionable "power" (from memory). */
static void ask_operation(struct emulator_instrument *i, const struct emulator_unit *unit,
                          struct text *answer)
{
    (void)unit;
    text_add(answer, i->now_s < i->bench->a.done_s ? "8" : "0");
}

static void ask_questionable(struct emulator_instrument *i, const struct emulator_unit *unit,
                             struct text *answer)
{
    (void)unit;
    text_add(answer, emulator_has(i, EMULATOR_OVERLOAD) ? "8" : "0");
}

#define NUMBER(which, words, low, high, at_reset)                                     \
    .set = changed, .setting = (which), .unit = (words), .min = (low), .max = (high), \
    .reset = (at_reset)

static const struct emulator_header headers[] = {
    {.pattern = "[SENSe#:]FREQuency:STARt", NUMBER(ANALYSER_START, "HZ", 1e5, 3e9, 1e5)},
    {.pattern = "[SENSe#:]FREQuency:STOP", NUMBER(ANALYSER_STOP, "HZ", 1e5, 3e9, 3e9)},
    {.pattern = "[SENSe#:]SWEep:POINts",
     NUMBER(ANALYSER_POINTS, "", 2, MOST_POINTS, 201),
     .is_whole = true},
    {.pattern = "[SENSe#:]BANDwidth|BWIDth[:RESolution]", NUMBER(ANALYSER_IFBW, "HZ", 1, 3e5, 1e3)},
    {.pattern = "[SENSe#:]AVERage:COUNt",
     NUMBER(ANALYSER_AVERAGES, "", 1, 999, 1),
     .is_whole = true},
    {.pattern = "[SENSe#:]AVERage[:STATe]", .set = set_averaging, .ask = ask_averaging},
    {.pattern = "[SENSe#:]CORRection[:STATe]", .set = set_correction, .ask = ask_correction},
    {.pattern = "[SENSe#:]FUNCtion[:ON]", .set = set_function, .ask = ask_function},
    {.pattern = "SOURce#:POWer[:LEVel][:IMMediate][:AMPLitude]",
     NUMBER(ANALYSER_POWER, "DBM", -50, 0, -30)},
    {.pattern = "OUTPut#[:STATe]", .set = set_output, .ask = ask_output},
    {.pattern = "FORMat[:DATA]", .set = set_format, .ask = ask_format},
    {.pattern = "FORMat:BORDer", .set = set_border, .ask = ask_border},
    {.pattern = "INITiate#[:IMMediate]", .set = initiate},
    {.pattern = "INITiate#:CONTinuous", .set = set_continuous, .ask = ask_continuous},
    {.pattern = "ABORt", .set = stop_sweep},
    {.pattern = "TRACe|DATA#[:DATA]", .ask = ask_axis},
    {.pattern = "CALCulate#:DATA", .ask = ask_trace},
    {.pattern = "STATus:OPERation:CONDition", .ask = ask_operation},
    {.pattern = "STATus:QUEStionable:CONDition", .ask = ask_questionable},
    {.pattern = NULL},
};

const struct emulator_kind emulator_analyser = {
    .name = "analyser",
    .identity = "gainsieve,emulated analyser",
    .headers = headers,
    .begin = begin,
    .reset = reset_analyser,
    .recall = recall_analyser,
    .done_s = done_s,
};
