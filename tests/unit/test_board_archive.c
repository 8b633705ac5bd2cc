/* The archive of emulated boards: what is in it, that it is the same each time, and that an
 * unfinished one has no index. */
#include "tests/check.h"

#include <dirent.h>
#include <signal.h>
#include <stdlib.h>
#include <unistd.h>

#include "drivers/base/file.h"
#include "drivers/base/stop.h"
#include "drivers/base/text.h"
#include "drivers/board_archive.h"
#include "drivers/board_build.h"
#include "drivers/board_reading.h"
#include "drivers/sweep_file.h"
#include "limits/limits.h"

#define SEED 1
#define POINTS 5

/* A new folder for one test. */
struct place {
    char folder[256];
};

static int make_place(void **state)
{
    static struct place place;
    const char *top = getenv("TMPDIR");

    (void)snprintf(place.folder, sizeof place.folder, "%s/gainsieve-test-XXXXXX",
                   top && *top ? top : "/tmp");
    *state = &place;
    return mkdtemp(place.folder) ? 0 : -1;
}

static int remove_place(void **state)
{
    const struct place *place = *state;
    DIR *folder = opendir(place->folder);
    struct dirent *entry;

    if (!folder) return -1;
    while ((entry = readdir(folder)))
        if (entry->d_name[0] != '.') (void)unlinkat(dirfd(folder), entry->d_name, 0);
    (void)closedir(folder);
    return rmdir(place->folder);
}

static const char *path_of(const struct place *place, const char *name)
{
    static char path[1024];

    (void)snprintf(path, sizeof path, "%s/%s", place->folder, name);
    return path;
}

static size_t count_files(const struct place *place)
{
    DIR *folder = opendir(place->folder);
    struct dirent *entry;
    size_t n = 0;

    assert_non_null(folder);
    while ((entry = readdir(folder)))
        n += entry->d_name[0] != '.';
    (void)closedir(folder);
    return n;
}

static void read_file(const struct place *place, const char *name, struct text *out)
{
    struct error e = {0};

    assert_done(file_read(path_of(place, name), CEILING_SWEEP_FILE, out, &e), &e);
}

static void write_archive(const struct place *place, size_t n_units, size_t n_points)
{
    struct error e = {0};

    assert_done(board_archive_write(place->folder, n_units, SEED, n_points, NULL, NULL, &e), &e);
}

/* Reason: the files' names and the index are what the check of an archive goes by; their order and
 * columns are those of the design. */
static void index_names_every_file(void **state)
{
    static const char *const ids[BOARD_STEPS] = {"low", "lower-mid", "mid", "upper-mid", "high"};
    struct text index = {0}, want = {0};

    write_archive(*state, 3, POINTS);
    assert_int_equal(count_files(*state), 3 * BOARD_STEPS + 1);
    read_file(*state, "index.csv", &index);
    text_add(&want, "serial,attempt,bias,file,bias_current_ma\r\n");
    for (unsigned number = 0; number < 3; number++) {
        for (unsigned step = 0; step < BOARD_STEPS; step++) {
            struct board board;
            struct text bytes = {0};
            char name[64];

            (void)snprintf(name, sizeof name, "KW000%u_%s.s2p", 101 + number, ids[step]);
            read_file(*state, name, &bytes);
            text_clear(&bytes);
            board_build(&board, SEED, number);
            text_addf(&want, "KW000%u,1,%s,%s,", 101 + number, ids[step], name);
            text_add_number(
                &want, board_reading_current_ma(board_current_ma(&board, board_steps[step].at_v),
                                                SEED, number, step));
            text_add(&want, "\r\n");
        }
    }
    assert_string_equal(index.data, want.data);
    text_clear(&index);
    text_clear(&want);
}

/* Reason: a file must hold the board's own numbers, all digits, at the frequencies promised. */
static void files_hold_the_boards_numbers(void **state)
{
    struct text bytes = {0};
    struct sweep got = {0}, want = {0};
    struct board board;
    struct error e = {0};

    write_archive(*state, 2, BOARD_ARCHIVE_POINTS);
    assert_done(sweep_file_read(path_of(*state, "KW000102_upper-mid.s2p"), &bytes, &got, &e), &e);
    assert_int_equal(got.n_points, 401);
    assert_int_equal(got.n_ports, 2);
    assert_close(got.z0_ohm[0], 50, 0);
    board_build(&board, SEED, 1);
    assert_done(board_sweep(&board, 2.70, got.frequency_hz, got.n_points, &want, &e), &e);
    board_reading_sweep(&want, SEED, 1, 3);
    for (size_t i = 0; i < got.n_points; i++) {
        assert_close(got.frequency_hz[i], 150e6 + 0.1e6 * (double)i, 1e-6);
        assert_close(got.frequency_hz[i], nearbyint(got.frequency_hz[i]), 0);
    }
    for (size_t i = 0; i < S_PARAMETERS * got.n_points; i++)
        assert_true(got.s[i] == want.s[i]);
    text_clear(&bytes);
    sweep_clear(&got);
    sweep_clear(&want);
}

