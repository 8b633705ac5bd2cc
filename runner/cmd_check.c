/* `gainsieve check`: judges archived sweeps. */
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "limits/yield.h"
#include "reports/page_batch.h"
#include "reports/results_csv.h"
#include "runner/check_job.h"
#include "runner/commands.h"
#include "runner/options.h"
#include "runner/print.h"
#include "runner/report_folder.h"

/* Units named one by one in the summary; the tables hold them all. */
#define MOST_NAMED 20

struct check_options {
    const char *limits, *out, *layout, *index, *jobs, *reference, *unit_pages;
    char *const *paths;
    size_t n_paths;
};

static bool read_options(struct check_options *o, int argc, char **argv, bool *helped,
                         struct error *e)
{
    const struct option_row rows[] = {
        {"limits", "FILE", "the limits file (needed)", &o->limits, NULL},
        {"out", "DIR", "write units.csv, results.csv, report.html and units/ there", &o->out, NULL},
        {"unit-pages", "WHICH",
         "pages of single units in units/: all (default), failed (every unit that is not PASS) or "
         "none",
         &o->unit_pages, NULL},
        {"layout", "PATTERN", "where serial and bias stand in the names: {serial}/{bias}.s2p",
         &o->layout, NULL},
        {"index", "FILE",
         "a CSV file with serial,attempt,bias,file[,bias_current_ma,measured_at,operator,bench]",
         &o->index, NULL},
        {"reference", "SERIAL", "the unit that phase limits compare with", &o->reference, NULL},
        {"jobs", "N", "threads (default: one a core)", &o->jobs, NULL},
        {NULL, NULL, NULL, NULL, NULL},
    };
    const struct option_table table = {
        "check --limits FILE [--out DIR] [--layout PATTERN | --index FILE] PATH...",
        "Judges every unit of an archive of sweeps. A PATH is a folder or a sweep file; names "
        "tell\n"
        "serial number and bias: SERIAL_BIAS.s2p or SERIAL/BIAS.s2p.",
        rows};

    if (!options_read(&table, argc, argv, &o->n_paths, helped, e)) return false;
    o->paths = argv + 1;
    if (*helped) return true;
    if (!o->limits) return error_set(e, ERROR_USAGE, "check needs --limits FILE");
    if (o->layout && o->index)
        return error_set(e, ERROR_USAGE,
                         "--layout and --index exclude each other: an index already "
                         "tells what each file is");
    if (o->n_paths == 0 && !o->index)
        return error_set(e, ERROR_USAGE, "check needs a folder or sweep files to judge");
    return true;
}

static bool read_jobs(const char *words, unsigned long *jobs, struct error *e)
{
    long cores = sysconf(_SC_NPROCESSORS_ONLN);

    *jobs = cores < 1 ? 1 : (unsigned long)cores;
    if (*jobs > CEILING_JOBS) *jobs = CEILING_JOBS;
    if (!words || (number_parse_whole(words, CEILING_JOBS, jobs) && *jobs > 0)) return true;
    return error_set(e, ERROR_USAGE, "--jobs %s: write a whole number from 1 to %lu", words,
                     CEILING_JOBS);
}

static bool read_unit_pages(const char *words, enum unit_pages *out, struct error *e)
{
    static const char *const names[] = {
        [UNIT_PAGES_ALL] = "all", [UNIT_PAGES_FAILED] = "failed", [UNIT_PAGES_NONE] = "none"};

    for (size_t i = 0; words && i < sizeof names / sizeof *names; i++) {
        if (strcmp(words, names[i]) != 0) continue;
        *out = (enum unit_pages)i;
        return true;
    }
    return !words || error_set(e, ERROR_USAGE, "--unit-pages %s: write all, failed or none", words);
}

static bool open_archive(struct archive *archive, const struct check_options *o,
                         const struct limits *limits, enum unit_pages pages, struct error *e)
{
    struct bias_name names[CEILING_BIAS_STEPS];
    const struct archive_request request = {
        .paths = o->paths,
        .n_paths = o->n_paths,
        .layout = o->layout,
        .index = o->index,
        .biases = {names, limits->n_biases, limits->bias_tolerance_v},
        .with_origin = o->out && pages != UNIT_PAGES_NONE,
    };

    for (size_t i = 0; i < limits->n_biases; i++)
        names[i] = (struct bias_name){limits->biases[i].id, limits->biases[i].at_v};
    return archive_open(archive, &request, e);
}

