/* `gainsieve check`: judges archived sweeps. */
#include "drivers/archive.h"
#include "runner/batch_check.h"
#include "runner/commands.h"
#include "runner/options.h"
#include "runner/report_write.h"

struct check_options {
    const char *limits, *batch, *out, *layout, *index, *jobs, *reference, *unit_pages;
    char *const *paths;
    size_t n_paths;
};

static bool read_options(struct check_options *o, int argc, char **argv, bool *helped,
                         struct error *e)
{
    const struct option_row rows[] = {
        {"limits", "FILE", "the limits file (needed, but for a batch)", &o->limits, NULL},
        {"batch", "DIR", "judges the sweeps of a batch record, by its own limits or by --limits",
         &o->batch, NULL},
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
        "check --limits FILE [--out DIR] [--layout PATTERN | --index FILE] PATH...\n"
        "       gainsieve check --batch DIR [--limits FILE] [--out DIR]",
        "Judges every unit of an archive of sweeps. A PATH is a folder or a sweep file; names "
        "tell\n"
        "serial number and bias: SERIAL_BIAS.s2p or SERIAL/BIAS.s2p. Of a batch record it says\n"
        "which units have another verdict by other limits.",
        rows};

    if (!options_read(&table, argc, argv, &o->n_paths, helped, e)) return false;
    o->paths = argv + 1;
    if (*helped) return true;
    if (o->batch && (o->n_paths > 0 || o->layout || o->index || o->reference))
        return error_set(e, ERROR_USAGE,
                         "--batch takes no PATH, --layout, --index or --reference: the record "
                         "tells what its sweeps are");
    if (o->batch) return true;
    if (!o->limits) return error_set(e, ERROR_USAGE, "check needs --limits FILE");
    if (o->layout && o->index)
        return error_set(e, ERROR_USAGE,
                         "--layout and --index exclude each other: an index already "
                         "tells what each file is");
    if (o->n_paths == 0 && !o->index)
        return error_set(e, ERROR_USAGE, "check needs a folder or sweep files to judge");
    return true;
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
        .with_origin = o->out && (pages != UNIT_PAGES_NONE || o->reference),
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

/* What was judged, in words for the report. */
static bool add_source(const struct check_options *o, struct text *source, struct error *e)
{
    if (o->index) text_add(source, o->index);
    for (size_t i = 0; i < o->n_paths && source->length < 500; i++)
        text_addf(source, "%s%s", source->length ? ", " : "", o->paths[i]);
    return text_ok(source, "the source's name", e);
}

static bool judge_and_report(struct check_job *job, const struct check_options *o,
                             const struct archive *archive, struct report_folder *folder,
                             enum exit_status *status, struct error *e)
{
    struct batch_yield yield = {0};
    struct text notes = {0}, source = {0};
    struct report_words words;
    bool ok = false;

    add_notes(archive, &notes);
    if (!text_ok(&notes, "the notes", e) || !add_source(o, &source, e)) goto done;
    words = (struct report_words){text_words(&source), text_words(&notes)};
    if (!check_job_run(job, e)) goto done;
    if (!check_job_yield(job, &yield, e)) goto done;
    if (o->out && !report_write(job, o->out, folder, &words, &yield, e)) goto done;
    report_print_summary(job, o->out, &yield);
    report_print_notes(words.notes);
    /* A unit may be among the files that were left out: then not every unit is known to pass. */
    *status = yield.n_units > 0 && yield.n_pass == yield.n_units && archive->n_left_out == 0
                  ? EXIT_ALL_PASS
                  : EXIT_NOT_ALL_PASS;
    ok = true;
done:
    text_clear(&notes);
    text_clear(&source);
    batch_yield_clear(&yield);
    return ok;
}

static bool check_archive(const struct check_options *o, const struct check_job *wanted,
                          enum exit_status *status, struct error *e)
{
    struct limits limits = {0};
    struct archive archive = {0};
    struct source source = {0};
    struct views views;
    struct progress progress;
    struct report_folder folder = {0};
    struct check_job job = *wanted;
    bool ok = false;

    job.limits = &limits;
    job.source = &source;
    job.progress = &progress;
    job.reference_serial = o->reference;
    if (!limits_read(&limits, o->limits, e)) goto done;
    if (!open_archive(&archive, o, &limits, job.unit_pages, e)) goto done;
    if (!source_of_archive(&source, &archive, e)) goto done;
    progress_start(&progress, "judged", "units", 0);
    if (o->out) {
        if (!report_folder_open(&folder, o->out, job.unit_pages != UNIT_PAGES_NONE, e)) goto done;
        job.units_folder = folder.writing.data;
        views_find(&views, &limits);
        job.views = &views;
    }
    ok = judge_and_report(&job, o, &archive, &folder, status, e);
done:
    check_job_clear(&job);
    report_folder_close(&folder);
    source_clear(&source);
    archive_clear(&archive);
    limits_clear(&limits);
    return ok;
}

bool cmd_check(int argc, char **argv, enum exit_status *status, struct error *e)
{
    struct check_options options = {0};
    struct check_job job = {0};
    bool helped;

    *status = EXIT_NOT_ALL_PASS;
    if (!read_options(&options, argc, argv, &helped, e)) return false;
    if (helped) {
        *status = EXIT_ALL_PASS;
        return true;
    }
    if (!report_read_jobs(options.jobs, &job.jobs, e)) return false;
    if (!report_read_pages(options.unit_pages, &job.unit_pages, e)) return false;
    if (options.batch) {
        const struct batch_check batch = {.folder = options.batch,
                                          .limits = options.limits,
                                          .out = options.out,
                                          .unit_pages = job.unit_pages,
                                          .jobs = job.jobs};
        bool all_pass;

        if (!batch_check_run(&batch, &all_pass, e)) return false;
        *status = all_pass ? EXIT_ALL_PASS : EXIT_NOT_ALL_PASS;
        return true;
    }
    return check_archive(&options, &job, status, e);
}
