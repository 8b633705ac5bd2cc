/* Long options from a table, their help, and the nearest word. */
#include "tests/check.h"

#include <stdlib.h>
#include <unistd.h>

#include "runner/options.h"

/* One reading of a command line of up to 7 words behind the command. */
struct reading {
    const char *limits, *layout, *out;
    bool dry;
    char *argv[9];
    size_t n_others;
    bool helped;
    struct error e;
};

static bool read_words(struct reading *r, const char *const *words)
{
    const struct option_row rows[] = {
        {"limits", "FILE", "the limits file", &r->limits, NULL},
        {"layout", "PATTERN", "the layout", &r->layout, NULL},
        {"out", NULL, "not a value", NULL, &r->dry},
        {"output", "DIR", "the folder", &r->out, NULL},
        {NULL, NULL, NULL, NULL, NULL},
    };
    const struct option_table table = {"try [options] PATH...", "Tries options.", rows};
    static char room[8][128];
    int argc = 1;

    *r = (struct reading){.n_others = 99};
    r->argv[0] = (char[]){"try"};
    for (; words[argc - 1]; argc++) {
        (void)snprintf(room[argc], sizeof room[argc], "%s", words[argc - 1]);
        r->argv[argc] = room[argc];
    }
    return options_read(&table, argc, r->argv, &r->n_others, &r->helped, &r->e);
}
#define words_of(...) ((const char *const[]){__VA_ARGS__, NULL})

static void assert_usage(const char *const *words, const char *text)
{
    struct reading r;

    assert_false(read_words(&r, words));
    assert_int_equal(r.e.kind, ERROR_USAGE);
    assert_holds(r.e.text, text);
}

/* Reason: both ways to give a value, flags, and the other arguments in their order. */
static void test_reads(void **state)
{
    struct reading r;

    (void)state;
    assert_done(
        read_words(&r, words_of("a", "--limits", "l.xml", "b", "--output=o=p", "--out", "c")),
        &r.e);
    assert_string_equal(r.limits, "l.xml");
    assert_string_equal(r.out, "o=p");
    assert_true(r.dry);
    assert_null(r.layout);
    assert_false(r.helped);
    assert_int_equal(r.n_others, 3);
    assert_string_equal(r.argv[1], "a");
    assert_string_equal(r.argv[2], "b");
    assert_string_equal(r.argv[3], "c");
}

/* Reason: nothing given is nothing read; an empty value is a value; a lone dash is a path. */
static void test_edges(void **state)
{
    struct reading r;

    (void)state;
    assert_done(read_words(&r, (const char *const[]){NULL}), &r.e);
    assert_int_equal(r.n_others, 0);
    assert_null(r.limits);
    assert_done(read_words(&r, words_of("--limits=", "-")), &r.e);
    assert_string_equal(r.limits, "");
    assert_int_equal(r.n_others, 1);
    assert_string_equal(r.argv[1], "-");
    /* The next word is the value, whatever it looks like. */
    assert_done(read_words(&r, words_of("--limits", "--out")), &r.e);
    assert_string_equal(r.limits, "--out");
    assert_false(r.dry);
}

/* Reason: behind "--" everything is a path, so that a file called --help can be named. */
static void test_end_of_options(void **state)
{
    struct reading r;

    (void)state;
    assert_done(read_words(&r, words_of("--out", "--", "--help", "--")), &r.e);
    assert_false(r.helped);
    assert_int_equal(r.n_others, 2);
    assert_string_equal(r.argv[1], "--help");
    assert_string_equal(r.argv[2], "--");
}

/* Reason: the beginning of one option's name stands for it, in the GNU manner, but not when two
 * begin so; a whole name wins over a longer one that begins with it. */
static void test_beginnings(void **state)
{
    struct reading r;

    (void)state;
    assert_done(read_words(&r, words_of("--lim", "x", "--lay=y", "--outp", "z")), &r.e);
    assert_string_equal(r.limits, "x");
    assert_string_equal(r.layout, "y");
    assert_string_equal(r.out, "z");
    assert_done(read_words(&r, words_of("--out")), &r.e);
    assert_true(r.dry);
    assert_usage(words_of("--l", "x"), "there is no option --l");
}

