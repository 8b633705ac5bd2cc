/* The sequence of one unit, and how it ends; opening is in test_bench_open.c. */
#include <signal.h>
#include <sys/wait.h>

#include "tests/bench_place.h"

/* One unit: everything in its order, and off. */
static void test_sequence(void **state)
{
    static const char *const order[] = {"s SOUR:CURR:PROT:TRIP?\n",
                                        "s SOUR:VOLT:PROT 3.600\n",
                                        "s SOUR:CURR 0.0150\n",
                                        "s SOUR:CURR:PROT:STAT 1\n",
                                        "s SOUR:VOLT 0.000\n",
                                        "s OUTP 1\n",
                                        "s MEAS:CURR?\n",
                                        "s SOUR:VOLT 0.300\n",
                                        "s MEAS:VOLT?\n",
                                        "s MEAS:CURR?\n",
                                        "s SOUR:CURR:PROT:TRIP?\n",
                                        "s SOUR:VOLT 1.800\n",
                                        "s MEAS:CURR?\n",
                                        "a OUTP 1\n",
                                        "a INIT\n",
                                        "a CALC:DATA?\n",
                                        "a OUTP 0\n",
                                        "s MEAS:CURR?\n",
                                        "s SOUR:VOLT 2.100\n",
                                        "a OUTP 1\n",
                                        "a OUTP 0\n",
                                        "s SOUR:VOLT 3.000\n",
                                        "a OUTP 1\n",
                                        "a INIT\n",
                                        "a OUTP 0\n",
                                        "s SOUR:VOLT 2.700\n",
                                        "s SOUR:VOLT 0.000\n",
                                        "a OUTP 0\n",
                                        "s OUTP 0\n",
                                        "s OUTP?\n",
                                        "s MEAS:VOLT?\n",
                                        NULL};
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    assert_true(p.bench.is_open);
    assert_all_off(&p);
    assert_holds(text_words(&p.bench.identity), "emulated analyser");
    assert_holds(text_words(&p.bench.identity), "; gainsieve,emulated supply");
    assert_true(isnan(p.bench.step_s));
    assert_done(measure(&p, "KW000101", &e), &e);
    bench_log_order(&p.log, order);
    assert_int_equal(bench_log_count(&p.log, "s OUTP 1\n"), 1);
    assert_int_equal(bench_log_count(&p.log, "a OUTP 1\n"), 5);
    assert_all_off(&p);
    assert_true(p.bench.step_s > 0);
    assert_false(p.bench.board_refused);
    end(&p);
}

/* What a unit's measurement holds: a sweep for each bias, with what was read back. */
static void test_measured(void **state)
{
    struct error e = {0};
    unsigned n_exact = 0;
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    assert_done(measure(&p, "KW000101", &e), &e);
    assert_string_equal(p.measured.serial, "KW000101");
    assert_int_equal(p.measured.n_biases, 5);
    for (size_t k = 0; k < 5; k++) {
        const struct bias_sweep *bias = &p.measured.biases[k];

        assert_close(bias->bias_v, p.limits.biases[k].at_v, 0.005);
        n_exact += bias->bias_v == p.limits.biases[k].at_v;
        assert_true(bias->bias_current_ma > 0.5 && bias->bias_current_ma < 15);
        assert_int_equal(bias->sweep.n_points, 51);
        assert_int_equal(bias->missing.length, 0);
        assert_holds(text_words(&bias->source), "fd:");
    }
    assert_true(n_exact < 5); /* as read, with the meter's noise */
    /* The next board, and the first one again. */
    assert_done(measure(&p, "KW000103", &e), &e);
    assert_int_equal(p.measured.n_biases, 5);
    assert_done(measure(&p, "KW000101", &e), &e);
    end(&p);
}

/* What is told while a unit is measured. */
struct told {
    unsigned n, n_sweeps;
    size_t n_done, n_steps;
    char last[128];
};

static void tell(void *context, const struct bench_doing *doing)
{
    struct told *told = context;

    told->n++;
    assert_true(doing->n_done >= told->n_done);
    told->n_done = doing->n_done;
    told->n_steps = doing->n_steps;
    if (strstr(doing->words, ": sweep")) told->n_sweeps++;
    (void)snprintf(told->last, sizeof told->last, "%s", doing->words);
}

