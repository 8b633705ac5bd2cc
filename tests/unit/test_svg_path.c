/* Paths read back are the points that were written, to a tenth of a unit. */
#include "reports/svg_path.h"

#include "drivers/base/memory.h"
#include "tests/svg_read.h"

#define POINTS 2000

static double read_points[POINTS][2];
static bool read_lifted[POINTS];

static size_t read_back(const struct svg_path *path)
{
    return svg_read_path(text_words(&path->d), read_points, read_lifted, POINTS);
}

/* The letters themselves, by hand: a sign or a letter is separator enough, a zero before the point
 * is not written, and a letter is not repeated. */
static void test_spelling(void **state)
{
    struct svg_path path = {0};

    (void)state;
    svg_path_move(&path, 10, 20.5);
    svg_path_line(&path, 11, 20);
    svg_path_line(&path, 10.5, 20.25);
    svg_path_line(&path, 10.5, 20.3);
    svg_path_close(&path);
    svg_path_dot(&path, -0.5, 0.04);
    svg_path_dot(&path, 0, -7);
    svg_path_move(&path, 1, 1);
    svg_path_line(&path, 1, 1);
    assert_string_equal(text_words(&path.d), "M10 20.5l1-.5-.5 .3 0 0ZM-.5 0h0M0-7h0M1 1l0 0");
    svg_path_clear(&path);
}

/* A page has paths of thousands of points: steps rounded one by one would drift away, so each is
 * taken from where the last one was written. */
static void test_nothing_drifts(void **state)
{
    const unsigned seed = 20261125;
    uint32_t random = seed;
    struct svg_path path = {0};
    double x[POINTS], y[POINTS];

    (void)state;
    print_message("seed %u\n", seed);
    for (size_t i = 0; i < POINTS; i++) {
        random = random * 1664525u + 1013904223u;
        x[i] = 0.0333 * (double)i;
        y[i] = (double)(random >> 8) / 0x1p24 * 600 - 150;
        if (i % 100 == 0)
            svg_path_move(&path, x[i], y[i]);
        else
            svg_path_line(&path, x[i], y[i]);
    }
    assert_int_equal(read_back(&path), POINTS);
    for (size_t i = 0; i < POINTS; i++) {
        assert_close(read_points[i][0], x[i], 0.0501);
        assert_close(read_points[i][1], y[i], 0.0501);
        assert_int_equal(read_lifted[i], i % 100 == 0);
    }
    svg_path_clear(&path);
}

/* A dot is one point, and whatever follows it does not join it. */
static void test_dots(void **state)
{
    struct svg_path path = {0};

    (void)state;
    svg_path_dot(&path, 3, 4);
    svg_path_dot(&path, 5.5, 6);
    svg_path_move(&path, 1, 2);
    svg_path_line(&path, 2, 2);
    assert_int_equal(read_back(&path), 4);
    assert_close(read_points[1][0], 5.5, 1e-9);
    assert_close(read_points[1][1], 6, 1e-9);
    assert_true(read_lifted[0] && read_lifted[1] && read_lifted[2] && !read_lifted[3]);
    svg_path_clear(&path);
}

/* Closing brings the pen back to where it was set down: a line from there ends where it should. */
static void test_line_after_closing(void **state)
{
    struct svg_path path = {0};

    (void)state;
    svg_path_move(&path, 10, 10);
    svg_path_line(&path, 20, 10);
    svg_path_line(&path, 20, 30);
    svg_path_close(&path);
    svg_path_line(&path, 5, 7);
    assert_int_equal(read_back(&path), 4);
    assert_close(read_points[3][0], 5, 1e-9);
    assert_close(read_points[3][1], 7, 1e-9);
    assert_false(read_lifted[3]);
    svg_path_clear(&path);
}

/* What lies far outside any drawing, or nowhere, is brought near it on its own side, and the next
 * point is right again. */
static void test_wild_values(void **state)
{
    static const double wild[] = {1e300, -1e300, INFINITY, -INFINITY, 1e5, -1e5, NAN};
    struct svg_path path = {0};

    (void)state;
    for (size_t i = 0; i < sizeof wild / sizeof *wild; i++) {
        svg_path_reset(&path);
        svg_path_move(&path, 100, 100);
        svg_path_line(&path, wild[i], 100);
        svg_path_line(&path, 100, wild[i]);
        svg_path_line(&path, 101, 99);
        assert_int_equal(read_back(&path), 4);
        assert_true(fabs(read_points[1][0]) <= 4000 && fabs(read_points[2][1]) <= 4000);
        if (!isnan(wild[i])) {
            assert_true(wild[i] > 0 ? read_points[1][0] > 1000 : read_points[1][0] < -1000);
            assert_true(wild[i] > 0 ? read_points[2][1] > 1000 : read_points[2][1] < -1000);
        }
        assert_close(read_points[3][0], 101, 1e-9);
        assert_close(read_points[3][1], 99, 1e-9);
        assert_true(path.d.length < 60);
    }
    svg_path_clear(&path);
}

/* A path that is used again begins anew and needs no more memory; an ended one is empty, twice too.
 */
static void test_reset_and_clear(void **state)
{
    struct svg_path path = {0};
    size_t capacity;

    (void)state;
    svg_path_move(&path, 1, 2);
    svg_path_line(&path, 3, 4);
    capacity = path.d.capacity;
    svg_path_reset(&path);
    assert_string_equal(text_words(&path.d), "");
    assert_int_equal(path.d.capacity, capacity);
    svg_path_move(&path, 5, 6);
    svg_path_line(&path, 4, 6);
    assert_string_equal(text_words(&path.d), "M5 6l-1 0");
    svg_path_clear(&path);
    svg_path_clear(&path);
    assert_null(path.d.data);
    assert_int_equal(path.command, 0);
}

/* Without memory the path remembers that something is missing. */
static void test_no_memory(void **state)
{
    (void)state;
    for (unsigned long nth = 1;; nth++) {
        struct svg_path path = {0};
        bool failed;

        memory_fail_at(nth);
        svg_path_move(&path, 0, 0);
        for (size_t i = 1; i < 100; i++)
            svg_path_line(&path, (double)i, 0.5);
        memory_fail_at(0);
        failed = path.d.failed;
        if (!failed) assert_int_equal(read_back(&path), 100);
        svg_path_clear(&path);
        if (!failed) {
            assert_true(nth > 1);
            return;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_spelling),    cmocka_unit_test(test_nothing_drifts),
        cmocka_unit_test(test_dots),        cmocka_unit_test(test_line_after_closing),
        cmocka_unit_test(test_wild_values), cmocka_unit_test(test_reset_and_clear),
        cmocka_unit_test(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
