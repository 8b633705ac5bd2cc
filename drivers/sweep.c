#include "drivers/sweep.h"

#include <string.h>

#include "drivers/base/memory.h"

bool sweep_reserve(struct sweep *sweep, size_t n_points, struct error *e)
{
    size_t frequencies = sweep->capacity, values = sweep->capacity * S_PARAMETERS;
    double *frequency_hz;
    double complex *s;

    if (n_points <= sweep->capacity && sweep->s) return true;
    s = memory_grow(sweep->s, &values, n_points * S_PARAMETERS, sizeof *s,
                    CEILING_SWEEP_POINTS * S_PARAMETERS, "values in a sweep", e);
    if (!s) return false;
    sweep->s = s;
    frequency_hz = memory_grow(sweep->frequency_hz, &frequencies, n_points, sizeof *frequency_hz,
                               CEILING_SWEEP_POINTS, "points in a sweep", e);
    if (!frequency_hz) return false;
    sweep->frequency_hz = frequency_hz;
    sweep->capacity = frequencies < values / S_PARAMETERS ? frequencies : values / S_PARAMETERS;
    return true;
}

void sweep_reset(struct sweep *sweep)
{
    sweep->n_points = 0;
    sweep->n_ports = 0;
    sweep->measured = 0;
    sweep->z0_ohm[0] = sweep->z0_ohm[1] = 0;
}

void sweep_clear(struct sweep *sweep)
{
    memory_free(sweep->frequency_hz);
    memory_free(sweep->s);
    *sweep = (struct sweep){0};
}

bool sweep_copy(struct sweep *to, const struct sweep *from, struct error *e)
{
    sweep_reset(to);
    if (!sweep_reserve(to, from->n_points, e)) return false;
    if (from->n_points > 0) {
        memcpy(to->frequency_hz, from->frequency_hz, from->n_points * sizeof *to->frequency_hz);
        memcpy(to->s, from->s, S_PARAMETERS * from->n_points * sizeof *to->s);
    }
    to->n_points = from->n_points;
    to->n_ports = from->n_ports;
    to->measured = from->measured;
    to->z0_ohm[0] = from->z0_ohm[0];
    to->z0_ohm[1] = from->z0_ohm[1];
    return true;
}

const char *s_parameter_name(enum s_parameter parameter)
{
    static const char *const names[S_PARAMETERS] = {"S11", "S12", "S21", "S22"};

    return names[parameter];
}
