/* The way back into step. */
#include "drivers/instrument.h"

#include "tests/peer.h"
#include "tests/player.h"
#include "tests/served.h"

/* Reason: row 2: an answer that comes when nobody waits any more is never that of the next
 * question, wherever it comes on the way back; every byte of that way; a restart is noticed. */
static void dialogue(void **state)
{
    struct step_result result = {0};
    struct error e = {0};
    struct player p;

    (void)state;
    player_start(&p, "tests/data/dialogues/resync.txt", NULL);
    assert_done(instrument_step(&p.at, STEP_IDENTIFY, NULL, NULL, &e), &e);
    assert_false(instrument_step(&p.at, STEP_READ_VOLTAGE, NULL, &result, &e));
    assert_true(p.at.is_out_of_step);
    e = (struct error){0};
    assert_false(p.at.has_restarted);
    player_check(&p, instrument_resync(&p.at, &e), &e);
    assert_false(p.at.is_out_of_step);
    assert_true(p.at.has_restarted);
    assert_done(instrument_step(&p.at, STEP_READ_CURRENT, NULL, &result, &e), &e);
    assert_close(result.number, 0.012, 1e-12);
    player_end(&p);
}

/* Reason: one that echoes finds its way back too: what it repeats is no answer. */
static void echoes(void **state)
{
    struct error e = {0};
    struct player p;

    (void)state;
    player_start(&p, "tests/data/dialogues/resync-echo.txt", PROFILE_SUPPLY_FILE);
    player_check(&p, instrument_resync(&p.at, &e), &e);
    assert_false(p.at.is_out_of_step);
    player_end(&p);
}

/* An instrument that is always one answer behind: it answers each question with the last one's. */
static void say_last(int far)
{
    char line[64], answer[64] = "0\n";
    size_t n = 0;
    int token = 0;

    while (n + 1 < sizeof line && read(far, &line[n], 1) == 1) {
        if (line[n++] != '\n') continue;
        line[n] = '\0';
        n = 0;
        if (sscanf(line, "*ESE %d", &token) == 1) continue;
        if (!strchr(line, '?')) continue;
        peer_say(far, answer);
        (void)snprintf(answer, sizeof answer, "%d\n", token);
    }
    (void)close(far);
}

/* Reason: an instrument that stays a step behind is never taken for one in step, in bounded time.
 */
static void always_behind(void **state)
{
    struct profile profile = {0};
    struct instrument i = {.profile = &profile, .silence_s = 0.02};
    struct error e = {0};
    double begin_s;
    struct peer peer;
    int far;

    (void)state;
    assert_done(profile_read(&profile, "docs/profiles/supply.xml", &e), &e);
    profile.timeout_s = 0.1;
    i.link = peer_link(PEER_SOCKETS, &far);
    peer_start(&peer, far, say_last);
    begin_s = peer_now_s();
    assert_false(instrument_resync(&i, &e));
    assert_true(i.is_out_of_step);
    assert_true(peer_now_s() - begin_s < 10);
    instrument_close(&i);
    peer_end(&peer);
    profile_clear(&profile);
}

static void say_nothing(int far)
{
    char byte;

    while (read(far, &byte, 1) == 1)
        continue;
    (void)close(far);
}

static void say_for_ever(int far)
{
    struct timeval short_time = {.tv_usec = 1000};
    char byte;

    (void)setsockopt(far, SOL_SOCKET, SO_RCVTIMEO, &short_time, sizeof short_time);
    while (read(far, &byte, 1) != 0)
        peer_say(far, "57\n");
    (void)close(far);
}

/* Reason: rows 3 and 5: one that says nothing, and one that never stops, are errors in bounded
 * time. */
static void no_way_back(void **state)
{
    static void (*const scripts[])(int) = {say_nothing, say_for_ever};
    static const char *const words[] = {"no answer within", "does not stop sending"};

    (void)state;
    for (size_t k = 0; k < 2; k++) {
        struct profile profile = {0};
        struct instrument i = {.profile = &profile,
                               /* Long: under load the one that talks may be held up. */
                               .silence_s = 0.3};
        struct error e = {0};
        double begin_s;
        struct peer peer;
        int far;

        assert_done(profile_read(&profile, "docs/profiles/supply.xml", &e), &e);
        profile.timeout_s = 0.1;
        i.link = peer_link(PEER_SOCKETS, &far);
        peer_start(&peer, far, scripts[k]);
        begin_s = peer_now_s();
        assert_false(instrument_resync(&i, &e));
        assert_holds(e.text, words[k]);
        assert_true(i.is_out_of_step);
        assert_true(peer_now_s() - begin_s < 3.5 + PEER_LATE_S);
        instrument_close(&i);
        peer_end(&peer);
        profile_clear(&profile);
    }
}

