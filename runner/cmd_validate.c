/* `gainsieve validate`: whether a limits file, a profile or a bench file is right, and what it
 * means. */
#include <stdio.h>
#include <string.h>

#include "drivers/base/xml.h"
#include "drivers/bench_file.h"
#include "drivers/profile.h"
#include "limits/limits_words.h"
#include "runner/commands.h"
#include "runner/options.h"

static bool read_limits(const char *path, struct text *words, struct error *e)
{
    struct limits limits = {0};

    if (!limits_read(&limits, path, e)) return false;
    limits_words(&limits, words);
    limits_clear(&limits);
    return true;
}

static bool read_profile(const char *path, struct text *words, struct error *e)
{
    struct profile profile = {0};

    if (!profile_read(&profile, path, e)) return false;
    profile_words(&profile, words);
    profile_clear(&profile);
    return true;
}

static bool read_bench(const char *path, struct text *words, struct error *e)
{
    struct bench_file bench = {0};

    if (!bench_file_read(&bench, path, e)) return false;
    bench_file_words(&bench, words);
    bench_file_clear(&bench);
    return true;
}

/* The kinds of file, told apart by their namespace. */
static const struct kind {
    const char *space;
    bool (*read)(const char *path, struct text *words, struct error *e);
} kinds[] = {
    {"urn:gainsieve:limits:1", read_limits},
    {"urn:gainsieve:profile:1", read_profile},
    {"urn:gainsieve:bench:1", read_bench},
};

static bool find_kind(const char *path, const struct kind **out, struct error *e)
{
    struct xml *xml = NULL;
    const struct xml_node *root;

    if (!xml_load(&xml, path, NULL, NULL, e)) return false;
    root = xml_root(xml);
    *out = NULL;
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
        if (strcmp(xml_namespace(root), kinds[i].space) == 0) *out = &kinds[i];
    if (!*out)
        (void)xml_fault(
            xml, root, e,
            "is no limits file, profile or bench file: begin it with <limits xmlns=\"%s\" ...>, "
            "<profile xmlns=\"%s\" ...> or <bench xmlns=\"%s\" ...>",
            kinds[0].space, kinds[1].space, kinds[2].space);
    xml_free(xml);
    return *out != NULL;
}

static bool validate_file(const char *path, struct error *e)
{
    const struct kind *kind;
    struct text words = {0};
    bool ok =
        find_kind(path, &kind, e) && kind->read(path, &words, e) && text_ok(&words, "the words", e);

    if (ok) printf("%s: right\n%s", path, text_words(&words));
    text_clear(&words);
    return ok;
}

bool cmd_validate(int argc, char **argv, enum exit_status *status, struct error *e)
{
    const struct option_row rows[] = {{NULL, NULL, NULL, NULL, NULL}};
    const struct option_table table = {"validate FILE...",
                                       "Says whether limits files, instrument profiles and bench "
                                       "files are right and shows in words\nwhat they mean: a "
                                       "line for each limit, step or part of the bench.",
                                       rows};
    size_t n_paths;
    bool helped;

    if (!options_read(&table, argc, argv, &n_paths, &helped, e)) return false;
    *status = EXIT_ALL_PASS;
    if (helped) return true;
    if (n_paths == 0)
        return error_set(e, ERROR_USAGE, "validate needs a limits file, a profile or a bench file");
    for (size_t i = 1; i <= n_paths; i++)
        if (!validate_file(argv[i], e)) return false;
    return true;
}
