/* Batches with everything that a report of them must get right: several attempts, attempts that do
 * not count, a unit without a sweep, and a change of limits. */
#ifndef GAINSIEVE_TESTS_BATCH_FIXTURE_H
#define GAINSIEVE_TESTS_BATCH_FIXTURE_H

#include "runner/record_chain.h"
#include "tests/record_fixture.h"

/* Turns every S21 of the measurement by an angle. */
static inline void batch_fixture_turn(struct measurement *m, double deg)
{
    for (size_t b = 0; b < m->n_biases; b++)
        for (size_t i = 0; i < m->biases[b].sweep.n_points; i++)
            m->biases[b].sweep.s[S_PARAMETERS * i + S21] *= cexp(CMPLX(0, deg * M_PI / 180));
}

static inline void batch_fixture_mark(struct record *record, const char *serial,
                                      unsigned long attempt)
{
    struct error e = {0};

    assert_done(record_note(record, NOTE_WRONGLY_CONNECTED, serial, attempt, "cable off", &e), &e);
}

/* A unit whose lower sweep could not be had. */
static inline void batch_fixture_store_missing(struct record *record, const char *serial)
{
    struct measurement m = {0};
    struct judgement judgement = {0};
    const struct record_entry entry = {&m, &judgement, NULL};
    struct bias_sweep *bias;
    struct error e = {0};
    unsigned long attempt;

    measurement_reset(&m, serial, 1);
    bias = measurement_add(&m, 1.8012, &e);
    assert_non_null(bias);
    bias->bias_current_ma = NAN;
    text_add(&bias->missing, "the analyser did not answer");
    record_fixture_gain_db = 20;
    fixture_sweep(&m, record_fixture_board, 2.9987, 160e6, 5e6, 3)->bias_current_ma = 30;
    assert_done(judge(record_limits(record), &m, NULL, &judgement, &e), &e);
    assert_int_equal(judgement.verdict, VERDICT_INCOMPLETE);
    assert_done(record_store(record, &entry, &attempt, &e), &e);
    judgement_clear(&judgement);
    measurement_clear(&m);
}

/* By the least gain of 18 dB: KW1 FAIL, then PASS; KW2 FAIL, then PASS that does not count; KW3
 * PASS with 18.5 dB; KW4 FAIL that does not count, and nothing else; KW5 INCOMPLETE. What counts:
 * KW1 PASS, KW2 FAIL, KW3 PASS, KW5 INCOMPLETE. By 19 dB KW3 fails. */
static inline void batch_fixture_make(struct tree *tree)
{
    struct record *record;

    record_fixture_files(tree);
    record = record_fixture_open(tree);
    (void)record_fixture_store(record, "KW1", 10);
    (void)record_fixture_store(record, "KW3", 18);
    (void)record_fixture_store(record, "KW2", 10);
    (void)record_fixture_store(record, "KW2", 20);
    (void)record_fixture_store(record, "KW1", 20);
    (void)record_fixture_store(record, "KW4", 10);
    batch_fixture_store_missing(record, "KW5");
    batch_fixture_mark(record, "KW2", 2);
    batch_fixture_mark(record, "KW4", 1);
    record_fixture_close(record);
}

/* Goes on with the limits of 19 dB: KW6 FAIL with 18.5 dB, KW7 PASS. */
static inline void batch_fixture_change(struct tree *tree)
{
    struct record *record = NULL;
    struct error e = {0};

    assert_done(record_fixture_try(tree, "new.xml", "bench.xml", "tighter", &record, &e), &e);
    (void)record_fixture_store(record, "KW6", 18);
    (void)record_fixture_store(record, "KW7", 20);
    record_fixture_close(record);
}

/* Changes rows as a forger would. */
static inline void batch_fixture_forge(struct tree *tree, const char *sql)
{
    struct record_db db = {0};
    struct error e = {0};

    assert_done(record_db_open(&db, tree_path(tree, "batch/batch.sqlite"), RECORD_DB_WRITE, &e),
                &e);
    assert_done(record_db_run(&db,
                              "DROP TRIGGER IF EXISTS finding_update; DROP TRIGGER IF EXISTS "
                              "finding_delete; DROP TRIGGER IF EXISTS unit_update; DROP TRIGGER IF "
                              "EXISTS sweep_update; PRAGMA foreign_keys = OFF",
                              &e),
                &e);
    assert_done(record_db_run(&db, sql, &e), &e);
    record_db_close(&db);
}

#endif
