/* Damaged sweep files: whatever bytes come, the readers give a legal sweep or one error line. */
#include "drivers/random_source.h"
#include "drivers/sweep_csv.h"
#include "drivers/touchstone.h"
#include "tests/sweep_check.h"

#define SEED 59113
#define MUTANTS 1200 /* of each file */
#define ROOM 4096

/* Valid files that use as much of the formats as fits in a few lines. */
static const struct file {
    const char *path, *text;
    sweep_reader *reader;
} files[] = {
    {"v1.s2p",
     "! two ports and noise, \xE9\n# MHz S MA R 50 ! options\n"
     "160 0.1 -26.5 3.57 157 .04 76 .66 -14\r\n169.3 0.12 -30 3.6 150\n .05 70 .6 -20 ! wrapped\n"
     "# GHz\n178 1e-1 -35 +3.70 140 .06 65 .5 -25\n160 .7 .64 69 .38\n178 2.7 .46 -33 .40\n",
     touchstone_read},
    {"v1.s1p", "# Hz Z DB R 75\r1e6 -1.5 12.25\r2e6 -1.25 14\r3e6 -1 16.125\r", touchstone_read},
    {"v1.ts", "#kHz G MA R 2\n2 1.03 13 5.6 4 .06 -76 1.5 1\n3 1.04 13 5.6 4 .06 -76 1.5 1\n",
     touchstone_read},
    {"v1.ts", "# GHz S RI R 50 75\n1 .1 .2 3 4 .05 .06 .7 -.8\n2 .1 .2 3 4 .05 .06 .7 -.8\n",
     touchstone_read},
    {"v2.s2p",
     "[Version] 2.1\n! all keywords\n# MHz S RI R 50\n[Number of Ports] 2\n"
     "[Two-Port Data Order] 12_21\n[Number of Frequencies] 2\n[Number of Noise Frequencies] 1\n"
     "[Reference] 50\n 75\n[Matrix Format] Full\n[Begin Information]\nbench [End] 7\n"
     "[End Information]\n[Network Data]\n160 .1 .2 .03 .04 3\n4 .7 .8 161 .1 .2 .03 .04 3 4 .7 .8\n"
     "[Noise Data]\n160 1 2 3 4\n[End]\n",
     touchstone_read},
    {"v2.ts",
     "[Version] 2.0\r\n# GHz Y DB\r\n[Number of Ports] 2\r\n[Matrix Format] Lower\r\n"
     "[Two-Port Data Order] 21_12\r\n[Number of Frequencies] 2\r\n[Network Data]\r\n"
     "1 -30 5 -40 6 -33 7\r\n2 -31 5 -41 6 -34 7\r\n[End]\r\n",
     touchstone_read},
    {"a.csv",
     "frequency_hz,s11_re,s11_im,s21_db,s21_deg,s22_mag,s22_deg\r\n160e6,0.1,-0.2,20,30,0.5,90\r\n"
     "161e6,0.1,-0.2,20.5,31,0.5,\"91\"\r\n162e6,0.1,-0.2,21,32,0.5,92\r\n",
     sweep_csv_read},
};

/* Texts that mean something to one reader or another. */
static const char *const tokens[] = {
    "\n",
    "\r",
    " ",
    "\t",
    "!",
    "#",
    "[",
    "]",
    "\"",
    ",",
    "-",
    "1e",
    "e999",
    "nan",
    "inf",
    "0x1p3",
    "1e308",
    "-1",
    "0",
    "[End]\n",
    "[Network Data]\n",
    "[Reference] ",
    "# Hz S RI\n",
    "R 0",
    "\xC2\xA0",
    "\xEF\xBB\xBF",
    "1 2 3 4 5\n",
    "99999999999999999999",
    "0.00000000000000000000000000000000000001",
};

struct bytes {
    char data[ROOM];
    size_t length;
};

static size_t below(struct random_source *random, size_t n)
{
    return (size_t)(random_bits(random) % n);
}

