/* Lists of numbers, through the shipped analyser profile, with the faults of the emulated bench one
 * by one. */
#include "drivers/instrument_exchange.h"

#include "drivers/base/memory.h"
#include "tests/served.h"

#define POINTS 11

/* An analyser with a sweep in it. */
static void sweep(struct served *s, struct profile_values *values)
{
    struct error e = {0};

    *values = profile_no_values();
    values->value[VALUE_START_HZ] = 160e6;
    values->value[VALUE_STOP_HZ] = 178e6;
    values->value[VALUE_POINTS] = POINTS;
    values->value[VALUE_IFBW_HZ] = 1000;
    values->value[VALUE_AVERAGES] = 1;
    values->value[VALUE_SWEEP_TIMEOUT_MS] = 1000;
    values->parameter = "S21";
    assert_done(instrument_step(&s->at, STEP_OPEN, values, NULL, &e), &e);
    assert_done(instrument_step(&s->at, STEP_SET_SWEEP, values, NULL, &e), &e);
    assert_done(instrument_step(&s->at, STEP_RF_ON, values, NULL, &e), &e);
    assert_done(instrument_step(&s->at, STEP_SWEEP, values, NULL, &e), &e);
}

struct trace {
    const char *fault, *words;
    size_t n_invalid;
};

static void check_traces(const struct trace *rows, size_t n, const char *const *from,
                         const char *const *to)
{
    for (size_t k = 0; k < n; k++) {
        double re[POINTS] = {0}, im[POINTS] = {0};
        struct step_result result = {.n = POINTS, .re = re, .im = im};
        struct profile_values values;
        struct served s = {0};
        size_t n_nan = 0;

        served_profile(&s.profile, "docs/profiles/analyser.xml", from, to);
        s.profile.timeout_s = SERVED_TIMEOUT_S;
        served_open(&s, rows[k].fault);
        sweep(&s, &values);
        served_check(&s, STEP_READ_TRACE, &values, &result, rows[k].words, rows[k].fault);
        for (size_t p = 0; p < POINTS; p++)
            n_nan += (size_t)isnan(re[p]) + (size_t)isnan(im[p]);
        assert_int_equal(result.n_invalid, rows[k].n_invalid);
        assert_int_equal(n_nan, rows[k].n_invalid);
        assert_int_equal(result.has_re && result.has_im, !rows[k].words);
        if (rows[k].words) {
            struct error e = {0};

            /* Nothing was kept of a list that was not whole. */
            for (size_t p = 0; p < POINTS; p++)
                assert_true(re[p] == 0 && im[p] == 0);
            assert_true(s.at.is_out_of_step);
            if (s.at.link->fault != LINK_GONE) assert_done(instrument_resync(&s.at, &e), &e);
        }
        if (s.at.link->fault != LINK_GONE)
            served_check(&s, STEP_CHECK_CORRECTION, NULL, NULL, NULL, rows[k].fault);
        served_end(&s);
    }
}

/* Reason: rows 16 to 31 for blocks: a block that is not exactly what was asked for is never read.
 */
static void blocks(void **state)
{
    static const struct trace rows[] = {
        {"", NULL, 0},
        {"bytes=0.001@CALC:DATA?", NULL, 0},
        {"block-indefinite@CALC:DATA?", NULL, 0},
        {"crlf@CALC:DATA?", NULL, 0},
        {"block-long@CALC:DATA?", "92 bytes where 88 were due", 0},
        {"block-short@CALC:DATA?", "84 bytes where 88 were due", 0},
        {"block-huge@CALC:DATA?", "999999999", 0},
        {"block-letter@CALC:DATA?", "no block head", 0},
        {"block-digits@CALC:DATA?", "no block head", 0},
        {"text-for-block@CALC:DATA?", "a text where a block was due", 0},
        {"other-real@CALC:DATA?", "the other width", 0},
        {"point-fewer@CALC:DATA?", "80 bytes where 88 were due", 0},
        {"point-more@CALC:DATA?", "96 bytes where 88 were due", 0},
        {"point-half@CALC:DATA?", "bytes where 88 were due", 0},
        {"point-double@CALC:DATA?", "bytes where 88 were due", 0},
        {"cut@CALC:DATA?", "not complete within", 0},
        {"cut-gone@CALC:DATA?", "hung up", 0},
        {"echo@CALC:DATA?", "echoes", 0},
        {"noise-before@CALC:DATA?", "a text where a block was due", 0},
        {"noise-after@CALC:DATA?", "behind the terminator", 0},
        {"twice@CALC:DATA?", "behind the terminator", 0},
        {"no-end@CALC:DATA?", "not complete within", 0},
        {"nan-point@CALC:DATA?", NULL, 1},
        {"inf-point@CALC:DATA?", NULL, 1},
        {"minus-inf-point@CALC:DATA?", NULL, 1},
        {"ieee-nan@CALC:DATA?", NULL, 1},
        {"ieee-inf@CALC:DATA?", NULL, 1},
    };

    (void)state;
    check_traces(rows, sizeof rows / sizeof *rows, NULL, NULL);
}

