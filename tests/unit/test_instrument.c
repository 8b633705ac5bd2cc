/* Steps, and the recorded dialogues, which say what must be sent. Switching off:
 * test_instrument_off.c. */
#include "drivers/instrument.h"

#include "drivers/base/memory.h"
#include "tests/peer.h"
#include "tests/player.h"
#include "tests/served.h"

static void step(struct player *p, enum profile_step which, const struct profile_values *values,
                 struct step_result *result)
{
    struct error e = {0};

    player_check(p, instrument_step(&p->at, which, values, result, &e), &e);
}

/* Reason: every byte of a supply's steps, over a terminal line; answers in other forms, with other
 * ends and in pieces. */
static void supply_dialogue(void **state)
{
    struct profile_values values = profile_no_values();
    struct step_result result = {0};
    struct error e = {0};
    struct player p;

    (void)state;
    values.value[VALUE_TRIP_V] = 3.6;
    values.value[VALUE_CURRENT_A] = 0.05;
    values.value[VALUE_VOLTAGE_V] = 2.4;
    player_start(&p, "tests/data/dialogues/supply.txt", NULL);
    step(&p, STEP_OPEN, NULL, NULL);
    step(&p, STEP_IDENTIFY, NULL, NULL);
    assert_string_equal(text_words(&p.at.identity), "A Maker,Model 7,0,1.2");
    step(&p, STEP_SET_TRIP, &values, NULL);
    step(&p, STEP_SET_LIMIT, &values, NULL);
    step(&p, STEP_SET_VOLTAGE, &values, NULL);
    step(&p, STEP_OUTPUT_ON, NULL, &result);
    assert_true(isnan(result.number)); /* a check is no reading */
    step(&p, STEP_READ_VOLTAGE, NULL, &result);
    assert_close(result.number, 2.398, 1e-12);
    step(&p, STEP_READ_CURRENT, NULL, &result);
    assert_close(result.number, 0.0121, 1e-12);
    step(&p, STEP_CHECK_TRIP, NULL, NULL);
    assert_false(instrument_step(&p.at, STEP_CHECK_ERRORS, NULL, NULL, &e));
    assert_holds(e.text, "error -113, \"Undefined header;VOLTS\"");
    step(&p, STEP_OUTPUT_OFF, NULL, NULL);
    e = (struct error){0};
    assert_done(instrument_safe(&p.at, &e), &e);
    player_end(&p);
}

/* Reason: every byte of an analyser's steps, and the numbers of blocks that were put together by
 * hand; a block in pieces, one of them with a LF in it. */
static void analyser_dialogue(void **state)
{
    struct profile_values values = profile_no_values();
    double re[2], im[2];
    struct step_result result = {.n = 2, .re = re, .im = im};
    struct player p;

    (void)state;
    values.value[VALUE_START_HZ] = 160e6;
    values.value[VALUE_STOP_HZ] = 178e6;
    values.value[VALUE_POINTS] = 2;
    values.value[VALUE_IFBW_HZ] = 1000;
    values.value[VALUE_AVERAGES] = 4;
    values.value[VALUE_POWER_DBM] = -20;
    values.value[VALUE_SWEEP_TIMEOUT_MS] = 2000;
    values.parameter = "S21";
    player_start(&p, "tests/data/dialogues/analyser.txt", NULL);
    step(&p, STEP_SET_SWEEP, &values, NULL);
    step(&p, STEP_SET_POWER, &values, NULL);
    step(&p, STEP_RF_ON, NULL, NULL);
    step(&p, STEP_SWEEP, &values, NULL);
    step(&p, STEP_READ_AXIS, &values, &result);
    assert_true(re[0] == 160e6 && re[1] == 178e6);
    assert_true(result.has_re && !result.has_im);
    step(&p, STEP_READ_TRACE, &values, &result);
    assert_true(re[0] == 1 && im[0] == -0.5 && re[1] == 0.25 && im[1] == 2);
    assert_true(result.has_re && result.has_im && result.n_invalid == 0);
    step(&p, STEP_RF_OFF, NULL, NULL);
    player_end(&p);
}