/* Puts `length` bytes at `at`; what does not fit falls off the end. */
static void insert(struct bytes *b, size_t at, const char *what, size_t length)
{
    if (b->length + length > ROOM) return;
    memmove(b->data + at + length, b->data + at, b->length - at);
    memcpy(b->data + at, what, length);
    b->length += length;
}

/* The line around `at`: its begin, and its length with its end. */
static size_t line_around(const struct bytes *b, size_t at, size_t *length)
{
    size_t begin = at, end = at;

    while (begin > 0 && b->data[begin - 1] != '\n' && b->data[begin - 1] != '\r')
        begin--;
    while (end < b->length && b->data[end] != '\n' && b->data[end] != '\r')
        end++;
    *length = end - begin + (end < b->length);
    return begin;
}

static void mutate(struct random_source *random, struct bytes *b)
{
    size_t at = below(random, b->length + 1), length, begin;
    const char *token = tokens[below(random, sizeof tokens / sizeof *tokens)];
    char line[ROOM];

    switch (below(random, 7)) {
    case 0: /* a bit */
        if (at < b->length) b->data[at] = (char)(b->data[at] ^ (1 << below(random, 8)));
        break;
    case 1: /* a byte */
        if (at < b->length) b->data[at] = (char)below(random, 256);
        break;
    case 2: /* the tail is lost, half of the time only a part of the middle */
        if (below(random, 2) == 0) {
            b->length = at;
        } else {
            length = below(random, b->length - at + 1);
            memmove(b->data + at, b->data + at + length, b->length - at - length);
            b->length -= length;
        }
        break;
    case 3: /* a line twice */
        begin = line_around(b, at, &length);
        memcpy(line, b->data + begin, length);
        insert(b, begin, line, length);
        break;
    case 4: /* a line is lost */
        begin = line_around(b, at, &length);
        memmove(b->data + begin, b->data + begin + length, b->length - begin - length);
        b->length -= length;
        break;
    default: insert(b, at, token, strlen(token)); break;
    }
}

static void assert_legal(const struct sweep *s)
{
    assert_true(s->n_points > 0);
    assert_true(s->n_ports == 1 || s->n_ports == 2);
    assert_true(s->measured != 0 && (s->measured & ~S_ALL) == 0);
    assert_true(s->n_ports == 2 || s->measured == S_BIT(S11));
    for (size_t p = 0; p < 2; p++)
        assert_true(isfinite(s->z0_ohm[p]) && s->z0_ohm[p] > 0);
    for (size_t i = 0; i < s->n_points; i++) {
        double f = s->frequency_hz[i];

        assert_true(isfinite(f) && f >= 0 && (i == 0 || f > s->frequency_hz[i - 1]));
        for (size_t k = 0; k < S_PARAMETERS; k++) {
            double complex value = s->s[S_PARAMETERS * i + k];

            if (s->measured & S_BIT(k))
                assert_true(isfinite(creal(value)) && isfinite(cimag(value)));
            else
                assert_true(isnan(creal(value)) && isnan(cimag(value)));
        }
    }
}

static void assert_one_line(const char *path, const struct error *e, const struct sweep *s)
{
    assert_int_equal(e->kind, ERROR_INPUT);
    assert_int_equal(strncmp(e->text, path, strlen(path)), 0);
    assert_int_equal(e->text[strlen(path)], ':');
    assert_null(strpbrk(e->text, "\r\n"));
    assert_int_equal(s->n_points, 0);
    assert_int_equal(s->n_ports, 0);
    assert_int_equal(s->measured, 0);
}

/* Reason: files come from disks and links that fail. The sweep is used again from file to file, as
 * in an archive. That both outcomes are seen shows that the damage is neither all fatal nor none.
 */
