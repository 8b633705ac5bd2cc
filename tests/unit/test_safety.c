/* The rule before anything is switched on, figure by figure. */
#include "runner/safety.h"

#include "drivers/base/xml.h"
#include "tests/bench_file.h"

#define GAIN "<gain id=\"g\" band=\"working\" max=\"25 dB\"/>"

/* Everything right: P -20 dBm, gain 31 dB, pad 20 dB, saturated 27 dBm, and so on. */
struct parts {
    struct bench_file file;
    struct limits limits;
    struct profile analyser, supply;
};

static void parts_take(struct parts *p)
{
    *p = (struct parts){0};
    bench_take(&p->file, BENCH_FILE);
    fixture_limits(&p->limits, "", GAIN);
    profile_take(&p->analyser, PROFILE_ANALYSER_FILE);
    profile_take(&p->supply, PROFILE_SUPPLY_FILE);
    p->analyser.steps[STEP_RECALL].is_there = true;
    p->analyser.steps[STEP_CHECK_CORRECTION].is_there = true;
    p->supply.steps[STEP_SET_TRIP].is_there = true;
}

static void parts_clear(struct parts *p)
{
    bench_file_clear(&p->file);
    limits_clear(&p->limits);
    profile_clear(&p->analyser);
    profile_clear(&p->supply);
}

static void allow(struct parts *p, struct safety_levels *out)
{
    struct error e = {0};

    assert_done(safety_check(&p->file, &p->limits, &p->analyser, &p->supply, out, &e), &e);
}

