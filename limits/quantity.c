#include "limits/quantity.h"

#include <string.h>

static const struct quantity table[] = {
    {.name = "gain",
     .words = "gain",
     .unit = UNIT_DB,
     .needs = S_BIT(S21),
     .is_magnitude_db = true,
     .parameter = S21,
     .formula = quantity_gain_db},
    {.name = "gain-flatness",
     .words = "gain flatness",
     .unit = UNIT_DB,
     .needs = S_BIT(S21),
     .shape = OVER_BAND},
    {.name = "input-reflection",
     .words = "input reflection",
     .unit = UNIT_DB,
     .needs = S_BIT(S11),
     .is_magnitude_db = true,
     .parameter = S11,
     .formula = quantity_input_reflection_db},
    {.name = "output-reflection",
     .words = "output reflection",
     .unit = UNIT_DB,
     .needs = S_BIT(S22),
     .is_magnitude_db = true,
     .parameter = S22,
     .formula = quantity_output_reflection_db},
    {.name = "reverse-isolation",
     .words = "reverse isolation",
     .unit = UNIT_DB,
     .needs = S_BIT(S12),
     .is_magnitude_db = true,
     .parameter = S12,
     .formula = quantity_reverse_isolation_db},
    {.name = "input-resistance",
     .words = "input resistance",
     .unit = UNIT_OHM,
     .needs = S_BIT(S11),
     .formula = quantity_input_resistance_ohm},
    {.name = "input-reactance",
     .words = "input reactance",
     .unit = UNIT_OHM,
     .needs = S_BIT(S11),
     .formula = quantity_input_reactance_ohm},
    {.name = "gain-slope",
     .words = "gain slope",
     .unit = UNIT_DB_PER_V,
     .needs = S_BIT(S21),
     .shape = OVER_SLOPE},
    {.name = "gain-range",
     .words = "gain range",
     .unit = UNIT_DB,
     .needs = S_BIT(S21),
     .shape = OVER_RANGE},
    {.name = "reflection-shift",
     .words = "shift of the input reflection",
     .unit = UNIT_ONE,
     .needs = S_BIT(S11),
     .shape = OVER_SHIFT},
    {.name = "phase",
     .words = "phase against the reference unit",
     .unit = UNIT_DEG,
     .needs = S_BIT(S21),
     .shape = OVER_PHASE},
    {.name = "group-delay",
     .words = "group delay",
     .unit = UNIT_NS,
     .needs = S_BIT(S21),
     .shape = OVER_DELAY},
    {.name = "stability",
     .words = "stability mu",
     .unit = UNIT_ONE,
     .needs = S_ALL,
     .formula = quantity_stability_mu},
    {.name = "bias-current", .words = "bias current", .unit = UNIT_MA, .shape = OVER_CURRENT},
};

const struct quantity *quantity_find(const char *name)
{
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        if (strcmp(table[i].name, name) == 0) return &table[i];
    return NULL;
}

const struct quantity *quantity_table(size_t *n)
{
    *n = sizeof table / sizeof *table;
    return table;
}
