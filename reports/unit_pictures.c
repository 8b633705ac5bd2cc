#include "reports/unit_pictures.h"

#include <math.h>

#include "limits/interpolate.h"
#include "reports/pictures.h"

/* What is drawn, and the unit's last judgement. */
struct unit_picture {
    const struct unit_sheet *sheet;
    const struct judgement *last;
    enum s_parameter parameter;
};

/* The next view of the picture's parameter from `*v` on; false at the end. */
static bool next_view(const struct unit_picture *u, size_t *v)
{
    const struct views *views = u->sheet->views;

    while (*v < views->n && views->view[*v].parameter != u->parameter)
        ++*v;
    return *v < views->n;
}

/* Whether any view of the picture has the limit, which is drawn once for all bias steps. */
static bool is_in_picture(const struct unit_picture *u, const struct limit *limit,
                          bool (*has)(const struct view *, const struct limit *))
{
    for (size_t v = 0; next_view(u, &v); v++)
        if (has(&u->sheet->views->view[v], limit)) return true;
    return false;
}

static bool has_failed_in(const struct unit_picture *u, const struct view *view)
{
    for (size_t i = 0; i < u->last->n_findings; i++) {
        const struct finding *finding = &u->last->findings[i];

        if (finding_has_failed(finding) && view_concerns(view, finding->limit) &&
            (finding->failed_steps >> view->step & 1))
            return true;
    }
    return false;
}

static void find_ranges(const struct unit_picture *u, struct plot_range *x, struct plot_range *y)
{
    const struct view *first = NULL;
    struct plot_range keep;

    plot_range_start(x);
    plot_range_start(&keep);
    for (size_t v = 0; next_view(u, &v); v++) {
        const struct view *view = &u->sheet->views->view[v];

        if (!first) first = view;
        plot_range_take(x, view->left_hz);
        plot_range_take(x, view->right_hz);
        picture_take_bounds(&keep, u->sheet->limits, view);
    }
    *y = keep;
    for (size_t v = 0; next_view(u, &v); v++)
        plot_range_take_trace(y, &u->sheet->traces->lines[v], x->low, x->high);
    /* The worst place may lie between measured points. */
    for (size_t i = 0; i < u->last->n_findings; i++) {
        const struct quantity *quantity = u->last->findings[i].limit->quantity;

        if (quantity->is_magnitude_db && quantity->parameter == u->parameter)
            plot_range_take(y, u->last->findings[i].value);
    }
    if (first) picture_finish_range(y, first, &keep);
}

/* The steps' lines named by their ids from the top, as gain rises with bias: names that move do so
 * into free space below. */
static void draw_steps(struct plot *p, const struct unit_picture *u)
{
    const struct views *views = u->sheet->views;

    for (size_t v = 0; next_view(u, &v); v++) {
        const struct trace *line = &u->sheet->traces->lines[v];
        const bool failed = has_failed_in(u, &views->view[v]);
        struct text title = {0};

        if (line->n_points == 0) continue;
        text_addf(&title, "bias %s%s", u->sheet->limits->biases[views->view[v].step].id,
                  failed ? ", failed a limit" : "");
        html_need(p->html, &title);
        plot_trace(p, line, failed ? "failed" : "strong", text_words(&title));
        plot_key(p, failed ? "failed" : "strong",
                 failed ? "bias step that failed a limit" : "bias step");
        text_clear(&title);
    }
    for (size_t v = views->n; v-- > 0;)
        if (views->view[v].parameter == u->parameter)
            plot_name(p, &u->sheet->traces->lines[v],
                      u->sheet->limits->biases[views->view[v].step].id);
}

/* "gain-high 21.32 dB": a ring's name, which tells it from its bound. */
static void ring_words(struct text *out, const struct finding *finding)
{
    char value[VALUE_TEXT];

    text_addf(out, "%s %s", finding->limit->id,
              value_rounded(finding->value, finding->limit->quantity->unit, value));
}

