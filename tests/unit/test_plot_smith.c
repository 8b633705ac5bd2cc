/* The Smith chart parsed back: grid, bounds and data lie where the impedance formula puts them,
 * z = (1 + S) / (1 - S) relative to Z0 (common practice). */
#include "reports/plot_smith.h"

#include "drivers/base/memory.h"
#include "tests/page_check.h"
#include "tests/svg_read.h"

/* Circles, arcs and words are written in whole units. */
#define WHOLE 0.51

static const double reaches[] = {0.1, 0.15, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 5, 10};
#define REACHES (sizeof reaches / sizeof *reaches)

static struct smith open_chart(struct html **h, double reach, double z0_ohm)
{
    struct error e = {0};
    struct smith smith;

    *h = html_start("t", false, &e);
    assert_non_null(*h);
    smith_open(&smith, *h, "Title", "Description", reach, z0_ohm);
    return smith;
}

static char *finish(struct smith *smith, struct html *h)
{
    struct text out = {0};
    struct error e = {0};

    smith_close(smith);
    assert_done(html_finish(h, &out, &e), &e);
    html_free(h);
    page_check(out.data);
    return out.data;
}

/* Distance in the drawing of an impedance's place from a point. */
static double distance(const struct smith *s, double complex z, double x, double y)
{
    double complex reflection = (z - 1) / (z + 1);

    return hypot(smith_x(s, creal(reflection)) - x, smith_y(s, cimag(reflection)) - y);
}

/* The value of the grid that is nearest to one read from rounded places. */
static double nearest(double value)
{
    static const double known[] = {0.1, 0.2, 0.3,  0.4, 0.5, 0.6, 0.7, 0.8, 0.9,
                                   1,   1.1, 1.25, 1.4, 1.6, 2,   2.4, 5};
    double best = known[0];

    for (size_t i = 1; i < sizeof known / sizeof *known; i++)
        if (fabs(log(known[i] / value)) < fabs(log(best / value))) best = known[i];
    return best;
}

/* A match is the middle of the window, which ends at `reach`; an inductive input lies above. */
static void test_places(void **state)
{
    (void)state;
    for (size_t i = 0; i < REACHES; i++) {
        const struct smith s = {.reach = reaches[i]};

        assert_close(smith_x(&s, 0), SMITH_X, 1e-9);
        assert_close(smith_y(&s, 0), SMITH_Y, 1e-9);
        assert_close(smith_x(&s, reaches[i]), SMITH_X + SMITH_RADIUS, 1e-9);
        assert_close(smith_x(&s, -reaches[i]), SMITH_X - SMITH_RADIUS, 1e-9);
        assert_close(smith_y(&s, reaches[i]), SMITH_Y - SMITH_RADIUS, 1e-9);
        assert_close(smith_y(&s, -reaches[i]), SMITH_Y + SMITH_RADIUS, 1e-9);
    }
}

/* The window shows what it was made for, and not much more: no line is pressed together. */
static void test_reach(void **state)
{
    double before = 0;

    (void)state;
    for (double largest = 0; largest <= 10; largest += 0.0009765625) {
        const double reach = smith_reach(largest);

        assert_true(reach >= largest);
        assert_true(reach <= fmax(0.1, 2.5 * largest));
        assert_true(reach >= before);
        before = reach;
    }
    for (size_t i = 0; i < REACHES; i++)
        assert_close(smith_reach(reaches[i]), reaches[i], 0);
    assert_true(smith_reach(1e30) >= 1 && isfinite(smith_reach(INFINITY)));
}

/* Each circle of the grid holds the impedances of one resistance: those with reactance none and one
 * lie on it. The resistances rise and none comes twice. */
static void test_resistances(void **state)
{
    (void)state;
    for (size_t i = 0; i < REACHES; i++) {
        struct html *h;
        struct smith s = open_chart(&h, reaches[i], 50);
        char *page = finish(&s, h);
        const char *circle;
        double before = 0;
        size_t n = 0;

        for (; (circle = svg_find(page, "<circle class=\"grid\"", n)) != NULL; n++) {
            const double cx = svg_attribute(circle, "cx"), cy = svg_attribute(circle, "cy");
            const double radius = svg_attribute(circle, "r");
            const double left = (cx - radius - SMITH_X) / SMITH_RADIUS * reaches[i];
            const double r = nearest((1 + left) / (1 - left));

            assert_close(cy, SMITH_Y, 0);
            for (int x = -2; x <= 2; x++)
                assert_close(distance(&s, CMPLX(r, x), cx, cy), radius, 2 * WHOLE);
            assert_true(r > before);
            before = r;
        }
        assert_true(n >= 5);
        circle = svg_find(page, "<circle class=\"frame\"", 0); /* resistance none: abs(S) = 1 */
        assert_close(svg_attribute(circle, "cx"), SMITH_X, 0);
        assert_close(svg_attribute(circle, "cy"), SMITH_Y, 0);
        assert_close(svg_attribute(circle, "r"), SMITH_RADIUS / reaches[i], WHOLE);
        memory_free(page);
    }
}

