#include <math.h>

#include "limits/limits.h"

double bound_line_at(const struct bound_line *line, double frequency_hz)
{
    size_t low = 0, high;
    double part;

    if (line->n_points == 0) return NAN;
    high = line->n_points - 1;
    if (!(frequency_hz >= line->frequency_hz[0] && frequency_hz <= line->frequency_hz[high]))
        return NAN;
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;

        if (line->frequency_hz[middle] <= frequency_hz)
            low = middle;
        else
            high = middle;
    }
    /* Exact at the corner points, whatever the rounding between them. */
    if (frequency_hz == line->frequency_hz[low]) return line->value[low];
    if (frequency_hz == line->frequency_hz[high]) return line->value[high];
    part = (frequency_hz - line->frequency_hz[low]) /
           (line->frequency_hz[high] - line->frequency_hz[low]);
    return line->value[low] + part * (line->value[high] - line->value[low]);
}
