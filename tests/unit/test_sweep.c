/* The sweep as a container: growing, reuse, copies, ceilings, no memory. */
#include "tests/sweep_check.h"

static struct sweep make_sweep(size_t n_points)
{
    struct sweep s = {.n_ports = 2, .measured = S_ALL, .z0_ohm = {50, 75}};
    struct error e = {0};

    assert_done(sweep_reserve(&s, n_points, &e), &e);
    s.n_points = n_points;
    for (size_t i = 0; i < n_points; i++) {
        s.frequency_hz[i] = (double)i;
        for (size_t k = 0; k < S_PARAMETERS; k++)
            s.s[S_PARAMETERS * i + k] = CMPLX((double)i, (double)k);
    }
    return s;
}

static void assert_made(const struct sweep *s, size_t n_points)
{
    assert_int_equal(s->n_points, n_points);
    assert_int_equal(s->n_ports, 2);
    assert_int_equal(s->measured, S_ALL);
    assert_close(s->z0_ohm[0], 50, 0);
    assert_close(s->z0_ohm[1], 75, 0);
    for (size_t i = 0; i < n_points; i++) {
        assert_close(s->frequency_hz[i], (double)i, 0);
        for (size_t k = 0; k < S_PARAMETERS; k++)
            assert_s(s, i, (enum s_parameter)k, (double)i, (double)k, 0);
    }
}

/* Reason: readers add point by point; what is there must stay when the arrays move. */
static void growing_keeps_the_points(void **state)
{
    struct sweep s = make_sweep(1);
    struct error e = {0};

    (void)state;
    for (size_t n = 1; n < 5000; n++) {
        assert_done(sweep_reserve(&s, n + 1, &e), &e);
        assert_true(s.capacity >= n + 1);
        s.n_points = n + 1;
        s.frequency_hz[n] = (double)n;
        for (size_t k = 0; k < S_PARAMETERS; k++)
            s.s[S_PARAMETERS * n + k] = CMPLX((double)n, (double)k);
    }
    assert_made(&s, 5000);
    sweep_clear(&s);
}

/* Reason: an archive is read into the same sweep; emptying may not give the memory back. */
static void reset_keeps_the_memory(void **state)
{
    struct sweep s = make_sweep(100);
    const double *frequency_hz = s.frequency_hz;
    size_t capacity = s.capacity;
    struct error e = {0};

    (void)state;
    sweep_reset(&s);
    assert_int_equal(s.n_points, 0);
    assert_int_equal(s.n_ports, 0);
    assert_int_equal(s.measured, 0);
    assert_close(s.z0_ohm[0], 0, 0);
    assert_done(sweep_reserve(&s, 100, &e), &e);
    assert_true(s.frequency_hz == frequency_hz);
    assert_int_equal(s.capacity, capacity);
    sweep_clear(&s);
    sweep_clear(&s);
    assert_null(s.s);
}

/* Reason: a copy stands on its own, also of an empty sweep and over a longer one. */
static void copies_stand_alone(void **state)
{
    struct sweep from = make_sweep(10), to = make_sweep(20), none = {0};
    struct error e = {0};

    (void)state;
    assert_done(sweep_copy(&to, &from, &e), &e);
    sweep_clear(&from);
    assert_made(&to, 10);
    assert_done(sweep_copy(&to, &none, &e), &e);
    assert_int_equal(to.n_points, 0);
    assert_int_equal(to.measured, 0);
    sweep_clear(&to);
    sweep_clear(&none);
}

/* Reason: nothing grows without a ceiling. */
static void too_many_points_are_refused(void **state)
{
    struct sweep s = make_sweep(3);
    struct error e = {0};

    (void)state;
    assert_false(sweep_reserve(&s, CEILING_SWEEP_POINTS + 1, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_made(&s, 3);
    e = (struct error){0};
    assert_done(sweep_reserve(&s, CEILING_SWEEP_POINTS, &e), &e);
    assert_made(&s, 3);
    sweep_clear(&s);
}

/* Reason: with no memory for either array, the sweep stays as it was and can go on. */
static void no_memory_leaves_it_whole(void **state)
{
    (void)state;
    for (unsigned long nth = 1; nth <= 2; nth++) {
        struct sweep s = make_sweep(3), copy = {0};
        struct error e = {0};

        memory_fail_at(nth);
        assert_false(sweep_reserve(&s, 1000, &e));
        memory_fail_at(nth);
        assert_int_equal(e.kind, ERROR_MEMORY);
        e = (struct error){0};
        assert_false(sweep_copy(&copy, &s, &e));
        memory_fail_at(0);
        assert_int_equal(e.kind, ERROR_MEMORY);
        assert_int_equal(copy.n_points, 0);
        assert_made(&s, 3);
        e = (struct error){0};
        assert_done(sweep_reserve(&s, 1000, &e), &e);
        assert_done(sweep_copy(&copy, &s, &e), &e);
        assert_made(&copy, 3);
        sweep_clear(&s);
        sweep_clear(&copy);
    }
}

/* Reason: places are row-major, and messages call them by name. */
static void parameters_by_place_and_name(void **state)
{
    (void)state;
    assert_string_equal(s_parameter_name(S11), "S11");
    assert_string_equal(s_parameter_name(S12), "S12");
    assert_string_equal(s_parameter_name(S21), "S21");
    assert_string_equal(s_parameter_name(S22), "S22");
    assert_int_equal(S_ALL, 15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(growing_keeps_the_points),  cmocka_unit_test(reset_keeps_the_memory),
        cmocka_unit_test(copies_stand_alone),        cmocka_unit_test(too_many_points_are_refused),
        cmocka_unit_test(no_memory_leaves_it_whole), cmocka_unit_test(parameters_by_place_and_name),
    };

    return cmocka_run_group_tests_name("sweep", tests, NULL, NULL);
}
