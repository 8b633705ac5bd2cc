#include "drivers/supply.h"

#include "tests/bench_served.h"

/* A supply of the demo's bench file over a served bench. */
struct place {
    struct bench_served served;
    struct bench_file file;
    struct supply supply;
    struct bench_log log;
    struct link *fixture;
};

static void begin_with(struct place *p, const char *faults)
{
    struct error e = {0};

    *p = (struct place){0};
    bench_served_start(&p->served, PEER_SOCKETS, faults);
    bench_served_file(&p->file, &p->served);
    p->fixture = peer_open(p->served.ports[BENCH_FIXTURE]);
    p->supply.instrument.silence_s = SERVED_SILENCE_S;
    served_profile(&p->supply.profile, "docs/profiles/supply.xml", NULL, NULL);
    p->supply.profile.timeout_s = SERVED_TIMEOUT_S;
    assert_done(supply_open(&p->supply, &p->file, &e), &e);
    bench_log_listen(&p->log, &p->supply.instrument, 's');
}

static void end(struct place *p)
{
    supply_close(&p->supply);
    link_close(p->fixture);
    bench_served_end(&p->served);
    bench_file_clear(&p->file);
    text_clear(&p->log.words);
}

static void prepare(struct place *p)
{
    struct error e = {0};

    assert_done(supply_identify(&p->supply, &e), &e);
    assert_done(supply_prepare(&p->supply, &e), &e);
}

static void power(struct place *p, double v)
{
    struct error e = {0};

    prepare(p);
    assert_done(supply_on(&p->supply, &e), &e);
    assert_done(supply_to(&p->supply, v, &e), &e);
}

/* The whole life of an output: limits before on, on at 0 V, up by steps, down, off. */
static void test_order(void **state)
{
    static const char *const order[] = {"s OUTP 0\n",
                                        "s *ESE ",
                                        "s OUTP 0\n",
                                        "s *IDN?\n",
                                        "s SYST:ERR?",
                                        "s SOUR:CURR:PROT:TRIP?",
                                        "s SOUR:VOLT:PROT 3.600\n",
                                        "s SOUR:CURR 0.0150\n",
                                        "s SOUR:CURR:PROT:STAT 1\n",
                                        "s SOUR:VOLT 0.000\n",
                                        "s OUTP 1\n",
                                        "s SOUR:VOLT 0.300\n",
                                        "s MEAS:CURR?\n",
                                        "s SOUR:VOLT 0.600\n",
                                        "s SOUR:VOLT 2.400\n",
                                        "s SOUR:VOLT 2.000\n",
                                        "s SOUR:VOLT 0.000\n",
                                        "s OUTP 0\n",
                                        "s MEAS:VOLT?\n",
                                        NULL};
    struct error e = {0};
    struct bench_state now;
    struct place p;

    (void)state;
    begin_with(&p, "");
    assert_int_equal(p.log.words.length, 0); /* opening says nothing */
    assert_false(p.supply.is_off);
    power(&p, 2.4);
    assert_false(p.supply.is_off);
    assert_close(p.supply.reading.v, 2.4, 0.02);
    now = bench_served_state(p.fixture);
    assert_int_equal(now.output, 1);
    assert_close(now.v, 2.4, 1e-9);
    assert_close(p.supply.reading.a, now.a, 1e-4);
    /* 0.3 V at most a step: 2.4 V is eight steps, and 0.4 V down is two; 0 V was set by the safe
     * step and by the preparation. */
    assert_int_equal(bench_log_count(&p.log, "s SOUR:VOLT "), 2 + 8);
    assert_done(supply_to(&p.supply, 2.0, &e), &e);
    assert_int_equal(bench_log_count(&p.log, "s SOUR:VOLT "), 2 + 8 + 2);
    assert_done(supply_to(&p.supply, 0, &e), &e);
    assert_done(supply_off(&p.supply, &e), &e);
    assert_true(p.supply.is_off);
    assert_int_equal(bench_served_state(p.fixture).output, 0);
    bench_log_order(&p.log, order);
    assert_int_equal(bench_log_count(&p.log, "s OUTP 1\n"), 1);
    end(&p);
}

