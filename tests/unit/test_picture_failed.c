#include "reports/pictures.h"
#include "tests/picture_check.h"

#define STEPS 6

/* Six steps of 1 V, a slope of 5 dB/V accepted from 3 to 7, in both methods, and a range. */
struct sample {
    struct limits limits;
    struct bias_step biases[STEPS];
    struct limit limit[2];
    double at_hz[2], low[2], high[2];
    struct finding findings[2];
    struct judgement judgement;
    double bias_v[STEPS], gain_db[STEPS];
    struct unit_traces traces;
    float x[2 * CEILING_BIAS_STEPS], y[2 * CEILING_BIAS_STEPS];
};

static void start(struct sample *s, const char *quantity)
{
    *s = (struct sample){.at_hz = {160e6, 180e6}, .low = {3, 3}, .high = {7, 7}};
    s->limit[0].quantity = quantity_find(quantity);
    s->limit[0].from = 0;
    s->limit[0].to = STEPS - 1;
    s->limit[0].lower = (struct bound_line){2, s->at_hz, s->low};
    s->limit[0].upper = (struct bound_line){2, s->at_hz, s->high};
    s->limits = (struct limits){.n_biases = STEPS,
                                .biases = s->biases,
                                .guard_factor = 1,
                                .n_limits = 1,
                                .limits = s->limit};
    s->findings[0] = (struct finding){.limit = s->limit, .outcome = OUTCOME_FAIL};
    s->judgement = (struct judgement){.n_findings = 1, .findings = s->findings, .n_failed = 1};
    for (size_t i = 0; i < STEPS; i++) {
        s->bias_v[i] = 1 + (double)i;
        s->gain_db[i] = 10 + 5 * (double)i;
    }
    s->traces = (struct unit_traces){.n_biases = STEPS, .bias_v = s->bias_v, .gain_db = s->gain_db};
}

/* The parts are these, written as the voltages of their points, 0 for a gap; each at its gain. */
static void check_parts(struct sample *s, const double *want_v, size_t n)
{
    const struct trace parts =
        picture_failed_parts(&s->limits, &s->judgement, &s->traces, s->x, s->y);

    assert_int_equal(parts.n_points, n);
    for (size_t i = 0; i < n; i++) {
        const bool is_gap = isnan(parts.y[i]);

        assert_int_equal(is_gap, want_v[i] == 0);
        if (is_gap) continue;
        assert_close((double)parts.x[i], want_v[i], 1e-6);
        assert_close((double)parts.y[i], s->gain_db[(size_t)want_v[i] - 1], 1e-5);
    }
}

/* A slope names both its ends: from one to the other the gain is marked, and no further. */
static void test_one_slope(void **state)
{
    static const double all[] = {2, 3, 0, 5, 6};
    struct sample s;

    (void)state;
    start(&s, "gain-slope");
    s.findings[0].failed_steps = 6; /* 2 and 3 V */
    check_parts(&s, all, 2);
    s.findings[0].failed_steps = 6 | 48;
    check_parts(&s, all, 5);
    s.findings[0].accepted = true;
    check_parts(&s, all, 0);
    s.findings[0].accepted = false;
    s.findings[0].outcome = OUTCOME_INCOMPLETE;
    check_parts(&s, all, 0);
}

/* Steps named for the slopes on both sides do not mark the slope between, unless the gain says so,
 * within the guard band too; three steps in a row are two slopes. */
static void test_slope_between(void **state)
{
    static const double apart[] = {1, 2, 0, 3, 4}, joined[] = {1, 2, 3, 4};
    struct sample s;

    (void)state;
    start(&s, "gain-slope");
    s.findings[0].failed_steps = 15;
    check_parts(&s, apart, 5);
    s.gain_db[2] = s.gain_db[1] + 7.5;
    check_parts(&s, joined, 4);
    s.gain_db[2] = s.gain_db[1] + 3.2;
    check_parts(&s, apart, 5);
    s.limit[0].uncertainty = 0.3;
    check_parts(&s, joined, 4);
    s.limits.rule = SIMPLE_ACCEPTANCE;
    check_parts(&s, apart, 5);
    s.findings[0].failed_steps = 7;
    check_parts(&s, joined, 3);
}

/* A fitted slope and a range are outside over all of their steps; a range may be written from its
 * higher step. */
static void test_whole_way(void **state)
{
    static const double all[] = {1, 2, 3, 4, 5, 6}, range[] = {2, 3, 4, 5};
    struct sample s;

    (void)state;
    start(&s, "gain-slope");
    s.limit[0].method = SLOPE_FIT;
    s.findings[0].failed_steps = 63;
    check_parts(&s, all, 6);
    start(&s, "gain-range");
    s.limit[0].from = 4;
    s.limit[0].to = 1;
    s.findings[0].failed_steps = 2 | 16;
    check_parts(&s, range, 4);
}

/* Other limits mark nothing, and where no gain is nothing is marked. */
static void test_nothing(void **state)
{
    static const double rest[] = {1, 2, 0, 4, 5};
    struct sample s;

    (void)state;
    start(&s, "gain");
    s.findings[0].failed_steps = 63;
    check_parts(&s, rest, 0);
    start(&s, "gain-range");
    s.limit[0].from = 0;
    s.limit[0].to = 4;
    s.findings[0].failed_steps = 17;
    s.gain_db[2] = NAN;
    check_parts(&s, rest, 5);
    s.traces.n_biases = 0;
    check_parts(&s, rest, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_slope), cmocka_unit_test(test_slope_between),
        cmocka_unit_test(test_whole_way), cmocka_unit_test(test_nothing)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
