/* The circles of limits on a Smith chart: see pictures.h. */
#include "reports/pictures.h"
#include "tests/picture_check.h"

#define REACH 1.0

/* A circle read back: in the plane of S, and whether its strip lies outside it. */
struct ring {
    double re, im, radius;
    bool forbidden_outside;
};

static double in_plane(double units)
{
    return units * REACH / SMITH_RADIUS;
}

/* The circles that the limits of S11 at the low step give; at most `room`. */
static size_t draw_circles(const char *elements, struct ring *rings, size_t room, char **page)
{
    struct report_batch r = {0};
    struct smith smith;
    struct html *h = picture_start();
    const char *bound;
    size_t n = 0;

    report_start_with(&r, elements);
    assert_true(r.views.n >= 1);
    smith_open(&smith, h, "t", "d", REACH, r.limits.impedance_ohm);
    picture_draw_circles(&smith, &r.limits, &r.views.view[0]);
    smith_close(&smith);
    *page = picture_finish(h);
    while ((bound = svg_find(*page, "<circle class=\"bound\"", n)) != NULL) {
        const char *rim = svg_find(*page, "<circle class=\"forbidden-rim\"", n);

        assert_true(n < room);
        rings[n].re = in_plane(svg_attribute(bound, "cx") - SMITH_X);
        rings[n].im = in_plane(SMITH_Y - svg_attribute(bound, "cy"));
        rings[n].radius = in_plane(svg_attribute(bound, "r"));
        rings[n].forbidden_outside = svg_attribute(rim, "r") > svg_attribute(bound, "r");
        n++;
    }
    report_clear(&r);
    return n;
}

/* The units by which a rounded circle may be off: its centre and its radius. */
#define RING_ROOM (0.51 * 3)

/* Whether the picture forbids a place; `*certain` is false on the line itself. */
static bool is_forbidden(const struct ring *ring, double complex s, bool *certain)
{
    const double off = cabs(s - CMPLX(ring->re, ring->im)) - ring->radius;

    *certain = fabs(off) > in_plane(RING_ROOM);
    return ring->forbidden_outside ? off > 0 : off < 0;
}

/* Compares what the picture forbids with what the formula of the quantity says, at places all over
 * the chart. */
static void check_ring(const struct ring *ring, bool is_resistance, double bound, bool is_lower)
{
    size_t n_forbidden = 0, n_allowed = 0;

    for (int i = 0; i < 41 * 41; i++) {
        const double complex s = CMPLX(-1 + 0.05 * (i % 41), -1 + 0.05 * (i / 41 % 41));
        const double complex all[S_PARAMETERS] = {[S11] = s};
        double value;
        bool certain, forbidden = is_forbidden(ring, s, &certain);

        if (!certain || cabs(s) > 0.99) continue;
        value = is_resistance ? quantity_input_resistance_ohm(all, 50)
                              : quantity_input_reactance_ohm(all, 50);
        assert_int_equal(forbidden, is_lower ? value < bound : value > bound);
        forbidden ? n_forbidden++ : n_allowed++;
    }
    assert_true(n_forbidden > 50 && n_allowed > 50);
}

/* A place on the chart is beyond the drawn circle exactly when its resistance or reactance is
 * beyond the bound, whatever the side and the sign. */
static void test_impedance_circles(void **state)
{
    static const int bounds[] = {-40, -15, 0, 20, 60};

    (void)state;
    for (int i = 0; i < 5 * 2 * 2; i++) {
        const int bound = bounds[i % 5];
        const bool is_lower = i / 5 % 2, is_resistance = i / 10;
        struct ring ring;
        char elements[256], *page;

        if (is_resistance && bound <= 0) continue; /* forbids nothing within the chart */
        (void)snprintf(elements, sizeof elements,
                       "<input-%s id=\"z\" bias=\"low\" band=\"working\" %s=\"%d ohm\"/>",
                       is_resistance ? "resistance" : "reactance", is_lower ? "min" : "max", bound);
        assert_int_equal(draw_circles(elements, &ring, 1, &page), 1);
        check_ring(&ring, is_resistance, bound, is_lower);
        assert_holds(page, "<title>z</title>");
        memory_free(page);
    }
}

