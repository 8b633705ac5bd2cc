/* Times of matching against what is promised. Prints a line for each case and ends with 1 when one
 * is late or a proof is missing. Built and run by bench_match.sh. The boards are invented (see
 * tests/match_boards.h). Usage: bench_match [SEED] [PLACES] */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "limits/match_sets.h"
#include "tests/match_boards.h"

static int failed;

static double now_s(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void promise(double took_s, double most_s, bool proven)
{
    printf("%.3f s of %g s allowed\n", took_s, most_s);
    if (took_s < most_s && proven) return;
    printf("bench: %s\n", proven ? "too slow" : "not proven");
    failed = 1;
}

static void one_set(size_t n, size_t k, size_t places, uint64_t seed, double most_s)
{
    double complex *gain = match_boards(n, places, seed);
    size_t *all = malloc(n * sizeof *all);
    struct match_gains gains;
    struct match_best best;
    struct error e = {0};
    double start_s = now_s();

    for (size_t i = 0; all && i < n; i++)
        all[i] = i;
    if (!gain || !all || !match_gains_wrap(&gains, gain, n, places, &e) ||
        !match_best_find(&gains, all, n, NULL, 0, k, 2000000000, &best, &e)) {
        printf("bench: %s\n", e.text);
        exit(1);
    }
    printf("best set, %zu of %zu: loss %.6f dB, %s, %.0f nodes, ", n, k,
           match_loss_db(best.set.cost), best.proven ? "proven" : "not proven", (double)best.nodes);
    promise(now_s() - start_s, most_s, best.proven);
    free(all);
    free(gain);
}

static void all_sets(size_t n, size_t k, size_t places, uint64_t seed, double most_s, bool exact)
{
    double complex *gain = match_boards(n, places, seed);
    struct match_effort effort;
    struct match_gains gains;
    struct match_sets sets;
    struct error e = {0};
    double start_s = now_s();

    if (!gain || !match_gains_wrap(&gains, gain, n, places, &e)) exit(1);
    effort = match_effort_usual(&gains);
    if (!match_sets_find(&gains, k, &effort, &sets, &e)) {
        printf("bench: %s\n", e.text);
        exit(1);
    }
    printf("all sets, %zu of %zu: worst %.5f dB (bound %.5f, %s), cost sum %.6f (bound %.6f, gap "
           "%.1f %%, %s), %zu left over, %.0f nodes, ",
           n, k, match_loss_db(sets.worst), match_loss_db(sets.worst_bound),
           sets.worst_proven ? "proven" : "not proven", sets.sum, sets.sum_bound,
           100 * (sets.sum / sets.sum_bound - 1), sets.sum_proven ? "proven" : "not proven",
           sets.n_left, (double)sets.nodes);
    promise(now_s() - start_s, most_s, !exact || (sets.worst_proven && sets.sum_proven));
    match_sets_clear(&sets);
    free(gain);
}

int main(int argc, char **argv)
{
    uint64_t seed = argc > 1 ? strtoull(argv[1], NULL, 10) : 1;
    size_t places = argc > 2 ? (size_t)strtoull(argv[2], NULL, 10) : 101;

    printf("seed %.0f, %zu places\n", (double)seed, places);
    one_set(24, 4, places, seed, 0.05);
    one_set(200, 5, places, seed, 1);
    one_set(1000, 5, places, seed, 5);
    all_sets(24, 4, places, seed, 1, true);
    all_sets(200, 5, places, seed, 10, false);
    all_sets(2000, 4, places, seed, 60, false);
    return failed;
}