/* Reason: an instrument that echoes does so for what is sent without a question too; the terminator
 * of an echo is no empty answer; the profile's gap lies between messages; a scaled reading. */
static void echo_dialogue(void **state)
{
    struct profile_values values = profile_no_values();
    struct step_result result = {0};
    double begin_s;
    struct player p;

    (void)state;
    values.value[VALUE_CURRENT_A] = 0.05;
    player_start(&p, "tests/data/dialogues/echo.txt", PROFILE_SUPPLY_FILE);
    begin_s = peer_now_s();
    step(&p, STEP_SET_LIMIT, &values, NULL);
    step(&p, STEP_READ_VOLTAGE, NULL, &result);
    assert_close(result.number, 2.5, 1e-12);
    step(&p, STEP_READ_CURRENT, NULL, &result);
    assert_close(result.number, 0.0125, 1e-12);
    assert_true(peer_now_s() - begin_s >= 2 * 0.02);
    player_end(&p);
}

/* Reason: a player that accepts anything would prove nothing: another message, one too many, and
 * one that does not come are each seen. */
static void player_sees(void **state)
{
    (void)state;
    for (int k = 0; k < 3; k++) {
        struct error e = {0};
        struct player p;
        bool ok;

        player_start(&p, "tests/data/dialogues/echo.txt", PROFILE_SUPPLY_FILE);
        ok = link_send(p.at.link, k == 1 ? "CURR 0.0500\r\n" : "CURR 0.0501\r\n", k == 2 ? 4 : 13,
                       deadline_in(1), &e);
        assert_done(ok, &e);
        if (k == 1) {
            peer_sleep(0.2);
            assert_true(link_has_bytes(p.at.link));
        }
        instrument_close(&p.at);
        assert_int_equal(pthread_join(p.thread, NULL), 0);
        assert_holds(p.wrong, k == 0   ? "another message came: got \"CURR 0.0501\", wanted"
                              : k == 1 ? "nothing came"
                                       : "got \"CURR");
        profile_clear(&p.profile);
    }
}

/* Reason: rows 7, 42, 48: what an instrument says on being opened is dropped while it settles,
 * and is never a reading. What comes later is a loss of step: test_instrument_exchange.c. */
static void opening(void **state)
{
    static const struct {
        const char *fault;
        double settle_s;
        const char *words;
    } rows[] = {{"banner", 0.2, NULL}, {"stale", 0.2, NULL}, {"refuses", 0, "hung up"}};

    (void)state;
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        struct step_result result = {0};
        struct error e = {0};
        struct served s = {0};
        char port[32];
        bool ok;

        served_profile(&s.profile, "docs/profiles/supply.xml", NULL, NULL);
        s.profile.timeout_s = SERVED_TIMEOUT_S;
        s.profile.settle_s = rows[k].settle_s;
        (void)snprintf(port, sizeof port, "fd:%d", served_begin(&s, rows[k].fault));
        assert_done(instrument_open(&s.at, &s.profile, port, &e), &e);
        assert_int_equal(s.n_sent, 0);
        /* A hang-up is there only a moment later. */
        peer_sleep(0.1);
        ok = instrument_step(&s.at, STEP_READ_VOLTAGE, NULL, &result, &e);
        assert_int_equal(ok, !rows[k].words);
        if (!ok) assert_holds(e.text, rows[k].words);
        if (ok) assert_close(result.number, 0, 1e-3);
        served_end(&s);
    }
}

