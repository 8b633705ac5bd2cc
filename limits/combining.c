#include "limits/combining.h"

#include <math.h>

#include "drivers/base/memory.h"

#define FREE_PHASE_TURNS 50
/* Phases that move less than this have settled. */
#define SETTLED_RAD 1e-13

static double power_of(double complex a)
{
    return creal(a) * creal(a) + cimag(a) * cimag(a);
}

/* The shortest arc with all phases is the circle without the widest gap between neighbours. */
static double phase_spread_deg(const double complex *gains, size_t n)
{
    const double circle = 2 * acos(-1);
    double widest = 0;

    for (size_t i = 0; i < n; i++) {
        double gap = circle;

        if (gains[i] == 0) continue;
        for (size_t j = 0; j < n; j++) {
            double ahead;

            if (j == i || gains[j] == 0) continue;
            ahead = carg(gains[j] / cabs(gains[j]) * conj(gains[i] / cabs(gains[i])));
            /* Of boards in the same direction only the last one has the gap behind it. */
            if (ahead < 0 || (ahead == 0 && j < i)) ahead += circle;
            if (ahead < gap) gap = ahead;
        }
        if (gap > widest) widest = gap;
    }
    return widest > 0 ? (circle - widest) * 360 / circle : 0;
}

void combining_at(const double complex *gains, size_t n, struct combining *out)
{
    double complex sum = 0;
    double power = 0, least = INFINITY, most = 0;

    for (size_t i = 0; i < n; i++) {
        double one = power_of(gains[i]);

        sum += gains[i];
        power += one;
        least = fmin(least, one);
        most = fmax(most, one);
    }
    out->efficiency = power > 0 ? fmin(1, power_of(sum) / ((double)n * power)) : 0;
    out->loss_db = out->efficiency >= 1  ? 0
                   : out->efficiency > 0 ? -10 * log10(out->efficiency)
                                         : INFINITY;
    out->gain_spread_db = most > least ? 10 * log10(most / least) : 0;
    out->phase_spread_deg = phase_spread_deg(gains, n);
}

bool combining_over(const double complex *const *boards, size_t n_boards, size_t n_places,
                    struct combining_worst *out, struct error *e)
{
    double complex *here = memory_make(n_boards, sizeof *here, e);

    if (!here) return false;
    *out = (struct combining_worst){.worst.efficiency = 1};
    for (size_t p = 0; p < n_places; p++) {
        struct combining now;

        for (size_t i = 0; i < n_boards; i++)
            here[i] = boards[i][p];
        combining_at(here, n_boards, &now);
        if (now.efficiency < out->worst.efficiency) {
            out->worst.efficiency = now.efficiency;
            out->worst.loss_db = now.loss_db;
            out->loss_place = p;
        }
        if (now.gain_spread_db > out->worst.gain_spread_db) {
            out->worst.gain_spread_db = now.gain_spread_db;
            out->gain_place = p;
        }
        if (now.phase_spread_deg > out->worst.phase_spread_deg) {
            out->worst.phase_spread_deg = now.phase_spread_deg;
            out->phase_place = p;
        }
    }
    memory_free(here);
    return true;
}

static double complex direction(double complex a)
{
    double size = cabs(a);

    return size > 0 ? a / size : 0;
}

static double complex turn_back(double phase_rad)
{
    return cos(phase_rad) - I * sin(phase_rad);
}

/* The mean phase of a board against the course. */
static double phase_against(const double complex *board, const double complex *course,
                            size_t n_places)
{
    double complex sum = 0;

    for (size_t p = 0; p < n_places; p++)
        sum += direction(board[p]) * conj(course[p]);
    return carg(sum);
}

/* The mean of the turned boards at each place. */
static void mean_course(const double complex *const *boards, size_t n_boards, size_t n_places,
                        const double *phases_rad, double complex *course)
{
    for (size_t p = 0; p < n_places; p++)
        course[p] = 0;
    for (size_t i = 0; i < n_boards; i++) {
        double complex back = turn_back(phases_rad[i]);

        for (size_t p = 0; p < n_places; p++)
            course[p] += direction(boards[i][p]) * back;
    }
    for (size_t p = 0; p < n_places; p++)
        course[p] = direction(course[p]);
}

bool combining_free_phases(const double complex *const *boards, size_t n_boards, size_t n_places,
                           double *out_rad, struct error *e)
{
    const double half = acos(-1);
    double complex *course = memory_make(n_places, sizeof *course, e);
    double first;

    if (!course) return false;
    for (size_t p = 0; n_boards > 0 && p < n_places; p++)
        course[p] = direction(boards[0][p]);
    for (size_t i = 0; i < n_boards; i++)
        out_rad[i] = phase_against(boards[i], course, n_places);
    for (int turn = 0; turn < FREE_PHASE_TURNS; turn++) {
        double moved = 0;

        mean_course(boards, n_boards, n_places, out_rad, course);
        for (size_t i = 0; i < n_boards; i++) {
            double now = phase_against(boards[i], course, n_places);

            moved = fmax(moved, fabs(remainder(now - out_rad[i], 2 * half)));
            out_rad[i] = now;
        }
        if (moved < SETTLED_RAD) break;
    }
    first = n_boards > 0 ? out_rad[0] : 0;
    for (size_t i = 0; i < n_boards; i++)
        out_rad[i] = remainder(out_rad[i] - first, 2 * half);
    memory_free(course);
    return true;
}

void combining_turn(double complex *gains, size_t n_places, double phase_rad)
{
    double complex back = turn_back(phase_rad);

    for (size_t p = 0; p < n_places; p++)
        gains[p] *= back;
}
