/* An emulated bench: one board in a fixture, an analyser and a supply that share it, and the
 * fixture itself, which says and changes what is connected. State machines without sockets or
 * clocks: bytes go in with the time, bytes come out when they are due.
 *
 *     emulator_start(&bench, &settings);
 *     emulator_feed(&bench.analyser, "*IDN?\n", 6, now_s, &e);
 *     emulator_take(&bench.analyser, now_s, &answer, &gone);
 *
 * The instruments speak SCPI-1999 and IEEE 488.2; docs/emulator.md lists their commands. */
#ifndef GAINSIEVE_EMULATOR_H
#define GAINSIEVE_EMULATOR_H

#include <complex.h>
#include <stdint.h>

#include "drivers/board_model.h"
#include "drivers/emulator_fault.h"
#include "drivers/emulator_numbers.h"
#include "drivers/emulator_scpi.h"
#include "drivers/sweep.h"

struct emulator;
struct emulator_instrument;

/* Settings that are numbers, each belonging to one kind of instrument. */
#define EMULATOR_SETTINGS 6
enum {
    ANALYSER_START = 0,
    ANALYSER_STOP,
    ANALYSER_POINTS,
    ANALYSER_IFBW,
    ANALYSER_AVERAGES,
    ANALYSER_POWER
};
enum { SUPPLY_VOLTAGE = 0, SUPPLY_CURRENT, SUPPLY_VOLTAGE_TRIP };

/* Executes one unit; an answer, if it is a query, goes behind what `answer` holds. Nothing added by
 * a query means that there is no answer. */
typedef void emulator_handler(struct emulator_instrument *, const struct emulator_unit *,
                              struct text *answer);

/* A header that the instrument knows. A handler that is NULL: that form does not exist. With `unit`
 * the header is a number: settings[setting] within min..max, `reset` after *RST; `set` is then
 * called after a change, and may be NULL. */
struct emulator_header {
    const char *pattern;
    emulator_handler *set, *ask;
    const char *unit;
    unsigned setting;
    double min, max, reset;
    bool is_whole;
};

struct emulator_kind {
    const char *name;                      /* "analyser" */
    const char *identity;                  /* the answer to *IDN? up to the serial number */
    const struct emulator_header *headers; /* ends with a NULL pattern */
    /* Before each message, for what went on by itself; may be NULL. */
    void (*begin)(struct emulator_instrument *);
    /* *RST, after the numbers; and *RCL, after that: NULL where there is none. */
    void (*reset)(struct emulator_instrument *);
    void (*recall)(struct emulator_instrument *);
    /* When *OPC? may answer. */
    double (*done_s)(const struct emulator_instrument *);
};
extern const struct emulator_kind emulator_analyser, emulator_supply, emulator_fixture;

/* Bytes on their way out. */
struct emulator_chunk {
    char *bytes;
    size_t length, sent;
    double due_s; /* on the caller's clock */
    double gap_s; /* between bytes; 0: all at once */
    bool gone;    /* the instrument hangs up behind them */
};

struct emulator_instrument {
    struct emulator *bench;
    const struct emulator_kind *kind;
    double settings[EMULATOR_SETTINGS];
    struct emulator_errors errors;
    unsigned event_status, event_enable, service_enable; /* IEEE 488.2, 11.5.1 */
    bool opc_wanted;                                     /* *OPC waits for the end of a sweep */
    bool identity_given;        /* an arbitrary text ends its message: -440 for another query */
    double now_s, answer_due_s; /* of the message being executed */
    bool deaf;                  /* reads nothing any more */
    struct text input;          /* of the message that has not ended */
    bool overrun;               /* ... which is too long */
    struct text answer;         /* reused */
    struct emulator_faults faults;
    size_t n_chunks, capacity;
    struct emulator_chunk *chunks;
};

/* What the analyser measures with. */
struct emulator_analyser_state {
    bool rf_on, averaging, correction, continuous, is_swept, is_stale;
    enum emulator_format format;
    bool swapped;
    enum s_parameter parameter;
    uint64_t n_sweeps;
    double done_s;             /* when the running sweep ends */
    double drift[2];           /* of gain and of reflection */
    struct sweep before, last; /* the sweeps before and after the last INITiate */
};

struct emulator_supply_state {
    bool output, current_trip, current_tripped, voltage_tripped, constant_current;
    double output_v, output_a; /* at the board now */
    uint64_t n_readings;
};

struct emulator_settings {
    uint64_t seed;
    bool takes_time; /* sweeps last points / IF bandwidth, times averages; else no time */
};

struct emulator {
    struct emulator_settings settings;
    bool connected;
    unsigned long number; /* of the board, from 0 */
    struct board board;
    uint64_t n_connections;
    struct emulator_analyser_state a;
    struct emulator_supply_state s;
    struct emulator_instrument analyser, supply, fixture;
};

/* Both instruments as after power-on: outputs off, correction recalled, no board. The bench may not
 * be moved afterwards. Ended with emulator_clear(). */
void emulator_start(struct emulator *bench, const struct emulator_settings *settings);
void emulator_clear(struct emulator *bench);

/* Puts the board of this serial number, KW000101 to KW100100, into the fixture, or none (NULL or
 * ""). ERROR_USAGE. */
bool emulator_connect(struct emulator *bench, const char *serial, struct error *e) MUST_CHECK;

/* Arms faults of emulator_fault.h at the instruments that they are for. */
bool emulator_arm(struct emulator *bench, const char *words, struct error *e) MUST_CHECK;

/* A controller opened or closed the connection: what was on its way is lost. */
bool emulator_opened(struct emulator_instrument *instrument, double now_s,
                     struct error *e) MUST_CHECK;
void emulator_closed(struct emulator_instrument *instrument);

/* Takes bytes in at `now_s`, which never goes back, and executes the messages that they complete.
 * ERROR_MEMORY. */
bool emulator_feed(struct emulator_instrument *instrument, const char *bytes, size_t n,
                   double now_s, struct error *e) MUST_CHECK;

/* Adds to `out` what is due. `*gone` is set when the instrument hangs up behind it. Returns when
 * more is due, infinity when nothing waits. */
double emulator_take(struct emulator_instrument *instrument, double now_s, struct text *out,
                     bool *gone);

/* For the instruments: an error into queue and event status; whether a fault holds now. */
void emulator_error(struct emulator_instrument *instrument, int number);
bool emulator_has(const struct emulator_instrument *instrument, enum emulator_fault fault);

/* The one datum of the unit, or an error and NULL. */
const struct emulator_datum *emulator_one(struct emulator_instrument *instrument,
                                          const struct emulator_unit *unit);
/* The same as ON or OFF into `*out`. */
bool emulator_read_switch(struct emulator_instrument *instrument, const struct emulator_unit *unit,
                          bool *out);

/* What the supply gives and the board draws, worked out anew; see emulator_supply.c. */
void emulator_power(struct emulator *bench);

#endif
