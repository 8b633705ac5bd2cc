#include "drivers/profile.h"

#include <math.h>

#include "drivers/base/memory.h"

/* A zero is STEP_FOREIGN: a kind has only the steps that are named for it. */
static const struct step_row {
    const char *name;
    enum profile_need need[2]; /* by kind */
} steps[PROFILE_STEPS] = {
    [STEP_OPEN] = {"open", {STEP_OPTIONAL, STEP_OPTIONAL}},
    [STEP_IDENTIFY] = {"identify", {STEP_REQUIRED, STEP_REQUIRED}},
    [STEP_RECALL] = {"recall", {STEP_OPTIONAL, STEP_FOREIGN}},
    [STEP_CHECK_CORRECTION] = {"check-correction", {STEP_OPTIONAL, STEP_FOREIGN}},
    [STEP_CHECK_LEVEL] = {"check-level", {STEP_OPTIONAL, STEP_FOREIGN}},
    [STEP_SET_SWEEP] = {"set-sweep", {STEP_REQUIRED, STEP_FOREIGN}},
    [STEP_SET_POWER] = {"set-power", {STEP_REQUIRED, STEP_FOREIGN}},
    [STEP_RF_ON] = {"rf-on", {STEP_REQUIRED, STEP_FOREIGN}},
    [STEP_RF_OFF] = {"rf-off", {STEP_REQUIRED, STEP_FOREIGN}},
    [STEP_SWEEP] = {"sweep", {STEP_REQUIRED, STEP_FOREIGN}},
    [STEP_READ_AXIS] = {"read-axis", {STEP_OPTIONAL, STEP_FOREIGN}},
    [STEP_READ_TRACE] = {"read-trace", {STEP_REQUIRED, STEP_FOREIGN}},
    [STEP_SET_TRIP] = {"set-trip", {STEP_FOREIGN, STEP_OPTIONAL}},
    [STEP_SET_LIMIT] = {"set-limit", {STEP_FOREIGN, STEP_REQUIRED}},
    [STEP_SET_VOLTAGE] = {"set-voltage", {STEP_FOREIGN, STEP_REQUIRED}},
    [STEP_OUTPUT_ON] = {"output-on", {STEP_FOREIGN, STEP_REQUIRED}},
    [STEP_OUTPUT_OFF] = {"output-off", {STEP_FOREIGN, STEP_REQUIRED}},
    [STEP_READ_VOLTAGE] = {"read-voltage", {STEP_FOREIGN, STEP_REQUIRED}},
    [STEP_READ_CURRENT] = {"read-current", {STEP_FOREIGN, STEP_REQUIRED}},
    [STEP_CHECK_TRIP] = {"check-trip", {STEP_FOREIGN, STEP_OPTIONAL}},
    [STEP_CHECK_ERRORS] = {"check-errors", {STEP_REQUIRED, STEP_REQUIRED}},
    [STEP_SAFE] = {"safe", {STEP_REQUIRED, STEP_REQUIRED}},
    [STEP_CLOSE] = {"close", {STEP_OPTIONAL, STEP_OPTIONAL}},
};

static const char *const values[PROFILE_VALUES] = {
    [VALUE_START_HZ] = "start_hz",   [VALUE_STOP_HZ] = "stop_hz",
    [VALUE_POINTS] = "points",       [VALUE_IFBW_HZ] = "ifbw_hz",
    [VALUE_AVERAGES] = "averages",   [VALUE_POWER_DBM] = "power_dbm",
    [VALUE_SETUP] = "setup",         [VALUE_SWEEP_TIMEOUT_MS] = "sweep_timeout_ms",
    [VALUE_VOLTAGE_V] = "voltage_v", [VALUE_CURRENT_A] = "current_a",
    [VALUE_TRIP_V] = "trip_v",
};

const char *profile_step_name(enum profile_step step)
{
    return steps[step].name;
}

const char *profile_value_name(enum profile_value value)
{
    return values[value];
}

enum profile_need profile_need(enum profile_kind kind, enum profile_step step)
{
    return steps[step].need[kind];
}

struct profile_values profile_no_values(void)
{
    struct profile_values none = {.parameter = NULL};

    for (int v = 0; v < PROFILE_VALUES; v++)
        none.value[v] = NAN;
    return none;
}

void profile_clear(struct profile *profile)
{
    for (int s = 0; s < PROFILE_STEPS; s++) {
        struct profile_actions *step = &profile->steps[s];

        for (size_t i = 0; i < step->n; i++) {
            memory_free(step->actions[i].text);
            memory_free(step->actions[i].match);
            memory_free(step->actions[i].equals);
        }
        memory_free(step->actions);
    }
    for (size_t i = 0; i < profile->n_parameters; i++) {
        memory_free(profile->parameters[i].name);
        memory_free(profile->parameters[i].text);
    }
    memory_free(profile->parameters);
    memory_free(profile->path);
    memory_free(profile->label);
    memory_free(profile->terminator);
    *profile = (struct profile){0};
}