/* An arc as SVG 1.1, F.6.5 has it (from memory), for a circle and the lesser arc. */
struct arc {
    double from[2], to[2], radius, centre[2];
    bool sweep;
};

static struct arc read_arc(const char *d)
{
    struct arc arc;
    double apart, height;
    int sweep;

    assert_int_equal(sscanf(d, "M%lf %lfA%lf %*f 0 0 %d %lf %lf\"", &arc.from[0], &arc.from[1],
                            &arc.radius, &sweep, &arc.to[0], &arc.to[1]),
                     6);
    arc.sweep = sweep;
    apart = hypot(arc.to[0] - arc.from[0], arc.to[1] - arc.from[1]);
    arc.radius = fmax(arc.radius, apart / 2);
    height = sqrt(arc.radius * arc.radius - apart * apart / 4) / apart * (arc.sweep ? 1 : -1);
    arc.centre[0] = (arc.from[0] + arc.to[0]) / 2 - height * (arc.to[1] - arc.from[1]);
    arc.centre[1] = (arc.from[1] + arc.to[1]) / 2 + height * (arc.to[0] - arc.from[0]);
    return arc;
}

/* Checks one arc: from the open end to the rim of the chart, through the impedances of one
 * reactance, which is given back. */
static double check_arc(const struct smith *s, const char *d)
{
    static const double resistances[] = {0, 0.2, 0.5, 1, 2, 5};
    const struct arc arc = read_arc(d);
    const double complex end = CMPLX((arc.to[0] - SMITH_X) / SMITH_RADIUS * s->reach,
                                     (SMITH_Y - arc.to[1]) / SMITH_RADIUS * s->reach);
    const double sign = cimag(end) > 0 ? 1 : -1;
    const double x = sign * nearest(fabs(cimag((1 + end) / (1 - end))));

    assert_close(arc.from[0], smith_x(s, 1), WHOLE);
    assert_close(arc.from[1], SMITH_Y, WHOLE);
    assert_true(distance(s, CMPLX(0, x), arc.to[0], arc.to[1]) < 0.8);
    for (size_t i = 0; i < sizeof resistances / sizeof *resistances; i++)
        assert_close(distance(s, CMPLX(resistances[i], x), arc.centre[0], arc.centre[1]),
                     arc.radius, 2);
    return x;
}

/* Each arc of the grid holds the impedances of one reactance, positive above, negative below, and
 * both signs of each are there. */
static void test_reactances(void **state)
{
    (void)state;
    for (size_t i = 0; i < REACHES; i++) {
        struct html *h;
        struct smith s = open_chart(&h, reaches[i], 50);
        char *page = finish(&s, h);
        double sum = 0;
        size_t n = 0;
        const char *d;
        /* The first path of the grid is the line of the pure resistances. */
        double left, middle, right;

        d = svg_find_path(page, "grid", 0);
        assert_int_equal(sscanf(d, "M%lf %lfH%lf\"", &left, &middle, &right), 3);
        assert_close(left, smith_x(&s, -1), WHOLE);
        assert_close(middle, SMITH_Y, 0);
        assert_close(right, smith_x(&s, 1), WHOLE);
        for (; (d = svg_find_path(page, "grid", n + 1)) != NULL; n++)
            sum += check_arc(&s, d);
        assert_true(n >= 6 && n % 2 == 0);
        assert_close(sum, 0, 1e-9);
        memory_free(page);
    }
}

/* The numbers of the grid are the ohms of the place at which they stand, at any Z0; in every window
 * there are enough of them to read a match from. */
