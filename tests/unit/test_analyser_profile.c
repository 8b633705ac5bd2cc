/* What is said, and when; ways to other numbers are in test_analyser_profile_faults.c. */
#include "tests/analyser_place.h"

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