/* What the archive holds beside what was judged, in words for the screen and the report; empty when
 * everything was. */
static void add_notes(const struct archive *archive, struct text *notes)
{
    const struct archive_file *first = NULL;
    size_t n_unused = 0;

    for (size_t i = 0; i < archive->n_files; i++) {
        if (archive->files[i].has_bias) continue;
        if (n_unused++ == 0) first = &archive->files[i];
    }
    if (archive->n_left_out > 0)
        text_addf(notes, "%zu sweep files do not fit the layout and were left out, the first is %s",
                  archive->n_left_out, archive->left_out);
    if (first)
        text_addf(notes,
                  "%s%zu sweep files are at no bias step of the limits and were not judged, "
                  "the first is %s",
                  notes->length ? "; " : "", n_unused, first->path);
    if (archive->n_links > 0)
        text_addf(notes, "%s%zu linked folders were not looked into: name them as paths",
                  notes->length ? "; " : "", archive->n_links);
}

static bool write_result(const char *folder, const char *name, const struct text *content,
                         struct error *e)
{
    struct text path = {0};
    bool ok;

    text_addf(&path, "%s/%s", folder, name);
    ok = text_ok(&path, "a file name", e) && text_ok(content, path.data, e) &&
         file_write(path.data, text_words(content), content->length, FILE_DURABLE, e);
    text_clear(&path);
    return ok;
}

static bool write_tables(const struct check_job *job, const char *folder, struct error *e)
{
    struct text units = {0}, results = {0};
    bool ok;

    units_csv_add_head(&units);
    results_csv_add_head(&results);
    for (size_t i = 0; i < job->n_judgements; i++) {
        units_csv_add(&units, &job->judgements[i]);
        results_csv_add(&results, &job->judgements[i]);
    }
    ok = write_result(folder, "units.csv", &units, e) &&
         write_result(folder, "results.csv", &results, e);
    text_clear(&units);
    text_clear(&results);
    return ok;
}

static bool write_report(const struct check_job *job, const struct check_options *o,
                         const struct batch_yield *yield, const char *notes, struct error *e)
{
    struct text source = {0}, page = {0};
    struct batch_unit *units = check_job_units(job, e);
    struct batch batch = {.limits = job->limits,
                          .views = job->views,
                          .notes = notes,
                          .unit_pages = job->unit_pages,
                          .n_units = job->n_units,
                          .units = units,
                          .names = &job->names,
                          .reference = check_job_reference(job),
                          .yield = *yield};
    bool ok;

    if (!units) return false;
    if (o->index) text_add(&source, o->index);
    for (size_t i = 0; i < o->n_paths && source.length < 500; i++)
        text_addf(&source, "%s%s", source.length ? ", " : "", o->paths[i]);
    batch.source = text_words(&source);
    ok = text_ok(&source, "the source's name", e) && page_batch_write(&batch, &page, e) &&
         write_result(o->out, "report.html", &page, e);
    memory_free(units);
    text_clear(&page);
    text_clear(&source);
    return ok;
}

static void print_verdict(enum verdict verdict, bool colour)
{
    static const char *const colours[] = {[VERDICT_INCOMPLETE] = "\033[33m",
                                          [VERDICT_FAIL] = "\033[31m",
                                          [VERDICT_PASS] = "\033[32m"};

    printf("%s%-10s%s", colour ? colours[verdict] : "", verdict_name(verdict),
           colour ? "\033[0m" : "");
}