/* Reason: row 39: another instrument than before is not measured with, though it is in step. */
static void other_instrument(void **state)
{
    struct error e = {0};
    struct served s;

    (void)state;
    served_supply(&s, "other-serial@*IDN?#2");
    assert_done(instrument_step(&s.at, STEP_IDENTIFY, NULL, NULL, &e), &e);
    assert_false(instrument_resync(&s.at, &e));
    assert_holds(e.text, "another instrument answers");
    assert_false(s.at.is_out_of_step);
    served_end(&s);
}

/* Reason: row 39: a restart shows after *CLS only, and once. */
static void restart(void **state)
{
    struct error e = {0};
    struct served s;

    (void)state;
    served_supply(&s, "power-on@MEAS:VOLT?");
    assert_done(instrument_step(&s.at, STEP_OPEN, NULL, NULL, &e), &e);
    assert_done(instrument_resync(&s.at, &e), &e);
    assert_false(s.at.has_restarted);
    assert_done(instrument_step(&s.at, STEP_READ_VOLTAGE, NULL, NULL, &e), &e);
    assert_done(instrument_resync(&s.at, &e), &e);
    assert_true(s.at.has_restarted);
    assert_done(instrument_resync(&s.at, &e), &e);
    assert_false(s.at.has_restarted);
    served_end(&s);
}

/* Reason: a resync leaves no error in the queue for which the next unit would be blamed, and
 * changes nothing that is set. */
static void leaves_no_trace(void **state)
{
    struct profile_values values = profile_no_values();
    struct step_result result = {0};
    struct error e = {0};
    struct served s;

    (void)state;
    values.value[VALUE_VOLTAGE_V] = 2.4;
    served_supply(&s, "");
    assert_done(instrument_step(&s.at, STEP_SET_VOLTAGE, &values, NULL, &e), &e);
    assert_done(instrument_step(&s.at, STEP_OUTPUT_ON, NULL, NULL, &e), &e);
    assert_done(instrument_resync(&s.at, &e), &e);
    assert_done(instrument_step(&s.at, STEP_CHECK_ERRORS, NULL, NULL, &e), &e);
    assert_done(instrument_step(&s.at, STEP_READ_VOLTAGE, NULL, &result, &e), &e);
    assert_close(result.number, 2.4, 0.05);
    served_stop(&s);
    assert_int_equal(s.bench.supply.event_enable, 0);
    served_end(&s);
}

/* Reason: over TCP the way back is a new connection: an answer that was late on the old one cannot
 * come any more. */
static void over_tcp(void **state)
{
    struct served s = {0};
    struct step_result result = {0};
    struct profile_values values = profile_no_values();
    struct error e = {0};
    int ends[2];

    (void)state;
    served_profile(&s.profile, "docs/profiles/supply.xml", NULL, NULL);
    s.profile.timeout_s = SERVED_TIMEOUT_S;
    {
        const struct emulator_settings settings = {.seed = 1};

        emulator_start(&s.bench, &settings);
        plug(&s.bench, "KW000101");
        arm(&s.bench, "late=0.8@MEAS:VOLT?");
        s.server.bench = &s.bench;
        assert_done(emulator_server_tcp(&s.server, &s.bench.supply, 0, &e), &e);
        assert_int_equal(pipe(ends), 0);
        s.server.stop = ends[0];
        s.server.has_stop = true;
        assert_int_equal(pthread_create(&s.thread, NULL, served_run, &s), 0);
        s.runs = true;
    }
    s.at.silence_s = SERVED_SILENCE_S;
    assert_done(instrument_open(&s.at, &s.profile, s.server.ports[0].where, &e), &e);
    values.value[VALUE_VOLTAGE_V] = 2.4;
    assert_done(instrument_step(&s.at, STEP_SET_VOLTAGE, &values, NULL, &e), &e);
    assert_done(instrument_step(&s.at, STEP_OUTPUT_ON, NULL, NULL, &e), &e);
    assert_false(instrument_step(&s.at, STEP_READ_VOLTAGE, NULL, &result, &e));
    e = (struct error){0};
    assert_done(instrument_resync(&s.at, &e), &e);
    for (int n = 0; n < 20; n++) {
        assert_done(instrument_step(&s.at, STEP_READ_CURRENT, NULL, &result, &e), &e);
        assert_true(result.number < 0.5);
        peer_sleep(0.05);
    }
    (void)close(ends[1]);
    served_stop(&s);
    assert_true(s.bench.s.output);
    (void)close(ends[0]);
    served_end(&s);
}

/* Reason: a closed instrument says so. */
static void closed(void **state)
{
    struct profile profile = {0};
    struct instrument i = {.profile = &profile};
    char label[] = "A label";
    struct error e = {0};

    (void)state;
    profile.label = label;
    assert_false(instrument_resync(&i, &e));
    assert_holds(e.text, "A label: the link is closed");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(dialogue),
                                       cmocka_unit_test(echoes),
                                       cmocka_unit_test(always_behind),
                                       cmocka_unit_test(no_way_back),
                                       cmocka_unit_test(other_instrument),
                                       cmocka_unit_test(restart),
                                       cmocka_unit_test(leaves_no_trace),
                                       cmocka_unit_test(over_tcp),
                                       cmocka_unit_test(closed)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
