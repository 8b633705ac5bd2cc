#include "drivers/base/stop.h"

#include <errno.h>
#include <signal.h>
#include <stdint.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

/* The one flag of the process; written by the signal handler. */
static volatile sig_atomic_t wanted;
/* The same for poll(). A flag alone is not enough: the signal may come between the look at it and
 * the wait, or to another thread. */
static volatile sig_atomic_t descriptor = -1;

static void ask(int signal_number)
{
    const uint64_t one = 1;
    const int before = errno;

    (void)signal_number;
    wanted = 1;
    if (descriptor >= 0 && write(descriptor, &one, sizeof one) < 0) {
        /* Only a full counter fails, and that is readable. */
    }
    errno = before;
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

    if (descriptor < 0) descriptor = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    take(SIGINT);
    take(SIGTERM);
    /* Ignored from the start means nohup: a closed terminal is then no reason to stop. */
    if (sigaction(SIGHUP, NULL, &before) != 0 || before.sa_handler != SIG_IGN) take(SIGHUP);
}

bool stop_wanted(void)
{
    return wanted != 0;
}

int stop_descriptor(void)
{
    return descriptor;
}

bool stop_error(struct error *e)
{
    return error_set(e, ERROR_STOPPED,
                     "stopped before the end: the results are not written; start again to do the "
                     "whole work");
}
