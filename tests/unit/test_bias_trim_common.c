/* The gain that most boards of a batch can be set to. */
#include <time.h>

#include "tests/check.h"

#include "drivers/base/memory.h"
#include "drivers/random_source.h"
#include "limits/bias_trim.h"

/* Reason: by the middle of the overlap of most boards; boards without a curve are left out. */
static void common_gain_by_hand(void **state)
{
    const double low[6] = {18, 19, 20, 27, NAN, 19.5}, high[6] = {22, 23, 24, 28, NAN, 21};
    struct common_gain got;
    struct error e = {0};

    (void)state;
    assert_done(common_gain_find(&got, low, high, 6, &e), &e);
    assert_int_equal(got.n_reach, 4);
    assert_close(got.lowest_db, 20, 0);
    assert_close(got.highest_db, 21, 0);
    assert_close(got.gain_db, 20.5, 0);
    /* Two overlaps of as many: the wider. Then of as wide ones the higher. */
    assert_done(common_gain_find(&got, (double[]){1, 2, 7, 8}, (double[]){5, 6, 10, 10}, 4, &e),
                &e);
    assert_close(got.gain_db, 3.5, 0);
    assert_done(common_gain_find(&got, (double[]){1, 7}, (double[]){5, 11}, 2, &e), &e);
    assert_close(got.gain_db, 9, 0);
    /* A single gain is an overlap too. */
    assert_done(common_gain_find(&got, (double[]){1, 3}, (double[]){3, 5}, 2, &e), &e);
    assert_int_equal(got.n_reach, 2);
    assert_close(got.gain_db, 3, 0);
    assert_done(common_gain_find(&got, low + 4, high + 4, 1, &e), &e);
    assert_int_equal(got.n_reach, 0);
    assert_true(isnan(got.gain_db));
    assert_done(common_gain_find(&got, NULL, NULL, 0, &e), &e);
    assert_int_equal(got.n_reach, 0);
}

/* Reason: without memory the result stays as it was. */
static void common_gain_no_memory(void **state)
{
    struct common_gain got = {.n_reach = 77};
    struct error e = {0};
    const double one = 1;
    bool ok;

    (void)state;
    memory_fail_at(1);
    ok = common_gain_find(&got, &one, &one, 1, &e);
    memory_fail_at(0);
    assert_false(ok);
    assert_int_equal(e.kind, ERROR_MEMORY);
    assert_int_equal(got.n_reach, 77);
}

/* Reason: no gain may be reached by more boards than the one found: all ends are tried. */
static void common_gain_by_trial(void **state)
{
    const uint64_t seed = (uint64_t)time(NULL);
    struct random_source source;

    (void)state;
    print_message("seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 1, 2);
    for (size_t run = 0; run < 300; run++) {
        double low[20], high[20];
        const size_t n = 1 + run % 20;
        struct common_gain got;
        struct error e = {0};
        size_t most = 0;

        for (size_t i = 0; i < n; i++) {
            low[i] = floor(20 * random_uniform(&source));
            high[i] = low[i] + floor(6 * random_uniform(&source));
        }
        assert_done(common_gain_find(&got, low, high, n, &e), &e);
        for (size_t k = 0; k <= n; k++) {
            const double at_db = k == n ? got.gain_db : low[k];
            size_t reach = 0;

            for (size_t i = 0; i < n; i++)
                reach += low[i] <= at_db && high[i] >= at_db;
            if (k == n) assert_int_equal(reach, got.n_reach);
            if (reach > most) most = reach;
        }
        assert_int_equal(got.n_reach, most);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(common_gain_by_hand),
        cmocka_unit_test(common_gain_no_memory),
        cmocka_unit_test(common_gain_by_trial),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