/* A reflection is the circle about the centre, forbidden outside. Of a mask the tightest place is
 * drawn, and the legend says so. */
static void test_reflection_circles(void **state)
{
    struct ring ring;
    char *page;

    (void)state;
    assert_int_equal(draw_circles("<input-reflection id=\"match\" bias=\"low\" band=\"working\" "
                                  "max=\"-6 dB\"/>",
                                  &ring, 1, &page),
                     1);
    assert_close(ring.re, 0, 1e-12);
    assert_close(ring.im, 0, 1e-12);
    assert_close(ring.radius, fixture_linear(-6), in_plane(0.51));
    assert_true(ring.forbidden_outside);
    assert_null(strstr(page, "tightest"));
    memory_free(page);
    assert_int_equal(
        draw_circles(
            "<input-reflection id=\"match\" bias=\"low\"><upper>"
            "<point at=\"160 MHz\" value=\"-3 dB\"/><point at=\"170 MHz\" value=\"-9 dB\"/>"
            "<point at=\"178 MHz\" value=\"-6 dB\"/></upper></input-reflection>",
            &ring, 1, &page),
        1);
    assert_close(ring.radius, fixture_linear(-9), in_plane(0.51));
    assert_holds(page, "tightest bound of the mask");
    memory_free(page);
}

/* Of a mask of resistances each side draws its tightest place too. */
static void test_impedance_mask(void **state)
{
    struct ring rings[2];
    char *page;

    (void)state;
    assert_int_equal(
        draw_circles("<input-resistance id=\"r\" bias=\"low\"><lower>"
                     "<point at=\"160 MHz\" value=\"20 ohm\"/>"
                     "<point at=\"178 MHz\" value=\"30 ohm\"/></lower><upper>"
                     "<point at=\"160 MHz\" value=\"90 ohm\"/>"
                     "<point at=\"178 MHz\" value=\"70 ohm\"/></upper></input-resistance>",
                     rings, 2, &page),
        2);
    check_ring(&rings[0], true, 30, true);
    check_ring(&rings[1], true, 70, false);
    memory_free(page);
}

/* Limits of another step, of another parameter or without a circle of their own draw none. */
static void test_no_circles(void **state)
{
    struct ring ring;
    char *page;

    (void)state;
    assert_int_equal(draw_circles("<reflection-shift id=\"shift\" bias=\"low\" reference=\"mid\" "
                                  "band=\"working\" max=\"0.1\"/>"
                                  "<input-reflection id=\"m\" bias=\"mid\" band=\"working\" "
                                  "max=\"-9 dB\"/><output-reflection id=\"o\" bias=\"low\" "
                                  "band=\"working\" max=\"-9 dB\"/>",
                                  &ring, 1, &page),
                     0);
    assert_null(strstr(page, "forbidden side"));
    memory_free(page);
}

/* The window holds the widest circle of the view's own limits; without one it follows the data. */
static void test_widest_circle(void **state)
{
    struct report_batch r = {0};

    (void)state;
    report_start_with(&r,
                      "<input-reflection id=\"a\" bias=\"low\" band=\"working\" "
                      "max=\"-16 dB\"/><input-reflection id=\"b\" bias=\"low\"><upper>"
                      "<point at=\"160 MHz\" value=\"-20 dB\"/>"
                      "<point at=\"178 MHz\" value=\"-12 dB\"/></upper></input-reflection>"
                      "<input-resistance id=\"c\" bias=\"mid\" band=\"working\" min=\"20 ohm\"/>");
    assert_int_equal(r.views.n, 2);
    assert_close(picture_circle(&r.limits, &r.views.view[0]), fixture_linear(-12), 1e-12);
    assert_close(picture_circle(&r.limits, &r.views.view[1]), 0, 0);
    report_clear(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_impedance_circles), cmocka_unit_test(test_reflection_circles),
        cmocka_unit_test(test_impedance_mask), cmocka_unit_test(test_no_circles),
        cmocka_unit_test(test_widest_circle)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
