/* Exchanges of lines, through the shipped profiles, with the faults of the emulated bench one by
 * one; lists of numbers: test_instrument_answer.c. */
#include "drivers/instrument_exchange.h"

#include "drivers/base/memory.h"
#include "tests/peer.h"
#include "tests/served.h"
#include "tests/usbtmc_device.h"

/* What is to be seen when an answer goes wrong: in the exchange itself, and in the next one. NULL:
 * all is well. */
struct expected {
    const char *fault, *first, *next;
};

#define LOST "nobody asked for"
#define DUE "out of step after an earlier fault"

static void set_voltage(struct served *s)
{
    struct profile_values values = profile_no_values();
    struct error e = {0};

    values.value[VALUE_VOLTAGE_V] = 2.4;
    values.value[VALUE_CURRENT_A] = 0.5;
    assert_done(instrument_step(&s->at, STEP_SET_LIMIT, &values, NULL, &e), &e);
    assert_done(instrument_step(&s->at, STEP_SET_VOLTAGE, &values, NULL, &e), &e);
    assert_done(instrument_step(&s->at, STEP_OUTPUT_ON, &values, NULL, &e), &e);
}

/* A link that is not gone is brought back into step, and then the reading is that of the current,
 * never the voltage's late one. */
static void check_back(struct served *s, const char *fault)
{
    struct step_result result = {0};
    struct error e = {0};

    if (s->at.link->fault == LINK_GONE) {
        assert_true(s->at.is_out_of_step);
        assert_false(instrument_resync(&s->at, &e));
        assert_true(s->at.is_out_of_step);
        return;
    }
    if (s->at.is_out_of_step) assert_done(instrument_resync(&s->at, &e), &e);
    assert_false(s->at.is_out_of_step);
    served_check(s, STEP_READ_CURRENT, NULL, &result, NULL, fault);
    assert_true(result.number > 0 && result.number < 0.5);
}

/* Reason: rows 1 to 18, 24, 46, 47 and 58 of the fault list for a line of text, terminator `any`.
 */
static void texts(void **state)
{
    static const struct expected rows[] = {
        {"late=0.1@MEAS:VOLT?", NULL, NULL},
        {"late=0.8@MEAS:VOLT?", "no answer within", DUE},
        {"silent@MEAS:VOLT?", "no answer within", DUE},
        {"bytes=0.001@MEAS:VOLT?", NULL, NULL},
        {"bytes=0.1@MEAS:VOLT?", "not complete within", DUE},
        {"twice@MEAS:VOLT?", NULL, LOST},
        {"noise-before@MEAS:VOLT?", "wrong baud rate", DUE},
        {"noise-after@MEAS:VOLT?", NULL, LOST},
        {"crlf@MEAS:VOLT?", NULL, NULL},
        {"cr@MEAS:VOLT?", NULL, NULL},
        {"lf-cr@MEAS:VOLT?", NULL, NULL},
        {"double-lf@MEAS:VOLT?", NULL, NULL},
        {"no-end@MEAS:VOLT?", "(\"+2.4", DUE},
        {"echo@MEAS:VOLT?", "echoes", DUE},
        {"echo-wrong@MEAS:VOLT?", "is not a number", DUE},
        {"prompt@MEAS:VOLT?", NULL, LOST},
        {"nul@MEAS:VOLT?", "\\x00", DUE},
        {"eighth-bit@MEAS:VOLT?", "wrong baud rate", DUE},
        {"cut@MEAS:VOLT?", "then silence", DUE},
        {"cut-gone@MEAS:VOLT?", "hung up", DUE},
        {"gone-before@MEAS:VOLT?", "hung up", DUE},
        {"gone-after@MEAS:VOLT?", NULL, "hung up"},
        {"unit-suffix@MEAS:VOLT?", "is not a number", DUE},
        {"block-for-text@MEAS:VOLT?", "a block where a text was due", DUE},
    };

    (void)state;
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        struct step_result result = {0};
        struct served s;

        served_supply(&s, rows[k].fault);
        set_voltage(&s);
        served_check(&s, STEP_READ_VOLTAGE, NULL, &result, rows[k].first, rows[k].fault);
        if (rows[k].first)
            assert_true(isnan(result.number));
        else
            assert_close(result.number, 2.4, 0.05);
        served_check(&s, STEP_READ_CURRENT, NULL, &result, rows[k].next, rows[k].fault);
        check_back(&s, rows[k].fault);
        served_end(&s);
    }
}

