#include "tests/bench_served.h"

#include "drivers/analyser.h"

#define POINTS 51

/* An analyser of the demo's bench file over a served bench. */
struct place {
    struct bench_served served;
    struct bench_file file;
    struct analyser a;
    struct bench_log log;
    struct link *fixture;
    struct sweep sweep;
};

static void begin_as(struct place *p, const char *faults, const char *const *from,
                     const char *const *to)
{
    struct error e = {0};

    *p = (struct place){0};
    bench_served_start(&p->served, PEER_SOCKETS, faults);
    bench_served_file(&p->file, &p->served);
    p->file.sweep.points = POINTS;
    p->fixture = peer_open(p->served.ports[BENCH_FIXTURE]);
    p->a.instrument.silence_s = SERVED_SILENCE_S;
    served_profile(&p->a.profile, "docs/profiles/analyser.xml", from, to);
    p->a.profile.timeout_s = SERVED_TIMEOUT_S;
    assert_done(analyser_open(&p->a, &p->file, S_ALL, &e), &e);
    bench_log_listen(&p->log, &p->a.instrument, 'a');
}

static void begin_with(struct place *p, const char *faults)
{
    begin_as(p, faults, NULL, NULL);
}

static void end(struct place *p)
{
    analyser_close(&p->a);
    link_close(p->fixture);
    bench_served_end(&p->served);
    bench_file_clear(&p->file);
    sweep_clear(&p->sweep);
    text_clear(&p->log.words);
}

static bool ready(struct place *p, struct error *e)
{
    return p->a.kind->identify(&p->a, e) && p->a.kind->arrange(&p->a, e);
}

static void make_ready(struct place *p)
{
    struct error e = {0};

    assert_done(ready(p, &e), &e);
}

static bool measure(struct place *p, struct error *e)
{
    return p->a.kind->measure(&p->a, &p->sweep, e);
}

static bool is_quiet(struct place *p)
{
    return bench_served_state(p->fixture).rf_on == 0;
}

/* Off before the first question; identity kept; settings before the sweep; RF on only for it. */
static void test_order(void **state)
{
    static const char *const order[] = {"a OUTP 0\n",
                                        "a *ESE ",
                                        "a OUTP 0\n",
                                        "a *CLS\n",
                                        "a *IDN?\n",
                                        "a *RCL 1\n",
                                        "a FORM:DATA REAL,32\n",
                                        "a SENS:FREQ:STAR 150000000\n",
                                        "a SENS:SWE:POIN 51\n",
                                        "a SOUR:POW -30.00\n",
                                        "a SENS:CORR:STAT?\n",
                                        "a TRAC:DATA? FREQ\n",
                                        "a SYST:ERR?\n",
                                        "a SENS:CORR:STAT?\n",
                                        "a TRAC:DATA? FREQ\n",
                                        "a OUTP 1\n",
                                        "a ABOR\n",
                                        "a INIT\n",
                                        "a *OPC?\n",
                                        "a SENS:FUNC \"XFR:POW:S11\"\n",
                                        "a CALC:DATA?\n",
                                        "a SENS:FUNC \"XFR:POW:S21\"\n",
                                        "a CALC:DATA?\n",
                                        "a SYST:ERR?\n",
                                        "a OUTP 0\n",
                                        NULL};
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    assert_int_equal(p.log.words.length, 0);
    assert_int_equal(p.a.identity.length, 0);
    make_ready(&p);
    assert_holds(text_words(&p.a.identity), "emulated analyser");
    assert_int_equal(bench_log_count(&p.log, "a OUTP 1\n"), 0);
    assert_int_equal(bench_log_count(&p.log, "a *RST\n"), 0);
    assert_done(measure(&p, &e), &e);
    bench_log_order(&p.log, order);
    assert_int_equal(bench_log_count(&p.log, "a OUTP 1\n"), 1);
    assert_int_equal(bench_log_count(&p.log, "a INIT\n"), 1);
    assert_true(is_quiet(&p));
    assert_int_equal(p.sweep.n_points, POINTS);
    assert_int_equal(p.sweep.n_ports, 2);
    assert_int_equal(p.sweep.measured, S_ALL);
    assert_close(p.sweep.z0_ohm[0], 50, 0);
    assert_close(p.sweep.frequency_hz[0], 150e6, 1e-6);
    assert_close(p.sweep.frequency_hz[POINTS - 1], 190e6, 1e-6);
    /* Each number is the bench's own, in its own place. */
    bench_served_stop(&p.served);
    for (size_t k = 0; k < POINTS; k++)
        for (unsigned s = 0; s < S_PARAMETERS; s++)
            assert_close(cabs(sweep_s(&p.sweep, k, (enum s_parameter)s) -
                              sweep_s(&p.served.bench.a.last, k, (enum s_parameter)s)),
                         0, 1e-6);
    end(&p);
}

