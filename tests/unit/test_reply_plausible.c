/* Traces that no analyser measures. */
#include "drivers/random_source.h"
#include "drivers/reply.h"
#include "tests/reply_check.h"

static void refuse(const double *re_im, size_t n_complex, const char *words)
{
    struct error e = {0};

    assert_false(reply_is_plausible(re_im, n_complex, &e));
    assert_int_equal(e.kind, ERROR_BENCH);
    assert_holds(e.text, words);
}

static void take(const double *re_im, size_t n_complex)
{
    struct error e = {0};

    assert_done(reply_is_plausible(re_im, n_complex, &e), &e);
}

/* Reason: real traces pass, those with a zero or with a low point among others and those at the
 * edges of the limits too. */
static void real_traces_pass(void **state)
{
    static const double trace[] = {0.1, -0.2, 0.11, -0.19, 0, 0, 12.5, 3};
    static const double low[] = {1e-20, 0, 1e-7, 0, 0, -1e-7};
    static const double one[] = {0.5, 0.5};
    static const double high[] = {1e4, 0, 1, 0};
    static const double gaps[] = {NAN, 0, 0.5, NAN, 0.25, 0.125};

    (void)state;
    take(trace, 4);
    take(low, 3);
    take(one, 1);
    take(high, 2);
    take(gaps, 3);
}

/* Reason: each rule alone, at its edge, and the message says what it may be. */
static void each_rule(void **state)
{
    static const double huge[] = {1, 0, 0, -1.0001e4, 1, 1};
    static const double tiny[] = {1, 0, 2, 0, 0, 9.9e-21};
    static const double low[] = {0.5, 0, 9e-8, 0, 8e-8, 1e-9};
    static const double half_low[] = {0.5, 0, 9e-8, 0};
    static const double zero[] = {0, 0, -0.0, 0};
    static const double equal[] = {0.5, -0.25, 0.5, -0.25, 0.5, -0.25};
    static const double infinite[] = {0.5, 0, INFINITY, NAN, INFINITY, 0};

    (void)state;
    refuse(huge, 3,
           "|S| = 10001 at point 2 of 3, which no analyser measures, as of reals in the "
           "wrong byte order");
    refuse(tiny, 3, "|S| = 9.9e-21 at point 3 of 3");
    refuse(low, 3, "below 1e-7 (-140 dB) at half of its points");
    refuse(half_low, 2, "below 1e-7 (-140 dB)");
    refuse(zero, 2, "zero at every point");
    refuse(zero, 1, "zero at every point");
    refuse(equal, 3, "same value at every point");
    refuse(infinite, 3, "|S| = inf at point 3 of 3");
    refuse(NULL, 0, "no points");
}

/* Reason: numbers in the wrong byte order look like a perfect match: 1.0 becomes 4.6e-41 and -0.5
 * 2.7e-43 (known from the layout of 32-bit reals, worked out on paper: 0x0000803F and 0x000000BF
 * times 2^-149). Such a trace must not be taken in silence. */
static void swapped_traces_are_refused(void **state)
{
    static const char ones[] =
        "#232\x3F\x80\0\0\0\0\0\0\0\0\0\0\xBF\0\0\0\x3F\x80\0\0\0\0\0\0\0\0\0\0"
        "\xBF\0\0\0\n";
    const struct reply_format right = {ENCODING_REAL32, ORDER_BIG, 0, 0};
    const struct reply_format wrong = {ENCODING_REAL32, ORDER_LITTLE, 0, 0};
    double got[8];
    size_t n_invalid;
    struct error e = {0};

    (void)state;
    assert_done(reply_numbers(BYTES(ones), &right, got, 8, &n_invalid, &e), &e);
    take(got, 4);
    assert_done(reply_numbers(BYTES(ones), &wrong, got, 8, &n_invalid, &e), &e);
    assert_int_equal(n_invalid, 0);
    assert_close(got[0], 4.6e-41, 0.05e-41);
    assert_close(got[3], 2.7e-43, 0.1e-43);
    refuse(got, 4, "wrong byte order");
}

#define POINTS 11

/* A block of `size`-byte reals, of which `words` holds the bits, most significant first. */
static size_t put_block(char *bytes, const uint64_t *words, size_t size)
{
    size_t n = (size_t)snprintf(bytes, 8, "#3%03zu", 2 * POINTS * size);

    for (size_t i = 0; i < 2 * POINTS; i++)
        for (size_t k = size; k-- > 0;)
            bytes[n++] = (char)(words[i] >> (8 * k) & 0xFF);
    bytes[n++] = '\n';
    return n;
}

/* Reason: noisy traces in the wrong order are all over the range of reals. Not one of a thousand,
 * of either width, may be taken: each is implausible, or has points that count as no number. The
 * right order is always taken. */
static void random_swapped_traces_are_refused(void **state)
{
    const uint64_t seed = 314;
    struct random_source source;

    (void)state;
    print_message("seed %llu\n", (unsigned long long)seed);
    random_begin(&source, seed, 0, 0);
    for (int round = 0; round < 1000; round++) {
        const bool wide = round % 2;
        const struct reply_format right = {wide ? ENCODING_REAL64 : ENCODING_REAL32, ORDER_BIG, 0,
                                           0};
        struct reply_format wrong = right;
        char bytes[2 * POINTS * 8 + 8];
        uint64_t words[2 * POINTS] = {0};
        double got[2 * POINTS];
        size_t n, n_invalid;
        struct error e = {0};

        for (size_t i = 0; i < 2 * POINTS; i++) {
            const double x = random_normal(&source) * (round % 3 ? 0.1 : 10);
            const float narrow = (float)x;
            uint32_t half;

            memcpy(&half, &narrow, sizeof half);
            memcpy(&words[i], &x, sizeof x);
            if (!wide) words[i] = half;
        }
        n = put_block(bytes, words, wide ? 8 : 4);
        assert_done(reply_numbers(bytes, n, &right, got, 2 * POINTS, &n_invalid, &e), &e);
        assert_int_equal(n_invalid, 0);
        take(got, POINTS);
        wrong.order = ORDER_LITTLE;
        assert_done(reply_numbers(bytes, n, &wrong, got, 2 * POINTS, &n_invalid, &e), &e);
        if (n_invalid == 0) refuse(got, POINTS, "wrong byte order");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(real_traces_pass),
        cmocka_unit_test(each_rule),
        cmocka_unit_test(swapped_traces_are_refused),
        cmocka_unit_test(random_swapped_traces_are_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