/* Reason: with a fixed terminator another one is an error that names its bytes. */
static void fixed_terminator(void **state)
{
    static const struct {
        const char *fault, *words;
    } rows[] = {{"crlf@VOLT?", "\\x0D\\x0A"},
                {"cr@VOLT?", "\\x0D"},
                {"lf-cr@VOLT?", "\\x0A\\x0D"},
                {"double-lf@VOLT?", "\\x0A\\x0A"}};

    (void)state;
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        struct step_result result = {0};
        struct served s;

        served_supply(&s, rows[k].fault);
        s.profile.answer_terminator = TERMINATOR_LF;
        served_check(&s, STEP_READ_VOLTAGE, NULL, &result, rows[k].words, rows[k].fault);
        served_end(&s);
    }
}

/* Reason: the LF of a CR LF may come a moment after the CR: no loss of step with `any`, a fault
 * with CR; and line ends without end are a fault with `any` too. */
static void late_line_end(void **state)
{
    const struct profile_action ask = {.kind = ACTION_ASK, .answer = ANSWER_NUMBER, .scale = 1};
    struct profile profile = {.timeout_s = 1};
    struct profile_values values = profile_no_values();
    struct profile_action action = ask;
    char text[] = "A?", path[] = "p.xml", end[] = "\n";
    char many[100];

    (void)state;
    action.text = text;
    profile.path = path;
    profile.terminator = end;
    memset(many, '\n', sizeof many);
    for (int k = 0; k < 3; k++) {
        struct instrument i = {.profile = &profile, .silence_s = 0.05};
        struct error e = {0};
        bool ok;
        int far;

        profile.answer_terminator = k == 1 ? TERMINATOR_CR : TERMINATOR_ANY;
        i.link = peer_link(PEER_SOCKETS, &far);
        assert_done(exchange_send(&i, &action, &values, &e), &e);
        peer_say(far, "1\r");
        assert_done(exchange_line(&i, deadline_in(1), &e), &e);
        assert_string_equal(text_words(&i.reply), "1");
        peer_say(far, "\n");
        if (k == 2) peer_say_bytes(far, many, sizeof many);
        ok = exchange_send(&i, &action, &values, &e);
        assert_int_equal(ok, k == 0);
        assert_int_equal(i.is_out_of_step, k != 0);
        if (!ok) assert_holds(e.text, "\\x0A");
        instrument_close(&i);
        (void)close(far);
    }
}

/* Reason: bytes that come with the line end in front are still seen. */
static void line_end_and_more(void **state)
{
    struct profile_action action = {.kind = ACTION_SEND};
    struct profile profile = {.timeout_s = 1};
    struct profile_values values = profile_no_values();
    struct instrument i = {.profile = &profile, .silence_s = 0.05};
    char text[] = "A 1", path[] = "p.xml", end[] = "\n";
    struct error e = {0};
    int far;

    (void)state;
    action.text = text;
    profile.path = path;
    profile.terminator = end;
    i.link = peer_link(PEER_SOCKETS, &far);
    peer_say(far, "\r\n+4.2E-03\n");
    assert_false(exchange_send(&i, &action, &values, &e));
    assert_holds(e.text, "+4.2E-03");
    assert_true(i.is_out_of_step);
    /* Nothing went out, and nothing goes out before a resync. */
    e = (struct error){0};
    assert_false(exchange_send(&i, &action, &values, &e));
    assert_holds(e.text, DUE);
    instrument_close(&i);
    {
        char byte;

        assert_int_equal(read(far, &byte, 1), 0);
    }
    (void)close(far);
}

/* Reason: rows 43 to 45: what *OPC? answers. */
static void complete(void **state)
{
    static const struct expected rows[] = {
        {"opc-plus", NULL, NULL},
        {"opc-decimal", NULL, NULL},
        {"opc-zero", "must be 1", NULL},
        {"opc-never", "no answer within 0.20 s", DUE},
    };
    struct profile_values values = profile_no_values();

    (void)state;
    values.value[VALUE_SWEEP_TIMEOUT_MS] = 200;
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        struct served s;

        served_analyser(&s, rows[k].fault);
        served_check(&s, STEP_SWEEP, &values, NULL, rows[k].first, rows[k].fault);
        served_check(&s, STEP_CHECK_CORRECTION, NULL, NULL, rows[k].next, rows[k].fault);
        served_end(&s);
    }
}

