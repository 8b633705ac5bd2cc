#include "reports/spread.h"

#include <math.h>
#include <stdlib.h>

#include "drivers/base/memory.h"
#include "limits/statistics.h"

static int by_size(const void *a, const void *b)
{
    const float left = *(const float *)a, right = *(const float *)b;

    return (left > right) - (left < right);
}

void spread_of(struct spread *out, float *values, size_t n)
{
    size_t kept = 0;

    for (size_t i = 0; i < n; i++)
        if (!isnan(values[i])) values[kept++] = values[i];
    qsort(values, kept, sizeof *values, by_size);
    *out = (struct spread){
        .lowest = kept ? (double)values[0] : NAN,
        .low = sorted_quantile(values, kept, 0.01),
        .quarter = sorted_quantile(values, kept, 0.25),
        .median = sorted_quantile(values, kept, 0.5),
        .three_quarters = sorted_quantile(values, kept, 0.75),
        .high = sorted_quantile(values, kept, 0.99),
        .highest = kept ? (double)values[kept - 1] : NAN,
    };
}

/* Widens the column that a point of a line lies in. */
static void take_point(struct spread *columns, const struct view *view, double x, double y)
{
    double part = (x - view->left_hz) / (view->right_hz - view->left_hz);
    long column = lround(part * (VIEW_COLUMNS - 1));

    if (isnan(y) || column < 0 || column >= VIEW_COLUMNS) return;
    columns[column].lowest = fmin(columns[column].lowest, y);
    columns[column].highest = fmax(columns[column].highest, y);
}

bool spread_of_view(struct spread out[VIEW_COLUMNS], const struct batch *batch, size_t view,
                    struct error *e)
{
    float *values = memory_make(batch->n_units, sizeof *values, e);

    if (!values) return false;
    for (size_t column = 0; column < VIEW_COLUMNS; column++) {
        for (size_t i = 0; i < batch->n_units; i++)
            values[i] = batch->units[i].traces->columns[view * VIEW_COLUMNS + column];
        spread_of(&out[column], values, batch->n_units);
    }
    memory_free(values);
    for (size_t i = 0; i < batch->n_units; i++) {
        const struct unit_traces *traces = batch->units[i].traces;

        for (size_t k = 0; traces->lines && k < traces->lines[view].n_points; k++)
            take_point(out, &batch->views->view[view], (double)traces->lines[view].x[k],
                       (double)traces->lines[view].y[k]);
    }
    return true;
}

bool spread_of_bias(struct spread *out, const struct batch *batch, struct error *e)
{
    float *values = memory_make(batch->n_units, sizeof *values, e);

    if (!values) return false;
    for (size_t step = 0; step < batch->limits->n_biases; step++) {
        for (size_t i = 0; i < batch->n_units; i++)
            values[i] = (float)batch->units[i].traces->gain_db[step];
        spread_of(&out[step], values, batch->n_units);
    }
    memory_free(values);
    return true;
}
