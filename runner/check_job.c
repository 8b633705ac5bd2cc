#include "runner/check_job.h"

#include <string.h>

#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "reports/page_parts.h"
#include "reports/page_unit.h"
#include "runner/carry.h"
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

/* What one attempt is judged by. */
static const struct limits *limits_of(const struct check_job *job, size_t attempt)
{
    const struct limits *own = job->source->attempts[attempt].limits;

    return own ? own : job->limits;
}

static const struct measurement *reference_of(const struct check_job *job, size_t attempt)
{
    const struct measurement *own = job->source->attempts[attempt].reference;

    return own ? own : job->reference.serial[0] ? &job->reference : NULL;
}

static bool write_sheet(const struct check_job *job, struct own *own,
                        const struct unit_sheet *sheet, struct error *e)
{
    char name[PAGE_UNIT_NAME];
    struct text path = {0};
    bool ok;

    page_unit_name(&job->names, own->m.serial, name);
    text_addf(&path, "%s/%s", job->units_folder, name);
    text_reset(&own->page);
    ok = text_ok(&path, "a file name", e) && page_unit_write(sheet, &own->page, e) &&
         file_write(path.data, own->page.data, own->page.length, FILE_PLAIN, e);
    text_clear(&path);
    return ok;
}

/* The unit's page; `traces` are those of the job's limits and of no use for others. */
static bool write_unit_page(const struct check_job *job, struct own *own, size_t unit,
                            const struct unit_traces *traces, struct error *e)
{
    const size_t first = job->unit_judgement[unit], end = job->unit_judgement[unit + 1];
    struct unit_sheet sheet = {
        .limits = limits_of(job, end - 1),
        .views = job->views,
        .attempts = &job->judgements[first],
        .n_attempts = end - first,
        .circumstances = &job->circumstances[first],
        .m = &own->m,
        .traces = traces,
        .reference = reference_of(job, end - 1),
    };
    struct unit_traces other_traces = {0};
    struct views other_views;
    bool ok = true;

    if (sheet.limits != job->limits) {
        views_find(&other_views, sheet.limits);
        ok = unit_traces_make(&other_traces, sheet.limits, &other_views, &own->m, true, e);
        sheet.views = &other_views;
        sheet.traces = &other_traces;
    }
    ok = ok && write_sheet(job, own, &sheet, e);
    unit_traces_clear(&other_traces);
    return ok;
}

/* Loads and judges one attempt; its sweeps stay in `own`. */
static bool judge_attempt(struct check_job *job, struct own *own, size_t i, struct error *e)
{
    const struct limits *limits = limits_of(job, i);

    if (!source_load(job->source, i, &own->bytes, &own->m, e)) return false;
    if (!measurement_prepare(&own->m, limits->impedance_ohm, e)) return false;
    return judge(limits, &own->m, reference_of(job, i), &job->judgements[i], e);
}

/* The unit in `own` was judged by other limits than those of the job: what of it these can say. */
static bool carry(struct check_job *job, struct own *own, size_t unit, struct error *e)
{
    const size_t last = job->unit_judgement[unit + 1] - 1;
    struct judgement anew = {0};
    bool ok = measurement_prepare(&own->m, job->limits->impedance_ohm, e) &&
              judge(job->limits, &own->m, reference_of(job, last), &anew, e) &&
              carry_judgement(&job->carried[unit], &job->judgements[last], &anew, e);

    judgement_clear(&anew);
    return ok;
}

/* Keeps what the report needs of the unit whose last attempt is in `own`, and writes its page. */
static bool keep_unit(struct check_job *job, struct own *own, size_t unit, struct error *e)
{
    const size_t i = job->unit_judgement[unit + 1] - 1;
    const struct judgement *last = &job->judgements[i];
    const bool is_other = limits_of(job, i) != job->limits;
    const bool has_page = job->views && batch_has_page(job->unit_pages, last);
    const bool is_drawn = last->verdict != VERDICT_PASS || job->n_units < BATCH_SMALL;
    struct unit_traces *traces = job->views ? &job->traces[unit] : NULL;

    /* Its own page first: its sweeps are at the impedance of its own limits. */
    if (is_other && has_page && !write_unit_page(job, own, unit, NULL, e)) return false;
    if (is_other && !carry(job, own, unit, e)) return false;
    if (!traces) return true;
    if (!unit_traces_make(traces, job->limits, job->views, &own->m, has_page || is_drawn, e))
        return false;
    if (!is_other && has_page && !write_unit_page(job, own, unit, traces, e)) return false;
    if (!is_drawn) unit_traces_drop_lines(traces);
    return true;
}

static bool do_unit(void *data, void *own_data, size_t unit, struct error *e)
{
    struct check_job *job = data;
    struct own *own = own_data;

    for (size_t i = job->unit_judgement[unit]; i < job->unit_judgement[unit + 1]; i++)
        if (!judge_attempt(job, own, i, e)) return false;
    return keep_unit(job, own, unit, e);
}

