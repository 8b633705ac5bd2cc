/* `gainsieve emulate`: an archive of emulated boards. */
#include <stdio.h>

#include "drivers/base/number.h"
#include "drivers/board_archive.h"
#include "runner/commands.h"
#include "runner/options.h"
#include "runner/progress.h"

/* Seeds up to here are told apart by every double and every person. */
#define LARGEST_SEED 4294967295UL
/* Fewer points leave nothing to judge; more are no longer a plausible analyser. */
#define LARGEST_POINTS 100001UL

static bool read_number(const char *option, const char *words, unsigned long smallest,
                        unsigned long largest, unsigned long *out, struct error *e)
{
    if (!words) return true;
    if (number_parse_whole(words, largest, out) && *out >= smallest) return true;
    return error_set(e, ERROR_USAGE, "--%s %s: write a whole number from %lu to %lu", option, words,
                     smallest, largest);
}

static void show(void *progress, size_t n_done, size_t n_units)
{
    (void)n_units;
    progress_show(progress, n_done);
}

static bool write_archive(const char *folder, unsigned long units, unsigned long seed,
                          unsigned long points, struct error *e)
{
    struct progress progress;
    bool ok;

    progress_start(&progress, "wrote", "units", units);
    ok = board_archive_write(folder, units, seed, points, show, &progress, e);
    progress_end(&progress);
    if (ok)
        printf("%lu units at %d bias steps: %s (index.csv tells which file is what)\n", units,
               BOARD_STEPS, folder);
    return ok;
}

bool cmd_emulate(int argc, char **argv, enum exit_status *status, struct error *e)
{
    const char *folder = NULL, *units_words = NULL, *seed_words = NULL, *points_words = NULL;
    const struct option_row rows[] = {
        {"archive", "DIR", "write the archive there (needed)", &folder, NULL},
        {"units", "N", "how many boards (default 24)", &units_words, NULL},
        {"seed", "S", "which boards: the same seed gives the same files (default 1)", &seed_words,
         NULL},
        {"points", "N", "points of a sweep, 150 to 190 MHz (default 401)", &points_words, NULL},
        {NULL, NULL, NULL, NULL, NULL},
    };
    const struct option_table table = {
        "emulate --archive DIR [--units N] [--seed S] [--points N]",
        "Writes the sweeps of emulated boards, some of them faulty, as Touchstone files with an\n"
        "index.csv: something to try limits and reports on. The boards are invented.",
        rows};
    unsigned long units = 24, seed = 1, points = BOARD_ARCHIVE_POINTS;
    size_t n_others;
    bool helped;

    if (!options_read(&table, argc, argv, &n_others, &helped, e)) return false;
    *status = EXIT_ALL_PASS;
    if (helped) return true;
    if (!folder || n_others > 0)
        return error_set(e, ERROR_USAGE, "emulate needs --archive DIR and no other path");
    return read_number("units", units_words, 1, BOARD_ARCHIVE_UNITS, &units, e) &&
           read_number("seed", seed_words, 0, LARGEST_SEED, &seed, e) &&
           read_number("points", points_words, 2, LARGEST_POINTS, &points, e) &&
           write_archive(folder, units, seed, points, e);
}
