/* The fault list of docs/emulator.md one by one, through the shipped profiles. */
#include "drivers/instrument_exchange.h"

#include "drivers/base/memory.h"
#include "tests/peer.h"
#include "tests/served.h"

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

/* Runs the step and looks at the words, and that they name profile, line and port. */
static void check_step(struct served *s, enum profile_step step,
                       const struct profile_values *values, struct step_result *result,
                       const char *words, const char *fault)
{
    struct error e = {0};
    const double begin_s = peer_now_s();
    const bool ok = instrument_step(&s->at, step, values, result, &e);

    if (ok != !words || (words && !strstr(e.text, words)))
        print_error("%s: \"%s\" is not \"%s\"\n", fault, e.text, words ? words : "all well");
    assert_int_equal(ok, !words);
    assert_true(peer_now_s() - begin_s < SERVED_TIMEOUT_S + PEER_LATE_S);
    if (ok) return;
    assert_holds(e.text, words);
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_true(strncmp(e.text, s->profile.path, strlen(s->profile.path)) == 0);
    assert_holds(e.text, ", fd:");
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
    check_step(s, STEP_READ_CURRENT, NULL, &result, NULL, fault);
    assert_true(result.number > 0 && result.number < 0.5);
}

/* Reason: rows 1 to 18, 24, 46, 47 and 58 of the fault list for a line of text, terminator `any`.
 */
static void texts(void **state)
{
    static const struct expected rows[] = {
        {"late=0.1@MEAS:VOLT?", NULL, NULL},
        {"late=0.5@MEAS:VOLT?", "no answer within", DUE},
        {"silent@MEAS:VOLT?", "no answer within", DUE},
        {"bytes=0.001@MEAS:VOLT?", NULL, NULL},
        {"bytes=0.06@MEAS:VOLT?", "not complete within", DUE},
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
        check_step(&s, STEP_READ_VOLTAGE, NULL, &result, rows[k].first, rows[k].fault);
        if (rows[k].first)
            assert_true(isnan(result.number));
        else
            assert_close(result.number, 2.4, 0.05);
        check_step(&s, STEP_READ_CURRENT, NULL, &result, rows[k].next, rows[k].fault);
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
        check_step(&s, STEP_READ_VOLTAGE, NULL, &result, rows[k].words, rows[k].fault);
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
        check_step(&s, STEP_SWEEP, &values, NULL, rows[k].first, rows[k].fault);
        check_step(&s, STEP_CHECK_CORRECTION, NULL, NULL, rows[k].next, rows[k].fault);
        served_end(&s);
    }
}

#define POINTS 11

/* An analyser with a sweep in it. */
static void sweep(struct served *s, struct profile_values *values)
{
    struct error e = {0};

    *values = profile_no_values();
    values->value[VALUE_START_HZ] = 160e6;
    values->value[VALUE_STOP_HZ] = 178e6;
    values->value[VALUE_POINTS] = POINTS;
    values->value[VALUE_IFBW_HZ] = 1000;
    values->value[VALUE_AVERAGES] = 1;
    values->value[VALUE_SWEEP_TIMEOUT_MS] = 1000;
    values->parameter = "S21";
    assert_done(instrument_step(&s->at, STEP_OPEN, values, NULL, &e), &e);
    assert_done(instrument_step(&s->at, STEP_SET_SWEEP, values, NULL, &e), &e);
    assert_done(instrument_step(&s->at, STEP_RF_ON, values, NULL, &e), &e);
    assert_done(instrument_step(&s->at, STEP_SWEEP, values, NULL, &e), &e);
}

struct trace {
    const char *fault, *words;
    size_t n_invalid;
};

