#include "runner/report_write.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "drivers/base/file.h"
#include "drivers/base/memory.h"
#include "drivers/base/number.h"
#include "reports/page_batch.h"
#include "reports/results_csv.h"
#include "runner/print.h"

/* Units named one by one in the summary; the tables hold them all. */
#define MOST_NAMED 20

bool report_read_jobs(const char *words, unsigned long *jobs, struct error *e)
{
    long cores = sysconf(_SC_NPROCESSORS_ONLN);

    *jobs = cores < 1 ? 1 : (unsigned long)cores;
    if (*jobs > CEILING_JOBS) *jobs = CEILING_JOBS;
    if (!words || (number_parse_whole(words, CEILING_JOBS, jobs) && *jobs > 0)) return true;
    return error_set(e, ERROR_USAGE, "--jobs %s: write a whole number from 1 to %lu", words,
                     CEILING_JOBS);
}

bool report_read_pages(const char *words, enum unit_pages *out, struct error *e)
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

bool report_write_file(const char *folder, const char *name, const struct text *content,
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
    ok = report_write_file(folder, "units.csv", &units, e) &&
         report_write_file(folder, "results.csv", &results, e);
    text_clear(&units);
    text_clear(&results);
    return ok;
}

static bool write_page(const struct check_job *job, const char *folder,
                       const struct report_words *words, const struct batch_yield *yield,
                       struct error *e)
{
    struct text page = {0};
    struct batch_unit *units = check_job_units(job, e);
    const struct batch batch = {.limits = job->limits,
                                .views = job->views,
                                .source = words->source,
                                .notes = words->notes,
                                .unit_pages = job->unit_pages,
                                .n_units = job->n_units,
                                .units = units,
                                .names = &job->names,
                                .reference = check_job_reference(job),
                                .yield = *yield};
    bool ok;

    if (!units) return false;
    ok = page_batch_write(&batch, &page, e) && report_write_file(folder, "report.html", &page, e);
    memory_free(units);
    text_clear(&page);
    return ok;
}

bool report_write(const struct check_job *job, const char *folder, struct report_folder *pages,
                  const struct report_words *words, const struct batch_yield *yield,
                  struct error *e)
{
    return write_tables(job, folder, e) && write_page(job, folder, words, yield, e) &&
           report_folder_commit(pages, e);
}

static void print_verdict(enum verdict verdict, bool colour)
{
    static const char *const colours[] = {[VERDICT_INCOMPLETE] = "\033[33m",
                                          [VERDICT_FAIL] = "\033[31m",
                                          [VERDICT_PASS] = "\033[32m"};

    printf("%s%-10s%s", colour ? colours[verdict] : "", verdict_name(verdict),
           colour ? "\033[0m" : "");
}

void report_print_summary(const struct check_job *job, const char *out,
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
               out ? "; units.csv names them" : "; --out DIR writes them all");
    if (yield->n_units == 0) {
        printf("no units\n");
        if (out) printf("Report: %s/report.html\n", out);
        return;
    }
    (void)number_format_fixed(100 * yield->yield, 1, percent[0]);
    (void)number_format_fixed(100 * yield->yield_low, 1, percent[1]);
    (void)number_format_fixed(100 * yield->yield_high, 1, percent[2]);
    printf(
        "%zu units: %zu PASS, %zu FAIL, %zu INCOMPLETE; yield %s %% (95 %% interval %s to %s %%)\n",
        yield->n_units, yield->n_pass, yield->n_fail, yield->n_incomplete, percent[0], percent[1],
        percent[2]);
    if (out) printf("Report: %s/report.html\n", out);
}

void report_print_notes(const char *notes)
{
    if (!*notes) return;
    (void)fprintf(stderr, "gainsieve: ");
    print_plain(stderr, notes);
    (void)fprintf(stderr, "\n");
}
