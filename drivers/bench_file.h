/* The bench as written down: instruments and ports, sweep settings, levels, bias, correction, the
 * reference unit. Read from XML in the namespace urn:gainsieve:bench:1 against bench.xsd;
 * docs/bench.md tells how to write one. Every value carries its unit in the file. */
#ifndef GAINSIEVE_BENCH_FILE_H
#define GAINSIEVE_BENCH_FILE_H

#include <stddef.h>
#include <stdint.h>

#include "drivers/base/digest.h"
#include "drivers/base/error.h"
#include "drivers/base/text.h"

/* An instrument: <analyser profile="FILE" port="..." channel="1"/>. Relative paths of the file
 * begin at its own folder; here they are as seen from the current one, ready to be opened. */
struct bench_instrument {
    char *profile; /* path; NULL for folder: and manual: only */
    char *port;    /* as link.h writes it; "folder:DIR"; "manual:"; "emulated:NAME", NAME analyser,
                      supply or fixture by its place, the analyser's with options behind '?' that
                      are not looked at here */
    char *channel; /* for {channel}, or NULL */
    unsigned long line;
};

struct bench_sweep {
    double start_hz, stop_hz, ifbw_hz, power_dbm;
    unsigned long points, averages; /* averages from 1 */
    double setup;                   /* recalled before anything is set; NaN: none */
};

/* What keeps receiver, pad and board alive; see runner/safety.h for the rule. NaN: not stated,
 * where the file may leave it out. */
struct bench_levels {
    double pad_db;          /* attenuation between the board's output and the receiver; may be 0 */
    double pad_rating_dbm;  /* what the first attenuator bears; NaN only with pad_db 0 */
    double saturated_dbm;   /* what the board gives at most, oscillating too */
    double highest_gain_db; /* assumed worst; NaN: the highest gain limit's maximum + 6 dB */
    double receiver_damage_dbm, receiver_linear_dbm; /* NaN: the analyser profile's */
    double reserve_db;                               /* from damage; 6 unless stated */
};

struct bench_bias {
    double current_limit_a; /* of the supply, and its trip */
    double voltage_trip_v;  /* NaN: none is set */
    double most_v;          /* no bias step may be above */
    double ramp_step_v;     /* largest step of the ramp */
    double ramp_interval_s; /* after each */
    double settling_s;      /* at a bias step, before its sweep */
    double tolerance_v;     /* of what is read back from what was set */
    double off_below_v;     /* read back after off: then the board may be touched; 0.5 */
    double longest_s;       /* powered in one test, at most */
};

struct bench_correction {
    bool required;     /* ask the instrument whether it is on */
    char *done;        /* "2026-11-25", or NULL */
    double valid_days; /* from `done`; NaN: for ever */
};

struct bench_reference {
    char *serial; /* NULL: this bench has no reference unit */
    char *sweeps; /* path of the folder with its stored sweeps, BIAS.s2p */
    double gain_tolerance_db;
    double reflection_tolerance; /* linear |difference| of S11 */
    unsigned long every_units;   /* 0: at start only */
    double every_hours;          /* NaN: at start only */
};

struct bench_file {
    char *path, *label, *note; /* note may be NULL */
    char sha256[DIGEST_HEX];
    struct bench_instrument analyser, supply;
    char *fixture; /* port of an emulated fixture, which is told the serial number; or NULL */
    char *layout;  /* of a folder: analyser, as archive_name.h has it; or NULL */
    struct bench_sweep sweep;
    struct bench_levels levels;
    struct bench_bias bias;
    struct bench_correction correction;
    struct bench_reference reference;
    unsigned long most_attempts; /* of one serial number; 3 unless stated */
    unsigned long streak;        /* so many boards in a row that fail one limit stop; 3; 0: never */
};

/* ERROR_INPUT with file and line. `out` is untouched on failure. What holds afterwards: ports are
 * well written (link_check_port() or one of the three other forms) and no two are the same; start <
 * stop; numbers are finite and in the ranges that docs/bench.md gives; a pad has a rating; the trip
 * is above `most_v`; `longest_s` holds ramp and settling; `done` is a day of the calendar. Profiles
 * were not looked at, and of a layout only the fields, since the bias steps are the limits file's.
 */
bool bench_file_read(struct bench_file *out, const char *path, struct error *e) MUST_CHECK;
void bench_file_clear(struct bench_file *file);

/* "folder:" and "manual:" and "emulated:" by the words of the port. */
bool bench_port_is(const struct bench_instrument *instrument, const char *scheme);

/* What the bench is, in words, a line a matter: for `gainsieve validate`. */
void bench_file_words(const struct bench_file *file, struct text *out);

#endif