/* Must be refused with words, nothing given out; ends the parts. */
static void refuse(struct parts *p, const char *words)
{
    struct safety_levels out = {.damage_dbm = 77};
    struct error e = {0};

    assert_false(safety_check(&p->file, &p->limits, &p->analyser, &p->supply, &out, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
    assert_null(strpbrk(e.text, "\n\r"));
    assert_close(out.damage_dbm, 77, 0);
    parts_clear(p);
}

/* Worked by hand (common practice; invented numbers): -20 dBm + 31 dB - 20 dB = -9 dBm driven, 27
 * dBm - 20 dB = +7 dBm oscillating. */
static void test_worked_example(void **state)
{
    struct safety_levels out = {0};
    struct text words = {0};
    struct parts p;

    (void)state;
    parts_take(&p);
    allow(&p, &out);
    assert_close(out.highest_gain_db, 31, 0);
    assert_false(out.gain_from_limits);
    assert_close(out.driven_dbm, -9, 1e-12);
    assert_close(out.oscillating_dbm, 7, 1e-12);
    assert_close(out.damage_dbm, 19, 0);
    assert_close(out.linear_dbm, -1, 0);
    safety_words(&out, &words);
    assert_string_equal(words.data,
                        "Highest gain assumed: 31 dB, as the bench file states\n"
                        "At the receiver, board driven: -9 dBm (linear up to -1 dBm)\n"
                        "At the receiver, board oscillating: 7 dBm (damage from 19 dBm)\n");
    text_clear(&words);
    parts_clear(&p);
}

/* Without highest-gain: the highest gain limit (25 dB) and 6 dB; common practice. */
static void test_gain_of_limits(void **state)
{
    struct safety_levels out = {0};
    struct text words = {0};
    struct parts p;

    (void)state;
    parts_take(&p);
    p.file.levels.highest_gain_db = NAN;
    limits_clear(&p.limits);
    fixture_limits(&p.limits, "",
                   "<gain id=\"a\" bias=\"high\" band=\"working\" max=\"24 dB\"/>"
                   "<gain id=\"b\" bias=\"low\" max-step=\"1 MHz\"><upper><point at=\"160 MHz\" "
                   "value=\"18 dB\"/><point at=\"170 MHz\" value=\"25 dB\"/></upper></gain>"
                   "<gain-flatness id=\"c\" band=\"working\" max=\"60 dB\"/>"
                   "<gain-slope id=\"d\" band=\"centre\" max=\"70 dB/V\"/>");
    allow(&p, &out);
    assert_close(out.highest_gain_db, 31, 1e-12);
    assert_true(out.gain_from_limits);
    assert_close(out.driven_dbm, -9, 1e-12);
    safety_words(&out, &words);
    assert_holds(words.data, "31 dB, 6 dB above the highest gain limit");
    text_clear(&words);
    parts_clear(&p);
}

/* A gain that nobody bounds is not guessed, nor taken from a bias at which it is lower. */
static void test_gain_unknown(void **state)
{
    static const char *const limits[] = {
        "<gain id=\"g\" band=\"working\" min=\"20 dB\"/>",
        "<gain-flatness id=\"g\" band=\"working\" max=\"2 dB\"/>",
        "<gain id=\"g\" bias=\"low, mid\" band=\"working\" max=\"22 dB\"/>"};

    (void)state;
    for (size_t i = 0; i < sizeof limits / sizeof *limits; i++) {
        struct parts p;

        parts_take(&p);
        p.file.levels.highest_gain_db = NAN;
        limits_clear(&p.limits);
        fixture_limits(&p.limits, "", limits[i]);
        refuse(&p, "state highest-gain in <levels>");
    }
}

/* Each rule: on its edge it holds, a thousandth beyond it does not. */
static void test_edges(void **state)
{
    /* With damage 19, reserve 7, linear -1: unharmed up to 12 dBm, linear up to -4 dBm. */
    static const struct {
        double power, gain, pad, rating, saturated, linear;
        const char *words;
    } edges[] = {
        {-20, 31, 20, 33, 30, -1, "what the pad bears less 3 dB: 30.001 dBm against 30 dBm"},
        {-20, 31, 10, 33, 22, 10, "oscillating board reaches the receiver above its damage level"},
        {-20, 36, 20, 33, 27, -1, "above its linear range less 3 dB: -3.999 dBm against -4 dBm"},
        {-20, 32, 0, 33, 12, 19, "oscillating board"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof edges / sizeof *edges; i++) {
        struct safety_levels out = {0};
        struct parts p;

        parts_take(&p);
        p.file.sweep.power_dbm = edges[i].power;
        p.file.levels.highest_gain_db = edges[i].gain;
        p.file.levels.pad_db = edges[i].pad;
        p.file.levels.pad_rating_dbm = edges[i].rating;
        p.file.levels.saturated_dbm = edges[i].saturated;
        p.file.levels.receiver_linear_dbm = edges[i].linear;
        p.analyser.linear_dbm = p.analyser.damage_dbm;
        allow(&p, &out);
        if (strstr(edges[i].words, "linear"))
            p.file.levels.highest_gain_db += 0.001;
        else
            p.file.levels.saturated_dbm += 0.001;
        refuse(&p, edges[i].words);
    }
}

/* The two rules that the others usually hide: driven against damage, and the source thrown back. */
static void test_driven_and_reflected(void **state)
{
    struct safety_levels out = {0};
    struct parts p;

    (void)state;
    parts_take(&p);
    p.analyser.linear_dbm = p.analyser.damage_dbm = 30;
    p.file.levels.receiver_damage_dbm = p.file.levels.receiver_linear_dbm = 19;
    p.file.levels.highest_gain_db = 52;
    allow(&p, &out);
    p.file.levels.highest_gain_db += 0.001;
    refuse(&p, "a driven board reaches the receiver above its damage level");
    parts_take(&p);
    p.file.sweep.power_dbm = 12;
    p.file.levels.highest_gain_db = 4;
    allow(&p, &out);
    p.file.sweep.power_dbm = 12.001;
    p.file.levels.highest_gain_db = 3;
    refuse(&p, "thrown back whole");
}

/* Without a pad there is none to burn, and none that helps. */
static void test_no_pad(void **state)
{
    struct safety_levels out = {0};
    struct parts p;

    (void)state;
    parts_take(&p);
    p.file.levels.pad_db = 0;
    p.file.levels.pad_rating_dbm = NAN;
    p.file.levels.saturated_dbm = 12;
    p.file.levels.highest_gain_db = 16;
    allow(&p, &out);
    assert_close(out.oscillating_dbm, 12, 0);
    p.file.levels.saturated_dbm = 13;
    refuse(&p, "fit a larger pad");
}

/* The receiver's ratings: the profile's where the bench states none; the bench may lower them; who
 * knows neither switches nothing on. */
static void test_ratings(void **state)
{
    struct safety_levels out = {0};
    struct error e = {0};
    struct parts p;

    (void)state;
    parts_take(&p);
    p.file.levels.receiver_damage_dbm = p.file.levels.receiver_linear_dbm = NAN;
    allow(&p, &out);
    assert_close(out.damage_dbm, 20, 0);
    assert_close(out.linear_dbm, 0, 0);
    p.analyser.damage_dbm = NAN;
    refuse(&p, "state receiver-damage in <levels>");
    parts_take(&p);
    p.file.levels.receiver_linear_dbm = p.analyser.linear_dbm = NAN;
    refuse(&p, "state receiver-linear in <levels>");
    parts_take(&p);
    p.file.levels.receiver_damage_dbm = 21;
    refuse(&p, "receiver-damage of 21 dBm is above the 20 dBm of ");
    parts_take(&p);
    p.file.levels.receiver_linear_dbm = 0.5;
    refuse(&p, "receiver-linear of 0.5 dBm is above the 0 dBm of ");
    /* A folder and a person: only the bench file knows. */
    parts_take(&p);
    assert_done(safety_check(&p.file, &p.limits, NULL, NULL, &out, &e), &e);
    assert_close(out.damage_dbm, 19, 0);
    p.file.levels.receiver_damage_dbm = NAN;
    assert_false(safety_check(&p.file, &p.limits, NULL, NULL, &out, &e));
    assert_holds(e.text, "state receiver-damage");
    parts_clear(&p);
}

/* What the instruments cannot do is refused before it is asked of them; a rating that is not stated
 * bounds nothing. */
static void test_instruments(void **state)
{
    struct safety_levels out = {0};
    struct parts p;

    (void)state;
    parts_take(&p);
    p.analyser.min_hz = 150e6;
    p.analyser.max_hz = 190e6;
    p.analyser.max_points = 401;
    p.analyser.min_dbm = p.analyser.max_dbm = -20;
    p.supply.max_v = 3;
    p.supply.max_a = p.file.bias.current_limit_a;
    allow(&p, &out);
    p.analyser.min_hz = 150.1e6;
    refuse(&p, "from of 150 MHz in <sweep> is below the 150.1 MHz of ");
    parts_take(&p);
    p.analyser.max_hz = 189e6;
    refuse(&p, "to of 190 MHz in <sweep> is above the 189 MHz of ");
    parts_take(&p);
    p.analyser.max_points = 201;
    refuse(&p, "points of 401 in <sweep> is above the 201 of ");
    parts_take(&p);
    p.analyser.max_dbm = -21;
    refuse(&p, "power of -20 dBm in <sweep> is above the -21 dBm of ");
    parts_take(&p);
    p.analyser.min_dbm = -19.5;
    refuse(&p, "power of -20 dBm in <sweep> is below the -19.5 dBm of ");
    parts_take(&p);
    p.supply.max_a = 0.1;
    refuse(&p, "current-limit of 120 mA in <bias> is above the 100 mA of ");
    parts_take(&p);
    p.supply.max_v = 2.9;
    refuse(&p, "bias step high at 3 V is above the 2.9 V of ");
}

/* Every bias step lies between what counts as off and what the board may get. */
static void test_bias_steps(void **state)
{
    struct safety_levels out = {0};
    struct parts p;

    (void)state;
    parts_take(&p);
    p.file.bias.most_v = 3;
    allow(&p, &out);
    p.file.bias.most_v = 2.99;
    refuse(&p, "bias step high of ");
    parts_take(&p);
    p.file.bias.off_below_v = 1.8;
    refuse(&p, "bias step low of ");
}

/* What the file asks for and the profile has no step for would silently not be done. */
static void test_steps(void **state)
{
    struct safety_levels out = {0};
    struct parts p;

    (void)state;
    parts_take(&p);
    p.analyser.steps[STEP_RECALL].is_there = false;
    refuse(&p, "needs a step recall");
    parts_take(&p);
    p.analyser.steps[STEP_CHECK_CORRECTION].is_there = false;
    refuse(&p, "needs a step check-correction");
    parts_take(&p);
    p.supply.steps[STEP_SET_TRIP].is_there = false;
    refuse(&p, "needs a step set-trip");
    parts_take(&p);
    p.analyser.steps[STEP_RECALL].is_there = false;
    p.analyser.steps[STEP_CHECK_CORRECTION].is_there = false;
    p.supply.steps[STEP_SET_TRIP].is_there = false;
    p.file.sweep.setup = p.file.bias.voltage_trip_v = NAN;
    p.file.correction.required = false;
    allow(&p, &out);
    p.supply.kind = PROFILE_ANALYSER;
    refuse(&p, "is the profile of an analyser: name one of a supply in <supply>");
    parts_take(&p);
    p.analyser.kind = PROFILE_SUPPLY;
    refuse(&p, "is the profile of a supply: name one of an analyser in <analyser>");
}

/* The demo's own files go together: 26 dB + 6 dB, -30 dBm, 20 dB and 20 dBm give -18 and 0 dBm. */
static void test_demo(void **state)
{
    struct safety_levels out = {0};
    struct error e = {0};
    struct parts p = {0};

    (void)state;
    assert_done(bench_file_read(&p.file, "docs/demo/bench.xml", &e), &e);
    assert_done(limits_read(&p.limits, "docs/demo/kittiwake.xml", &e), &e);
    assert_done(profile_read(&p.analyser, p.file.analyser.profile, &e), &e);
    assert_done(profile_read(&p.supply, p.file.supply.profile, &e), &e);
    allow(&p, &out);
    assert_close(out.highest_gain_db, 32, 1e-12);
    assert_close(out.driven_dbm, -18, 1e-12);
    assert_close(out.oscillating_dbm, 0, 1e-12);
    parts_clear(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worked_example),
        cmocka_unit_test(test_gain_of_limits),
        cmocka_unit_test(test_gain_unknown),
        cmocka_unit_test(test_edges),
        cmocka_unit_test(test_driven_and_reflected),
        cmocka_unit_test(test_no_pad),
        cmocka_unit_test(test_ratings),
        cmocka_unit_test(test_instruments),
        cmocka_unit_test(test_bias_steps),
        cmocka_unit_test(test_steps),
        cmocka_unit_test(test_demo),
    };
    int failed;

    xml_start();
    failed = cmocka_run_group_tests(tests, NULL, NULL);
    xml_end();
    return failed;
}