static void damaged_files_are_read_or_refused(void **state)
{
    struct random_source random;
    size_t n_read = 0, n_refused = 0;
    struct sweep s = {0};

    (void)state;
    print_message("seed %d\n", SEED);
    random_begin(&random, SEED, 0, 0);
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        for (size_t n = 0; n < MUTANTS; n++) {
            struct bytes b = {.length = strlen(files[i].text)};
            struct error e = {0};

            memcpy(b.data, files[i].text, b.length);
            for (size_t m = 1 + below(&random, 2); m > 0; m--)
                mutate(&random, &b);
            if (sweep_check_read(files[i].reader, files[i].path, b.data, b.length, &s, &e)) {
                assert_legal(&s);
                n_read++;
            } else {
                assert_one_line(files[i].path, &e, &s);
                n_refused++;
            }
        }
    }
    sweep_clear(&s);
    print_message("%zu read, %zu refused\n", n_read, n_refused);
    assert_true(n_read > MUTANTS / 2);
    assert_true(n_refused > MUTANTS / 2);
}

/* Reason: the undamaged files must be read, or the test of damaged ones would show little. */
static void undamaged_files_are_read(void **state)
{
    struct sweep s = {0};

    (void)state;
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        sweep_check_done(files[i].reader, files[i].path, files[i].text, &s);
        assert_legal(&s);
    }
    sweep_clear(&s);
}

/* Reason: a version 2 file that lost its tail, be it one byte of [End], is never a shorter sweep.
 */
static void no_beginning_of_a_version_2_file_is_read(void **state)
{
    struct sweep s = {0};

    (void)state;
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        const char *text = files[i].text, *end = strstr(text, "\n[End]");

        if (!end || strncmp(text, "[Version]", 9) != 0) continue;
        for (size_t length = 0; length < (size_t)(end - text) + strlen("\n[End]"); length++) {
            struct error e = {0};

            assert_false(sweep_check_read(touchstone_read, files[i].path, text, length, &s, &e));
            assert_one_line(files[i].path, &e, &s);
        }
    }
    sweep_clear(&s);
}

/* Reason: bytes that were never a sweep: one long line, nothing but brackets, line ends or quotes.
 */
static void heaps_of_one_character(void **state)
{
    static const char characters[] = "0123456789 \n\r\t![]#\",.-+e\x7F\x80\xFF";
    const size_t length = 20000;
    struct error e = {0};
    char *bytes = memory_make(length, 1, &e);
    struct sweep s = {0};

    (void)state;
    assert_non_null(bytes);
    for (size_t i = 0; i < sizeof characters - 1; i++) {
        memset(bytes, characters[i], length);
        for (size_t k = 0; k < 2; k++) {
            sweep_reader *reader = k == 0 ? touchstone_read : sweep_csv_read;

            e = (struct error){0};
            assert_false(sweep_check_read(reader, "heap", bytes, length, &s, &e));
            assert_one_line("heap", &e, &s);
        }
    }
    memory_free(bytes);
    sweep_clear(&s);
}

/* Reason: more points than any analyser sends fill the memory; the ceiling stops them with a line.
 */
static void too_many_points_are_refused(void **state)
{
    struct text text = {0};
    struct sweep s = {0};
    struct error e = {0};
    char words[64];

    (void)state;
    text_add(&text, "# Hz S RI\n");
    for (unsigned long i = 0; i <= CEILING_SWEEP_POINTS; i++)
        text_addf(&text, "%lu 1 2\n", i);
    assert_true(text_ok(&text, "test", &e));
    assert_false(touchstone_read("a.s1p", text.data, text.length, &s, &e));
    (void)snprintf(words, sizeof words, "a.s1p:%zu: more than %zu points", CEILING_SWEEP_POINTS + 2,
                   CEILING_SWEEP_POINTS);
    assert_holds(e.text, words);
    assert_one_line("a.s1p", &e, &s);
    text_clear(&text);
    sweep_clear(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(undamaged_files_are_read),
        cmocka_unit_test(damaged_files_are_read_or_refused),
        cmocka_unit_test(no_beginning_of_a_version_2_file_is_read),
        cmocka_unit_test(heaps_of_one_character),
        cmocka_unit_test(too_many_points_are_refused),
    };

    return cmocka_run_group_tests_name("hostile_sweeps", tests, NULL, NULL);
}
