/* `gainsieve emulate`: an archive of emulated boards, or a bench that holds them. */
#include <stdio.h>
#include <string.h>

#include "drivers/base/number.h"
#include "drivers/board_archive.h"
#include "drivers/emulator_serve.h"
#include "runner/commands.h"
#include "runner/options.h"
#include "runner/progress.h"

/* Seeds up to here are told apart by every double and every person. */
#define LARGEST_SEED 4294967295UL
/* Fewer points leave nothing to judge; more are no longer a plausible analyser. */
#define LARGEST_POINTS 100001UL
/* Three ports in a row are taken. */
#define LARGEST_TCP_PORT 65533UL
/* The fastest line that a pseudo-terminal can be slowed to; ten bits move a byte. */
#define LARGEST_BAUD 4000000UL
#define LOOPBACK "tcp:127.0.0.1:"

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

/* What --listen and its companions ask for. */
struct listening {
    const char *where, *serial, *faults;
    unsigned long baud; /* 0: no slower than it is */
    struct emulator_settings settings;
};

static void list_faults(void)
{
    for (unsigned i = 0; i < EMULATOR_FAULTS; i++)
        printf("%-18s %s%s\n", emulator_fault_rows[i].name, emulator_fault_rows[i].words,
               emulator_fault_rows[i].lasts ? " (lasts)" : "");
}

/* One port for each of the three, told on standard output before they are served. */
static bool open_ports(struct emulator_server *server, const struct listening *listening,
                       struct error *e)
{
    struct emulator *bench = server->bench;
    struct emulator_instrument *instruments[] = {&bench->analyser, &bench->supply, &bench->fixture};
    const bool is_pty = strcmp(listening->where, "pty") == 0;
    unsigned long tcp_port = 0;

    if (!is_pty &&
        (strncmp(listening->where, LOOPBACK, strlen(LOOPBACK)) != 0 ||
         !number_parse_whole(listening->where + strlen(LOOPBACK), LARGEST_TCP_PORT, &tcp_port)))
        return error_set(e, ERROR_USAGE,
                         "--listen %.80s: write pty, " LOOPBACK
                         "0 for free ports, or a port up to %lu",
                         listening->where, LARGEST_TCP_PORT);
    for (unsigned i = 0; i < 3; i++) {
        const unsigned port = tcp_port ? (unsigned)tcp_port + i : 0;

        if (!(is_pty ? emulator_server_pty(server, instruments[i], e)
                     : emulator_server_tcp(server, instruments[i], port, e)))
            return false;
        server->ports[i].bytes_per_s = (double)listening->baud / 10;
        printf("%s %s\n", instruments[i]->kind->name, server->ports[i].where);
    }
    return fflush(stdout) == 0 ||
           error_set(e, ERROR_STORE, "standard output: cannot be written to: say where it goes");
}

/* Until somebody asks to stop, which is the ordinary end. */
static bool listen_and_serve(const struct listening *listening, struct error *e)
{
    struct emulator bench;
    struct emulator_server server = {.bench = &bench};
    bool ok;

    emulator_start(&bench, &listening->settings);
    ok = emulator_connect(&bench, listening->serial, e) &&
         (!listening->faults || emulator_arm(&bench, listening->faults, e)) &&
         open_ports(&server, listening, e) && emulator_serve(&server, e);
    emulator_server_clear(&server);
    emulator_clear(&bench);
    return ok;
}

bool cmd_emulate(int argc, char **argv, enum exit_status *status, struct error *e)
{
    const char *folder = NULL, *units_words = NULL, *seed_words = NULL, *points_words = NULL;
    const char *baud_words = NULL;
    struct listening listening = {0};
    const struct option_row rows[] = {
        {"archive", "DIR", "write an archive there", &folder, NULL},
        {"units", "N", "how many boards (default 24)", &units_words, NULL},
        {"seed", "S", "which boards: the same seed gives the same ones (default 1)", &seed_words,
         NULL},
        {"points", "N", "points of a sweep, 150 to 190 MHz (default 401)", &points_words, NULL},
        {"listen", "WHERE", "serve a bench at tcp:127.0.0.1:PORT (0: any) or pty", &listening.where,
         NULL},
        {"connect", "SERIAL", "the board in its fixture, KW000101 and on", &listening.serial, NULL},
        {"fault", "WORDS", "what goes wrong with it; \"list\" shows all", &listening.faults, NULL},
        {"baud", "N", "as slow as a serial line of this speed", &baud_words, NULL},
        {"sweep-time", NULL, "sweeps take their time", NULL, &listening.settings.takes_time},
        {NULL, NULL, NULL, NULL, NULL},
    };
    const struct option_table table = {
        "emulate --archive DIR [--units N] [--seed S] [--points N]\n"
        "       gainsieve emulate --listen WHERE [--connect SERIAL] [--seed S] [--fault WORDS]\n"
        "                         [--baud N] [--sweep-time]",
        "Writes the sweeps of emulated boards, some of them faulty, as Touchstone files with an\n"
        "index.csv: something to try limits and reports on. Or serves an analyser, a supply and a\n"
        "fixture that hold such boards, until stopped. The boards are invented.",
        rows};
    unsigned long units = 24, seed = 1, points = BOARD_ARCHIVE_POINTS;
    size_t n_others;
    bool helped;

    if (!options_read(&table, argc, argv, &n_others, &helped, e)) return false;
    *status = EXIT_ALL_PASS;
    if (helped) return true;
    if (listening.faults && strcmp(listening.faults, "list") == 0) {
        list_faults();
        return true;
    }
    if (!folder == !listening.where || n_others > 0)
        return error_set(e, ERROR_USAGE,
                         "emulate needs --archive DIR or --listen WHERE, and no other path");
    if (!read_number("units", units_words, 1, BOARD_ARCHIVE_UNITS, &units, e) ||
        !read_number("seed", seed_words, 0, LARGEST_SEED, &seed, e) ||
        !read_number("points", points_words, 2, LARGEST_POINTS, &points, e) ||
        !read_number("baud", baud_words, 300, LARGEST_BAUD, &listening.baud, e))
        return false;
    listening.settings.seed = seed;
    return folder ? write_archive(folder, units, seed, points, e) : listen_and_serve(&listening, e);
}