static void test_tells(void **state)
{
    struct told told = {0};
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    p.bench.watcher = (struct bench_watcher){.tell = tell, .context = &told};
    open_bench(&p);
    assert_done(measure(&p, "KW000101", &e), &e);
    assert_int_equal(told.n_sweeps, 5);
    assert_int_equal(told.n_done, 4);
    assert_int_equal(told.n_steps, 5);
    assert_string_equal(told.last, "bias high, 3 V: sweep");
    end(&p);
}

/* Too much current at the third step (KW000110 draws 10.97 mA at 3 V, by the board model; here the
 * limit lies lower): no fault of the bench; what could not be had says why. */
static void test_board_refused(void **state)
{
    struct error e = {0};
    struct place p;
    size_t n_missing = 0;

    (void)state;
    begin_with(&p, "");
    p.file.bias.current_limit_a = 9e-3;
    open_bench(&p);
    assert_done(measure(&p, "KW000110", &e), &e);
    assert_true(p.bench.board_refused);
    assert_all_off(&p);
    assert_int_equal(p.measured.n_biases, 5);
    for (size_t k = 0; k < 5; k++) {
        const struct bias_sweep *bias = &p.measured.biases[k];

        if (bias->missing.length == 0) {
            assert_int_equal(n_missing, 0);
            assert_int_equal(bias->sweep.n_points, 51);
            continue;
        }
        n_missing++;
        assert_int_equal(bias->sweep.n_points, 0);
        assert_close(bias->bias_v, p.limits.biases[k].at_v, 0);
    }
    assert_true(n_missing >= 1 && n_missing < 5);
    /* Tripped: nothing goes on before a person has looked. */
    assert_false(measure(&p, "KW000101", &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_all_off(&p);
    end(&p);
}

/* A board that is short already at 0 V: no step was measured. */
static void test_refused_at_once(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    bench_served_fault(p.bench.fixture.link, "supply.trip@MEAS:VOLT?#1");
    assert_done(measure(&p, "KW000101", &e), &e);
    assert_true(p.bench.board_refused);
    assert_int_equal(p.measured.n_biases, 5);
    for (size_t k = 0; k < 5; k++)
        assert_holds(text_words(&p.measured.biases[k].missing), "PROT:TRIP?");
    assert_all_off(&p);
    assert_int_equal(bench_log_count(&p.log, "a OUTP 1\n"), 0);
    end(&p);
}

/* A trip during the sweep: those numbers are of a board without bias. */
static void test_trip_in_the_sweep(void **state)
{
    struct error e = {0};
    struct place p;
    const struct bias_sweep *bias;

    (void)state;
    begin_with(&p, "");
    /* Off by itself in the second sweep; the meter is read before and after each. */
    p.file.bias.ramp_step_v = 3;
    open_bench(&p);
    /* Read: at 0 V; step low: ramp, before, after; lower-mid: ramp, before, after (the seventh). */
    bench_served_fault(p.bench.fixture.link, "supply.trip@MEAS:VOLT?#7");
    assert_done(measure(&p, "KW000101", &e), &e);
    assert_true(p.bench.board_refused);
    assert_int_equal(p.measured.n_biases, 5);
    bias = &p.measured.biases[1];
    assert_int_equal(bias->sweep.n_points, 0);
    assert_true(bias->missing.length > 0);
    assert_int_equal(p.measured.biases[0].sweep.n_points, 51);
    assert_all_off(&p);
    end(&p);
}

/* The fault in one unit, and how it ends; off whatever it was. */
static void fail_with(const char *fault, bool confirmed, const char *words)
{
    struct error e = {0};
    struct place p;

    begin_with(&p, "");
    open_bench(&p);
    bench_served_fault(p.bench.fixture.link, fault);
    if (measure(&p, "KW000101", &e)) {
        print_error("%s: measured\n", fault);
        fail();
    }
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
    assert_int_equal(p.bench.is_off, confirmed);
    assert_int_equal(look(&p).rf_on, 0);
    if (confirmed)
        assert_all_off(&p);
    else
        assert_holds(e.text, "NOT CONFIRMED OFF");
    end(&p);
}

/* One exchange that goes wrong: off, and the whole test once more, with every step of it. */
static void repeat_after(const char *fault)
{
    struct error e = {0};
    struct place p;

    begin_with(&p, "");
    open_bench(&p);
    bench_served_fault(p.bench.fixture.link, fault);
    assert_done(measure(&p, "KW000101", &e), &e);
    assert_int_equal(p.measured.n_biases, 5);
    for (size_t k = 0; k < 5; k++)
        assert_int_equal(p.measured.biases[k].sweep.n_points, 51);
    assert_in_range(look(&p).n_sweeps, 5, 9);
    assert_all_off(&p);
    end(&p);
}

/* An analyser that is lost while it is arranged for the repetition: what was recalled may have RF
 * on, so that the bench is not called off by what was read before. */
static void test_lost_before_repeating(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    bench_served_fault(p.bench.fixture.link,
                       "analyser.cut@CALC:DATA?#1 analyser.gone-before@SENS:FREQ:STAR?#1");
    assert_false(measure(&p, "KW000101", &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "RF is NOT CONFIRMED OFF");
    assert_false(p.bench.is_off);
    assert_false(p.bench.may_be_on);
    assert_int_equal(look(&p).output, 0);
    end(&p);
}

static void test_repeats(void **state)
{
    (void)state;
    repeat_after("supply.silent@MEAS:CURR?#5");
    repeat_after("supply.cut@SOUR:VOLT?#4");
    repeat_after("analyser.cut@CALC:DATA?#6");
    repeat_after("analyser.silent@*OPC?#2");
}

static void test_faults(void **state)
{
    (void)state;
    fail_with("supply.cut@SOUR:VOLT?", true, "");
    fail_with("analyser.cut@CALC:DATA?", true, "");
    fail_with("supply.error@SOUR:VOLT?#1", true, "-310");
    fail_with("supply.stays-on", false, "");
    fail_with("supply.gone-before@MEAS:VOLT?#5", false, "");
    fail_with("analyser.correction-off@CORR", true, "");
    fail_with("analyser.frozen", true, "last bit");
    fail_with("analyser.nan-point@CALC:DATA?#9", true, "no number");
    fail_with("analyser.swapped@CALC:DATA?#5", true, "byte order");
    fail_with("analyser.error@*OPC?#2", true, "-310");
}

/* A lost analyser: its RF is not known, and the bias is off all the same. */
static void test_lost_analyser(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    bench_served_fault(p.bench.fixture.link, "analyser.gone-before@CALC:DATA?#3");
    assert_false(measure(&p, "KW000101", &e));
    assert_holds(e.text, "RF is NOT CONFIRMED OFF");
    assert_holds(e.text, "before that");
    assert_false(p.bench.is_off);
    assert_int_equal(look(&p).output, 0);
    end(&p);
}

/* An analyser that answers nothing any more: RF is told to go off, then the bias goes off, and only
 * then is the way back to the analyser looked for, which takes seconds. */
static void test_deaf_analyser(void **state)
{
    static const char *const order[] = {"a CALC:DATA?\n", "a OUTP 0\n", "s OUTP 0\n", NULL};
    struct error e = {0};
    const char *off;
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    bench_served_fault(p.bench.fixture.link, "analyser.deaf@CALC:DATA?#1");
    assert_false(measure(&p, "KW000101", &e));
    assert_holds(e.text, "RF is NOT CONFIRMED OFF");
    assert_false(p.bench.is_off);
    assert_false(p.bench.may_be_on);
    assert_int_equal(look(&p).output, 0);
    bench_log_order(&p.log, order);
    off = strstr(text_words(&p.log.words), "s OUTP 0\n");
    assert_non_null(off);
    p.log.words.data[off - p.log.words.data] = '\0';
    assert_int_equal(bench_log_count(&p.log, "a *ESE?\n"), 0); /* nothing is looked for before */
    end(&p);
}

/* A guardian that was killed meanwhile guards nothing: no further board is powered. */
static void test_lost_guardian(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    assert_done(measure(&p, "KW000101", &e), &e);
    assert_int_equal(kill(p.guardian.pid, SIGKILL), 0);
    assert_int_equal(waitpid(p.guardian.pid, NULL, 0), p.guardian.pid);
    assert_false(measure(&p, "KW000101", &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "the guardian");
    assert_int_equal(bench_log_count(&p.log, "s OUTP 1\n"), 1);
    assert_all_off(&p);
    end(&p);
}

/* A board that the fixture does not hold. */
static void test_no_such_board(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    assert_false(measure(&p, "XX1", &e));
    assert_holds(e.text, "holds no board \"XX1\"");
    assert_int_equal(bench_log_count(&p.log, "s OUTP 1\n"), 0);
    assert_all_off(&p);
    end(&p);
}

/* A person sets the bias: RF is off whenever they are asked, and the last thing asked is "off". */
struct hand {
    struct place *place;
    unsigned n, fails_at;
    double last_v;
};

static bool ask(void *context, double bias_v, double *current_ma, struct error *e)
{
    struct hand *h = context;

    assert_int_equal(look(h->place).rf_on, 0);
    h->n++;
    h->last_v = bias_v;
    *current_ma = 4;
    return h->n != h->fails_at || error_set(e, ERROR_STOPPED, "the operator went away");
}

static void test_manual_supply(void **state)
{
    (void)state;
    for (unsigned fails_at = 0; fails_at <= 6; fails_at += 3) {
        struct error e = {0};
        struct place p;
        struct hand h = {.place = &p, .fails_at = fails_at};
        bool ok;

        begin_with(&p, "");
        bench_file_port(&p.file.supply.port, "manual:");
        p.bench.watcher = (struct bench_watcher){.ask = ask, .context = &h};
        assert_done(bench_open(&p.bench, &e), &e);
        assert_holds(text_words(&p.bench.identity), "by hand");
        ok = measure(&p, "KW000101", &e);
        assert_int_equal(ok, fails_at == 0);
        assert_close(h.last_v, 0, 0);
        assert_true(p.bench.is_off);
        if (ok) {
            assert_int_equal(h.n, 6);
            assert_close(p.measured.biases[2].bias_v, 2.4, 0);
            assert_close(p.measured.biases[2].bias_current_ma, 4, 1e-9);
        }
        end(&p);
    }
}

/* Powered too long: off. */
static void test_too_long(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    open_bench(&p);
    p.file.bias.longest_s = 1e-4;
    assert_false(measure(&p, "KW000101", &e));
    assert_holds(e.text, "longest");
    assert_all_off(&p);
    end(&p);
}

/* A wish to stop at any time: off, and read back as off. */
static struct place stopping;

static bool stop_measuring(void)
{
    struct error e = {0};

    return !measure(&stopping, "KW000101", &e) && e.kind == ERROR_STOPPED &&
           stopping.bench.is_off && bench_quiet(&stopping.bench, &e);
}

static void test_stop(void **state)
{
    const struct {
        double interval_s, settling_s;
    } waits[] = {{0.1, 0}, {0, 10}};

    (void)state;
    for (size_t k = 0; k < 2; k++) {
        begin_with(&stopping, "");
        open_bench(&stopping);
        stopping.file.bias.ramp_interval_s = waits[k].interval_s;
        stopping.file.bias.settling_s = waits[k].settling_s;
        peer_stop_once(stop_measuring);
        assert_all_off(&stopping);
        end(&stopping);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sequence),
        cmocka_unit_test(test_measured),
        cmocka_unit_test(test_tells),
        cmocka_unit_test(test_board_refused),
        cmocka_unit_test(test_refused_at_once),
        cmocka_unit_test(test_trip_in_the_sweep),
        cmocka_unit_test(test_lost_before_repeating),
        cmocka_unit_test(test_repeats),
        cmocka_unit_test(test_faults),
        cmocka_unit_test(test_lost_analyser),
        cmocka_unit_test(test_lost_guardian),
        cmocka_unit_test(test_deaf_analyser),
        cmocka_unit_test(test_no_such_board),
        cmocka_unit_test(test_manual_supply),
        cmocka_unit_test(test_too_long),
        cmocka_unit_test(test_stop),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
