/* Opening a bench, or not, and the rehearsal. */
#include "tests/bench_place.h"

/* Refused before any byte is sent: the ports do not even exist. */
static void refuse_unopened(struct place *p, const char *words)
{
    struct error e = {0};

    bench_file_port(&p->file.analyser.port, "fd:990");
    bench_file_port(&p->file.supply.port, "fd:991");
    assert_false(bench_open(&p->bench, &e));
    assert_holds(e.text, words);
    assert_false(p->bench.is_open);
    e = (struct error){0};
    assert_false(measure(p, "KW000101", &e));
    assert_holds(e.text, "not open");
    end(p);
}

static void test_refused_before_opening(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    p.file.levels.pad_db = 0;
    refuse_unopened(&p, "oscillating");
    begin_with(&p, "");
    p.file.bias.most_v = 2.5;
    refuse_unopened(&p, "most");
    begin_with(&p, "");
    p.file.correction.done = memory_copy_text("2001-01-01", &e);
    p.file.correction.valid_days = 30;
    refuse_unopened(&p, "days ago");
    begin_with(&p, "");
    p.file.correction.done = memory_copy_text("2999-01-01", &e);
    p.file.correction.valid_days = 30;
    refuse_unopened(&p, "after today");
    begin_with(&p, "");
    refuse_unopened(&p, "fd:99");
}

/* An analyser that is not there, while the supply's output is on since an earlier run. */
static void test_analyser_missing(void **state)
{
    struct error e = {0};
    struct place p;
    struct link *fixture;

    (void)state;
    begin_with(&p, "");
    bench_served_stop(&p.served);
    p.served.bench.s.output = true;
    bench_served_go_on(&p.served);
    bench_file_port(&p.file.analyser.port, "tcp:127.0.0.1:1");
    fixture = peer_open(p.served.ports[BENCH_FIXTURE]);
    bench_file_port(&p.file.fixture, NULL);
    assert_false(bench_open(&p.bench, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, "127.0.0.1:1");
    assert_int_equal(bench_served_state(fixture).output, 0);
    link_close(fixture);
    end(&p);
}

/* The other way round. */
static void test_supply_missing(void **state)
{
    struct error e = {0};
    struct place p;
    struct link *fixture;

    (void)state;
    begin_with(&p, "");
    bench_served_stop(&p.served);
    p.served.bench.a.rf_on = true;
    bench_served_go_on(&p.served);
    bench_file_port(&p.file.supply.port, "tcp:127.0.0.1:1");
    fixture = peer_open(p.served.ports[BENCH_FIXTURE]);
    bench_file_port(&p.file.fixture, NULL);
    assert_false(bench_open(&p.bench, &e));
    assert_holds(e.text, "127.0.0.1:1");
    assert_int_equal(bench_served_state(fixture).rf_on, 0);
    link_close(fixture);
    end(&p);
}

/* An output that stays on at opening: said in capitals. */
static void test_open_not_off(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "supply.stays-on");
    bench_served_stop(&p.served);
    p.served.bench.s.output = true;
    bench_served_go_on(&p.served);
    assert_false(bench_open(&p.bench, &e));
    assert_holds(e.text, "NOT CONFIRMED OFF");
    assert_false(p.bench.is_open);
    assert_false(p.bench.is_off);
    end(&p);
}

/* Without a guardian nothing is opened. */
static void test_no_guardian(void **state)
{
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    guardian_end(&p.guardian, true);
    assert_false(bench_open(&p.bench, &e));
    assert_holds(e.text, "guardian");
    end(&p);
}

/* A rehearsal: every message in the same order, nothing sent, nothing opened. */
static struct text rehearsed;

static void hear(const char *who, const char *bytes, size_t n)
{
    text_addf(&rehearsed, "%c %.*s\n", who[0], (int)n, bytes);
}

static void test_rehearsal(void **state)
{
    static const char *const order[] = {"s OUTP 0\n",
                                        "s *CLS\n",
                                        "s OUTP 0\n",
                                        "s *IDN?\n",
                                        "a OUTP 0\n",
                                        "a *IDN?\n",
                                        "a *RCL 1\n",
                                        "a SENS:FREQ:STAR 150000000\n",
                                        "a SOUR:POW -30.00\n",
                                        "s SOUR:CURR 0.0150\n",
                                        "s OUTP 1\n",
                                        "s SOUR:VOLT 1.800\n",
                                        "a OUTP 1\n",
                                        "a INIT\n",
                                        "a SENS:FUNC \"XFR:POW:S21\"\n",
                                        "a OUTP 0\n",
                                        "s SOUR:VOLT 3.000\n",
                                        "s SOUR:VOLT 0.000\n",
                                        "a OUTP 0\n",
                                        "s OUTP 0\n",
                                        NULL};
    struct error e = {0};
    struct place p;

    (void)state;
    begin_with(&p, "");
    bench_file_port(&p.file.analyser.port, "fd:990");
    bench_file_port(&p.file.supply.port, "fd:991");
    p.bench.heard = hear;
    p.bench.guardian = NULL;
    assert_done(bench_open(&p.bench, &e), &e);
    assert_done(measure(&p, "REHEARSAL", &e), &e);
    p.log.words = rehearsed;
    bench_log_order(&p.log, order);
    assert_int_equal(p.measured.n_biases, 5);
    assert_null(p.bench.fixture.link);
    bench_served_stop(&p.served);
    assert_int_equal(p.served.bench.analyser.faults.n_queries, 0);
    assert_int_equal(p.served.bench.supply.faults.n_queries, 0);
    end(&p);
    rehearsed = (struct text){0};
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_refused_before_opening),
        cmocka_unit_test(test_analyser_missing),
        cmocka_unit_test(test_supply_missing),
        cmocka_unit_test(test_open_not_off),
        cmocka_unit_test(test_no_guardian),
        cmocka_unit_test(test_rehearsal),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
