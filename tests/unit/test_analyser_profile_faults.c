/* Ways to a false PASS through the analyser: an error or a clean retry, never numbers. */
#include "tests/analyser_place.h"

/* A fault while the analyser is made ready is an error, and it is quiet then. */
static void refuse_ready(const char *faults, const char *words)
{
    struct error e = {0};
    struct place p;

    begin_with(&p, "");
    p.file.sweep.power_dbm = -20;
    bench_served_fault(p.fixture, faults);
    if (ready(&p, &e)) {
        print_error("%s: taken\n", faults);
        fail();
    }
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
    assert_int_equal(bench_log_count(&p.log, "a OUTP 1\n"), 0);
    e = (struct error){0};
    (void)p.a.kind->quiet(&p.a, &e);
    assert_true(is_quiet(&p));
    end(&p);
}

/* The reference's list of ways to a false PASS, as far as the settings show them: line by line in
 * its words. */
static void test_false_pass_settings(void **state)
{
    (void)state;
    refuse_ready("analyser.swapped@TRAC", "axis");                   /* swapped bytes */
    refuse_ready("analyser.correction-off@CORR", "SENS:CORR:STAT?"); /* calibration off */
    refuse_ready("analyser.rounds-points@POIN", "POIN?");            /* fewer points than asked */
    refuse_ready("analyser.rounds-hidden@POIN", "");
    refuse_ready("analyser.point-fewer@TRAC", "");
    refuse_ready("analyser.point-double@TRAC", "");
    refuse_ready("analyser.axis-shifted@TRAC", "axis"); /* other span */
    refuse_ready("analyser.axis-falling@TRAC", "axis");
    refuse_ready("analyser.axis-repeated@TRAC", "axis");
    refuse_ready("analyser.axis-mhz@TRAC", "axis");
    refuse_ready("analyser.clips-power@POW", "SOUR:POW?"); /* source level clipped */
    refuse_ready("analyser.other-real@TRAC", "");
    refuse_ready("analyser.error@SENS:FREQ:STAR?", "-310");
    refuse_ready("analyser.errors-for-ever@SENS:FREQ:STAR?", "queue");
    refuse_ready("analyser.unit-suffix@SOUR:POW?", "");
}

/* The sweep in `p` is the last one that ran, and no other. */
static void assert_last(struct place *p)
{
    assert_int_equal(p->sweep.n_points, POINTS);
    for (size_t k = 0; k < POINTS; k++)
        for (unsigned s = 0; s < S_PARAMETERS; s++)
            assert_close(cabs(sweep_s(&p->sweep, k, (enum s_parameter)s) -
                              sweep_s(&p->served.bench.a.last, k, (enum s_parameter)s)),
                         0, 1e-6);
}

/* A fault during the second sweep: an error and no numbers; off after it. */
static void meet(struct place *p, const char *faults, const char *words)
{
    struct error e = {0};

    begin_with(p, "");
    make_ready(p);
    assert_done(measure(p, &e), &e);
    bench_served_fault(p->fixture, faults);
    if (measure(p, &e)) {
        print_error("%s: taken\n", faults);
        fail();
    }
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
    assert_int_equal(p->sweep.n_points, 0);
}

static void refuse(const char *faults, const char *words)
{
    struct error e = {0};
    struct place p;

    meet(&p, faults, words);
    (void)!p.a.kind->quiet(&p.a, &e);
    assert_true(is_quiet(&p));
    end(&p);
}

/* The same where only an exchange went wrong: off, arranged again, it gives a sweep of its own. */
static void retry(const char *faults)
{
    struct error e = {0};
    unsigned long before;
    struct place p;

    meet(&p, faults, "");
    assert_true(p.a.instrument.is_out_of_step);
    assert_done(p.a.kind->quiet(&p.a, &e), &e);
    assert_true(is_quiet(&p));
    assert_done(p.a.kind->arrange(&p.a, &e), &e);
    before = bench_served_state(p.fixture).n_sweeps;
    assert_done(measure(&p, &e), &e);
    assert_int_equal(bench_served_state(p.fixture).n_sweeps, before + 1);
    bench_served_stop(&p.served);
    assert_last(&p);
    end(&p);
}

