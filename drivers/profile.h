/* An instrument's profile: which of its commands a step is made of, and how it answers.
 *
 * Read from XML in the namespace urn:gainsieve:profile:1 against profile.xsd; docs/profiles.md
 * tells how to write one. Nothing of an instrument maker is built in: the shipped profiles are
 * SCPI-1999 and IEEE 488.2 only. */
#ifndef GAINSIEVE_PROFILE_H
#define GAINSIEVE_PROFILE_H

#include "drivers/base/digest.h"
#include "drivers/base/error.h"
#include "drivers/base/text.h"
#include "drivers/link.h"
#include "drivers/reply.h"

enum profile_kind { PROFILE_ANALYSER = 0, PROFILE_SUPPLY };

/* Steps of a profile; which of them a kind has and needs, profile_need() tells. */
enum profile_step {
    STEP_OPEN = 0, /* what is sent after opening: converters, data format */
    STEP_IDENTIFY,
    STEP_RECALL,
    STEP_CHECK_CORRECTION,
    STEP_CHECK_LEVEL, /* overload of the receiver */
    STEP_SET_SWEEP,
    STEP_SET_POWER,
    STEP_RF_ON,
    STEP_RF_OFF,
    STEP_SWEEP, /* once, and wait for its end */
    STEP_READ_AXIS,
    STEP_READ_TRACE, /* of one parameter */
    STEP_SET_TRIP,
    STEP_SET_LIMIT, /* of the current */
    STEP_SET_VOLTAGE,
    STEP_OUTPUT_ON,
    STEP_OUTPUT_OFF,
    STEP_READ_VOLTAGE,
    STEP_READ_CURRENT,
    STEP_CHECK_TRIP,
    STEP_CHECK_ERRORS,
    STEP_SAFE, /* send and pause only: what the guardian sends */
    STEP_CLOSE,
    PROFILE_STEPS
};

/* Numbers that a text may hold, {name} or {name:.4f} or {name:d} or {name/1e6:.6f}: fixed point
 * only, since a cut-off fixed-point number is never larger than the whole one. */
enum profile_value {
    VALUE_START_HZ = 0,
    VALUE_STOP_HZ,
    VALUE_POINTS,
    VALUE_IFBW_HZ,
    VALUE_AVERAGES,
    VALUE_POWER_DBM,
    VALUE_SETUP,
    VALUE_SWEEP_TIMEOUT_MS,
    VALUE_VOLTAGE_V,
    VALUE_CURRENT_A,
    VALUE_TRIP_V,
    PROFILE_VALUES
};

/* The values of one exchange; NaN where there is none. `parameter` is "S11", "S21", ... or NULL,
 * and stands in a text as {parameter}, replaced by the profile's own name for it. */
struct profile_values {
    double value[PROFILE_VALUES];
    const char *parameter;
    const char *channel; /* {channel}, from the bench file, or NULL */
};

/* No values at all: every number NaN, no parameter, no channel. */
struct profile_values profile_no_values(void);

enum profile_action_kind {
    ACTION_SEND = 0,
    ACTION_ASK,  /* sends, receives, checks */
    ACTION_POLL, /* asks again until (answer & mask) == equals */
    ACTION_PAUSE,
};

/* What an answer must be, and what is kept of it. */
enum profile_answer {
    ANSWER_IGNORED = 0,
    ANSWER_TEXT,   /* must match `match` when there is one; kept as identity in STEP_IDENTIFY */
    ANSWER_NUMBER, /* times `scale`; must equal `equals` within `within` when there is one; kept as
                      the reading in STEP_READ_VOLTAGE and STEP_READ_CURRENT when there is none */
    ANSWER_ERROR,  /* an entry of the error queue; asked again until it is empty */
    ANSWER_AXIS,   /* `points` frequencies */
    ANSWER_TRACE,  /* `points` complex values */
};

/* Which parts of complex numbers an answer holds, and in which order. */
enum profile_layout {
    LAYOUT_INTERLEAVED = 0,
    LAYOUT_SPLIT,
    LAYOUT_REAL_ONLY,
    LAYOUT_IMAGINARY_ONLY
};

struct profile_action {
    enum profile_action_kind kind;
    char *text;         /* with placeholders; NULL for a pause */
    unsigned long line; /* of the profile file, for messages */
    double pause_s;
    double timeout_s; /* 0: the profile's; NaN: {sweep_timeout_ms}; never 0 for a poll */
    enum profile_answer answer;
    char *match;                       /* POSIX extended regular expression, or NULL */
    char *equals;                      /* a number or a placeholder without a format, or NULL: what
                                          profile_render() makes of it, number_parse() reads exactly */
    double within;                     /* in the unit of `equals` */
    unsigned long mask, equals_masked; /* of a poll, which asks until `timeout_s` has passed */
    double every_s;
    enum profile_layout layout;
    struct reply_format format;
    double scale; /* of the numbers received; 1 unless the file says another */
};

struct profile {
    char *path, *label;
    char sha256[DIGEST_HEX];
    enum profile_kind kind;
    char *terminator; /* sent behind every message */
    enum reply_terminator answer_terminator;
    double timeout_s, gap_s, settle_s; /* between messages; after opening */
    bool echo;                         /* the instrument repeats what it is sent */
    struct link_line line;
    /* Ratings, NaN where not stated. */
    double min_hz, max_hz, max_points, min_dbm, max_dbm, damage_dbm, linear_dbm, max_v, max_a;
    size_t n_parameters; /* the instrument's names of S-parameters */
    struct profile_parameter {
        char *name, *text;
    } * parameters;
    struct profile_actions {
        bool is_there;
        unsigned long line; /* of the profile file */
        size_t n;
        struct profile_action *actions;
    } steps[PROFILE_STEPS];
};

/* ERROR_INPUT with file and line. `out` is untouched on failure. What holds afterwards, so that
 * nobody need look again: every step that the kind needs is there and none of the other kind; every
 * text is printable ASCII whose placeholders are known, and their values belong to the step; every
 * regular expression compiles; REAL numbers have a byte order and eight data bits; a step that sets
 * something sends its value, one that reads asks for what it reads, one that checks checks; `sweep`
 * ends by waiting; no step that opens, switches, checks or closes needs a value; `safe` only sends
 * and pauses, for a second at most. */
bool profile_read(struct profile *out, const char *path, struct error *e) MUST_CHECK;
void profile_clear(struct profile *profile);

/* "set-sweep": the step's name in the file. */
const char *profile_step_name(enum profile_step step);
const char *profile_value_name(enum profile_value value);

/* Whether a profile of the kind has the step. */
enum profile_need { STEP_FOREIGN = 0, STEP_OPTIONAL, STEP_REQUIRED };
enum profile_need profile_need(enum profile_kind kind, enum profile_step step);

/* The text of an action with its placeholders filled, added to `out`. A number without a format is
 * written with the fewest decimals that read back the same. ERROR_BENCH, and `out` as it was, when
 * a value is missing, not finite or 1e15 and more, when {name:d} is not whole, when the profile has
 * no name for the parameter, or when the channel is not printable ASCII. */
bool profile_render(const struct profile *profile, const char *text,
                    const struct profile_values *values, struct text *out,
                    struct error *e) MUST_CHECK;

/* What the profile does, in words, a line a step: for `gainsieve validate`. */
void profile_words(const struct profile *profile, struct text *out);

#endif
