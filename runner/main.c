/* The table of commands; the one place that prints an error and chooses the exit status. */
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "drivers/base/stop.h"
#include "drivers/base/xml.h"
#include "limits/statistics.h"
#include "runner/commands.h"
#include "runner/options.h"
#include "runner/print.h"

static const struct command {
    const char *name;
    const char *words;
    command_function *function;
} commands[] = {
    {"check", "judge archived sweeps and write the reports", cmd_check},
    {"run", "test a batch of boards at the bench", cmd_run},
    {"validate", "say whether a limits, bench or profile file is right, and what it means",
     cmd_validate},
    {"export", "write a sweep file as CSV or Touchstone", cmd_export},
    {"report", "write the reports of a batch again", cmd_report},
    {"audit", "prove that a batch record is whole and unaltered", cmd_audit},
    {"emulate", "write an archive of emulated boards, or serve a bench of them", cmd_emulate},
};

#define N_COMMANDS (sizeof commands / sizeof *commands)

static void print_help(void)
{
    printf("Usage: gainsieve COMMAND [options] [paths]\n\n"
           "Decides whether RF amplifier boards pass their limits.\n\nCommands:\n");
    for (size_t i = 0; i < N_COMMANDS; i++)
        printf("  %-10s %s\n", commands[i].name, commands[i].words);
    printf("\n\"gainsieve COMMAND --help\" tells more; --version tells the version.\n"
           "Exit status: 0 every unit PASS, 1 not every unit PASS, 2 command line, 3 input file,\n"
           "4 bench, 5 results not stored or no memory, 130 interrupted.\n");
}

static enum exit_status exit_status_of(enum error_kind kind)
{
    switch (kind) {
    case ERROR_USAGE: return EXIT_USAGE;
    case ERROR_INPUT: return EXIT_INPUT;
    case ERROR_BENCH: return EXIT_BENCH;
    case ERROR_STORE:
    case ERROR_MEMORY: return EXIT_STORE;
    case ERROR_STOPPED: return EXIT_STOPPED;
    case ERROR_NONE: break;
    }
    /* An error without a kind is a fault of ours; it may never look like a pass. */
    return EXIT_STORE;
}

static bool unknown_command(const char *written, struct error *e)
{
    const char *names[N_COMMANDS];
    const char *nearest;

    for (size_t i = 0; i < N_COMMANDS; i++)
        names[i] = commands[i].name;
    nearest = nearest_word(written, names, N_COMMANDS);
    return error_set(e, ERROR_USAGE, "there is no command \"%s\"%s%s%s", written,
                     nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "");
}

static bool run(int argc, char **argv, enum exit_status *status, struct error *e)
{
    if (argc < 2)
        return error_set(e, ERROR_USAGE, "name a command; \"gainsieve --help\" lists them");
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        print_help();
        return true;
    }
    if (strcmp(argv[1], "--version") == 0) {
        printf("gainsieve %s\n", GAINSIEVE_VERSION);
        return true;
    }
    for (size_t i = 0; i < N_COMMANDS; i++)
        if (strcmp(argv[1], commands[i].name) == 0)
            return commands[i].function(argc - 1, argv + 1, status, e);
    return unknown_command(argv[1], e);
}

/* A link or file that got the place of a closed standard one would be written to as such: the words
 * of an error would go to an instrument. What takes the place fails as the closed one would. */
static void keep_standard_places(void)
{
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) < 0)
            (void)!open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}

int main(int argc, char **argv)
{
    enum exit_status status = EXIT_ALL_PASS;
    struct error e = {0};
    bool ok;

    keep_standard_places();
    /* A reader that goes away is a write error with a message, not a silent death. */
    (void)signal(SIGPIPE, SIG_IGN);
    stop_listen();
    statistics_start();
    xml_start();
    ok = run(argc, argv, &status, &e);
    if (fflush(stdout) != 0 || ferror(stdout)) {
        if (ok) ok = error_set(&e, ERROR_STORE, "standard output could not be written");
    }
    if (!ok) {
        status = exit_status_of(e.kind);
        (void)fprintf(stderr, "gainsieve: ");
        print_plain(stderr, e.text);
        (void)fprintf(stderr, "\n");
    }
    xml_end();
    return (int)status;
}