/* Reason: rows 27 to 33 for numbers as text. */
static void lists(void **state)
{
    static const char *const from[] = {"REAL,32", "encoding=\"real32\" byte-order=\"big\"", NULL};
    static const char *const to[] = {"ASC", "encoding=\"ascii\""};
    static const struct trace rows[] = {
        {"", NULL, 0},
        {"empty-field@CALC:DATA?", "", 0},
        {"trailing-comma@CALC:DATA?", "", 0},
        {"decimal-comma@CALC:DATA?", "", 0},
        {"two-points@CALC:DATA?", "1.2.3", 0},
        {"hex@CALC:DATA?", "0x1p-3", 0},
        {"blank-separated@CALC:DATA?", "", 0},
        {"line-separated@CALC:DATA?", "", 0},
        {"point-fewer@CALC:DATA?", "", 0},
        {"point-more@CALC:DATA?", "", 0},
        {"point-half@CALC:DATA?", "", 0},
        {"point-double@CALC:DATA?", "", 0},
        {"word-nan@CALC:DATA?", NULL, 1},
        {"word-inf@CALC:DATA?", NULL, 1},
        {"dashes@CALC:DATA?", NULL, 1},
        {"nan-point@CALC:DATA?", NULL, 1},
        {"echo@CALC:DATA?", "echoes", 0},
    };

    (void)state;
    check_traces(rows, sizeof rows / sizeof *rows, from, to);
}

/* Reason: row 25: swapped reals pass the exchange, which counts only; the caller's look at the
 * numbers is what stops them, so it must. The axis shows them too. */
static void swapped(void **state)
{
    double re[POINTS], im[POINTS], both[2 * POINTS];
    struct step_result result = {.n = POINTS, .re = re, .im = im};
    struct profile_values values;
    struct error e = {0};
    struct served s;

    (void)state;
    served_analyser(&s, "swapped@DATA?");
    sweep(&s, &values);
    served_check(&s, STEP_READ_TRACE, &values, &result, NULL, "swapped");
    for (size_t p = 0; p < POINTS; p++) {
        both[2 * p] = re[p];
        both[2 * p + 1] = im[p];
    }
    assert_false(reply_is_plausible(both, POINTS, &e));
    served_check(&s, STEP_READ_AXIS, &values, &result, NULL, "swapped");
    assert_true(fabs(re[0] - 160e6) > 1 || fabs(re[POINTS - 1] - 178e6) > 1);
    served_end(&s);
}

/* Reason: which part goes where, in every layout; the values dropped in front; the scale, without
 * which degrees of another unit would be numbers, too. */