/* Only the parameters that were asked for are read; the others are not numbers. */
static void test_parameters(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    p.a.parameters = S_BIT(S21);
    make_ready(&p);
    assert_done(measure(&p, &e), &e);
    assert_int_equal(bench_log_count(&p.log, "a CALC:DATA?\n"), 1);
    assert_true(p.sweep.measured == 1u << S21);
    assert_true(isnan(creal(sweep_s(&p.sweep, 0, S11))));
    assert_true(cabs(sweep_s(&p.sweep, 0, S21)) >= 0);
    end(&p);
}

/* An instrument that sweeps one parameter at a time is told to sweep for each. */
static void test_sweeps_each(void **state)
{
    static const char *const from[] = {"<send text=\"INIT\"/>", NULL};
    static const char *const to[] = {"<send text=\"SENS:FUNC &quot;XFR:POW:{parameter}&quot;\"/>"
                                     "<send text=\"INIT:IMM\"/>",
                                     NULL};
    struct error e = {0};
    struct place p;

    (void)state;
    begin_as(&p, "", from, to);
    make_ready(&p);
    assert_done(measure(&p, &e), &e);
    assert_int_equal(bench_log_count(&p.log, "a INIT:IMM\n"), 4);
    end(&p);
}

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

/* A fault during the second sweep: an error, or a clean retry whose numbers are those of the last
 * sweep that ran; never other numbers. */
static bool survive(const char *faults, const char *words)
{
    struct error e = {0};
    struct place p;
    unsigned long before;
    bool ok;

    begin_with(&p, "");
    make_ready(&p);
    assert_done(measure(&p, &e), &e);
    bench_served_fault(p.fixture, faults);
    before = bench_served_state(p.fixture).n_sweeps;
    ok = measure(&p, &e);
    if (ok) {
        assert_int_equal(p.sweep.n_points, POINTS);
        assert_true(bench_served_state(p.fixture).n_sweeps == before + 2);
    } else {
        assert_int_equal(e.kind, ERROR_BENCH);
        assert_holds(e.text, words);
        assert_int_equal(p.sweep.n_points, 0);
    }
    if (!ok) {
        e = (struct error){0};
        (void)p.a.kind->quiet(&p.a, &e);
    }
    assert_true(is_quiet(&p));
    bench_served_stop(&p.served);
    for (size_t k = 0; ok && k < POINTS; k++)
        for (unsigned s = 0; s < S_PARAMETERS; s++)
            assert_close(cabs(sweep_s(&p.sweep, k, (enum s_parameter)s) -
                              sweep_s(&p.served.bench.a.last, k, (enum s_parameter)s)),
                         0, 1e-6);
    end(&p);
    return ok;
}

static void refuse(const char *faults, const char *words)
{
    if (!survive(faults, words)) return;
    print_error("%s: taken\n", faults);
    fail();
}