/* Reason: rows 28, 38, 54 and 56: what an instrument did not take, its reading back says; answers
 * stay in step. */
static void not_taken(void **state)
{
    struct profile_values values = profile_no_values();
    struct served s;

    (void)state;
    values.value[VALUE_START_HZ] = 160e6;
    values.value[VALUE_STOP_HZ] = 178e6;
    values.value[VALUE_POINTS] = 11;
    values.value[VALUE_IFBW_HZ] = 1000;
    values.value[VALUE_AVERAGES] = 1;
    values.value[VALUE_POWER_DBM] = -20;
    served_analyser(&s, "rounds-points clips-power correction-off");
    served_check(&s, STEP_SET_SWEEP, &values, NULL, "must be 11", "rounds-points");
    served_check(&s, STEP_SET_POWER, &values, NULL, "must be -20", "clips-power");
    served_check(&s, STEP_CHECK_CORRECTION, &values, NULL, "must be 1", "correction-off");
    assert_false(s.at.is_out_of_step);
    served_end(&s);
}

/* Reason: rows 40 and 41: the first entry is told, the queue is emptied, and one that never gets
 * empty takes 32 questions and no more. */
static void errors(void **state)
{
    struct served s;

    (void)state;
    served_supply(&s, "error=-222@ZZZ error=42@YYY");
    served_check(&s, STEP_CHECK_ERRORS, NULL, NULL, NULL, "none");
    assert_int_equal(s.n_sent, 1);
    {
        const struct deadline soon = deadline_in(1);
        struct error e = {0};

        assert_done(exchange_words(&s.at, "ZZZ", soon, &e), &e);
        assert_done(exchange_words(&s.at, "YYY", soon, &e), &e);
    }
    s.n_sent = 0;
    served_check(&s, STEP_CHECK_ERRORS, NULL, NULL, "error -222, \"", "error");
    assert_int_equal(s.n_sent, 5); /* two struck, two unknown words, the end */
    served_check(&s, STEP_CHECK_ERRORS, NULL, NULL, NULL, "emptied");
    served_end(&s);
    served_supply(&s, "errors-for-ever");
    served_check(&s, STEP_CHECK_ERRORS, NULL, NULL, "does not get empty", "errors-for-ever");
    assert_int_equal(s.n_sent, 32);
    assert_false(s.at.is_out_of_step);
    served_end(&s);
}

/* Reason: row 59: an identity is bounded, and its odd bytes are never taken as text. */
static void identities(void **state)
{
    struct served s;

    (void)state;
    served_supply(&s, "long-identity@1");
    served_check(&s, STEP_IDENTIFY, NULL, NULL, "longer than", "long-identity");
    assert_int_equal(s.at.identity.length, 0);
    served_end(&s);
    served_supply(&s, "");
    served_check(&s, STEP_IDENTIFY, NULL, NULL, NULL, "none");
    assert_string_equal(text_words(&s.at.identity), "gainsieve,emulated supply,E00001,1");
    served_end(&s);
}

/* Says 0 to every message that asks. */
static void say_zero(int far)
{
    char byte;

    while (read(far, &byte, 1) == 1)
        if (byte == '?') peer_say(far, "0\n");
    (void)close(far);
}

/* Reason: a poll that is never answered as it must be ends in the time of its action, in step. */
static void poll_ends(void **state)
{
    struct profile_values values = profile_no_values();
    struct profile profile = {0};
    struct instrument i = {.profile = &profile, .silence_s = 0.05};
    struct profile_action *poll;
    struct error e = {0};
    double begin_s;
    struct peer peer;
    int far;

    (void)state;
    profile_take(&profile, PROFILE_SUPPLY_FILE);
    profile.echo = false;
    profile.answer_terminator = TERMINATOR_LF;
    poll = &profile.steps[STEP_OUTPUT_ON].actions[2];
    poll->timeout_s = 0.3;
    i.link = peer_link(PEER_SOCKETS, &far);
    peer_start(&peer, far, say_zero);
    begin_s = peer_now_s();
    assert_false(exchange_poll(&i, poll, &values, &e));
    assert_holds(e.text, "not ready in the time");
    assert_true(peer_now_s() - begin_s >= 0.3);
    assert_true(peer_now_s() - begin_s < 0.4 + PEER_LATE_S);
    assert_false(i.is_out_of_step);
    instrument_close(&i);
    peer_end(&peer);
    profile_clear(&profile);
}

