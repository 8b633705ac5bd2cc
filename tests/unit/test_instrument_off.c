/* Switching off: it goes out whatever went wrong before, and is confirmed or not. */
#include "drivers/instrument.h"

#include "tests/player.h"
#include "tests/served.h"

/* Reason: off goes out though an old answer waits, and is confirmed in step. */
static void off_dialogue(void **state)
{
    struct step_result result = {0};
    struct error e = {0};
    struct player p;

    (void)state;
    player_start(&p, "tests/data/dialogues/off.txt", NULL);
    player_check(&p, instrument_step(&p.at, STEP_READ_VOLTAGE, NULL, &result, &e), &e);
    peer_sleep(0.1);
    assert_done(instrument_switch_off(&p.at, STEP_OUTPUT_OFF, NULL, &e), &e);
    assert_false(p.at.is_out_of_step);
    assert_false(p.at.link->ignores_stop);
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

static bool stopped_and_off(void)
{
    struct profile profile = {0};
    struct instrument i = {.profile = &profile, .silence_s = 0.05};
    struct error e = {0}, stopped = {0};
    struct peer peer;
    double begin_s;
    bool ok;
    int far;

    if (!profile_read(&profile, "docs/profiles/supply.xml", &e)) return false;
    profile.gap_s = 0.05;
    i.link = peer_link(PEER_SOCKETS, &far);
    peer_start(&peer, far, say_zero);
    if (!deadline_wait(deadline_in(30))) {
        ok = !instrument_step(&i, STEP_READ_VOLTAGE, NULL, NULL, &stopped) &&
             stopped.kind == ERROR_STOPPED && !i.is_out_of_step;
        ok = instrument_step(&i, STEP_OUTPUT_OFF, NULL, NULL, &e) && ok;
        begin_s = peer_now_s();
        ok = instrument_safe(&i, &e) && ok && !i.link->ignores_stop;
        /* Two messages, and the gap between them. */
        ok = ok && peer_now_s() - begin_s >= profile.gap_s;
    } else {
        ok = false;
    }
    instrument_close(&i);
    peer_end(&peer);
    profile_clear(&profile);
    return ok && strstr(heard, "OUTP 0\nOUTP?\n") && strstr(heard, "OUTP 0\nSOUR:VOLT 0\n");
}

/* Reason: after Ctrl-C everything ends at once but what switches off, its pauses and its reading
 * included. */
static void off_after_stop(void **state)
{
    (void)state;
    (void)peer_stop_once(stopped_and_off);
}

/* Reason: row 54: an output that stays on is not confirmed off, and the exchange says why. */
static void stays_on(void **state)
{
    struct profile_values values = profile_no_values();
    struct error e = {0};
    struct served s;

    (void)state;
    values.value[VALUE_VOLTAGE_V] = 2.4;
    served_supply(&s, "stays-on");
    assert_done(instrument_step(&s.at, STEP_SET_VOLTAGE, &values, NULL, &e), &e);
    assert_done(instrument_step(&s.at, STEP_OUTPUT_ON, NULL, NULL, &e), &e);
    assert_false(instrument_step(&s.at, STEP_OUTPUT_OFF, NULL, NULL, &e));
    assert_holds(e.text, "OUTP? is answered with \"1\" where it must be 0");
    assert_false(s.at.is_out_of_step);
    served_stop(&s);
    assert_true(s.bench.s.output);
    served_end(&s);
}

/* Reason: whatever answer goes wrong while switching off, off arrives, and either it is confirmed
 * or the call fails. */
static void off_arrives(void **state)
{
    static const struct {
        const char *fault;
        bool confirmed;
    } rows[] = {{"late=0.8@OUTP?#2", true}, {"silent@OUTP?#2", true},   {"cut@OUTP?#2", true},
                {"echo@OUTP?#2", true},     {"twice@MEAS:VOLT?", true}, {"nul@OUTP?#2", true},
                {"silent@OUTP?#2+", false}, {"cut-gone@OUTP?#2", false}};

    (void)state;
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        struct profile_values values = profile_no_values();
        struct step_result result = {0};
        struct error e = {0};
        struct served s;
        bool ok;

        values.value[VALUE_VOLTAGE_V] = 2.4;
        served_supply(&s, rows[k].fault);
        assert_done(instrument_step(&s.at, STEP_SET_VOLTAGE, &values, NULL, &e), &e);
        assert_done(instrument_step(&s.at, STEP_OUTPUT_ON, NULL, NULL, &e), &e);
        assert_done(instrument_step(&s.at, STEP_READ_VOLTAGE, NULL, &result, &e), &e);
        assert_close(result.number, 2.4, 0.05);
        ok = instrument_step(&s.at, STEP_OUTPUT_OFF, NULL, NULL, &e);
        if (ok != rows[k].confirmed) print_error("%s: %s\n", rows[k].fault, e.text);
        assert_int_equal(ok, rows[k].confirmed);
        served_stop(&s);
        assert_false(s.bench.s.output);
        served_end(&s);
    }
}