/* Where each drawn limit has its worst place, a ring; red where it failed. */
static void mark_worst(struct plot *p, const struct unit_picture *u)
{
    for (size_t i = 0; i < u->last->n_findings; i++) {
        const struct finding *finding = &u->last->findings[i];
        const struct quantity *quantity = finding->limit->quantity;
        struct text words = {0};

        if (!quantity->is_magnitude_db || quantity->parameter != u->parameter ||
            isnan(finding->value))
            continue;
        ring_words(&words, finding);
        html_need(p->html, &words);
        plot_marker(p, finding->frequency_hz, finding->value,
                    finding_has_failed(finding) ? "failed" : "worst", text_words(&words));
        text_clear(&words);
    }
}

/* Says which names found no room; those of lines are their titles too. */
static void add_put_off(struct html *h, struct text *out, const struct plot_names *names)
{
    if (names->n_later > 0)
        text_addf(out, "No room for the names %s%s.", text_words(&names->later),
                  names->n_later > PLOT_NAMES_BEYOND ? " and others" : "");
    html_need(h, out);
}

static void write_over_frequency(struct html *h, const struct unit_picture *u, const char *title)
{
    struct plot_range x, y;
    struct text note = {0};
    struct plot plot;
    size_t first = 0;

    if (!next_view(u, &first)) return;
    find_ranges(u, &x, &y);
    plot_open(&plot, h,
              &(struct plot_words){title,
                                   "dB over frequency in MHz at each bias step over the bounds; "
                                   "rings mark where each limit came nearest or was passed most.",
                                   "MHz", "dB", 1e6},
              &x, &y);
    for (size_t i = 0; i < u->sheet->limits->n_limits; i++)
        if (is_in_picture(u, &u->sheet->limits->limits[i], view_has_bounds))
            picture_draw_bound(&plot, u->sheet->limits, &u->sheet->limits->limits[i]);
    draw_steps(&plot, u);
    mark_worst(&plot, u);
    add_put_off(h, &note, &plot.names);
    plot.note = text_words(&note);
    plot_close(&plot);
    text_clear(&note);
}

static bool has_failed_over_bias(const struct unit_picture *u)
{
    for (size_t i = 0; i < u->last->n_findings; i++)
        if (finding_has_failed(&u->last->findings[i]) &&
            picture_is_of_bias(u->last->findings[i].limit))
            return true;
    return false;
}

static void write_over_bias(struct html *h, const struct unit_picture *u)
{
    const struct limits *limits = u->sheet->limits;
    const struct unit_traces *traces = u->sheet->traces;
    float room_x[CEILING_BIAS_STEPS], room_y[CEILING_BIAS_STEPS];
    float parts_x[2 * CEILING_BIAS_STEPS], parts_y[2 * CEILING_BIAS_STEPS];
    const struct trace trace = picture_bias_trace(traces, room_x, room_y);
    const struct trace parts = picture_failed_parts(limits, u->last, traces, parts_x, parts_y);
    const bool failed = has_failed_over_bias(u);
    struct plot_range x, y;
    struct text title = {0};
    struct plot plot;

    if (!picture_has_bias(limits) || trace.n_points < 2) return;
    x = (struct plot_range){(double)trace.x[0], (double)trace.x[trace.n_points - 1]};
    plot_range_start(&y);
    plot_range_take_trace(&y, &trace, x.low, x.high);
    picture_take_wedges(&y, limits, traces->bias_v, traces->gain_db);
    plot_range_finish(&x);
    plot_range_finish(&y);
    picture_bias_words(&title, limits);
    html_need(h, &title);
    plot_open(
        &plot, h,
        &(struct plot_words){text_words(&title),
                             "Gain in dB over the bias in volts, as wedges where slope limits "
                             "let it go from each step, and as bars where range limits let "
                             "it end.",
                             "V", "dB", 1},
        &x, &y);
    picture_draw_wedges(&plot, limits, traces->bias_v, traces->gain_db);
    plot_trace(&plot, &trace, failed ? "failed" : "strong", NULL);
    plot_key(&plot, failed ? "failed" : "strong",
             failed ? "this unit, failed a slope or range limit" : "this unit");
    if (parts.n_points > 0) {
        plot_trace(&plot, &parts, "failed-part", NULL);
        plot_key(&plot, "failed-part", PICTURE_FAILED_PART);
    }
    plot_close(&plot);
    text_clear(&title);
}