static void check_traces(const struct trace *rows, size_t n, const char *const *from,
                         const char *const *to)
{
    for (size_t k = 0; k < n; k++) {
        double re[POINTS] = {0}, im[POINTS] = {0};
        struct step_result result = {.n = POINTS, .re = re, .im = im};
        struct profile_values values;
        struct served s = {0};
        size_t n_nan = 0;

        served_profile(&s.profile, "docs/profiles/analyser.xml", from, to);
        s.profile.timeout_s = SERVED_TIMEOUT_S;
        served_open(&s, rows[k].fault);
        sweep(&s, &values);
        check_step(&s, STEP_READ_TRACE, &values, &result, rows[k].words, rows[k].fault);
        for (size_t p = 0; p < POINTS; p++)
            n_nan += (size_t)isnan(re[p]) + (size_t)isnan(im[p]);
        assert_int_equal(result.n_invalid, rows[k].n_invalid);
        assert_int_equal(n_nan, rows[k].n_invalid);
        assert_int_equal(result.has_re && result.has_im, !rows[k].words);
        if (rows[k].words) {
            struct error e = {0};

            /* Nothing was kept of a list that was not whole. */
            for (size_t p = 0; p < POINTS; p++)
                assert_true(re[p] == 0 && im[p] == 0);
            assert_true(s.at.is_out_of_step);
            if (s.at.link->fault != LINK_GONE) assert_done(instrument_resync(&s.at, &e), &e);
        }
        if (s.at.link->fault != LINK_GONE)
            check_step(&s, STEP_CHECK_CORRECTION, NULL, NULL, NULL, rows[k].fault);
        served_end(&s);
    }
}

/* Reason: rows 16 to 31 for blocks: a block that is not exactly what was asked for is never read.
 */
static void blocks(void **state)
{
    static const struct trace rows[] = {
        {"", NULL, 0},
        {"bytes=0.001@CALC:DATA?", NULL, 0},
        {"block-indefinite@CALC:DATA?", NULL, 0},
        {"crlf@CALC:DATA?", NULL, 0},
        {"block-long@CALC:DATA?", "92 bytes where 88 were due", 0},
        {"block-short@CALC:DATA?", "84 bytes where 88 were due", 0},
        {"block-huge@CALC:DATA?", "999999999", 0},
        {"block-letter@CALC:DATA?", "no block head", 0},
        {"block-digits@CALC:DATA?", "no block head", 0},
        {"text-for-block@CALC:DATA?", "a text where a block was due", 0},
        {"other-real@CALC:DATA?", "the other width", 0},
        {"point-fewer@CALC:DATA?", "80 bytes where 88 were due", 0},
        {"point-more@CALC:DATA?", "96 bytes where 88 were due", 0},
        {"point-half@CALC:DATA?", "bytes where 88 were due", 0},
        {"point-double@CALC:DATA?", "bytes where 88 were due", 0},
        {"cut@CALC:DATA?", "not complete within", 0},
        {"cut-gone@CALC:DATA?", "hung up", 0},
        {"echo@CALC:DATA?", "echoes", 0},
        {"noise-before@CALC:DATA?", "a text where a block was due", 0},
        {"noise-after@CALC:DATA?", "behind the terminator", 0},
        {"twice@CALC:DATA?", "behind the terminator", 0},
        {"no-end@CALC:DATA?", "not complete within", 0},
        {"nan-point@CALC:DATA?", NULL, 1},
        {"inf-point@CALC:DATA?", NULL, 1},
        {"minus-inf-point@CALC:DATA?", NULL, 1},
        {"ieee-nan@CALC:DATA?", NULL, 1},
        {"ieee-inf@CALC:DATA?", NULL, 1},
    };

    (void)state;
    check_traces(rows, sizeof rows / sizeof *rows, NULL, NULL);
}

/* Reason: rows 27 to 33 for numbers as text. */
static void lists(void **state)
{
    static const char *const from[] = {"REAL,32", "encoding=\"real32\" byte-order=\"big\"", NULL};
    static const char *const to[] = {"ASC", "encoding=\"ascii\""};
    static const struct trace rows[] = {
        {"", NULL, 0},
        {"empty-field@CALC:DATA?", "", 0},
        {"trailing-comma@CALC:DATA?", "", 0},
        {"decimal-comma@CALC:DATA?", "", 0},
        {"two-points@CALC:DATA?", "1.2.3", 0},
        {"hex@CALC:DATA?", "0x1p-3", 0},
        {"blank-separated@CALC:DATA?", "", 0},
        {"line-separated@CALC:DATA?", "", 0},
        {"point-fewer@CALC:DATA?", "", 0},
        {"point-more@CALC:DATA?", "", 0},
        {"point-half@CALC:DATA?", "", 0},
        {"point-double@CALC:DATA?", "", 0},
        {"word-nan@CALC:DATA?", NULL, 1},
        {"word-inf@CALC:DATA?", NULL, 1},
        {"dashes@CALC:DATA?", NULL, 1},
        {"nan-point@CALC:DATA?", NULL, 1},
        {"echo@CALC:DATA?", "echoes", 0},
    };

    (void)state;
    check_traces(rows, sizeof rows / sizeof *rows, from, to);
}

