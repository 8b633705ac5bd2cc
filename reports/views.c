#include "reports/views.h"

#include <math.h>

bool view_has_bounds(const struct view *view, const struct limit *limit)
{
    return limit->quantity->is_magnitude_db && limit->quantity->parameter == view->parameter &&
           (limit->biases >> view->step & 1);
}

bool view_concerns(const struct view *view, const struct limit *limit)
{
    const enum quantity_shape shape = limit->quantity->shape;

    return limit->quantity->needs == S_BIT(view->parameter) && (limit->biases >> view->step & 1) &&
           (shape == OVER_POINTS || shape == OVER_BAND || shape == OVER_SHIFT);
}

/* Widens the view by the ranges of the limit's bounds. */
static void take_limit(struct view *view, const struct limit *limit)
{
    const struct bound_line *const lines[] = {&limit->lower, &limit->upper};

    if (limit->max_step_hz > 0 &&
        !(view->max_step_hz > 0 && view->max_step_hz < limit->max_step_hz))
        view->max_step_hz = limit->max_step_hz;
    for (size_t i = 0; i < 2; i++) {
        if (lines[i]->n_points == 0) continue;
        view->from_hz = fmin(view->from_hz, lines[i]->frequency_hz[0]);
        view->to_hz = fmax(view->to_hz, lines[i]->frequency_hz[lines[i]->n_points - 1]);
    }
}

static void find_view(struct views *out, const struct limits *limits, enum s_parameter parameter,
                      size_t step)
{
    struct view view = {parameter, step, INFINITY, -INFINITY, 0, 0, 0};
    double room;

    for (size_t i = 0; i < limits->n_limits; i++)
        if (view_concerns(&view, &limits->limits[i])) take_limit(&view, &limits->limits[i]);
    if (!(view.from_hz <= view.to_hz)) return;
    /* A quarter of the band on both sides, around a spot a twentieth of its frequency. */
    room = view.to_hz > view.from_hz ? 0.25 * (view.to_hz - view.from_hz) : 0.05 * view.to_hz;
    view.left_hz = fmax(0, view.from_hz - room);
    view.right_hz = view.to_hz + room;
    out->view[out->n++] = view;
}

void views_find(struct views *out, const struct limits *limits)
{
    static const enum s_parameter parameters[] = {S21, S11};

    out->n = 0;
    for (size_t i = 0; i < 2; i++)
        for (size_t step = 0; step < limits->n_biases; step++)
            find_view(out, limits, parameters[i], step);
}

const char *view_words(const struct view *view)
{
    return view->parameter == S21 ? "gain" : "input reflection";
}

double view_column_hz(const struct view *view, size_t column)
{
    return view->left_hz +
           (view->right_hz - view->left_hz) * (double)column / (double)(VIEW_COLUMNS - 1);
}