/* Reason: an answer may take its time on a slow line on top of the profile's, computed from the
 * port's own speed; on links without a speed it may not. */
static void line_time(void **state)
{
    struct link serial = {.kind = &link_serial, .line = {.baud = 9600}};
    struct link tcp = {.kind = &link_tcp, .line = {.baud = 9600}};
    struct instrument i = {.link = &serial};

    (void)state;
    /* 1.5 x 10 bits x 5226 bytes / 9600 (common practice: 10 bits a byte) */
    assert_close(exchange_line_s(&i, 5226), 8.165625, 1e-9);
    i.link = &tcp;
    assert_true(exchange_line_s(&i, 5226) == 0);
}

static bool stopped_while_waiting(void)
{
    struct profile profile = {0};
    struct instrument i = {.profile = &profile};
    struct error e = {0};
    int far;
    bool ok;

    if (!profile_read(&profile, "docs/profiles/supply.xml", &e)) return false;
    profile.timeout_s = 30;
    i.link = peer_link(PEER_SOCKETS, &far);
    ok = !instrument_step(&i, STEP_READ_VOLTAGE, NULL, NULL, &e) && e.kind == ERROR_STOPPED &&
         i.is_out_of_step;
    instrument_close(&i);
    (void)close(far);
    profile_clear(&profile);
    return ok;
}

static bool stopped_in_a_gap(void)
{
    struct profile profile = {0};
    struct instrument i = {.profile = &profile};
    struct error e = {0};
    int far;
    bool ok;

    if (!profile_read(&profile, "docs/profiles/supply.xml", &e)) return false;
    profile.gap_s = 30;
    i.link = peer_link(PEER_SOCKETS, &far);
    ok = !instrument_step(&i, STEP_OPEN, NULL, NULL, &e) && e.kind == ERROR_STOPPED &&
         !i.is_out_of_step;
    instrument_close(&i);
    (void)close(far);
    profile_clear(&profile);
    return ok;
}

/* Reason: Ctrl-C ends a wait at once. With an answer outstanding, the next question would get it;
 * between two messages nothing is outstanding. */
static void stops(void **state)
{
    (void)state;
    peer_stop_within(stopped_while_waiting);
    peer_stop_within(stopped_in_a_gap);
}

/* Reason: a link that tells the end of a message needs no terminator. */
static void message_end(void **state)
{
    struct profile profile = {0};
    struct instrument i = {.profile = &profile};
    struct step_result result = {0};
    struct error e = {0};

    (void)state;
    assert_done(profile_read(&profile, "docs/profiles/supply.xml", &e), &e);
    device_make();
    i.link = must_open();
    device_says(MORE, "2", 1);
    device_says(END, ".4", 2);
    assert_done(instrument_step(&i, STEP_READ_VOLTAGE, NULL, &result, &e), &e);
    assert_close(result.number, 2.4, 1e-12);
    instrument_close(&i);
    device_end();
    profile_clear(&profile);
}

/* Reason: row 47: an instrument that takes nothing any more ends in an error at the deadline, and
 * what was cut off is known. */
static void takes_nothing(void **state)
{
    struct profile profile = {0};
    struct instrument i = {.profile = &profile};
    struct error e = {0};
    const double begin_s = peer_now_s();
    int far, n = 0;

    (void)state;
    assert_done(profile_read(&profile, "docs/profiles/supply.xml", &e), &e);
    profile.timeout_s = 0.2;
    i.link = peer_link(PEER_SOCKETS, &far);
    while (n < 100000 && instrument_step(&i, STEP_OPEN, NULL, NULL, &e))
        n++;
    assert_holds(e.text, "does not take them");
    assert_true(i.is_half_sent && i.is_out_of_step);
    assert_true(peer_now_s() - begin_s < 5);
    instrument_close(&i);
    (void)close(far);
    profile_clear(&profile);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts),         cmocka_unit_test(fixed_terminator),
        cmocka_unit_test(late_line_end), cmocka_unit_test(line_end_and_more),
        cmocka_unit_test(complete),      cmocka_unit_test(not_taken),
        cmocka_unit_test(errors),        cmocka_unit_test(identities),
        cmocka_unit_test(poll_ends),     cmocka_unit_test(line_time),
        cmocka_unit_test(stops),         cmocka_unit_test(message_end),
        cmocka_unit_test(takes_nothing)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