/* Reason: the safe step asks nothing, goes out of step or not, twice, and fails on a dead link with
 * words; a closed one too. */
static void safe(void **state)
{
    struct profile_values values = profile_no_values();
    struct error e = {0};
    struct served s;

    (void)state;
    values.value[VALUE_VOLTAGE_V] = 2.4;
    served_supply(&s, "twice@MEAS:VOLT? gone-after@MEAS:CURR?");
    assert_done(instrument_step(&s.at, STEP_SET_VOLTAGE, &values, NULL, &e), &e);
    assert_done(instrument_step(&s.at, STEP_OUTPUT_ON, NULL, NULL, &e), &e);
    assert_done(instrument_step(&s.at, STEP_READ_VOLTAGE, NULL, NULL, &e), &e);
    assert_false(instrument_step(&s.at, STEP_READ_VOLTAGE, NULL, NULL, &e));
    assert_true(s.at.is_out_of_step);
    e = (struct error){0};
    s.n_sent = 0;
    assert_done(instrument_safe(&s.at, &e), &e);
    assert_done(instrument_safe(&s.at, &e), &e);
    assert_int_equal(s.n_sent, 4);
    assert_string_equal(text_words(&s.last), "SOUR:VOLT 0\n");
    assert_done(instrument_resync(&s.at, &e), &e);
    assert_done(instrument_step(&s.at, STEP_READ_CURRENT, NULL, NULL, &e), &e);
    peer_sleep(0.1);
    assert_false(instrument_safe(&s.at, &e));
    assert_holds(e.text, "hung up");
    assert_holds(e.text, s.profile.path);
    served_stop(&s);
    assert_false(s.bench.s.output);
    e = (struct error){0};
    assert_false(instrument_safe(&s.at, &e));
    assert_holds(e.text, "closed");
    e = (struct error){0};
    assert_false(instrument_step(&s.at, STEP_OUTPUT_OFF, NULL, NULL, &e));
    assert_holds(e.text, "closed");
    served_end(&s);
}

/* Reason: what a message was cut off in is not completed by the off command. */
static void half_sent(void **state)
{
    struct profile profile = {0};
    struct instrument i = {.profile = &profile, .is_half_sent = true, .is_out_of_step = true};
    struct error e = {0};
    char got[64] = {0};
    int far;

    (void)state;
    assert_done(profile_read(&profile, "docs/profiles/supply.xml", &e), &e);
    i.link = peer_link(PEER_SOCKETS, &far);
    assert_done(instrument_safe(&i, &e), &e);
    assert_int_equal(read(far, got, sizeof got - 1), 21);
    assert_string_equal(got, "@\nOUTP 0\nSOUR:VOLT 0\n");
    instrument_close(&i);
    (void)close(far);
    profile_clear(&profile);
}

/* Reason: over TCP a link that is gone is opened once more for the safe step. */
static void safe_reopens(void **state)
{
    struct profile profile = {0};
    struct instrument i = {0};
    struct error e = {0};
    char port[64], got[64] = {0};
    int listener, first, second;

    (void)state;
    assert_done(profile_read(&profile, "docs/profiles/supply.xml", &e), &e);
    listener = peer_listen(port, sizeof port, 4);
    assert_done(instrument_open(&i, &profile, port, &e), &e);
    first = accept(listener, NULL, NULL);
    (void)close(first);
    peer_sleep(0.05);
    assert_false(instrument_step(&i, STEP_READ_VOLTAGE, NULL, NULL, &e));
    assert_int_equal(i.link->fault, LINK_GONE);
    e = (struct error){0};
    assert_done(instrument_safe(&i, &e), &e);
    assert_true(i.is_out_of_step);
    second = accept(listener, NULL, NULL);
    peer_sleep(0.05);
    assert_true(read(second, got, sizeof got - 1) > 0);
    assert_holds(got, "OUTP 0\nSOUR:VOLT 0\n");
    instrument_close(&i);
    (void)close(second);
    (void)close(listener);
    profile_clear(&profile);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(off_dialogue), cmocka_unit_test(off_after_stop),
        cmocka_unit_test(stays_on),     cmocka_unit_test(off_arrives),
        cmocka_unit_test(safe),         cmocka_unit_test(half_sent),
        cmocka_unit_test(safe_reopens)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