/* A bias that is set already is looked at and not set again. */
static void test_same_bias(void **state)
{
    struct error e = {0};
    unsigned n;
    struct place p;

    (void)state;
    begin_with(&p, "");
    power(&p, 1.8);
    n = bench_log_count(&p.log, "s SOUR:VOLT ");
    assert_done(supply_to(&p.supply, 1.8, &e), &e);
    assert_int_equal(bench_log_count(&p.log, "s SOUR:VOLT "), n);
    p.file.bias.ramp_step_v = 1e-9;
    assert_false(supply_to(&p.supply, 3, &e));
    assert_holds(e.text, "ramp-step");
    assert_int_equal(bench_log_count(&p.log, "s SOUR:VOLT "), n);
    end(&p);
}

/* An output that an earlier run left on is off before the first question. */
static void test_was_on(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    power(&p, 2.4);
    assert_done(supply_identify(&p.supply, &e), &e);
    assert_int_equal(bench_served_state(p.fixture).output, 0);
    assert_true(p.supply.is_off);
    end(&p);
}

/* How a fault of the board or of the readings ends: refused or not, with words, and off after it.
 */
static void refuse(const char *faults, double v, bool refused, const char *words)
{
    struct error e = {0};
    struct place p;
    bool ok;

    begin_with(&p, "");
    prepare(&p);
    bench_served_fault(p.fixture, faults);
    ok = supply_on(&p.supply, &e) && supply_to(&p.supply, v, &e);
    if (ok) print_error("%s: went on\n", faults);
    assert_false(ok);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
    assert_int_equal(p.supply.refused, refused);
    e = (struct error){0};
    assert_done(supply_off(&p.supply, &e), &e);
    assert_int_equal(bench_served_state(p.fixture).output, 0);
    end(&p);
}

static void test_faults(void **state)
{
    (void)state;
    refuse("supply.over-current", 2.4, true, "answered with \"1\"");
    refuse("supply.trip@MEAS:CURR?#3", 2.4, true, "CURR:PROT:TRIP?");
    refuse("supply.constant-current", 2.4, true, "current limit holds the voltage down");
    refuse("supply.voltage-zero", 2.4, true, "set is 300 mV");
    refuse("supply.voltage-sign", 2.4, true, "set is 300 mV");
    refuse("supply.milli", 2.4, true, "");
    refuse("supply.silent@MEAS:CURR?#3", 2.4, false, "");
    refuse("supply.cut@MEAS:VOLT?#4", 2.4, false, "");
    refuse("supply.unit-suffix@MEAS:VOLT?#4", 2.4, false, "");
    refuse("supply.twice@MEAS:VOLT?#2", 2.4, false, "");
    refuse("supply.late=1.2@MEAS:VOLT?#2", 2.4, false, "");
    refuse("supply.noise-after@SOUR:VOLT?#2", 2.4, false, "");
}

/* Without a trip the supply holds the current: at the limit is over it. */
static void test_current_at_limit(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    power(&p, 2.4);
    assert_true(p.supply.reading.a > 1e-3);
    p.file.bias.current_limit_a = p.supply.reading.a * 0.99;
    assert_false(supply_look(&p.supply, &e));
    assert_true(p.supply.refused);
    assert_holds(e.text, "draws too much");
    assert_holds(e.text, "mA");
    /* The next look judges anew. */
    p.file.bias.current_limit_a = 15e-3;
    e = (struct error){0};
    assert_done(supply_look(&p.supply, &e), &e);
    assert_false(p.supply.refused);
    end(&p);
}