static void layouts(void **state)
{
    static const struct {
        enum profile_layout layout;
        enum profile_answer answer;
        const char *bytes;
        double re[2], im[2];
    } rows[] = {
        {LAYOUT_INTERLEAVED, ANSWER_TRACE, "name,1,2,3,4\n", {10, 30}, {20, 40}},
        {LAYOUT_SPLIT, ANSWER_TRACE, "name,1,2,3,4\n", {10, 20}, {30, 40}},
        {LAYOUT_REAL_ONLY, ANSWER_TRACE, "name,1,2\n", {10, 20}, {-1, -1}},
        {LAYOUT_IMAGINARY_ONLY, ANSWER_TRACE, "name,1,2\n", {-1, -1}, {10, 20}},
        {LAYOUT_SPLIT, ANSWER_AXIS, "name,1,2\n", {10, 20}, {-1, -1}},
        {LAYOUT_IMAGINARY_ONLY, ANSWER_AXIS, "name,1,2\n", {10, 20}, {-1, -1}},
    };

    (void)state;
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        const struct profile_action action = {
            .answer = rows[k].answer, .layout = rows[k].layout, .scale = 10, .format.skip = 1};
        double re[2] = {-1, -1}, im[2] = {-1, -1};
        struct step_result result = {.n = 2, .re = re, .im = im};
        struct instrument i = {0};
        struct error e = {0};

        text_add(&i.reply, rows[k].bytes);
        assert_done(answer_take_list(&i, &action, &result, &e), &e);
        assert_memory_equal(re, rows[k].re, sizeof re);
        assert_memory_equal(im, rows[k].im, sizeof im);
        assert_int_equal(result.has_re, re[0] > 0);
        assert_int_equal(result.has_im, im[0] > 0);
        text_clear(&i.reply);
    }
}

/* Reason: without memory nothing is kept, and the answer was read: questions stay in step. */
static void no_memory(void **state)
{
    const struct profile_action action = {.answer = ANSWER_AXIS, .scale = 1};
    double re[1] = {-1};
    struct step_result result = {.n = 1, .re = re};
    struct instrument i = {0};
    struct error e = {0};

    (void)state;
    text_add(&i.reply, "1\n");
    memory_fail_at(1);
    assert_false(answer_take_list(&i, &action, &result, &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_false(i.is_out_of_step);
    assert_true(re[0] == -1 && !result.has_re);
    text_clear(&i.reply);
}

/* Reason: a list that takes longer on a slow line than the profile's time for an answer is still
 * read, on a real terminal line. */
static void slow_line(void **state)
{
    static const char *const from[] = {"REAL,32", "encoding=\"real32\" byte-order=\"big\"", NULL};
    static const char *const to[] = {"ASC", "encoding=\"ascii\""};
    double re[POINTS] = {0}, im[POINTS] = {0};
    struct step_result result = {.n = POINTS, .re = re, .im = im};
    const struct emulator_settings settings = {.seed = 1};
    struct profile_values values;
    struct served s = {0};
    struct error e = {0};
    char port[128];
    double begin_s;
    int ends[2];

    (void)state;
    served_profile(&s.profile, "docs/profiles/analyser.xml", from, to);
    s.profile.timeout_s = 0.15;
    emulator_start(&s.bench, &settings);
    plug(&s.bench, "KW000101");
    s.server.bench = &s.bench;
    assert_done(emulator_server_pty(&s.server, &s.bench.analyser, &e), &e);
    s.server.ports[0].bytes_per_s = 480;
    assert_int_equal(pipe(ends), 0);
    s.server.stop = ends[0];
    s.server.has_stop = true;
    (void)snprintf(port, sizeof port, "%s?baud=4800", s.server.ports[0].where);
    assert_int_equal(pthread_create(&s.thread, NULL, served_run, &s), 0);
    s.runs = true;
    assert_done(instrument_open(&s.at, &s.profile, port, &e), &e);
    sweep(&s, &values);
    begin_s = peer_now_s();
    assert_done(instrument_step(&s.at, STEP_READ_TRACE, &values, &result, &e), &e);
    assert_true(peer_now_s() - begin_s > 2 * s.profile.timeout_s);
    assert_true(result.has_re && result.has_im && re[0] != 0);
    (void)close(ends[1]);
    served_end(&s);
    (void)close(ends[0]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(blocks),    cmocka_unit_test(lists),
                                       cmocka_unit_test(swapped),   cmocka_unit_test(layouts),
                                       cmocka_unit_test(no_memory), cmocka_unit_test(slow_line)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
