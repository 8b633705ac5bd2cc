#include "runner/record.h"

#include "drivers/touchstone.h"
#include "tests/record_fixture.h"

/* Reads the attempt with this place in the record's order back. */
static void load(struct record_reader *r, size_t place, struct record_unit *unit,
                 struct measurement *m)
{
    struct record_units units = {0};
    struct text bytes = {0};
    struct error e = {0};
    bool more;

    assert_done(record_units_begin(&units, r, &e), &e);
    for (size_t i = 0; i <= place; i++) {
        record_unit_clear(unit);
        assert_done(record_units_next(&units, unit, &more, &e), &e);
        assert_true(more);
    }
    record_units_end(&units);
    assert_done(record_load(r, unit, &bytes, m, &e), &e);
    text_clear(&bytes);
}

/* What was measured comes back bit for bit: voltages, currents, every value; and judges to the same
 * verdict and the same numbers as were recorded. */
static void test_comes_back(void **state)
{
    struct tree *tree = *state;
    struct measurement want = {0}, got = {0};
    struct judgement judgement = {0};
    struct record_reader r = {0};
    struct record_unit unit = {0};
    struct record_finding *findings;
    struct limits limits = {0};
    struct error e = {0};
    size_t n;

    record_fixture_batch(tree);
    record_fixture_measure(&want, "KW1", 20);
    assert_done(record_reader_open(&r, record_fixture_folder(tree), &e), &e);
    load(&r, 1, &unit, &got);
    assert_string_equal(unit.serial, "KW1");
    assert_int_equal(unit.attempt, 2);
    assert_string_equal(unit.operator_name, "N. N.");
    assert_string_equal(unit.instruments, "analyser 1\nsupply 2");
    assert_int_equal(strlen(unit.at_utc), 20);
    assert_int_equal(got.n_biases, 2);
    for (size_t i = 0; i < 2; i++) {
        const struct sweep *a = &want.biases[i].sweep, *b = &got.biases[i].sweep;

        assert_true(want.biases[i].bias_v == got.biases[i].bias_v);
        assert_true(want.biases[i].bias_current_ma == got.biases[i].bias_current_ma);
        assert_int_equal(a->n_points, b->n_points);
        assert_memory_equal(a->frequency_hz, b->frequency_hz, 3 * sizeof *a->frequency_hz);
        assert_memory_equal(a->s, b->s, 3 * S_PARAMETERS * sizeof *a->s);
    }
    assert_true(batch_has(record_fixture_folder(tree), "sweeps/KW1/2/low.s2p"));
    assert_true(batch_has(record_fixture_folder(tree), "sweeps/KW1/2/high.s2p"));
    assert_done(limits_read(&limits, tree_path(tree, "batch/limits.xml"), &e), &e);
    assert_done(judge(&limits, &got, NULL, &judgement, &e), &e);
    assert_int_equal(judgement.verdict, unit.verdict);
    assert_done(record_findings(&r, unit.n, &findings, &n, &e), &e);
    assert_int_equal(n, 2);
    for (size_t i = 0; i < n; i++) {
        assert_string_equal(findings[i].limit, judgement.findings[i].limit->id);
        assert_int_equal(findings[i].outcome, judgement.findings[i].outcome);
        assert_true(findings[i].value == judgement.findings[i].value);
        assert_true(findings[i].margin == judgement.findings[i].margin);
    }
    memory_free(findings);
    judgement_clear(&judgement);
    limits_clear(&limits);
    record_unit_clear(&unit);
    record_reader_close(&r);
    measurement_clear(&want);
    measurement_clear(&got);
}

static bool store(struct record *record, const struct measurement *m, struct error *e)
{
    struct judgement judgement = {0};
    const struct record_entry entry = {m, &judgement, NULL};
    unsigned long attempt = 77;
    bool ok = judge(record_limits(record), m, NULL, &judgement, e) &&
              record_store(record, &entry, &attempt, e);

    assert_true(ok || attempt == 77);
    judgement_clear(&judgement);
    return ok;
}

/* A bench that measures two of the four parameters, a step that could not be measured, two sweeps
 * at nearly one voltage, a voltage of no step, serial numbers that are no file names. */
static void test_uncommon(void **state)
{
    struct tree *tree = *state;
    struct measurement m = {0}, got = {0};
    struct record_unit unit = {0};
    struct record *record;
    struct error e = {0};

    record_fixture_files(tree);
    record = record_fixture_open(tree);
    record_fixture_measure(&m, "../KW 1", 20);
    for (size_t i = 0; i < 3; i++) {
        fixture_set(&m.biases[0], i, S12, CMPLX(NAN, NAN));
        fixture_set(&m.biases[0], i, S22, CMPLX(NAN, NAN));
    }
    m.biases[0].sweep.measured = S_BIT(S11) | S_BIT(S21);
    sweep_reset(&m.biases[1].sweep);
    text_add(&m.biases[1].missing, "the analyser gave no answer");
    fixture_sweep(&m, record_fixture_board, 3.001, 160e6, 5e6, 3);
    fixture_sweep(&m, record_fixture_board, 3.5, 160e6, 5e6, 3);
    assert_done(store(record, &m, &e), &e);
    assert_true(batch_has(record_fixture_folder(tree), "sweeps/%2E.%2FKW%201/1/low.s2p"));
    assert_true(batch_has(record_fixture_folder(tree), "sweeps/%2E.%2FKW%201/1/3.001V.s2p"));
    assert_true(batch_has(record_fixture_folder(tree), "sweeps/%2E.%2FKW%201/1/3.5V.s2p"));
    load(record_reader_of(record), 0, &unit, &got);
    assert_int_equal(unit.verdict, VERDICT_INCOMPLETE);
    assert_int_equal(got.n_biases, 4);
    assert_int_equal(got.biases[0].sweep.measured, S_BIT(S11) | S_BIT(S21));
    assert_true(isnan(creal(sweep_s(&got.biases[0].sweep, 0, S12))));
    assert_true(sweep_s(&got.biases[0].sweep, 2, S21) == sweep_s(&m.biases[0].sweep, 2, S21));
    assert_string_equal(text_words(&got.biases[1].missing), "the analyser gave no answer");
    assert_true(isnan(got.biases[2].bias_current_ma));
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    record_unit_clear(&unit);
    measurement_clear(&m);
    measurement_clear(&got);
}

