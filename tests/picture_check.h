/* Pictures for tests: drawn on a page of their own, read back from it by title, with the scale
 * found from the ticks alone. */
#ifndef GAINSIEVE_TESTS_PICTURE_CHECK_H
#define GAINSIEVE_TESTS_PICTURE_CHECK_H

#include "drivers/base/memory.h"
#include "reports/plot.h"
#include "tests/page_check.h"
#include "tests/report_fixture.h"
#include "tests/svg_read.h"

/* Longer than any path of these tests. */
#define PICTURE_POINTS 2000

/* The points of one path. */
struct picture_line {
    size_t n;
    double points[PICTURE_POINTS][2];
    bool lifted[PICTURE_POINTS];
};

static inline struct html *picture_start(void)
{
    struct error e = {0};
    struct html *h = html_start("t", false, &e);

    assert_non_null(h);
    return h;
}

/* The finished page, well formed; freed with memory_free(). */
static inline char *picture_finish(struct html *h)
{
    struct text out = {0};
    struct error e = {0};

    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    page_check(out.data);
    assert_null(strstr(out.data, "nan"));
    assert_null(strstr(out.data, "inf\""));
    return out.data;
}

/* The figure with this title alone; freed with memory_free(). NULL when there is none. */
static inline char *picture_figure(const char *page, const char *title)
{
    struct error e = {0};
    char start[256];
    const char *from, *to;
    char *copy;

    (void)snprintf(start, sizeof start, "<figure><figcaption>%s</figcaption>", title);
    from = strstr(page, start);
    if (!from) return NULL;
    to = strstr(from, "</figure>");
    assert_non_null(to);
    copy = memory_copy_bytes(from, (size_t)(to - from), &e);
    assert_non_null(copy);
    return copy;
}

/* The `nth` path of this class; fails when there is none. */
static inline void picture_read(const char *page, const char *class_name, size_t nth,
                                struct picture_line *out)
{
    const char *d = svg_find_path(page, class_name, nth);

    if (!d) print_error("no path %s %zu\n", class_name, nth);
    assert_non_null(d);
    out->n = svg_read_path(d, out->points, out->lifted, PICTURE_POINTS);
    assert_true(out->n > 0);
}

/* How many paths there are of this class, without the legend's. */
static inline size_t picture_count(const char *page, const char *class_name)
{
    char path[64], key[96], dot_key[96];

    (void)snprintf(path, sizeof path, "<path class=\"%s\"", class_name);
    (void)snprintf(key, sizeof key, "<path class=\"%s\" d=\"M3 5h24\"", class_name);
    (void)snprintf(dot_key, sizeof dot_key, "<path class=\"%s\" d=\"M15 5h0\"", class_name);
    return report_count(page, path) - report_count(page, key) - report_count(page, dot_key);
}

/* The scale of a plot, found from its first and last ticks on both axes, for plot_x() and plot_y().
 * Ticks are drawn in tenths of a unit: places are good to 0.2. */
static inline struct plot picture_scale(const char *figure, double x_scale)
{
    struct {
        size_t n;
        double at[2], value[2];
    } axes[2] = {{0}};
    struct plot plot = {0};
    const char *d;

    for (size_t i = 0; (d = svg_find_path(figure, "grid", i)) != NULL; i++) {
        double points[2][2];
        bool lifted[2];
        const char *label = strstr(d, "</text>");
        size_t axis, which;

        assert_int_equal(svg_read_path(d, points, lifted, 2), 2);
        axis = points[0][0] == points[1][0] ? 0 : 1;
        which = axes[axis].n++ > 0;
        assert_non_null(label);
        while (label[-1] != '>')
            label--;
        axes[axis].at[which] = points[0][axis];
        axes[axis].value[which] = strtod(label, NULL) * (axis == 0 ? x_scale : 1);
    }
    assert_true(axes[0].n >= 2 && axes[1].n >= 2);
    for (size_t axis = 0; axis < 2; axis++) {
        const double *at = axes[axis].at, *value = axes[axis].value;
        const double slope = (value[1] - value[0]) / (at[1] - at[0]);
        const double from = axis == 0 ? PLOT_LEFT : PLOT_HEIGHT - PLOT_BOTTOM;
        const double to = axis == 0 ? PLOT_WIDTH - PLOT_RIGHT : PLOT_TOP;

        *(axis == 0 ? &plot.x_from : &plot.y_from) = value[0] + slope * (from - at[0]);
        *(axis == 0 ? &plot.x_to : &plot.y_to) = value[0] + slope * (to - at[0]);
    }
    return plot;
}
#define PICTURE_SCALE_ROOM 0.2

/* Judges a unit again and makes its lines anew, after a test has changed its sweeps. */
static inline void picture_judge(struct report_batch *r, size_t unit)
{
    struct error e = {0};

    judgement_clear(&r->judgements[unit]);
    unit_traces_clear(&r->traces[unit]);
    assert_done(judge(&r->limits, &r->m[unit], NULL, &r->judgements[unit], &e), &e);
    assert_done(unit_traces_make(&r->traces[unit], &r->limits, &r->views, &r->m[unit], true, &e),
                &e);
}

/* Like report_add() with three steps, but a point every 10 kHz from 155 to 183 MHz: many lie
 * between two columns of a view and between two points of a drawn line. */
#define PICTURE_DENSE ((size_t)2801)
static inline void picture_add_dense(struct report_batch *r, const char *serial, double gain_db)
{
    report_add(r, serial, 1, gain_db, 3);
    measurement_reset(&r->m[r->n - 1], serial, 1);
    for (size_t step = 0; step < 3; step++)
        (void)fixture_sweep(&r->m[r->n - 1], report_board, 1.8 + 0.6 * (double)step, 155e6, 10e3,
                            PICTURE_DENSE);
    picture_judge(r, r->n - 1);
}

/* Writes something on an open page. */
typedef bool picture_write(struct html *h, const void *what, struct error *e);

/* Whether the failure that memory_fail_at(nth) ordered has come. */
static inline bool picture_memory_failed(unsigned long nth)
{
    struct error e = {0};
    bool failed = true;

    for (unsigned long i = 0; i < nth; i++) {
        void *p = memory_make(1, 1, &e);

        failed = failed && p;
        memory_free(p);
    }
    memory_fail_at(0);
    return failed;
}

/* Lets each allocation fail in turn: either that is said, or nothing is missing on the page. */
static inline void picture_check_memory(picture_write *write, const void *what)
{
    struct html *h = picture_start();
    struct error e = {0};
    size_t n_said = 0;
    char *whole;
    bool failed = true;

    assert_done(write(h, what, &e), &e);
    whole = picture_finish(h);
    for (unsigned long nth = 1; failed; nth++) {
        struct text out = {0};
        bool ok;

        h = picture_start();
        e = (struct error){0};
        memory_fail_at(nth);
        ok = write(h, what, &e) && html_finish(h, &out, &e);
        failed = picture_memory_failed(nth);
        if (ok)
            assert_string_equal(out.data, whole);
        else
            assert_int_equal(e.kind, ERROR_MEMORY);
        n_said += !ok;
        html_free(h);
        text_clear(&out);
    }
    assert_true(n_said > 2);
    memory_free(whole);
}

#endif
