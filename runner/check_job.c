#include "runner/check_job.h"

#include <string.h>

#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "reports/page_parts.h"
#include "reports/page_unit.h"
#include "runner/workers.h"

/* What a thread reuses from unit to unit. */
struct own {
    struct text bytes, page;
    struct measurement m;
};

static void own_clear(void *data)
{
    struct own *own = data;

    text_clear(&own->bytes);
    text_clear(&own->page);
    measurement_clear(&own->m);
}

static bool write_unit_page(const struct check_job *job, struct own *own, size_t unit,
                            const struct unit_traces *traces, struct error *e)
{
    const size_t first = job->unit_judgement[unit];
    struct unit_sheet sheet = {
        .limits = job->limits,
        .views = job->views,
        .attempts = &job->judgements[first],
        .n_attempts = job->unit_judgement[unit + 1] - first,
        .circumstances = &job->circumstances[first],
        .m = &own->m,
        .traces = traces,
        .reference = check_job_reference(job),
    };
    char name[PAGE_UNIT_NAME];
    struct text path = {0};
    bool ok;

    page_unit_name(&job->names, own->m.serial, name);
    text_addf(&path, "%s/%s", job->units_folder, name);
    text_reset(&own->page);
    ok = text_ok(&path, "a file name", e) && page_unit_write(&sheet, &own->page, e) &&
         file_write(path.data, own->page.data, own->page.length, FILE_PLAIN, e);
    text_clear(&path);
    return ok;
}

/* Loads and judges one attempt; its sweeps stay in `own`. */
static bool judge_attempt(struct check_job *job, struct own *own, size_t file, size_t judgement,
                          struct error *e)
{
    if (!archive_load(job->archive, file, &own->bytes, &own->m, e)) return false;
    if (job->views) job->circumstances[judgement] = own->m.circumstances;
    if (!measurement_prepare(&own->m, job->limits->impedance_ohm, e)) return false;
    return judge(job->limits, &own->m, check_job_reference(job), &job->judgements[judgement], e);
}

/* Keeps what the report needs of the unit whose last attempt is in `own`, and writes its page. */
static bool keep_unit(struct check_job *job, struct own *own, size_t unit, struct error *e)
{
    const struct judgement *last = &job->judgements[job->unit_judgement[unit + 1] - 1];
    const bool has_page = batch_has_page(job->unit_pages, last);
    const bool is_drawn = last->verdict != VERDICT_PASS || job->n_units < BATCH_SMALL;
    struct unit_traces *traces = &job->traces[unit];

    if (!unit_traces_make(traces, job->limits, job->views, &own->m, has_page || is_drawn, e))
        return false;
    if (has_page && !write_unit_page(job, own, unit, traces, e)) return false;
    if (!is_drawn) unit_traces_drop_lines(traces);
    return true;
}

static bool do_unit(void *data, void *own_data, size_t unit, struct error *e)
{
    struct check_job *job = data;
    struct own *own = own_data;
    size_t file = job->unit_file[unit];

    for (size_t i = job->unit_judgement[unit]; i < job->unit_judgement[unit + 1]; i++) {
        if (!judge_attempt(job, own, file, i, e)) return false;
        file = archive_attempt_end(job->archive, file);
    }
    return !job->views || keep_unit(job, own, unit, e);
}

/* Which units need a name for their page that is not simply their serial number. */
static bool find_names(struct check_job *job, struct error *e)
{
    const char **serials = memory_make(job->n_units, sizeof *serials, e);
    bool ok;

    if (!serials) return false;
    for (size_t i = 0; i < job->n_units; i++)
        serials[i] = job->archive->files[job->unit_file[i]].serial;
    ok = page_names_find(&job->names, serials, job->n_units, e);
    memory_free(serials);
    return ok;
}