static void retry(const char *faults)
{
    if (survive(faults, "")) return;
    print_error("%s: not tried again\n", faults);
    fail();
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
    retry("analyser.late=0.5@CALC#1"); /* answer of another query */
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

/* Another span or number of points set at the panel between two sweeps. */
static void test_changed_at_the_panel(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    make_ready(&p);
    assert_done(measure(&p, &e), &e);
    bench_served_stop(&p.served);
    p.served.bench.analyser.settings[ANALYSER_START] = 100e6;
    bench_served_go_on(&p.served);
    assert_false(measure(&p, &e));
    assert_holds(e.text, "axis");
    assert_int_equal(p.sweep.n_points, 0);
    end(&p);
}

/* It lost its power between two sweeps or in one: what was proven of it is gone, and the batch
 * ends, however well it answers afterwards. */
static void test_restarted(void **state)
{
    struct error e = {0}, other = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    make_ready(&p);
    assert_done(measure(&p, &e), &e);
    bench_served_fault(p.fixture, "analyser.power-on@CALC#2 analyser.cut@CALC#2");
    assert_false(measure(&p, &e));
    assert_holds(e.text, "switched off and on");
    assert_done(p.a.kind->quiet(&p.a, &other), &other);
    e = (struct error){0};
    assert_false(measure(&p, &e));
    assert_holds(e.text, "switched off and on");
    assert_int_equal(p.sweep.n_points, 0);
    end(&p);
}

/* Another instrument at the same port. */
static void test_other_instrument(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    make_ready(&p);
    bench_served_fault(p.fixture, "analyser.other-serial@CALC#1 analyser.cut@CALC#1");
    assert_false(measure(&p, &e));
    assert_int_equal(p.sweep.n_points, 0);
    end(&p);
}

/* A stored set-up may switch RF on: after arranging it is off all the same. */
static void test_recall_switches_on(void **state)
{
    static const char *const from[] = {"<send text=\"*RCL {setup:d}\"/>", NULL};
    static const char *const to[] = {"<send text=\"*RCL {setup:.0f}\"/><send text=\"OUTP 1\"/>",
                                     NULL};
    struct place p;

    (void)state;
    begin_as(&p, "", from, to);
    make_ready(&p);
    assert_int_equal(bench_log_count(&p.log, "a *RCL 1\n"), 1);
    assert_int_equal(bench_log_count(&p.log, "a OUTP 1\n"), 1);
    assert_true(is_quiet(&p));
    end(&p);
}

/* Without a set-up nothing is recalled; without `required` nobody asks for the correction. */
static void test_optional_steps(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    p.file.sweep.setup = NAN;
    p.file.correction.required = false;
    make_ready(&p);
    assert_done(measure(&p, &e), &e);
    assert_int_equal(bench_log_count(&p.log, "a *RCL"), 0);
    assert_int_equal(bench_log_count(&p.log, "a SENS:CORR"), 0);
    end(&p);
}

/* RF that stays on, or nobody there to ask: said in capitals. */
static void test_not_quiet(void **state)
{
    static const char *const faults[] = {"analyser.stays-on", "analyser.gone-before@OUTP?"};

    (void)state;
    for (size_t k = 0; k < 2; k++) {
        struct error e = {0};
        struct place p;

        begin_with(&p, "");
        make_ready(&p);
        bench_served_stop(&p.served);
        p.served.bench.a.rf_on = true;
        arm(&p.served.bench, faults[k]);
        bench_served_go_on(&p.served);
        assert_false(p.a.kind->quiet(&p.a, &e));
        assert_holds(e.text, "NOT CONFIRMED OFF");
        end(&p);
    }
}

/* One odd answer to "is it off" does not make it unknown. */
static void test_quiet_after_glitch(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    make_ready(&p);
    bench_served_fault(p.fixture, "analyser.cut@OUTP?#1");
    assert_done(p.a.kind->quiet(&p.a, &e), &e);
    assert_done(p.a.kind->quiet(&p.a, &e), &e);
    end(&p);
}

/* A profile of a supply; a profile that cannot be read: closing stays harmless. */
static void test_open_fails(void **state)
{
    struct bench_file file = {0};
    struct analyser a = {0};
    struct error e = {0};

    (void)state;
    bench_served_file(&file, NULL);
    bench_file_port(&file.analyser.profile, "docs/profiles/supply.xml");
    assert_false(analyser_open(&a, &file, S_ALL, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    e = (struct error){0};
    assert_false(a.kind->quiet(&a, &e));
    assert_holds(e.text, "NOT CONFIRMED OFF");
    analyser_close(&a);
    bench_file_port(&file.analyser.profile, "docs/profiles/none.xml");
    e = (struct error){0};
    assert_false(analyser_open(&a, &file, S_ALL, &e));
    analyser_close(&a);
    analyser_close(&a);
    bench_file_clear(&file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_parameters),
        cmocka_unit_test(test_sweeps_each),
        cmocka_unit_test(test_false_pass_settings),
        cmocka_unit_test(test_false_pass_traces),
        cmocka_unit_test(test_clean_retry),
        cmocka_unit_test(test_opc_at_once),
        cmocka_unit_test(test_overload),
        cmocka_unit_test(test_one_parameter_frozen),
        cmocka_unit_test(test_changed_at_the_panel),
        cmocka_unit_test(test_restarted),
        cmocka_unit_test(test_other_instrument),
        cmocka_unit_test(test_recall_switches_on),
        cmocka_unit_test(test_optional_steps),
        cmocka_unit_test(test_not_quiet),
        cmocka_unit_test(test_quiet_after_glitch),
        cmocka_unit_test(test_open_fails),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
