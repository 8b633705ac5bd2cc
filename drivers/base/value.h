/* A number with its unit, "2.40 V" or "160 MHz", to the unit's base and back to words. */
#ifndef GAINSIEVE_BASE_VALUE_H
#define GAINSIEVE_BASE_VALUE_H

#include <stdbool.h>
#include <stddef.h>

/* The base in which a value is held stands beside each unit. */
enum unit {
    UNIT_ONE = 0,  /* a bare number */
    UNIT_HZ,       /* Hz; also kHz, MHz, GHz */
    UNIT_V,        /* V; also mV */
    UNIT_MA,       /* mA; also uA, A */
    UNIT_DB,       /* dB */
    UNIT_DB_PER_V, /* dB/V */
    UNIT_OHM,      /* ohm */
    UNIT_DEG,      /* deg */
    UNIT_NS,       /* ns; also ps, us */
    UNIT_S,        /* s; also ms */
    UNIT_DBM,      /* dBm */
};

/* The unit's name as in results.csv: "1", "Hz", "V", "mA", "dB", "dB/V", "ohm", "deg", "ns"; and
 * "s", "dBm", which stand in profiles and bench files only. */
const char *unit_name(enum unit unit);

/* Reads a number, blanks if wanted, and one of the unit's names (case as written above; for
 * UNIT_ONE nothing may follow). The scaling is decimal and rounds once, so that "0.1693 GHz",
 * "169.3 MHz" and "169300000 Hz" are the same double. */
bool value_parse(const char *text, enum unit unit, double *out);

#define VALUE_TEXT 64

/* For people, Hz, V and s with the prefix that reads best: 169000000 Hz as "169 MHz", 0.01 V as "10
 * mV". Exact: reads back with value_parse(). Returns `out`. */
const char *value_words(double x, enum unit unit, char out[VALUE_TEXT]);

/* For people, rounded to the digits the trade uses (dB to 0.01, Hz to 1 Hz, V to 0.1 mV, s to 1 ms,
 * linear magnitudes to 0.0001). Returns `out`. */
const char *value_rounded(double x, enum unit unit, char out[VALUE_TEXT]);

#endif