/* Counts units and attempts, and notes where each begins. */
static bool plan(struct check_job *job, struct error *e)
{
    const struct archive *archive = job->archive;

    job->unit_file = memory_make(archive->n_files + 1, sizeof *job->unit_file, e);
    if (!job->unit_file) return false;
    job->unit_judgement = memory_make(archive->n_files + 1, sizeof *job->unit_judgement, e);
    if (!job->unit_judgement) return false;
    for (size_t i = 0; i < archive->n_files; i = archive_attempt_end(archive, i)) {
        if (i == 0 || strcmp(archive->files[i].serial, archive->files[i - 1].serial) != 0) {
            job->unit_file[job->n_units] = i;
            job->unit_judgement[job->n_units++] = job->n_judgements;
        }
        job->n_judgements++;
    }
    job->unit_file[job->n_units] = archive->n_files;
    job->unit_judgement[job->n_units] = job->n_judgements;
    job->judgements = memory_make(job->n_judgements, sizeof *job->judgements, e);
    if (!job->judgements) return false;
    if (!job->views) return true;
    job->traces = memory_make(job->n_units, sizeof *job->traces, e);
    if (!job->traces) return false;
    job->circumstances = memory_make(job->n_judgements, sizeof *job->circumstances, e);
    return job->circumstances && find_names(job, e);
}

/* Loads the last attempt of the reference unit. */
static bool load_reference(struct check_job *job, struct error *e)
{
    const struct archive *archive = job->archive;
    struct archive with_origin = *archive; /* the pages name the files by their digests */
    struct text bytes = {0};
    size_t found = archive->n_files;
    bool ok;

    for (size_t i = 0; i < archive->n_files; i = archive_attempt_end(archive, i))
        if (strcmp(archive->files[i].serial, job->reference_serial) == 0) found = i;
    if (found == archive->n_files)
        return error_set(e, ERROR_USAGE, "--reference %s: the archive holds no such unit",
                         job->reference_serial);
    with_origin.with_origin = job->views != NULL;
    ok = archive_load(&with_origin, found, &bytes, &job->reference, e) &&
         measurement_prepare(&job->reference, job->limits->impedance_ohm, e);
    text_clear(&bytes);
    return ok;
}

bool check_job_run(struct check_job *job, struct error *e)
{
    struct work work = {.jobs = job->jobs,
                        .do_item = do_unit,
                        .job = job,
                        .own_size = sizeof(struct own),
                        .own_clear = own_clear,
                        .progress = job->progress};

    if (!plan(job, e)) return false;
    if (job->reference_serial && !load_reference(job, e)) return false;
    work.n_items = job->n_units;
    if (work.jobs > work.n_items) work.jobs = work.n_items;
    job->progress->n_items = job->n_units;
    return workers_run(&work, e);
}

const struct measurement *check_job_reference(const struct check_job *job)
{
    return job->reference.serial[0] ? &job->reference : NULL;
}

struct batch_unit *check_job_units(const struct check_job *job, struct error *e)
{
    struct batch_unit *units = memory_make(job->n_units, sizeof *units, e);

    for (size_t i = 0; units && i < job->n_units; i++) {
        const size_t first = job->unit_judgement[i], last = job->unit_judgement[i + 1] - 1;

        units[i] = (struct batch_unit){
            .judgement = &job->judgements[last],
            .circumstances = &job->circumstances[last],
            .traces = &job->traces[i],
            .n_attempts = last + 1 - first,
            .earlier = &job->circumstances[first],
        };
    }
    return units;
}

void check_job_clear(struct check_job *job)
{
    for (size_t i = 0; i < job->n_judgements && job->judgements; i++)
        judgement_clear(&job->judgements[i]);
    for (size_t i = 0; i < job->n_units && job->traces; i++)
        unit_traces_clear(&job->traces[i]);
    memory_free(job->judgements);
    memory_free(job->traces);
    memory_free(job->circumstances);
    memory_free(job->unit_file);
    memory_free(job->unit_judgement);
    page_names_clear(&job->names);
    measurement_clear(&job->reference);
    *job = (struct check_job){.limits = job->limits,
                              .archive = job->archive,
                              .reference_serial = job->reference_serial,
                              .views = job->views,
                              .unit_pages = job->unit_pages,
                              .units_folder = job->units_folder,
                              .jobs = job->jobs,
                              .progress = job->progress};
}