/* S11 of the unit at the place of a finding; NaN where there is none. */
static double complex s11_of(const struct measurement *m, const struct finding *finding)
{
    for (size_t i = 0; i < m->n_biases; i++) {
        struct place place;
        size_t cursor = 0;

        if (m->biases[i].bias_v == finding->bias_v && m->biases[i].sweep.n_points > 0 &&
            place_find(&m->biases[i].sweep, &cursor, finding->frequency_hz, 0, &place))
            return place_value(&m->biases[i].sweep, &place, S11);
    }
    return CMPLX(NAN, NAN);
}

/* A ring where each limit of reflection, resistance or reactance has its worst place. */
static void mark_worst_impedances(struct smith *s, const struct unit_picture *u)
{
    for (size_t i = 0; i < u->last->n_findings; i++) {
        const struct finding *finding = &u->last->findings[i];
        struct text words = {0};
        double complex place;

        if (finding->limit->quantity->needs != S_BIT(S11) ||
            finding->limit->quantity->shape != OVER_POINTS || isnan(finding->value))
            continue;
        place = s11_of(u->sheet->m, finding);
        ring_words(&words, finding);
        html_need(s->html, &words);
        smith_marker(s, creal(place), cimag(place),
                     finding_has_failed(finding) ? "failed" : "worst", text_words(&words));
        text_clear(&words);
    }
}

static void write_impedance(struct html *h, const struct unit_picture *u)
{
    const struct unit_sheet *sheet = u->sheet;
    struct text note = {0};
    struct smith smith;
    double largest = 0;
    size_t first = 0;

    if (!next_view(u, &first)) return;
    for (size_t v = 0; next_view(u, &v); v++) {
        const float *worst = &sheet->traces->worst[2 * v];

        /* A NaN is no larger than anything. */
        largest = fmax(largest, 1.3 * picture_circle(sheet->limits, &sheet->views->view[v]));
        largest = fmax(largest, 1.05 * hypot((double)worst[0], (double)worst[1]));
    }
    smith_open(&smith, h, "input impedance",
               "Smith chart of the input over the band at each bias step, with the limit's circle; "
               "rings mark the worst place of each limit.",
               smith_reach(largest), sheet->limits->impedance_ohm);
    for (size_t i = 0; i < sheet->limits->n_limits; i++)
        if (is_in_picture(u, &sheet->limits->limits[i], view_concerns))
            picture_draw_circle(&smith, sheet->limits, &sheet->limits->limits[i]);
    for (size_t v = 0; next_view(u, &v); v++) {
        const struct view *view = &sheet->views->view[v];
        const bool failed = has_failed_in(u, view);

        smith_trace(&smith, &sheet->traces->loci[v], failed ? "failed" : "strong",
                    sheet->limits->biases[view->step].id);
        smith_key(&smith, failed ? "failed" : "strong",
                  failed ? "bias step that failed a limit" : "bias step over the band");
        smith_name(&smith, &sheet->traces->loci[v], "mark", sheet->limits->biases[view->step].id);
    }
    mark_worst_impedances(&smith, u);
    add_put_off(h, &note, &smith.names);
    smith.note = text_words(&note);
    smith_close(&smith);
    text_clear(&note);
}

void unit_pictures_write(struct html *h, const struct unit_sheet *sheet)
{
    struct unit_picture u = {sheet, &sheet->attempts[sheet->n_attempts - 1], S21};

    html_open(h, "div");
    html_attribute(h, "class", "plots");
    write_over_frequency(h, &u, "gain");
    write_over_bias(h, &u);
    u.parameter = S11;
    write_over_frequency(h, &u, "input reflection");
    write_impedance(h, &u);
    html_close(h);
}