/* What no file can hold is refused before anything is written, and the record takes the next. */
static void test_refused(void **state)
{
    struct tree *tree = *state;
    struct measurement m = {0};
    struct judgement other = {0};
    const struct record_entry entry = {&m, &other, NULL};
    struct record *record;
    struct error e = {0};
    unsigned long attempt;

    record_fixture_files(tree);
    record = record_fixture_open(tree);
    record_fixture_measure(&m, "KW1", 20);
    fixture_set(&m.biases[1], 1, S21, CMPLX(INFINITY, 0));
    assert_false(store(record, &m, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "KW1, bias 2.9987 V");
    e = (struct error){0};
    m.biases[1].sweep.measured = 0;
    assert_false(store(record, &m, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    e = (struct error){0};
    record_fixture_measure(&m, "", 20);
    assert_false(store(record, &m, &e));
    assert_int_equal(e.kind, ERROR_USAGE);
    e = (struct error){0};
    record_fixture_measure(&m, "KW1", 20);
    (void)snprintf(other.serial, sizeof other.serial, "KW2");
    assert_false(record_store(record, &entry, &attempt, &e));
    assert_holds(e.text, "the judgement of KW2");
    assert_false(batch_has(record_fixture_folder(tree), "sweeps/KW1"));
    assert_int_equal(record_fixture_store(record, "KW1", 20), 1);
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    measurement_clear(&m);
}

/* The reference unit's sweeps are kept once, hold from then on, and are part of the chain. */
static void test_reference(void **state)
{
    struct tree *tree = *state;
    struct measurement m = {0}, got = {0};
    struct text bytes = {0};
    struct record *record;
    struct record_reader *r;
    struct error e = {0};
    bool found;

    record_fixture_files(tree);
    record = record_fixture_open(tree);
    r = record_reader_of(record);
    (void)record_fixture_store(record, "KW1", 20); /* entry 2 */
    for (unsigned i = 0; i < 3; i++) {
        record_fixture_measure(&m, "REF1", i < 2 ? 20 : 21);
        assert_done(record_store_reference(record, &m, &e), &e);
    }
    assert_true(batch_has(record_fixture_folder(tree), "reference/2/high.s2p"));
    assert_false(batch_has(record_fixture_folder(tree), "reference/3"));
    assert_done(record_load_reference(r, 2, &bytes, &got, &found, &e), &e);
    assert_false(found);
    assert_done(record_load_reference(r, 4, &bytes, &got, &found, &e), &e);
    assert_true(found);
    assert_string_equal(got.serial, "REF1");
    assert_false(sweep_s(&got.biases[0].sweep, 0, S21) == sweep_s(&m.biases[0].sweep, 0, S21));
    assert_done(record_load_reference(r, 9, &bytes, &got, &found, &e), &e);
    assert_true(sweep_s(&got.biases[0].sweep, 0, S21) == sweep_s(&m.biases[0].sweep, 0, S21));
    record_fixture_close(record);
    record_fixture_audit(tree, NULL);
    text_clear(&bytes);
    measurement_clear(&m);
    measurement_clear(&got);
}

/* No memory at any allocation: never a verdict that is not stored, and the next opening goes on. */
static void test_no_memory(void **state)
{
    struct tree *tree = *state;
    struct measurement m = {0};
    struct judgement judgement = {0};
    const struct record_entry entry = {&m, &judgement, NULL};
    struct record *record;
    bool ok = false;
    unsigned long nth;

    record_fixture_files(tree);
    record_fixture_measure(&m, "KW1", 20);
    for (nth = 1; !ok; nth++) {
        struct error e = {0};
        unsigned long attempt = 0;

        assert_true(nth < 2000);
        record = record_fixture_open(tree);
        judgement_clear(&judgement);
        assert_done(judge(record_limits(record), &m, NULL, &judgement, &e), &e);
        memory_fail_at(nth);
        ok = record_store(record, &entry, &attempt, &e);
        memory_fail_at(0);
        assert_int_equal(e.kind, ok ? ERROR_NONE : ERROR_MEMORY);
        if (ok) assert_int_equal(attempt, 1);
        record_fixture_close(record);
    }
    assert_true(nth > 10);
    record_fixture_audit(tree, NULL);
    judgement_clear(&judgement);
    measurement_clear(&m);
}

#define in_tree(test) cmocka_unit_test_setup_teardown(test, tree_make, tree_remove)

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_tree(test_comes_back), in_tree(test_uncommon),  in_tree(test_refused),
        in_tree(test_reference),  in_tree(test_no_memory),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
