/* Time left on the monotonic clock: a moment after which nobody waits any longer. A step of the
 * calendar clock changes nothing. */
#ifndef GAINSIEVE_BASE_DEADLINE_H
#define GAINSIEVE_BASE_DEADLINE_H

#include <stdbool.h>
#include <stdint.h>

struct deadline {
    int64_t at_ns; /* on CLOCK_MONOTONIC */
};

/* The moment `s` seconds from now; a negative or not finite time is now. At most a day. */
struct deadline deadline_in(double s);

/* Seconds on the same clock, to take the difference of two: its zero is anywhere. */
double deadline_now_s(void);

/* Seconds left, 0 when it has passed. */
double deadline_left_s(struct deadline deadline);
/* The same for poll(): whole milliseconds, rounded up, so that a loop does not spin. */
int deadline_left_ms(struct deadline deadline);
bool deadline_passed(struct deadline deadline);

/* The earlier of two. */
struct deadline deadline_first(struct deadline a, struct deadline b);

/* Waits until then, or until somebody asks to stop (stop.h): false in that case. */
bool deadline_wait(struct deadline deadline);

/* Waits until then whatever happens: for the pauses of switching off. */
void deadline_sleep(struct deadline deadline);

#endif
