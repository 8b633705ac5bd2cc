#include "runner/options.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define LONGEST_WORD 32
#define MOST_OPTIONS 32

static size_t smallest(size_t a, size_t b, size_t c)
{
    size_t ab = a < b ? a : b;

    return ab < c ? ab : c;
}

/* Fewest single-letter changes from one word to the other (V. I. Levenshtein's distance); words too
 * long to be meant are infinitely far. */
static size_t distance(const char *a, const char *b)
{
    size_t row[LONGEST_WORD + 1], length = strlen(b);

    if (strlen(a) > LONGEST_WORD || length > LONGEST_WORD) return SIZE_MAX;
    for (size_t k = 0; k <= length; k++)
        row[k] = k;
    for (size_t i = 0; a[i]; i++) {
        size_t diagonal = row[0];

        row[0] = i + 1;
        for (size_t k = 0; k < length; k++) {
            size_t above = row[k + 1];

            row[k + 1] = smallest(above + 1, row[k] + 1, diagonal + (a[i] != b[k]));
            diagonal = above;
        }
    }
    return row[length];
}

const char *nearest_word(const char *written, const char *const *candidates, size_t n)
{
    const char *nearest = NULL;
    size_t best = strlen(written) / 2 + 1;

    for (size_t i = 0; i < n; i++) {
        size_t d = distance(written, candidates[i]);

        if (d > best || (d == best && nearest)) continue;
        best = d;
        nearest = candidates[i];
    }
    return nearest;
}

static void print_help(const struct option_table *table)
{
    printf("Usage: gainsieve %s\n\n%s\n", table->usage, table->about);
    printf("\nOptions:\n");
    for (const struct option_row *row = table->rows; row->name; row++) {
        char left[64];

        (void)snprintf(left, sizeof left, "--%s%s%s", row->name, row->value_name ? " " : "",
                       row->value_name ? row->value_name : "");
        printf("  %-24s %s\n", left, row->words);
    }
    printf("  %-24s %s\n", "--help", "show this and do nothing else");
}

static bool unknown_option(const struct option_table *table, const char *written, struct error *e)
{
    const char *names[MOST_OPTIONS];
    const char *nearest;
    size_t n = 0;

    for (const struct option_row *row = table->rows; row->name && n < MOST_OPTIONS; row++)
        names[n++] = row->name;
    nearest = nearest_word(written, names, n);
    return error_set(e, ERROR_USAGE, "there is no option --%s%s%s%s", written,
                     nearest ? "; did you mean --" : "", nearest ? nearest : "",
                     nearest ? "?" : "");
}

/* The row that the name means: the whole name, or the beginning of one only. */
static const struct option_row *find_row(const struct option_table *table, const char *name)
{
    const struct option_row *found = NULL;

    for (const struct option_row *row = table->rows; row->name; row++) {
        if (strcmp(row->name, name) == 0) return row;
        if (*name == '\0' || strncmp(row->name, name, strlen(name)) != 0) continue;
        if (found) return NULL;
        found = row;
    }
    return found;
}

/* Reads the option at argv[*i]; moves `*i` on when its value is the next argument. */
static bool read_option(const struct option_table *table, int argc, char **argv, int *i,
                        struct error *e)
{
    char name[2 * LONGEST_WORD];
    const char *equals = strchr(argv[*i], '=');
    const struct option_row *row;

    (void)snprintf(name, sizeof name, "%.*s",
                   equals ? (int)(equals - argv[*i] - 2) : (int)sizeof name, argv[*i] + 2);
    row = find_row(table, name);
    if (!row) return unknown_option(table, name, e);
    if (!row->value_name) {
        if (equals) return error_set(e, ERROR_USAGE, "the option --%s takes no value", row->name);
        *row->flag = true;
        return true;
    }
    if (!equals && *i + 1 >= argc)
        return error_set(e, ERROR_USAGE, "the option --%s needs a value: --%s %s", row->name,
                         row->name, row->value_name);
    if (*row->value) return error_set(e, ERROR_USAGE, "the option --%s stands twice", row->name);
    *row->value = equals ? equals + 1 : argv[++*i];
    return true;
}

bool options_read(const struct option_table *table, int argc, char **argv, size_t *n_others,
                  bool *helped, struct error *e)
{
    int others = 1;
    bool only_others = false;

    *helped = false;
    for (int i = 1; i < argc; i++) {
        if (only_others || argv[i][0] != '-' || argv[i][1] == '\0') {
            argv[others++] = argv[i];
        } else if (strcmp(argv[i], "--") == 0) {
            only_others = true;
        } else if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0) {
            print_help(table);
            *helped = true;
            return true;
        } else if (argv[i][1] != '-') {
            return error_set(e, ERROR_USAGE,
                             "%s: options are written in full, with two dashes; "
                             "--help lists them",
                             argv[i]);
        } else if (!read_option(table, argc, argv, &i, e)) {
            return false;
        }
    }
    *n_others = (size_t)(others - 1);
    return true;
}
