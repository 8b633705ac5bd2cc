/* The bias supply: limit, ramp, read, off. A profile behind a link, or a person at a knob.
 *
 * Order is the safety (docs/safety.md): supply_identify() switches off before it asks anything;
 * supply_prepare() sets trip and limit and reads them back; supply_on() begins at 0 V; supply_to()
 * ramps and looks at voltage, current and trips after each step. What goes wrong with the board
 * (`refused`) is told apart from what goes wrong with the bench. Errors are ERROR_BENCH;
 * ERROR_STOPPED and ERROR_MEMORY come as they are, and an operator's as `ask` gave them. */
#ifndef GAINSIEVE_SUPPLY_H
#define GAINSIEVE_SUPPLY_H

#include "drivers/bench_file.h"
#include "drivers/instrument.h"

struct supply;

/* Asks the operator to set a bias on a manual supply and to confirm; 0 V means output off. False
 * with `e` set when that could not be had. `*current_ma` is NaN when it was not read. */
typedef bool supply_ask(void *context, double bias_v, double *current_ma, struct error *e);

/* What the supply gives now, as read back. */
struct supply_reading {
    double v, a; /* of a manual supply: what was asked for, and NaN */
};

struct supply {
    const struct bench_file *file; /* borrowed */
    bool is_manual;
    supply_ask *ask; /* of a manual supply; set before it is used */
    void *ask_context;
    struct profile profile;
    struct instrument instrument;
    double set_v; /* what was set last */
    /* Of a manual supply: somebody was asked to set a bias and not yet to end it. */
    bool off_is_due;
    bool is_off; /* read back as off; false as long as nobody knows */
    /* The last failure is the board's: too much current, a trip, a voltage that does not come up.
     */
    bool refused;
    struct supply_reading reading; /* the last one */
};

/* Opens; says nothing to the device. Reads the profile unless the caller has, ERROR_INPUT. After a
 * failure supply_close() is still due. */
bool supply_open(struct supply *out, const struct bench_file *file, struct error *e) MUST_CHECK;

/* Off first, then who it is. */
bool supply_identify(struct supply *s, struct error *e) MUST_CHECK;

/* Trips, limit, 0 V; each read back. A latched trip is an error: a person looks first. */
bool supply_prepare(struct supply *s, struct error *e) MUST_CHECK;

/* Output on at 0 V. */
bool supply_on(struct supply *s, struct error *e) MUST_CHECK;

/* Ramps to `bias_v`, up or down, looking after each step; `reading` holds the last look. */
bool supply_to(struct supply *s, double bias_v, struct error *e) MUST_CHECK;

/* Reads voltage and current and looks at the trips. ERROR_BENCH with both figures when the current
 * is at the limit or above, the voltage is not what was set, or a trip is reported. */
bool supply_look(struct supply *s, struct error *e) MUST_CHECK;

/* Off, read back as off, and below the voltage at which the board may be touched. May be called at
 * any time and twice; looks at no wish to stop; tries the safe step too when the ordinary way
 * fails. False: NOT known to be off. */
bool supply_off(struct supply *s, struct error *e) MUST_CHECK;

/* Closes and frees; says nothing. Harmless on zero and twice. */
void supply_close(struct supply *s);

#endif