/* Reason: row 25: swapped reals pass the exchange, which counts only; the caller's look at the
 * numbers is what stops them, so it must. The axis shows them too. */
static void swapped(void **state)
{
    double re[POINTS], im[POINTS], both[2 * POINTS];
    struct step_result result = {.n = POINTS, .re = re, .im = im};
    struct profile_values values;
    struct error e = {0};
    struct served s;

    (void)state;
    served_analyser(&s, "swapped@DATA?");
    sweep(&s, &values);
    check_step(&s, STEP_READ_TRACE, &values, &result, NULL, "swapped");
    for (size_t p = 0; p < POINTS; p++) {
        both[2 * p] = re[p];
        both[2 * p + 1] = im[p];
    }
    assert_false(reply_is_plausible(both, POINTS, &e));
    check_step(&s, STEP_READ_AXIS, &values, &result, NULL, "swapped");
    assert_true(fabs(re[0] - 160e6) > 1 || fabs(re[POINTS - 1] - 178e6) > 1);
    served_end(&s);
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
    values.value[VALUE_POINTS] = POINTS;
    values.value[VALUE_IFBW_HZ] = 1000;
    values.value[VALUE_AVERAGES] = 1;
    values.value[VALUE_POWER_DBM] = -20;
    served_analyser(&s, "rounds-points clips-power correction-off");
    check_step(&s, STEP_SET_SWEEP, &values, NULL, "must be 11", "rounds-points");
    check_step(&s, STEP_SET_POWER, &values, NULL, "must be -20", "clips-power");
    check_step(&s, STEP_CHECK_CORRECTION, &values, NULL, "must be 1", "correction-off");
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
    check_step(&s, STEP_CHECK_ERRORS, NULL, NULL, NULL, "none");
    assert_int_equal(s.n_sent, 1);
    {
        const struct deadline soon = deadline_in(1);
        struct error e = {0};

        assert_done(exchange_words(&s.at, "ZZZ", soon, &e), &e);
        assert_done(exchange_words(&s.at, "YYY", soon, &e), &e);
    }
    s.n_sent = 0;
    check_step(&s, STEP_CHECK_ERRORS, NULL, NULL, "error -222, \"", "error");
    assert_int_equal(s.n_sent, 5); /* two struck, two unknown words, the end */
    check_step(&s, STEP_CHECK_ERRORS, NULL, NULL, NULL, "emptied");
    served_end(&s);
    served_supply(&s, "errors-for-ever");
    check_step(&s, STEP_CHECK_ERRORS, NULL, NULL, "does not get empty", "errors-for-ever");
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
    check_step(&s, STEP_IDENTIFY, NULL, NULL, "longer than", "long-identity");
    assert_int_equal(s.at.identity.length, 0);
    served_end(&s);
    served_supply(&s, "");
    check_step(&s, STEP_IDENTIFY, NULL, NULL, NULL, "none");
    assert_string_equal(text_words(&s.at.identity), "gainsieve,emulated supply,E00001,1");
    served_end(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts),         cmocka_unit_test(fixed_terminator),
        cmocka_unit_test(late_line_end), cmocka_unit_test(line_end_and_more),
        cmocka_unit_test(complete),      cmocka_unit_test(blocks),
        cmocka_unit_test(lists),         cmocka_unit_test(swapped),
        cmocka_unit_test(not_taken),     cmocka_unit_test(errors),
        cmocka_unit_test(identities)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
