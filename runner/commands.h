/* The commands of the program: one file each, one row each in main.c. */
#ifndef GAINSIEVE_COMMANDS_H
#define GAINSIEVE_COMMANDS_H

#include "drivers/base/error.h"

enum exit_status {
    EXIT_ALL_PASS = 0,     /* every unit PASS, or the command did what it was asked */
    EXIT_NOT_ALL_PASS = 1, /* judged, not every unit PASS */
    EXIT_USAGE = 2,
    EXIT_INPUT = 3,
    EXIT_BENCH = 4,
    EXIT_STORE = 5, /* results could not be stored, or no memory */
    EXIT_STOPPED = 130,
};

/* Does the command with its own arguments (argv[0] is the command). True with `*status` set when it
 * did what it was asked; false with `e` set otherwise. */
typedef bool command_function(int argc, char **argv, enum exit_status *status, struct error *e);

command_function cmd_check;
command_function cmd_run;
command_function cmd_validate;
command_function cmd_emulate;
command_function cmd_export;
command_function cmd_audit;
command_function cmd_report;

#endif