/* Reason: each mistake has its words, the unknown option with the nearest one. */
static void test_mistakes(void **state)
{
    (void)state;
    assert_usage(words_of("--limit5", "x"), "no option --limit5; did you mean --limits?");
    assert_usage(words_of("--loyout=x"), "no option --loyout; did you mean --layout?");
    assert_usage(words_of("--zzzzzz"), "no option --zzzzzz");
    assert_usage(words_of("--limits"), "--limits needs a value: --limits FILE");
    assert_usage(words_of("--out=yes"), "--out takes no value");
    assert_usage(words_of("--limits", "a", "--limits=b"), "--limits stands twice");
    assert_usage(words_of("-l", "a"), "-l: options are written in full");
    assert_usage(words_of("--=x"), "there is no option --");
}

/* Reason: something far from every option must not be answered with one of them, however long. */
static void test_nothing_near(void **state)
{
    char longest[100] = "--";
    struct reading r;

    (void)state;
    assert_false(read_words(&r, words_of("--zzzzzz")));
    assert_null(strstr(r.e.text, "did you mean"));
    memset(longest + 2, 'z', 90);
    assert_false(read_words(&r, words_of(longest)));
    assert_null(strstr(r.e.text, "did you mean"));
}

/* What options_read() prints, in `out`. */
static void read_printed(struct reading *r, const char *const *words, char *out, size_t room)
{
    FILE *file = tmpfile();
    int saved;
    size_t n;

    assert_non_null(file);
    (void)fflush(stdout);
    saved = dup(STDOUT_FILENO);
    assert_true(saved >= 0 && dup2(fileno(file), STDOUT_FILENO) >= 0);
    assert_done(read_words(r, words), &r->e);
    (void)fflush(stdout);
    assert_true(dup2(saved, STDOUT_FILENO) >= 0);
    (void)close(saved);
    rewind(file);
    n = fread(out, 1, room - 1, file);
    out[n] = '\0';
    (void)fclose(file);
}

/* Reason: the help comes from the same table and shows every row; it is given even when the rest
 * of the line is wrong behind it. */
static void test_help(void **state)
{
    struct reading r;
    char printed[2000];

    (void)state;
    read_printed(&r, words_of("--help", "--nonsense"), printed, sizeof printed);
    assert_true(r.helped);
    assert_holds(printed, "Usage: gainsieve try [options] PATH...\n");
    assert_holds(printed, "Tries options.\n");
    assert_holds(printed, "  --limits FILE            the limits file\n");
    assert_holds(printed, "  --out                    not a value\n");
    assert_holds(printed, "  --help ");
    read_printed(&r, words_of("-h"), printed, sizeof printed);
    assert_true(r.helped);
}

/* Reason: the nearest word by single-letter changes; distances counted by hand: chekc-check 2,
 * kitten-sitting 3 (the textbook example of V. I. Levenshtein's distance; from memory). */
static void test_nearest_word(void **state)
{
    static const char *const words[] = {"check", "validate", "export", "emulate"};
    static const char *const sitting[] = {"sitting"};
    char longest[200];

    (void)state;
    assert_string_equal(nearest_word("chekc", words, 4), "check");
    assert_string_equal(nearest_word("chec", words, 4), "check");
    assert_string_equal(nearest_word("emulator", words, 4), "emulate");
    assert_string_equal(nearest_word("EXport", words, 4), "export");
    assert_null(nearest_word("zzzzz", words, 4));
    assert_null(nearest_word("", words, 4));
    assert_null(nearest_word("check", words, 0));
    /* 6 letters allow 4 changes, 3 letters 2. */
    assert_string_equal(nearest_word("kitten", sitting, 1), "sitting");
    assert_null(nearest_word("kit", sitting, 1));
    memset(longest, 'z', sizeof longest);
    for (size_t n = 1; n < sizeof longest; n++) {
        longest[sizeof longest - 1] = '\0';
        assert_null(nearest_word(longest + sizeof longest - 1 - n, words, 4));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reads),          cmocka_unit_test(test_edges),
        cmocka_unit_test(test_end_of_options), cmocka_unit_test(test_beginnings),
        cmocka_unit_test(test_mistakes),       cmocka_unit_test(test_nothing_near),
        cmocka_unit_test(test_help),           cmocka_unit_test(test_nearest_word),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