/* Which units need a name for their page that is not simply their serial number. */
static bool find_names(struct check_job *job, struct error *e)
{
    const char **serials = memory_make(job->n_units, sizeof *serials, e);
    bool ok;

    if (!serials) return false;
    for (size_t i = 0; i < job->n_units; i++)
        serials[i] = job->source->attempts[job->unit_judgement[i]].serial;
    ok = page_names_find(&job->names, serials, job->n_units, e);
    memory_free(serials);
    return ok;
}

/* Counts the units, and notes where each begins. */
static bool plan(struct check_job *job, struct error *e)
{
    const size_t n = job->source->n_attempts;

    job->unit_judgement = memory_make(n + 1, sizeof *job->unit_judgement, e);
    if (!job->unit_judgement) return false;
    for (size_t i = 0; i < n; i = source_unit_end(job->source, i))
        job->unit_judgement[job->n_units++] = i;
    job->unit_judgement[job->n_units] = n;
    job->judgements = memory_make(n, sizeof *job->judgements, e);
    if (!job->judgements) return false;
    job->n_judgements = n;
    job->carried = memory_make(job->n_units, sizeof *job->carried, e);
    if (!job->carried) return false;
    if (!job->views) return true;
    job->traces = memory_make(job->n_units, sizeof *job->traces, e);
    if (!job->traces) return false;
    job->circumstances = memory_make(n, sizeof *job->circumstances, e);
    for (size_t i = 0; job->circumstances && i < n; i++)
        job->circumstances[i] = job->source->attempts[i].circumstances;
    return job->circumstances && find_names(job, e);
}

/* Loads the last attempt of the reference unit. */
static bool load_reference(struct check_job *job, struct error *e)
{
    const struct source *source = job->source;
    struct text bytes = {0};
    size_t found = source->n_attempts;
    bool ok;

    for (size_t i = 0; i < source->n_attempts; i++)
        if (strcmp(source->attempts[i].serial, job->reference_serial) == 0) found = i;
    if (found == source->n_attempts)
        return error_set(e, ERROR_USAGE, "--reference %s: the archive holds no such unit",
                         job->reference_serial);
    ok = source_load(source, found, &bytes, &job->reference, e) &&
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

/* The last judgement of a unit, as the pages of the job's limits show it. */
static const struct judgement *shown(const struct check_job *job, size_t unit)
{
    const struct judgement *carried = &job->carried[unit];

    return carried->findings ? carried : &job->judgements[job->unit_judgement[unit + 1] - 1];
}

const struct measurement *check_job_reference(const struct check_job *job)
{
    if (job->reference.serial[0]) return &job->reference;
    return job->source->n_attempts > 0 ? reference_of(job, job->source->n_attempts - 1) : NULL;
}

struct batch_unit *check_job_units(const struct check_job *job, struct error *e)
{
    struct batch_unit *units = memory_make(job->n_units, sizeof *units, e);

    for (size_t i = 0; units && i < job->n_units; i++) {
        const size_t first = job->unit_judgement[i], end = job->unit_judgement[i + 1];

        units[i] = (struct batch_unit){
            .judgement = shown(job, i),
            .circumstances = &job->circumstances[end - 1],
            .traces = &job->traces[i],
            .n_attempts = end - first,
            .earlier = &job->circumstances[first],
        };
    }
    return units;
}

bool check_job_yield(const struct check_job *job, struct batch_yield *out, struct error *e)
{
    /* A copy that borrows, in which the last ones are those that are shown. */
    struct judgement *all = memory_make(job->n_judgements, sizeof *all, e);
    bool ok;

    if (!all) return false;
    for (size_t i = 0; i < job->n_judgements; i++)
        all[i] = job->judgements[i];
    for (size_t i = 0; i < job->n_units; i++)
        all[job->unit_judgement[i + 1] - 1] = *shown(job, i);
    ok = batch_yield_count(out, all, job->n_judgements, job->limits->n_limits, e);
    memory_free(all);
    return ok;
}

void check_job_clear(struct check_job *job)
{
    for (size_t i = 0; i < job->n_judgements; i++)
        judgement_clear(&job->judgements[i]);
    for (size_t i = 0; i < job->n_units && job->carried; i++)
        judgement_clear(&job->carried[i]);
    for (size_t i = 0; i < job->n_units && job->traces; i++)
        unit_traces_clear(&job->traces[i]);
    memory_free(job->judgements);
    memory_free(job->carried);
    memory_free(job->traces);
    memory_free(job->circumstances);
    memory_free(job->unit_judgement);
    page_names_clear(&job->names);
    measurement_clear(&job->reference);
    *job = (struct check_job){.limits = job->limits,
                              .source = job->source,
                              .reference_serial = job->reference_serial,
                              .views = job->views,
                              .unit_pages = job->unit_pages,
                              .units_folder = job->units_folder,
                              .jobs = job->jobs,
                              .progress = job->progress};
}
