/* Writes what an integer program needs to judge an arrangement of boards in sets.
 * Usage: match_model BOARDS SIZE SEED smooth|noise FOLDER
 * FOLDER/cheaper.lp: as many disjoint sets as possible, all cheaper than the arrangement's worst.
 * FOLDER/sum.lp: the least sum of that many sets, none dearer than the worst; costs as parts of the
 * worst. Prints the number of sets, and the arrangement's sum in the same parts. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "limits/match_sets.h"
#include "tests/match_boards.h"

enum { MOST = 24 };

/* A set, as the next in the order of its members. False after the last. */
static int next_members(size_t *members, size_t k, size_t n)
{
    size_t i = k;

    while (i > 0 && members[i - 1] == n - k + i - 1)
        i--;
    if (i == 0) return 0;
    members[i - 1]++;
    for (; i < k; i++)
        members[i] = members[i - 1] + 1;
    return 1;
}

/* One program over all sets that cost less than `below`. */
static void write_model(FILE *file, const struct match_gains *gains, size_t k, double below,
                        double unit, int least_sum)
{
    static char rows[MOST][4 << 20];
    size_t members[MATCH_MOST_SIZE], used[MOST] = {0}, n_sets = 0, n = gains->n_boards;

    for (size_t i = 0; i < k; i++)
        members[i] = i;
    fprintf(file, least_sum ? "Minimize\n sum:" : "Maximize\n number:");
    do {
        double cost = match_cost(gains, members, k);

        if (!(cost < below)) continue;
        fprintf(file, " + %.12f x%zu\n", least_sum ? cost / unit : 1.0, n_sets);
        for (size_t i = 0; i < k; i++)
            used[members[i]] +=
                (size_t)snprintf(rows[members[i]] + used[members[i]], 16, " + x%zu\n", n_sets);
        n_sets++;
    } while (next_members(members, k, n));
    if (n_sets == 0) fprintf(file, " 0 x0\n");
    fprintf(file, "Subject To\n");
    for (size_t i = 0; i < n; i++)
        if (used[i] > 0) fprintf(file, " b%zu:%s <= 1\n", i, rows[i]);
    fprintf(file, " all:");
    for (size_t s = 0; s < n_sets || s == 0; s++)
        fprintf(file, " + x%zu\n", s);
    fprintf(file, least_sum ? " = %zu\n" : " <= %zu\n", n / k);
    fprintf(file, "Binary\n");
    for (size_t s = 0; s < n_sets || s == 0; s++)
        fprintf(file, " x%zu\n", s);
    fprintf(file, "End\n");
}

static int write_file(const char *folder, const char *name, const struct match_gains *gains,
                      const struct match_sets *sets, int least_sum)
{
    char path[4096];
    double same = least_sum ? 1e-9 : -1e-9;
    FILE *file;

    snprintf(path, sizeof path, "%s/%s", folder, name);
    file = fopen(path, "w");
    if (!file) return 0;
    write_model(file, gains, sets->k, sets->worst * (1 + same), sets->worst, least_sum);
    return fclose(file) == 0;
}

int main(int argc, char **argv)
{
    size_t n = argc == 6 ? (size_t)strtoull(argv[1], NULL, 10) : 0, k;
    struct match_effort effort;
    struct match_gains gains;
    struct match_sets sets;
    struct error e = {0};
    double complex *gain;
    int ok;

    if (n == 0 || n > MOST) return 2;
    k = (size_t)strtoull(argv[2], NULL, 10);
    gain = (strcmp(argv[4], "noise") == 0 ? match_noise
                                          : match_boards)(n, 3, strtoull(argv[3], NULL, 10));
    if (!gain || !match_gains_wrap(&gains, gain, n, 3, &e)) return 2;
    effort = match_effort_usual(&gains);
    if (!match_sets_find(&gains, k, &effort, &sets, &e)) {
        fprintf(stderr, "match_model: %s\n", e.text);
        return 2;
    }
    ok = sets.worst_proven && sets.sum_proven &&
         write_file(argv[5], "cheaper.lp", &gains, &sets, 0) &&
         write_file(argv[5], "sum.lp", &gains, &sets, 1);
    printf("%zu %.9f\n", sets.n_sets, sets.sum / sets.worst);
    match_sets_clear(&sets);
    free(gain);
    return ok ? 0 : 1;
}