/* Reason: the same seed gives the same bytes, and a unit's files do not depend on how many units
 * are made. Both archives go to the same place one after the other. */
static void same_seed_same_bytes(void **state)
{
    static const char *const names[] = {"KW000101_low.s2p", "KW000102_high.s2p"};
    struct text first[2] = {{0}, {0}}, again = {0};

    write_archive(*state, 2, POINTS);
    for (size_t i = 0; i < 2; i++)
        read_file(*state, names[i], &first[i]);
    for (size_t i = 0; i < 2; i++)
        assert_int_equal(unlink(path_of(*state, names[i])), 0);
    write_archive(*state, 4, POINTS);
    for (size_t i = 0; i < 2; i++) {
        read_file(*state, names[i], &again);
        assert_string_equal(again.data, first[i].data);
        text_clear(&first[i]);
    }
    text_clear(&again);
}

/* Reason: the demo checks the archive with its limits file, by the ids of the bias steps. */
static void steps_are_those_of_the_limits_file(void **state)
{
    struct limits limits = {0};
    struct error e = {0};

    (void)state;
    assert_done(limits_read(&limits, "docs/demo/kittiwake.xml", &e), &e);
    assert_int_equal(limits.n_biases, BOARD_STEPS);
    for (size_t i = 0; i < BOARD_STEPS; i++) {
        assert_string_equal(limits.biases[i].id, board_steps[i].id);
        assert_close(limits.biases[i].at_v, board_steps[i].at_v, 0);
    }
    limits_clear(&limits);
}

static void count_calls(void *context, size_t n_done, size_t n_units)
{
    size_t *calls = context;

    assert_int_equal(n_done, ++*calls);
    assert_int_equal(n_units, 3);
}

/* Reason: progress is told after each unit. */
static void progress_is_told(void **state)
{
    const struct place *place = *state;
    struct error e = {0};
    size_t calls = 0;

    assert_done(board_archive_write(place->folder, 3, SEED, POINTS, count_calls, &calls, &e), &e);
    assert_int_equal(calls, 3);
}

/* Reason: numbers out of range must be refused before anything is written. */
static void refuses_impossible_numbers(void **state)
{
    static const size_t wrong[][2] = {
        {0, 5}, {BOARD_ARCHIVE_UNITS + 1, 5}, {1, 0}, {1, 1}, {1, CEILING_SWEEP_POINTS + 1}};
    const struct place *place = *state;

    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct error e = {0};

        assert_false(
            board_archive_write(place->folder, wrong[i][0], SEED, wrong[i][1], NULL, NULL, &e));
        assert_int_equal(e.kind, ERROR_USAGE);
    }
    assert_int_equal(count_files(place), 0);
}

/* Reason: a folder that cannot be made is the user's disk, not the command line. */
static void says_when_it_cannot_be_stored(void **state)
{
    struct error e = {0};

    assert_done(file_write(path_of(*state, "taken"), "x", 1, FILE_PLAIN, &e), &e);
    assert_false(board_archive_write(path_of(*state, "taken"), 1, SEED, POINTS, NULL, NULL, &e));
    assert_int_equal(e.kind, ERROR_STORE);
    assert_holds(e.text, "taken");
}

/* Reason: an archive that was broken off must not look whole: no index, not even the one of an
 * earlier archive. Comes last, for the wish to stop stays. */
static void stopped_archive_has_no_index(void **state)
{
    const struct place *place = *state;
    struct error e = {0};

    write_archive(place, 1, POINTS);
    stop_listen();
    assert_int_equal(raise(SIGTERM), 0);
    assert_false(board_archive_write(place->folder, 2, SEED, POINTS, NULL, NULL, &e));
    assert_int_equal(e.kind, ERROR_STOPPED);
    assert_int_equal(access(path_of(place, "index.csv"), F_OK), -1);
}

#define PLACED(test) cmocka_unit_test_setup_teardown(test, make_place, remove_place)

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACED(index_names_every_file),
        PLACED(files_hold_the_boards_numbers),
        PLACED(same_seed_same_bytes),
        PLACED(progress_is_told),
        cmocka_unit_test(steps_are_those_of_the_limits_file),
        PLACED(refuses_impossible_numbers),
        PLACED(says_when_it_cannot_be_stored),
        PLACED(stopped_archive_has_no_index),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