static void test_ohms(void **state)
{
    static const double z0_ohm[] = {50, 75, 12.5};

    (void)state;
    for (size_t i = 0; i < 3 * REACHES; i++) {
        struct html *h;
        struct smith s = open_chart(&h, reaches[i % REACHES], z0_ohm[i / REACHES]);
        char *page = finish(&s, h);
        const char *text;
        size_t n = 0, n_reactances = 0;

        for (; (text = svg_find(page, "<text class=\"grid-words\"", n)) != NULL; n++) {
            const char *words = strchr(text, '>') + 1;
            const double sign = *words == '-' ? -1 : 1;
            const double x = svg_attribute(text, "x"), y = svg_attribute(text, "y") + 3;
            const bool reactance = words[*words == '-'] == 'j';
            char *end;
            const double ohms = strtod(words + reactance + (sign < 0), &end);
            const double value = nearest(ohms / z0_ohm[i / REACHES]);

            assert_close(ohms, value * z0_ohm[i / REACHES], 0.0501);
            assert_int_equal(*end, '<');
            assert_true(distance(&s, reactance ? CMPLX(1, sign * value) : CMPLX(value, 0), x, y) <
                        0.8);
            assert_in_range(x, SMITH_X - SMITH_RADIUS, SMITH_X + SMITH_RADIUS);
            assert_in_range(y, SMITH_Y - SMITH_RADIUS, SMITH_Y + SMITH_RADIUS);
            n_reactances += reactance;
        }
        assert_true(n - n_reactances >= 3);
        assert_true(n_reactances >= 2);
        memory_free(page);
    }
}

/* The window is a square about the match, framed, and says how far it reaches. */
static void test_window(void **state)
{
    struct html *h;
    struct smith s = open_chart(&h, 0.15, 50);
    char *page, want[160];
    const char *frame;

    (void)state;
    page = finish(&s, h);
    (void)snprintf(want, sizeof want,
                   "<svg x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\" viewBox=\"%d %d %d %d\">",
                   SMITH_X - SMITH_RADIUS, SMITH_Y - SMITH_RADIUS, 2 * SMITH_RADIUS,
                   2 * SMITH_RADIUS, SMITH_X - SMITH_RADIUS, SMITH_Y - SMITH_RADIUS,
                   2 * SMITH_RADIUS, 2 * SMITH_RADIUS);
    assert_holds(page, want);
    frame = svg_find(page, "<rect class=\"frame\"", 0);
    assert_close(svg_attribute(frame, "x"), SMITH_X - SMITH_RADIUS, 0);
    assert_close(svg_attribute(frame, "y"), SMITH_Y - SMITH_RADIUS, 0);
    assert_close(svg_attribute(frame, "width"), 2 * SMITH_RADIUS, 0);
    assert_close(svg_attribute(frame, "height"), 2 * SMITH_RADIUS, 0);
    assert_holds(page, "<figure><figcaption>Title</figcaption>");
    assert_holds(page, "aria-label=\"Title\"><desc>Description</desc>");
    assert_holds(page, "abs(S11)");
    assert_holds(page, "= 0.15</text>");
    assert_holds(page, ">ohm</text>");
    memory_free(page);
}

/* The width of a class's stroke in the style sheet, which stands in the page. */
static double stroke_width(const char *page, const char *rule)
{
    const char *at = strstr(page, rule);

    assert_non_null(at);
    at = strstr(at, "stroke-width: ");
    assert_non_null(at);
    return strtod(at + strlen("stroke-width: "), NULL);
}

/* A bound is a circle about the place given, and the strip begins at it and lies on its forbidden
 * side; both say which limit they are. */
static void test_bounds(void **state)
{
    (void)state;
    for (int outside = 0; outside < 2; outside++) {
        struct html *h;
        struct smith s = open_chart(&h, 0.3, 50);
        const char *bound, *strip;
        double middle, half;
        char *page;

        smith_bound(&s, 0.05, -0.02, 0.16, outside, "match");
        page = finish(&s, h);
        bound = svg_find(page, "<circle class=\"bound\"", 0);
        strip = svg_find(page, "<circle class=\"forbidden-rim\"", 0);
        for (int i = 0; i < 2; i++) {
            assert_close(svg_attribute(i ? bound : strip, "cx"), smith_x(&s, 0.05), WHOLE);
            assert_close(svg_attribute(i ? bound : strip, "cy"), smith_y(&s, -0.02), WHOLE);
        }
        assert_close(svg_attribute(bound, "r"), 0.16 / 0.3 * SMITH_RADIUS, WHOLE);
        middle = svg_attribute(strip, "r");
        half = stroke_width(page, ".forbidden-rim {") / 2;
        assert_close(half, PLOT_STRIP / 2.0, 1e-9);
        assert_close(outside ? middle - half : middle + half, 0.16 / 0.3 * SMITH_RADIUS, WHOLE);
        assert_holds(page, "<g><title>match</title><circle class=\"forbidden-rim\"");
        memory_free(page);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_places),      cmocka_unit_test(test_reach),
        cmocka_unit_test(test_resistances), cmocka_unit_test(test_reactances),
        cmocka_unit_test(test_ohms),        cmocka_unit_test(test_window),
        cmocka_unit_test(test_bounds),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
