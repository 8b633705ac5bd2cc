/* `gainsieve validate`: whether a limits file is right, and what it means. */
#include <stdio.h>

#include "limits/limits_words.h"
#include "runner/commands.h"
#include "runner/options.h"

static bool validate_file(const char *path, struct error *e)
{
    struct limits limits = {0};
    struct text words = {0};
    bool ok;

    if (!limits_read(&limits, path, e)) return false;
    limits_words(&limits, &words);
    ok = text_ok(&words, "the words", e);
    if (ok) printf("%s: right\n%s", path, words.data);
    text_clear(&words);
    limits_clear(&limits);
    return ok;
}

bool cmd_validate(int argc, char **argv, enum exit_status *status, struct error *e)
{
    const struct option_row rows[] = {{NULL, NULL, NULL, NULL, NULL}};
    const struct option_table table = {
        "validate FILE...",
        "Says whether limits files are right and shows in words what they mean, a line a limit.",
        rows};
    size_t n_paths;
    bool helped;

    if (!options_read(&table, argc, argv, &n_paths, &helped, e)) return false;
    *status = EXIT_ALL_PASS;
    if (helped) return true;
    if (n_paths == 0) return error_set(e, ERROR_USAGE, "validate needs a limits file");
    for (size_t i = 1; i <= n_paths; i++)
        if (!validate_file(argv[i], e)) return false;
    return true;
}
