#include "drivers/instrument_exchange.h"
#include "tests/bench_served.h"

/* Everything that a rehearsal says, with a bar between messages. */
struct heard {
    struct text words;
    unsigned n_linked;
};

static void hear(void *context, bool sent, const char *bytes, size_t n)
{
    struct heard *h = context;

    assert_true(sent);
    text_add_bytes(&h->words, bytes, n);
    text_add(&h->words, "|");
}

static bool be_linked(void *context, const struct instrument *i, struct error *e)
{
    struct heard *h = context;

    (void)i;
    h->n_linked++;
    return h->n_linked < 2 || error_set(e, ERROR_BENCH, "held by nobody");
}

static void begin(struct instrument *i, struct profile *profile, struct heard *h, const char *path)
{
    struct error e = {0};

    *h = (struct heard){0};
    *i = (struct instrument){
        .rehearses = true, .ear = hear, .ear_context = h, .linked = be_linked, .linked_context = h};
    served_profile(profile, path, NULL, NULL);
    /* The port does not exist: nothing is opened. */
    assert_done(instrument_open(i, profile, "fd:990", &e), &e);
    assert_null(i->link);
    assert_int_equal(h->n_linked, 0);
    assert_int_equal(h->words.length, 0);
}

static void end(struct instrument *i, struct profile *profile, struct heard *h)
{
    instrument_close(i);
    profile_clear(profile);
    text_clear(&h->words);
}

/* Each message with its values filled in, in the order of the profile; every check holds. */
static void test_steps(void **state)
{
    struct profile_values values = profile_no_values();
    struct step_result result = {0};
    struct instrument i;
    struct profile profile;
    struct heard h;
    struct error e = {0};

    (void)state;
    begin(&i, &profile, &h, "docs/profiles/supply.xml");
    values.value[VALUE_VOLTAGE_V] = 2.4;
    assert_done(instrument_step(&i, STEP_SET_VOLTAGE, &values, NULL, &e), &e);
    assert_string_equal(text_words(&h.words), "SOUR:VOLT 2.400|SOUR:VOLT?|");
    text_reset(&h.words);
    assert_done(instrument_step(&i, STEP_READ_VOLTAGE, NULL, &result, &e), &e);
    assert_string_equal(text_words(&h.words), "MEAS:VOLT?|");
    assert_close(result.number, 0, 0);
    text_reset(&h.words);
    assert_done(instrument_step(&i, STEP_CHECK_TRIP, NULL, NULL, &e), &e);
    assert_done(instrument_step(&i, STEP_OUTPUT_OFF, NULL, NULL, &e), &e);
    assert_done(instrument_switch_off(&i, STEP_OUTPUT_OFF, NULL, &e), &e);
    assert_done(instrument_safe(&i, &e), &e);
    assert_done(instrument_resync(&i, &e), &e);
    assert_string_equal(text_words(&h.words),
                        "SOUR:CURR:PROT:TRIP?|SOUR:VOLT:PROT:TRIP?|OUTP 0|OUTP?|OUTP 0|OUTP?|"
                        "OUTP 0|SOUR:VOLT 0|");
    end(&i, &profile, &h);
}

/* A trace: asked for by its name, and no numbers come. A step that the profile lacks says nothing.
 */
static void test_trace(void **state)
{
    struct profile_values values = profile_no_values();
    double re[2] = {7, 7}, im[2] = {7, 7};
    struct step_result result = {.n = 2, .re = re, .im = im};
    struct instrument i;
    struct profile profile;
    struct heard h;
    struct error e = {0};

    (void)state;
    begin(&i, &profile, &h, "docs/profiles/analyser.xml");
    values.parameter = "S21";
    assert_done(instrument_step(&i, STEP_READ_TRACE, &values, &result, &e), &e);
    assert_string_equal(text_words(&h.words), "SENS:FUNC \"XFR:POW:S21\"|CALC:DATA?|");
    assert_true(result.has_re && result.has_im);
    assert_int_equal(result.n_invalid, 0);
    assert_close(re[0] + im[1], 14, 0);
    text_reset(&h.words);
    assert_done(instrument_step(&i, STEP_CHECK_LEVEL, NULL, NULL, &e), &e);
    assert_int_equal(h.words.length, 0);
    end(&i, &profile, &h);
}

/* A value that nobody gave is an error as in the real thing; so is a lack of memory. */
static void test_errors(void **state)
{
    struct profile_values values = profile_no_values();
    struct instrument i;
    struct profile profile;
    struct heard h;
    struct error e = {0};

    (void)state;
    begin(&i, &profile, &h, "docs/profiles/supply.xml");
    assert_false(instrument_step(&i, STEP_SET_VOLTAGE, NULL, NULL, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_int_equal(h.words.length, 0);
    values.value[VALUE_VOLTAGE_V] = 1;
    text_clear(&i.message);
    i.ear = NULL; /* nobody need listen */
    e = (struct error){0};
    memory_fail_at(1);
    assert_false(instrument_step(&i, STEP_SET_VOLTAGE, &values, NULL, &e));
    memory_fail_at(0);
    assert_int_equal(e.kind, ERROR_MEMORY);
    e = (struct error){0};
    assert_done(instrument_step(&i, STEP_SET_VOLTAGE, &values, NULL, &e), &e);
    end(&i, &profile, &h);
}

/* A pause takes no time. */
static void test_pause(void **state)
{
    static const char *const from[] = {"<send text=\"OUTP 1\"/>", NULL};
    struct instrument i;
    struct profile profile;
    struct heard h = {0};
    struct error e = {0};
    double begun_s;

    (void)state;
    begin(&i, &profile, &h, "docs/profiles/supply.xml");
    profile_clear(&profile);
    served_profile(&profile, "docs/profiles/supply.xml", from,
                   (const char *const[]){"<pause time=\"1 s\"/><send text=\"OUTP ON\"/>", NULL});
    begun_s = peer_now_s();
    assert_done(instrument_step(&i, STEP_OUTPUT_ON, NULL, NULL, &e), &e);
    assert_true(peer_now_s() - begun_s < 0.5);
    assert_string_equal(text_words(&h.words), "OUTP ON|OUTP?|");
    end(&i, &profile, &h);
}

/* Who asked to hear of connections is heard; without anybody all is well. */
static void test_linked(void **state)
{
    struct heard h = {0};
    struct instrument i = {.linked = be_linked, .linked_context = &h}, none = {0};
    struct error e = {0};

    (void)state;
    assert_done(exchange_linked(&none, &e), &e);
    assert_done(exchange_linked(&i, &e), &e);
    assert_int_equal(h.n_linked, 1);
    assert_false(exchange_linked(&i, &e));
    assert_holds(e.text, "held by nobody");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_steps), cmocka_unit_test(test_trace),  cmocka_unit_test(test_errors),
        cmocka_unit_test(test_pause), cmocka_unit_test(test_linked),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
