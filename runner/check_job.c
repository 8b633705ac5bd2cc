#include "runner/check_job.h"

#include <string.h>

#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "reports/page_unit.h"
#include "runner/workers.h"

/* What a thread reuses from unit to unit. */
struct own {
    struct text bytes, page;
    struct measurement m;
    struct unit_traces traces;
};

static void own_clear(void *data)
{
    struct own *own = data;

    text_clear(&own->bytes);
    text_clear(&own->page);
    measurement_clear(&own->m);
    unit_traces_clear(&own->traces);
}

static bool write_unit_page(const struct check_job *job, struct own *own, size_t unit,
                            const struct unit_traces *traces, struct error *e)
{
    const size_t first = job->unit_judgement[unit];
    struct unit_sheet sheet = {
        .limits = job->limits,
        .attempts = &job->judgements[first],
        .n_attempts = job->unit_judgement[unit + 1] - first,
        .m = &own->m,
        .traces = traces,
    };
    char name[PAGE_UNIT_NAME], link[PAGE_UNIT_NAME];
    struct text path = {0};
    bool ok;

    page_unit_name(own->m.serial, name, link);
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
    const struct measurement *reference = job->reference.serial[0] ? &job->reference : NULL;

    if (!archive_load(job->archive, file, &own->bytes, &own->m, e)) return false;
    if (!measurement_prepare(&own->m, job->limits->impedance_ohm, e)) return false;
    return judge(job->limits, &own->m, reference, &job->judgements[judgement], e);
}

static bool do_unit(void *data, void *own_data, size_t unit, struct error *e)
{
    struct check_job *job = data;
    struct own *own = own_data;
    struct unit_traces *traces = unit < job->n_traces ? &job->traces[unit] : &own->traces;
    size_t file = job->unit_file[unit];

    for (size_t i = job->unit_judgement[unit]; i < job->unit_judgement[unit + 1]; i++) {
        if (!judge_attempt(job, own, file, i, e)) return false;
        file = archive_attempt_end(job->archive, file);
    }
    if (!job->units_folder) return true;
    unit_traces_clear(traces);
    if (!unit_traces_make(traces, job->limits, &own->m, e)) return false;
    return write_unit_page(job, own, unit, traces, e);
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
    if (!job->units_folder) return true;
    job->n_traces = job->n_units < CEILING_DRAWN_UNITS ? job->n_units : CEILING_DRAWN_UNITS;
    job->traces = memory_make(job->n_traces, sizeof *job->traces, e);
    if (!job->traces) return false;
    job->trace_owner = memory_make(job->n_traces, sizeof *job->trace_owner, e);
    if (!job->trace_owner) return false;
    for (size_t i = 0; i < job->n_traces; i++)
        job->trace_owner[i] = job->unit_judgement[i + 1] - 1;
    return true;
}

/* Loads the last attempt of the reference unit. */
static bool load_reference(struct check_job *job, struct error *e)
{
    const struct archive *archive = job->archive;
    struct text bytes = {0};
    size_t found = archive->n_files;
    bool ok;

    for (size_t i = 0; i < archive->n_files; i = archive_attempt_end(archive, i))
        if (strcmp(archive->files[i].serial, job->reference_serial) == 0) found = i;
    if (found == archive->n_files)
        return error_set(e, ERROR_USAGE, "--reference %s: the archive holds no such unit",
                         job->reference_serial);
    ok = archive_load(archive, found, &bytes, &job->reference, e) &&
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
    if (job->units_folder && !file_make_folder(job->units_folder, e)) return false;
    work.n_items = job->n_units;
    if (work.jobs > work.n_items) work.jobs = work.n_items;
    job->progress->n_items = job->n_units;
    return workers_run(&work, e);
}

void check_job_clear(struct check_job *job)
{
    for (size_t i = 0; i < job->n_judgements && job->judgements; i++)
        judgement_clear(&job->judgements[i]);
    for (size_t i = 0; i < job->n_traces && job->traces; i++)
        unit_traces_clear(&job->traces[i]);
    memory_free(job->judgements);
    memory_free(job->traces);
    memory_free(job->trace_owner);
    memory_free(job->unit_file);
    memory_free(job->unit_judgement);
    measurement_clear(&job->reference);
    *job = (struct check_job){.limits = job->limits,
                              .archive = job->archive,
                              .reference_serial = job->reference_serial,
                              .units_folder = job->units_folder,
                              .jobs = job->jobs,
                              .progress = job->progress};
}
