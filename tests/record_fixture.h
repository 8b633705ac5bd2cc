/* A batch in a temporary folder for tests: its limits and bench files, and units to store in it. */
#ifndef GAINSIEVE_TESTS_RECORD_FIXTURE_H
#define GAINSIEVE_TESTS_RECORD_FIXTURE_H

#include <sys/wait.h>

#include "drivers/base/memory.h"
#include "runner/audit.h"
#include "runner/batch_folder.h"
#include "runner/record.h"
#include "tests/fixture.h"
#include "tests/tree.h"

#define RECORD_LIMITS_HEAD                                                                        \
    "<limits xmlns=\"urn:gainsieve:limits:1\" product=\"Test\" impedance=\"50 ohm\">"             \
    "<bias-steps tolerance=\"10 mV\"><bias id=\"low\" at=\"1.80 V\"/><bias id=\"high\" at=\"3.00" \
    " V\"/></bias-steps><bands><band id=\"w\" from=\"160 MHz\" to=\"170 MHz\" max-step=\"5 MHz\"" \
    "/></bands>"
#define RECORD_LIMITS                                                              \
    RECORD_LIMITS_HEAD "<gain id=\"gain\" bias=\"all\" band=\"w\" min=\"18 dB\"/>" \
                       "<bias-current id=\"current\" bias=\"high\" max=\"40 mA\"/></limits>"
/* Another file with the same meaning but for one bound. */
#define RECORD_LIMITS_NEW                                                          \
    RECORD_LIMITS_HEAD "<gain id=\"gain\" bias=\"all\" band=\"w\" min=\"19 dB\"/>" \
                       "<bias-current id=\"current\" bias=\"high\" max=\"40 mA\"/></limits>"
#define RECORD_BENCH "<bench xmlns=\"urn:gainsieve:bench:1\"/>\n"

/* A unit's gain; thirds, so that digits must come back exactly. */
static double record_fixture_gain_db = 20;

static inline void record_fixture_board(double frequency_hz, double bias_v,
                                        double complex s[S_PARAMETERS])
{
    double mhz = (frequency_hz - 160e6) / 1e6;

    s[S11] = CMPLX(0.1 / 3, 0.001 * mhz);
    s[S12] = CMPLX(0.01, 1e-5 * mhz);
    s[S21] = fixture_linear(record_fixture_gain_db + bias_v / 3 - 0.01 * mhz);
    s[S22] = CMPLX(0.2, 0.001 * mhz);
}

/* Sweeps of three points at both bias steps, as measured: not quite at the nominal voltage. */
static inline void record_fixture_measure(struct measurement *m, const char *serial, double gain_db)
{
    record_fixture_gain_db = gain_db;
    measurement_reset(m, serial, 1);
    fixture_sweep(m, record_fixture_board, 1.8012, 160e6, 5e6, 3)->bias_current_ma = 100.0 / 7;
    fixture_sweep(m, record_fixture_board, 2.9987, 160e6, 5e6, 3)->bias_current_ma = 30;
}

static inline void record_fixture_files(struct tree *tree)
{
    tree_write(tree, "limits.xml", RECORD_LIMITS);
    tree_write(tree, "new.xml", RECORD_LIMITS_NEW);
    tree_write(tree, "bench.xml", RECORD_BENCH);
}

/* Opens TREE/batch with files of the tree; NULL for no bench. */
static inline bool record_fixture_try(struct tree *tree, const char *limits, const char *bench,
                                      const char *reason, struct record **out, struct error *e)
{
    char folder[512], limits_path[512], bench_path[512];
    struct record_request request = {.folder = folder,
                                     .limits = limits_path,
                                     .bench = bench ? bench_path : NULL,
                                     .operator_name = "N. N.",
                                     .reason = reason};

    (void)snprintf(folder, sizeof folder, "%s/batch", tree->top);
    (void)snprintf(limits_path, sizeof limits_path, "%s/%s", tree->top, limits);
    (void)snprintf(bench_path, sizeof bench_path, "%s/%s", tree->top, bench ? bench : "");
    return record_open(out, &request, e);
}

static inline struct record *record_fixture_open(struct tree *tree)
{
    struct record *record = NULL;
    struct error e = {0};

    assert_done(record_fixture_try(tree, "limits.xml", "bench.xml", NULL, &record, &e), &e);
    return record;
}

/* Measures, judges and stores a unit; the caller looks at the result. */
static inline bool record_fixture_try_store(struct record *record, const char *serial,
                                            double gain_db, unsigned long *attempt, struct error *e)
{
    struct measurement m = {0};
    struct judgement judgement = {0};
    const struct record_entry entry = {&m, &judgement, "analyser 1\nsupply 2"};
    bool ok;

    record_fixture_measure(&m, serial, gain_db);
    ok = judge(record_limits(record), &m, NULL, &judgement, e) &&
         record_store(record, &entry, attempt, e);
    judgement_clear(&judgement);
    measurement_clear(&m);
    return ok;
}

static inline unsigned long record_fixture_store(struct record *record, const char *serial,
                                                 double gain_db)
{
    struct error e = {0};
    unsigned long attempt = 0;

    assert_done(record_fixture_try_store(record, serial, gain_db, &attempt, &e), &e);
    return attempt;
}

static inline void record_fixture_close(struct record *record)
{
    struct error e = {0};

    assert_done(record_close(record, &e), &e);
}

/* A closed batch of KW1 (FAIL, then PASS), KW2 (FAIL), a mark and a remark: entries 1 to 6, eight
 * with the reference unit's sweeps. */
static inline void record_fixture_batch(struct tree *tree)
{
    struct record *record;
    struct error e = {0};

    record_fixture_files(tree);
    record = record_fixture_open(tree);
    assert_int_equal(record_fixture_store(record, "KW1", 10), 1);
    assert_int_equal(record_fixture_store(record, "KW1", 20), 2);
    assert_int_equal(record_fixture_store(record, "KW2", 10), 1);
    assert_done(record_note(record, NOTE_WRONGLY_CONNECTED, "KW1", 1, "cable off", &e), &e);
    assert_done(record_note(record, NOTE_REMARK, NULL, 0, "quiet day", &e), &e);
    record_fixture_close(record);
}

/* The folder of the batch; static, valid until the next call. */
static inline const char *record_fixture_folder(struct tree *tree)
{
    static char folder[512];

    (void)snprintf(folder, sizeof folder, "%s/batch", tree->top);
    return folder;
}

/* Audits the batch: no fault when `where` is NULL, else a line that holds it. */
static inline void record_fixture_audit(struct tree *tree, const char *where)
{
    struct audit audit = {0};
    struct error e = {0};

    assert_done(audit_batch(record_fixture_folder(tree), NULL, &audit, &e), &e);
    if (!where && audit.n_faults > 0) print_error("%s", text_words(&audit.faults));
    if (!where) assert_int_equal(audit.n_faults, 0);
    if (where) {
        assert_true(audit.n_faults > 0);
        assert_holds(text_words(&audit.faults), where);
    }
    audit_clear(&audit);
}

#endif