static void test_false_pass_traces(void **state)
{
    (void)state;
    refuse("analyser.swapped@CALC", "byte order");              /* looks like a perfect match */
    refuse("analyser.frozen@INIT", "the same to the last bit"); /* old trace read again */
    refuse("analyser.opc-zero@OPC", "*OPC?");                   /* not done, and says so */
    refuse("analyser.nan-point@CALC", "marked as no number");   /* 9.91E37 */
    refuse("analyser.inf-point@CALC", "marked as no number");
    refuse("analyser.minus-inf-point@CALC", "marked as no number");
    refuse("analyser.ieee-nan@CALC", "marked as no number");
    refuse("analyser.ieee-inf@CALC", "marked as no number");
    refuse("analyser.correction-off@CORR", "SENS:CORR:STAT?");
    refuse("analyser.zeros@CALC", "zero at every point");
    refuse("analyser.constant@CALC", "same value");
    refuse("analyser.tiny@CALC", "");
    refuse("analyser.point-fewer@CALC", "");
    refuse("analyser.point-more@CALC", "");
    refuse("analyser.point-half@CALC", "");
    refuse("analyser.point-double@CALC", "");
    refuse("analyser.other-real@CALC", "");
    refuse("analyser.block-huge@CALC", "");
    refuse("analyser.block-letter@CALC", "");
    refuse("analyser.text-for-block@CALC", "");
    refuse("analyser.error@CALC", "-310"); /* the queue tells of a sweep that went wrong */
}

/* What goes wrong once is tried again from the sweep on. */
static void test_clean_retry(void **state)
{
    (void)state;
    retry("analyser.cut@CALC#2");
    retry("analyser.late=0.8@CALC#1"); /* answer of another query */
    retry("analyser.twice@CALC#2");
    retry("analyser.noise-before@CALC#1");
    retry("analyser.block-short@CALC#1");
    retry("analyser.point-fewer@CALC#3");
}

/* A sweep that is still running when *OPC? lies gives old numbers: -230 tells. */
static void test_opc_at_once(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    p.file.sweep.ifbw_hz = 200; /* a quarter of a second */
    make_ready(&p);
    bench_served_stop(&p.served);
    p.served.bench.settings.takes_time = true;
    arm(&p.served.bench, "analyser.opc-at-once");
    bench_served_go_on(&p.served);
    assert_false(measure(&p, &e));
    assert_int_equal(p.sweep.n_points, 0);
    end(&p);
}

/* An overload that the profile asks for makes the sweep void. */
static void test_overload(void **state)
{
    static const char *const from[] = {"<step name=\"check-errors\">", NULL};
    static const char *const to[] = {
        "<step name=\"check-level\"><ask text=\"STAT:QUES:COND?\"><number equals=\"0\"/></ask>"
        "</step>\n<step name=\"check-errors\" >",
        NULL};
    struct error e = {0};
    struct place p;

    (void)state;
    begin_as(&p, "", from, to);
    make_ready(&p);
    assert_done(measure(&p, &e), &e);
    bench_served_fault(p.fixture, "analyser.overload@COND");
    assert_false(measure(&p, &e));
    assert_holds(e.text, "STAT:QUES:COND?");
    assert_int_equal(p.sweep.n_points, 0);
    end(&p);
}

/* One parameter that stands still while the others move is an old trace, too. */
static void test_one_parameter_frozen(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    make_ready(&p);
    assert_done(measure(&p, &e), &e);
    /* As if the next sweep brought the same S21. */
    bench_served_stop(&p.served);
    arm(&p.served.bench, "analyser.frozen");
    for (size_t k = 0; k < POINTS; k++)
        for (unsigned s = 0; s < S_PARAMETERS; s++)
            if (s != S21) p.served.bench.a.last.s[S_PARAMETERS * k + s] += 1e-3;
    bench_served_go_on(&p.served);
    assert_false(measure(&p, &e));
    assert_holds(e.text, "the same to the last bit");
    end(&p);
}

/* An instrument that leaves out the choice of a parameter gives one trace for all: S11 would pass
 * as S22. */
static void test_one_trace_for_all(void **state)
{
    static const char *const from[] = {"<ask text=\"CALC:DATA?\">", NULL};
    static const char *const to[] = {
        "<send text=\"SENS:FUNC &quot;XFR:POW:S11&quot;\"/><ask text=\"CALC:DATA?\" >", NULL};
    struct error e = {0};
    struct place p;

    (void)state;
    begin_as(&p, "", from, to);
    make_ready(&p);
    assert_false(measure(&p, &e));
    assert_holds(e.text, "the trace of S11 once more");
    assert_int_equal(p.sweep.n_points, 0);
    end(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_false_pass_settings),
        cmocka_unit_test(test_false_pass_traces),
        cmocka_unit_test(test_clean_retry),
        cmocka_unit_test(test_opc_at_once),
        cmocka_unit_test(test_overload),
        cmocka_unit_test(test_one_parameter_frozen),
        cmocka_unit_test(test_one_trace_for_all),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
