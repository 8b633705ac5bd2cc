#include "drivers/base/deadline.h"

#include <errno.h>
#include <limits.h>
#include <math.h>
#include <poll.h>
#include <stddef.h>
#include <time.h>

#include "drivers/base/stop.h"

#define NS_PER_S INT64_C(1000000000)
#define NS_PER_MS INT64_C(1000000)
#define LONGEST_S 86400.0
/* Without a descriptor to poll, a wait looks for the flag so often. */
#define LOOK_MS 50

static int64_t now_ns(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * NS_PER_S + now.tv_nsec;
}

static int64_t left_ns(struct deadline deadline)
{
    const int64_t now = now_ns();

    return deadline.at_ns > now ? deadline.at_ns - now : 0;
}

struct deadline deadline_in(double s)
{
    if (!isfinite(s) || s < 0) s = 0;
    if (s > LONGEST_S) s = LONGEST_S;
    return (struct deadline){now_ns() + (int64_t)(s * (double)NS_PER_S)};
}

double deadline_now_s(void)
{
    return (double)now_ns() / (double)NS_PER_S;
}

double deadline_left_s(struct deadline deadline)
{
    return (double)left_ns(deadline) / (double)NS_PER_S;
}

int deadline_left_ms(struct deadline deadline)
{
    const int64_t left = left_ns(deadline);
    const int64_t ms = left / NS_PER_MS + (left % NS_PER_MS != 0);

    return ms < INT_MAX ? (int)ms : INT_MAX;
}

bool deadline_passed(struct deadline deadline)
{
    return left_ns(deadline) == 0;
}

struct deadline deadline_first(struct deadline a, struct deadline b)
{
    return a.at_ns < b.at_ns ? a : b;
}

bool deadline_wait(struct deadline deadline)
{
    struct pollfd stop = {.fd = stop_descriptor(), .events = POLLIN};
    int left;

    while (!stop_wanted() && (left = deadline_left_ms(deadline)) > 0) {
        if (stop.fd < 0 && left > LOOK_MS) left = LOOK_MS;
        if (poll(&stop, 1, left) > 0) return false;
    }
    return !stop_wanted();
}

void deadline_sleep(struct deadline deadline)
{
    const struct timespec until = {.tv_sec = (time_t)(deadline.at_ns / NS_PER_S),
                                   .tv_nsec = (long)(deadline.at_ns % NS_PER_S)};

    if (deadline_passed(deadline)) return;
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL) == EINTR)
        continue;
}
