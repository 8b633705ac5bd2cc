#include "runner/batch_check.h"

#include <stdio.h>
#include <string.h>

#include "runner/print.h"
#include "runner/record_compare.h"
#include "runner/record_index.h"
#include "runner/report_write.h"

/* Attempts or units named one by one in a note. */
#define MOST_NOTED 10

/* What one call has open. */
struct batch_work {
    const struct batch_check *o;
    struct record_reader reader;
    struct limits other; /* the limits named on the command line */
    struct record_source record;
    struct views views;
    struct report_folder folder;
    struct check_job job;
    struct text notes;
    size_t n_only_marked; /* units without an attempt that counts */
};

static bool has_counted(const struct record_source *rs, const char *serial)
{
    /* Both lists are in the same order, but a batch has few marked attempts: looking is enough. */
    for (size_t i = 0; i < rs->counted.n_attempts; i++)
        if (strcmp(rs->counted.attempts[i].serial, serial) == 0) return true;
    return false;
}

static void note_marked(struct batch_work *w)
{
    const struct source *marked = &w->record.marked;

    if (marked->n_attempts == 0) return;
    text_addf(&w->notes, "%s%zu attempt%s marked as wrongly connected and not counted:",
              w->notes.length ? "; " : "", marked->n_attempts, marked->n_attempts == 1 ? "" : "s");
    for (size_t i = 0; i < marked->n_attempts && i < MOST_NOTED; i++)
        text_addf(&w->notes, "%s %s attempt %lu", i ? "," : "", marked->attempts[i].serial,
                  marked->attempts[i].attempt);
    if (marked->n_attempts > MOST_NOTED) text_add(&w->notes, " and others");
    for (size_t i = 0; i < marked->n_attempts; i = source_unit_end(marked, i))
        w->n_only_marked += !has_counted(&w->record, marked->attempts[i].serial);
    if (w->n_only_marked > 0)
        text_addf(&w->notes, "; %zu unit%s no other attempt and %s not counted", w->n_only_marked,
                  w->n_only_marked == 1 ? " has" : "s have", w->n_only_marked == 1 ? "is" : "are");
}

static void note_earlier_limits(struct batch_work *w)
{
    const struct source *counted = &w->record.counted;
    size_t n = 0;

    for (size_t i = 0; i < counted->n_attempts; i = source_unit_end(counted, i))
        n += counted->attempts[source_unit_end(counted, i) - 1].limits != w->job.limits;
    if (n > 0)
        text_addf(&w->notes,
                  "%s%zu unit%s judged by earlier limits of the batch and keep%s that verdict; "
                  "limits that changed since do not count them",
                  w->notes.length ? "; " : "", n, n == 1 ? " was" : "s were", n == 1 ? "s" : "");
}

static bool make_notes(struct batch_work *w, struct error *e)
{
    if (w->reader.is_live)
        text_add(&w->notes, "another process is working on the batch: this is how it stood");
    note_marked(w);
    note_earlier_limits(w);
    return text_ok(&w->notes, "the notes", e);
}

static bool start(struct batch_work *w, struct progress *progress, struct error *e)
{
    const struct batch_check *o = w->o;

    if (o->limits && !limits_read(&w->other, o->limits, e)) return false;
    if (!record_reader_open(&w->reader, o->folder, e)) return false;
    if (!record_source_open(&w->record, &w->reader, o->limits ? &w->other : NULL, e)) return false;
    w->job = (struct check_job){.limits = o->limits ? &w->other : w->record.limits[0],
                                .source = &w->record.counted,
                                .unit_pages = o->unit_pages,
                                .jobs = o->jobs,
                                .progress = progress};
    if (!make_notes(w, e)) return false;
    if (!o->out) return true;
    if (!report_folder_open(&w->folder, o->out, o->unit_pages != UNIT_PAGES_NONE, e)) return false;
    w->job.units_folder = w->folder.writing.data;
    views_find(&w->views, w->job.limits);
    w->job.views = &w->views;
    return true;
}

/* The record's own verdicts, those of marked attempts too, follow from its sweeps. */
static bool compare_all(struct batch_work *w, struct error *e)
{
    struct check_job marked = {.limits = w->job.limits,
                               .source = &w->record.marked,
                               .jobs = w->o->jobs,
                               .progress = w->job.progress};
    bool ok = record_compare(&w->record, &w->record.counted, w->job.judgements, e) &&
              check_job_run(&marked, e) &&
              record_compare(&w->record, &w->record.marked, marked.judgements, e);

    check_job_clear(&marked);
    return ok;
}

static bool print_changes(const struct batch_work *w, struct error *e)
{
    struct record_changes changes = {0};
    const char *line, *end;

    if (!record_changes_find(&changes, &w->record, w->job.judgements, e)) return false;
    for (line = text_words(&changes.lines); (end = strchr(line, '\n')) != NULL; line = end + 1) {
        changes.lines.data[end - changes.lines.data] = '\0';
        print_plain(stdout, line);
        printf("\n");
    }
    printf("%zu of %zu units change by these limits", changes.n_changed, changes.n_units);
    for (int from = VERDICT_PASS; from >= VERDICT_INCOMPLETE; from--)
        for (int to = VERDICT_PASS; to >= VERDICT_INCOMPLETE; to--)
            if (from != to && changes.from_to[from][to] > 0)
                printf("; %zu %s -> %s", changes.from_to[from][to],
                       verdict_name((enum verdict)from), verdict_name((enum verdict)to));
    printf("\n");
    record_changes_clear(&changes);
    return true;
}

static bool write_reports(struct batch_work *w, const struct batch_yield *yield, struct error *e)
{
    const struct report_words words = {w->o->folder, text_words(&w->notes)};
    struct text index = {0};
    bool ok = true;

    if (!w->o->out) return true;
    if (w->o->with_index)
        ok = record_index_add(&w->record, &index, e) &&
             report_write_file(w->o->out, "index.csv", &index, e);
    text_clear(&index);
    return ok && report_write(&w->job, w->o->out, &w->folder, &words, yield, e);
}

static bool judge_all(struct batch_work *w, bool *all_pass, struct error *e)
{
    struct batch_yield yield = {0};
    bool ok = check_job_run(&w->job, e) && (w->o->limits || compare_all(w, e)) &&
              check_job_yield(&w->job, &yield, e) && write_reports(w, &yield, e);

    if (ok && w->o->limits)
        ok = print_changes(w, e);
    else if (ok)
        printf("Judged anew: %zu attempts, the same verdicts as recorded\n", w->record.n_kept);
    if (ok) {
        report_print_summary(&w->job, w->o->out, &yield);
        report_print_notes(text_words(&w->notes));
        /* A unit without an attempt that counts is not known to pass. */
        *all_pass = yield.n_units > 0 && yield.n_pass == yield.n_units && w->n_only_marked == 0;
    }
    batch_yield_clear(&yield);
    return ok;
}

bool batch_check_run(const struct batch_check *o, bool *all_pass, struct error *e)
{
    struct batch_work w = {.o = o};
    struct progress progress;
    bool ok;

    progress_start(&progress, "judged", "units", 0);
    *all_pass = false;
    ok = start(&w, &progress, e) && judge_all(&w, all_pass, e);
    check_job_clear(&w.job);
    report_folder_close(&w.folder);
    record_source_close(&w.record);
    record_reader_close(&w.reader);
    limits_clear(&w.other);
    text_clear(&w.notes);
    return ok;
}
