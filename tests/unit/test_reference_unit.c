#include "runner/reference_unit.h"

#include <math.h>
#include <sys/stat.h>

#include "drivers/base/memory.h"
#include "tests/fixture.h"
#include "tests/tree.h"

/* What is changed of the unit before it is measured again. */
static double gain_off_db, reflection_off, at_hz;

static void unit(double frequency_hz, double bias_v, double complex s[S_PARAMETERS])
{
    const bool here = frequency_hz == at_hz && bias_v > 2.9;

    s[S11] = 0.1 + 1e-12 * frequency_hz + (here ? reflection_off : 0) * I;
    s[S12] = 0.001;
    s[S21] = fixture_linear(20 + bias_v - 1e-8 * frequency_hz + (here ? gain_off_db : 0));
    s[S22] = 0.2;
}

/* Measured at the three steps, 19 points from 160 MHz. */
static void take(struct measurement *m, double first_hz, size_t n)
{
    measurement_reset(m, "KW000100", 1);
    fixture_sweep(m, unit, 1.8001, first_hz, 1e6, n);
    fixture_sweep(m, unit, 2.3999, first_hz, 1e6, n);
    fixture_sweep(m, unit, 3.0002, first_hz, 1e6, n);
}

struct comparison {
    struct limits limits;
    struct bench_file file;
    struct measurement stored, now;
    struct text words;
    bool good;
};

static void begin(struct comparison *c)
{
    *c = (struct comparison){0};
    fixture_limits(&c->limits, "", "<gain id=\"g\" bias=\"all\" band=\"working\" min=\"1 dB\"/>");
    c->file.reference.gain_tolerance_db = 0.3;
    c->file.reference.reflection_tolerance = 0.02;
    gain_off_db = reflection_off = at_hz = 0;
    take(&c->stored, 160e6, 19);
    take(&c->now, 160e6, 19);
}

static bool compare(struct comparison *c)
{
    struct error e = {0};

    text_reset(&c->words);
    assert_done(
        reference_unit_compare(&c->file, &c->limits, &c->stored, &c->now, &c->good, &c->words, &e),
        &e);
    return c->good;
}

static void end(struct comparison *c)
{
    limits_clear(&c->limits);
    measurement_clear(&c->stored);
    measurement_clear(&c->now);
    text_clear(&c->words);
}

/* The same sweeps prove the bench. */
static void same(void **state)
{
    struct comparison c;

    (void)state;
    begin(&c);
    assert_true(compare(&c));
    end(&c);
}

/* One point of one step decides, on both sides of either tolerance, and the words name it. */
static void tolerances(void **state)
{
    static const struct {
        double gain_db, reflection;
        bool good;
    } cases[] = {{0.29, 0, true},   {-0.29, 0, true},  {0.31, 0, false},
                 {-0.31, 0, false}, {0, 0.0199, true}, {0, -0.0201, false}};
    struct comparison c;

    (void)state;
    for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
        begin(&c);
        gain_off_db = cases[k].gain_db;
        reflection_off = cases[k].reflection;
        at_hz = 171e6;
        take(&c.now, 160e6, 19);
        assert_int_equal(compare(&c), cases[k].good);
        assert_holds(text_words(&c.words), gain_off_db != 0 ? "gain differs by 0." : "S11 by 0.0");
        assert_holds(text_words(&c.words), "at 171 MHz and 3");
        end(&c);
    }
}

/* Nothing that is missing is taken for good: a step, a sweep of a step, points beyond the stored
 * ones, a parameter that was not measured on either side. */
static void missing(void **state)
{
    struct comparison c;

    (void)state;
    begin(&c);
    measurement_reset(&c.now, "KW000100", 1);
    assert_false(compare(&c));
    assert_holds(text_words(&c.words), "bias step \"low\" cannot be compared: it was not measured");
    end(&c);

    begin(&c);
    text_add(&c.now.biases[1].missing, "the supply tripped");
    sweep_reset(&c.now.biases[1].sweep);
    assert_false(compare(&c));
    assert_holds(text_words(&c.words), "bias step \"mid\" cannot be compared: the supply tripped");
    end(&c);

    begin(&c);
    take(&c.now, 159e6, 19);
    assert_false(compare(&c));
    assert_holds(text_words(&c.words), "the stored sweep does not cover what was measured");
    end(&c);

    begin(&c);
    sweep_reset(&c.now.biases[2].sweep);
    assert_false(compare(&c));
    end(&c);

    for (unsigned k = 0; k < 4; k++) {
        struct measurement *m = k < 2 ? &c.stored : &c.now;

        begin(&c);
        m->biases[2].sweep.s[S_PARAMETERS * 5 + (k % 2 ? S11 : S21)] = CMPLX(NAN, NAN);
        assert_false(compare(&c));
        end(&c);
    }
}

/* A dead output or input proves nothing, now, in the stored sweeps, or in both, where it is the
 * same to the last digit. */
static void silent(void **state)
{
    struct comparison c;

    (void)state;
    for (unsigned k = 0; k < 6; k++) {
        const enum s_parameter dead = k < 3 ? S21 : S11;

        begin(&c);
        for (size_t p = 0; p < 19; p++) {
            if (k % 3 != 1) c.stored.biases[0].sweep.s[S_PARAMETERS * p + dead] = 0;
            if (k % 3 != 0) c.now.biases[0].sweep.s[S_PARAMETERS * p + dead] = 0;
        }
        if (compare(&c)) print_error("%u: %s\n", k, text_words(&c.words));
        assert_false(c.good);
        end(&c);
    }
}

/* Stored sweeps are read by the steps' names; one that is missing is named. */
static void stored(void **state)
{
    struct tree *tree = *state;
    struct comparison c;
    struct measurement read = {0};
    struct error e = {0};

    begin(&c);
    tree_write(tree, "unit/low.s2p", "# MHz S RI R 50\n169 0.1 0 9 0 0.01 0 0.2 0\n");
    tree_write(tree, "unit/mid.s2p", "# MHz S RI R 50\n169 0.2 0 9 0 0.01 0 0.2 0\n");
    c.file.reference.serial = memory_copy_text("KW000100", &e);
    c.file.reference.sweeps = memory_copy_text(tree_path(tree, "unit"), &e);
    assert_false(reference_unit_read(&c.file, &c.limits, &read, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "unit/high.s2p");
    e = (struct error){0};
    tree_write(tree, "unit/high.s2p", "# MHz S RI R 50\n169 0.3 0 9 0 0.01 0 0.2 0\n");
    assert_done(reference_unit_read(&c.file, &c.limits, &read, &e), &e);
    assert_int_equal(read.n_biases, 3);
    assert_string_equal(read.serial, "KW000100");
    assert_true(read.biases[2].bias_v == 3.0);
    assert_true(creal(sweep_s(&read.biases[2].sweep, 0, S11)) == 0.3);
    memory_free(c.file.reference.serial);
    memory_free(c.file.reference.sweeps);
    measurement_clear(&read);
    end(&c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(same),
        cmocka_unit_test(tolerances),
        cmocka_unit_test(missing),
        cmocka_unit_test(silent),
        cmocka_unit_test_setup_teardown(stored, tree_make, tree_remove),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