static void print_summary(const struct check_job *job, const struct check_options *o,
                          const struct batch_yield *yield)
{
    const bool colour = colour_wanted();
    size_t named = 0, n_not_pass = yield->n_fail + yield->n_incomplete;
    char percent[3][NUMBER_FIXED_TEXT];

    for (size_t i = 0; i < job->n_judgements && named < MOST_NAMED; i++) {
        const struct judgement *judgement = &job->judgements[i];

        if (judgement->verdict == VERDICT_PASS ||
            !judgement_is_last(job->judgements, job->n_judgements, i))
            continue;
        print_verdict(judgement->verdict, colour);
        printf(" %s  ", judgement->serial);
        print_plain(stdout, judgement->reason ? judgement->reason : "");
        printf("\n");
        named++;
    }
    if (n_not_pass > named)
        printf("... and %zu more that are not PASS%s\n", n_not_pass - named,
               o->out ? "; units.csv names them" : "; --out DIR writes them all");
    (void)number_format_fixed(100 * yield->yield, 1, percent[0]);
    (void)number_format_fixed(100 * yield->yield_low, 1, percent[1]);
    (void)number_format_fixed(100 * yield->yield_high, 1, percent[2]);
    printf(
        "%zu units: %zu PASS, %zu FAIL, %zu INCOMPLETE; yield %s %% (95 %% interval %s to %s %%)\n",
        yield->n_units, yield->n_pass, yield->n_fail, yield->n_incomplete, percent[0], percent[1],
        percent[2]);
    if (o->out) printf("Report: %s/report.html\n", o->out);
}

/* The tables and the batch page, then the unit pages: from here on the new report is there. */
static bool store(const struct check_job *job, const struct check_options *o,
                  struct report_folder *folder, const struct batch_yield *yield, const char *notes,
                  struct error *e)
{
    return write_tables(job, o->out, e) && write_report(job, o, yield, notes, e) &&
           report_folder_commit(folder, e);
}

static bool judge_and_report(struct check_job *job, const struct check_options *o,
                             struct report_folder *folder, enum exit_status *status,
                             struct error *e)
{
    struct batch_yield yield = {0};
    struct text notes = {0};
    bool ok = false;

    add_notes(job->archive, &notes);
    if (!text_ok(&notes, "the notes", e)) goto done;
    if (!check_job_run(job, e)) goto done;
    if (!batch_yield_count(&yield, job->judgements, job->n_judgements, job->limits->n_limits, e))
        goto done;
    if (o->out && !store(job, o, folder, &yield, text_words(&notes), e)) goto done;
    print_summary(job, o, &yield);
    if (notes.length > 0) {
        (void)fprintf(stderr, "gainsieve: ");
        print_plain(stderr, notes.data);
        (void)fprintf(stderr, "\n");
    }
    /* A unit may be among the files that were left out: then not every unit is known to pass. */
    *status = yield.n_units > 0 && yield.n_pass == yield.n_units && job->archive->n_left_out == 0
                  ? EXIT_ALL_PASS
                  : EXIT_NOT_ALL_PASS;
    ok = true;
done:
    text_clear(&notes);
    batch_yield_clear(&yield);
    return ok;
}

bool cmd_check(int argc, char **argv, enum exit_status *status, struct error *e)
{
    struct check_options options = {0};
    struct limits limits = {0};
    struct archive archive = {0};
    struct views views;
    struct progress progress;
    struct report_folder folder = {0};
    struct check_job job = {.limits = &limits, .archive = &archive, .progress = &progress};
    bool helped, ok = false;

    *status = EXIT_NOT_ALL_PASS;
    if (!read_options(&options, argc, argv, &helped, e)) return false;
    if (helped) {
        *status = EXIT_ALL_PASS;
        return true;
    }
    if (!read_jobs(options.jobs, &job.jobs, e)) return false;
    if (!read_unit_pages(options.unit_pages, &job.unit_pages, e)) return false;
    if (!limits_read(&limits, options.limits, e)) goto done;
    if (!open_archive(&archive, &options, &limits, job.unit_pages, e)) goto done;
    progress_start(&progress, "judged", "units", 0);
    job.reference_serial = options.reference;
    if (options.out) {
        if (!report_folder_open(&folder, options.out, job.unit_pages != UNIT_PAGES_NONE, e))
            goto done;
        job.units_folder = folder.writing.data;
        views_find(&views, &limits);
        job.views = &views;
    }
    ok = judge_and_report(&job, &options, &folder, status, e);
done:
    check_job_clear(&job);
    report_folder_close(&folder);
    archive_clear(&archive);
    limits_clear(&limits);
    return ok;
}