/* Reason: a port that is not there, and a step that the profile does not have. */
static void small(void **state)
{
    struct profile profile = {0};
    struct instrument i = {0};
    struct error e = {0};

    (void)state;
    assert_done(profile_read(&profile, "docs/profiles/supply.xml", &e), &e);
    assert_false(instrument_open(&i, &profile, "fd:999", &e));
    assert_null(i.link);
    instrument_close(&i);
    instrument_close(&i);
    profile_clear(&profile);
    {
        struct served s;

        served_supply(&s, "");
        e = (struct error){0};
        assert_done(instrument_step(&s.at, STEP_SET_SWEEP, NULL, NULL, &e), &e);
        assert_done(instrument_step(&s.at, STEP_CLOSE, NULL, NULL, &e), &e);
        assert_int_equal(s.n_sent, 0);
        /* A value that nobody gave is never sent as something. */
        assert_false(instrument_step(&s.at, STEP_SET_VOLTAGE, NULL, NULL, &e));
        assert_int_equal(s.n_sent, 0);
        assert_false(s.at.is_out_of_step);
        served_end(&s);
    }
}

/* Reason: a poll asks until the masked bits are right, waits between, and ends; the channel of the
 * bench file is in what is sent. */
static void polls(void **state)
{
    struct step_result result = {0};
    struct error e = {0};
    struct player p;

    (void)state;
    player_start(&p, "tests/data/dialogues/poll.txt", PROFILE_SUPPLY_FILE);
    p.profile.echo = false;
    p.at.channel = "2";
    step(&p, STEP_OUTPUT_ON, NULL, &result);
    assert_false(instrument_step(&p.at, STEP_OUTPUT_ON, NULL, NULL, &e));
    assert_holds(e.text, "no register");
    player_end(&p);
}

/* Says 0 to every message that asks, for as long as anybody is there; notes what it heard. */
static char heard[4096];
static void say_zero(int far)
{
    size_t n = 0;
    char byte;

    while (read(far, &byte, 1) == 1 && n + 1 < sizeof heard) {
        heard[n++] = byte;
        heard[n] = '\0';
        if (byte == '?') peer_say(far, "0\n");
    }
    (void)close(far);
}

static bool sequence(struct instrument *i, struct error *e)
{
    struct profile_values values = profile_no_values();

    values.value[VALUE_VOLTAGE_V] = 0;
    return instrument_step(i, STEP_OPEN, NULL, NULL, e) &&
           instrument_step(i, STEP_SET_VOLTAGE, &values, NULL, e) &&
           instrument_step(i, STEP_READ_VOLTAGE, NULL, NULL, e);
}

/* Reason: without memory, at each place where some is needed, a step fails cleanly; the safe step
 * needs none. */
static void no_memory(void **state)
{
    struct profile profile = {0};
    struct error e = {0};
    unsigned long nth = 1;

    (void)state;
    assert_done(profile_read(&profile, "docs/profiles/supply.xml", &e), &e);
    for (bool done = false; !done; nth++) {
        struct instrument i = {.silence_s = 0.05};
        struct peer peer;
        char port[32];
        int ends[2];

        assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
        (void)snprintf(port, sizeof port, "fd:%d", ends[0]);
        peer_start(&peer, ends[1], say_zero);
        e = (struct error){0};
        memory_fail_at(nth);
        done = instrument_open(&i, &profile, port, &e) && sequence(&i, &e);
        memory_fail_at(0);
        if (!done) assert_int_equal(e.kind, ERROR_MEMORY);
        if (i.link) {
            e = (struct error){0};
            memory_fail_at(1);
            assert_done(instrument_safe(&i, &e), &e);
            memory_fail_at(0);
            instrument_close(&i);
        } else if (fcntl(ends[0], F_GETFD) >= 0) {
            (void)close(ends[0]);
        }
        peer_end(&peer);
        assert_true(nth < 100);
    }
    assert_true(nth > 8);
    assert_holds(heard, "MEAS:VOLT?\nOUTP 0\nSOUR:VOLT 0\n");
    profile_clear(&profile);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(supply_dialogue), cmocka_unit_test(analyser_dialogue),
        cmocka_unit_test(echo_dialogue),   cmocka_unit_test(player_sees),
        cmocka_unit_test(opening),         cmocka_unit_test(small),
        cmocka_unit_test(polls),           cmocka_unit_test(no_memory)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
