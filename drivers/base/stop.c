#include "drivers/base/stop.h"

#include <signal.h>
#include <string.h>

/* The one flag of the process; written by the signal handler. */
static volatile sig_atomic_t wanted;

static void ask(int signal_number)
{
    (void)signal_number;
    wanted = 1;
}

static void take(int signal_number)
{
    struct sigaction action;

    memset(&action, 0, sizeof action);
    action.sa_handler = ask;
    /* No SA_RESTART: a wait ends at once. A second Ctrl-C while stopping changes nothing. */
    (void)sigaction(signal_number, &action, NULL);
}

void stop_listen(void)
{
    struct sigaction before;

    take(SIGINT);
    take(SIGTERM);
    /* Ignored from the start means nohup: a closed terminal is then no reason to stop. */
    if (sigaction(SIGHUP, NULL, &before) != 0 || before.sa_handler != SIG_IGN) take(SIGHUP);
}

bool stop_wanted(void)
{
    return wanted != 0;
}

bool stop_error(struct error *e)
{
    return error_set(e, ERROR_STOPPED,
                     "stopped before the end: the results are not written; start again to do the "
                     "whole work");
}