/* A latched trip is never cleared by the program. */
static void test_latched_trip(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "supply.trip@SOUR:CURR:PROT:TRIP?");
    assert_done(supply_identify(&p.supply, &e), &e);
    assert_false(supply_prepare(&p.supply, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_int_equal(bench_log_count(&p.log, "CLE"), 0);
    assert_int_equal(bench_log_count(&p.log, "s OUTP 1\n"), 0);
    end(&p);
}

/* No trip voltage in the bench file: none is set. */
static void test_no_voltage_trip(void **state)
{
    struct place p;

    (void)state;
    begin_with(&p, "");
    p.file.bias.voltage_trip_v = NAN;
    prepare(&p);
    assert_int_equal(bench_log_count(&p.log, "s SOUR:VOLT:PROT 3"), 0);
    assert_int_equal(bench_log_count(&p.log, "s SOUR:CURR 0.0150\n"), 1);
    end(&p);
}

/* An output that does not go off, or reads as on, is never called off. */
static void test_not_confirmed_off(void **state)
{
    static const char *const faults[] = {"supply.stays-on", "supply.silent@OUTP?",
                                         "supply.gone-before@OUTP?"};
    struct error e;
    struct place p;

    (void)state;
    for (size_t k = 0; k < sizeof faults / sizeof *faults; k++) {
        begin_with(&p, "");
        power(&p, 2.4);
        bench_served_fault(p.fixture, faults[k]);
        e = (struct error){0};
        assert_false(supply_off(&p.supply, &e));
        assert_int_equal(e.kind, ERROR_BENCH);
        assert_holds(e.text, "NOT CONFIRMED OFF");
        assert_false(p.supply.is_off);
        /* What could be sent was sent. */
        if (k == 1) assert_int_equal(bench_served_state(p.fixture).output, 0);
        end(&p);
    }
}

/* One odd answer on the way to off does not make it unknown: it is asked again. */
static void test_off_after_one_glitch(void **state)
{
    static const char *const faults[] = {"supply.cut@OUTP?#1", "supply.twice@OUTP?#1",
                                         "supply.late=0.4@OUTP?#1", "supply.cut@MEAS:VOLT?#1",
                                         "supply.late=0.4@MEAS:VOLT?#1"};
    struct place p;

    (void)state;
    for (size_t k = 0; k < sizeof faults / sizeof *faults; k++) {
        struct error e = {0};

        begin_with(&p, "");
        power(&p, 0.3);
        bench_served_fault(p.fixture, faults[k]);
        assert_done(supply_off(&p.supply, &e), &e);
        assert_true(p.supply.is_off);
        assert_int_equal(bench_served_state(p.fixture).output, 0);
        end(&p);
    }
}

/* Twice, before anything, and after the link is closed: never a crash, never a wrong "off". */
static void test_off_any_time(void **state)
{
    struct supply never = {0};
    struct error e = {0};
    struct place p;

    (void)state;
    assert_false(supply_off(&never, &e));
    assert_holds(e.text, "NOT CONFIRMED OFF");
    supply_close(&never);
    begin_with(&p, "");
    e = (struct error){0};
    assert_done(supply_off(&p.supply, &e), &e);
    assert_done(supply_off(&p.supply, &e), &e);
    instrument_close(&p.supply.instrument);
    assert_false(supply_off(&p.supply, &e));
    assert_false(p.supply.is_off);
    supply_close(&p.supply);
    supply_close(&p.supply);
    end(&p);
}

/* A port that cannot be opened, a profile of the wrong kind: told, and closing is harmless. */
static void test_open_fails(void **state)
{
    struct bench_file file = {0};
    struct supply s = {0};
    struct error e = {0};

    (void)state;
    bench_served_file(&file, NULL);
    bench_file_port(&file.supply.port, "fd:999");
    assert_false(supply_open(&s, &file, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    e = (struct error){0};
    assert_false(supply_off(&s, &e));
    supply_close(&s);
    bench_file_port(&file.supply.profile, "docs/profiles/analyser.xml");
    e = (struct error){0};
    assert_false(supply_open(&s, &file, &e));
    assert_int_equal(e.kind, ERROR_INPUT);
    assert_holds(e.text, "profile of an analyser");
    e = (struct error){0};
    assert_false(supply_off(&s, &e));
    supply_close(&s);
    bench_file_clear(&file);
}

/* A person at a knob: what was asked in which order, and how it is answered. */
struct hand {
    double asked[8];
    unsigned n;
    double current_ma;
    unsigned fails_at; /* from 1 */
};

static bool ask_hand(void *context, double bias_v, double *current_ma, struct error *e)
{
    struct hand *h = context;

    assert_true(h->n < 8);
    h->asked[h->n++] = bias_v;
    *current_ma = h->current_ma;
    return h->n != h->fails_at || error_set(e, ERROR_STOPPED, "the operator went away");
}

static void begin_manual(struct supply *s, struct bench_file *file, struct hand *h)
{
    struct error e = {0};

    bench_served_file(file, NULL);
    bench_file_port(&file->supply.port, "manual:");
    s->ask = ask_hand;
    s->ask_context = h;
    assert_done(supply_open(s, file, &e), &e);
    assert_true(s->is_manual);
    assert_done(supply_identify(s, &e), &e);
    assert_done(supply_prepare(s, &e), &e);
    assert_done(supply_on(s, &e), &e);
    assert_int_equal(h->n, 0);
}

static void test_manual(void **state)
{
    struct hand h = {.current_ma = 5.5};
    struct bench_file file = {0};
    struct supply s = {0};
    struct error e = {0};

    (void)state;
    begin_manual(&s, &file, &h);
    assert_done(supply_to(&s, 1.8, &e), &e);
    assert_close(s.reading.v, 1.8, 0);
    assert_close(s.reading.a, 5.5e-3, 1e-12);
    h.current_ma = NAN;
    assert_done(supply_to(&s, 2.4, &e), &e);
    assert_true(isnan(s.reading.a));
    assert_done(supply_off(&s, &e), &e);
    assert_true(s.is_off);
    /* Nobody is asked to switch off twice. */
    assert_done(supply_off(&s, &e), &e);
    assert_int_equal(h.n, 3);
    assert_close(h.asked[2], 0, 0);
    supply_close(&s);
    bench_file_clear(&file);
}

/* Who was asked to set a bias and did not confirm may have set it: that is not "off". */
static void test_manual_unconfirmed(void **state)
{
    struct hand h = {.fails_at = 1};
    struct bench_file file = {0};
    struct supply s = {0};
    struct error e = {0};

    (void)state;
    begin_manual(&s, &file, &h);
    assert_false(supply_to(&s, 1.8, &e));
    e = (struct error){0};
    assert_done(supply_off(&s, &e), &e);
    assert_int_equal(h.n, 2);
    assert_close(h.asked[1], 0, 0);
    h.n = 0;
    h.fails_at = 2;
    assert_done(supply_to(&s, 1.8, &e), &e);
    assert_false(supply_off(&s, &e));
    assert_false(s.is_off);
    supply_close(&s);
    bench_file_clear(&file);
}

/* A wish to stop ends the ramp and does not keep the output from being read back as off. */
static struct place stopping;

static bool stop_in_ramp(void)
{
    struct error e = {0};
    bool ok;

    stopping.file.bias.ramp_interval_s = 0.05;
    stopping.file.bias.ramp_step_v = 0.01;
    ok = supply_to(&stopping.supply, 3, &e);
    if (ok || e.kind != ERROR_STOPPED) return false;
    e = (struct error){0};
    return supply_off(&stopping.supply, &e) && stopping.supply.is_off;
}

static void test_stop(void **state)
{
    (void)state;
    begin_with(&stopping, "");
    power(&stopping, 0);
    peer_stop_once(stop_in_ramp);
    assert_int_equal(bench_served_state(stopping.fixture).output, 0);
    end(&stopping);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_same_bias),
        cmocka_unit_test(test_was_on),
        cmocka_unit_test(test_faults),
        cmocka_unit_test(test_current_at_limit),
        cmocka_unit_test(test_latched_trip),
        cmocka_unit_test(test_no_voltage_trip),
        cmocka_unit_test(test_not_confirmed_off),
        cmocka_unit_test(test_off_after_one_glitch),
        cmocka_unit_test(test_off_any_time),
        cmocka_unit_test(test_open_fails),
        cmocka_unit_test(test_manual),
        cmocka_unit_test(test_manual_unconfirmed),
        cmocka_unit_test(test_stop),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
